"""Opens what others may have put there: only a plain file with one name, and never by way of a link.

What is looked at is the object that was opened, not its name: between a look at a name and its opening the file may be
exchanged for a link, a pipe, a device or a second name of somebody else's file.
"""

from __future__ import annotations

import os
import stat
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

NO_LINK = getattr(os, "O_NOFOLLOW", 0)
NO_WAIT = getattr(os, "O_NONBLOCK", 0)  # a pipe that nobody writes to would hold us
BINARY = getattr(os, "O_BINARY", 0)
A_LINK = "It is a link; links are not followed. Copy the file itself."
NO_FILE = "It is no ordinary file. Put the file itself there."
TWO_NAMES = "It has a second name somewhere (a hard link), so it may be somebody else's file. Put a copy there."
Seen = tuple[int, int, int, int]


class NotPlain(OSError):
    """What lies there is no plain file with one name; says what it is and what to do."""


@dataclass(frozen=True)
class Plain:
    """A file's bytes, the object that they are of, and the account that owns it (None where the system has none)."""

    data: bytes
    seen: Seen
    owner: int | None


def open_plain(path: Path, several_names: bool = False) -> BinaryIO:
    """Open a plain file to read it. Raises NotPlain for anything else, OSError where it cannot be opened."""
    if path.is_symlink():  # where the system has no way to say so in opening
        raise NotPlain(A_LINK)
    try:
        stream = os.fdopen(os.open(path, os.O_RDONLY | NO_LINK | NO_WAIT | BINARY), "rb")
    except OSError as error:
        if path.is_symlink():
            raise NotPlain(A_LINK) from error
        if path.exists() and not path.is_file():
            raise NotPlain(NO_FILE) from error
        raise
    found = os.fstat(stream.fileno())
    wrong = "" if stat.S_ISREG(found.st_mode) else NO_FILE
    wrong = wrong or (TWO_NAMES if found.st_nlink > 1 and not several_names else "")
    if wrong:
        stream.close()
        raise NotPlain(wrong)
    return stream


def read_plain(path: Path, most: float, several_names: bool = True) -> Plain:
    """The bytes of a plain file; of one with more than ``most`` only the first. Raises as ``open_plain``."""
    with open_plain(path, several_names) as stream:
        data = stream.read(int(most) + 1)
        found = os.fstat(stream.fileno())
    return Plain(data, as_seen(found), found.st_uid if hasattr(os, "getuid") else None)


def as_seen(found: os.stat_result) -> Seen:
    """What tells an object and its state from others: device, inode, size and time of change of its bytes."""
    return found.st_dev, found.st_ino, found.st_size, found.st_mtime_ns
