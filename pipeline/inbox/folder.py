"""The inbox: what lies there to be taken, what is passed over, and how a file leaves."""

from __future__ import annotations

import errno
import os
import re
import shutil
import stat
import unicodedata
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from pipeline.common.opening import A_LINK, NotPlain, Plain, Seen, as_seen, open_plain, read_plain

TAKING = ".taking"
EXCHANGED = "It was changed or exchanged while it was taken. It is taken as it is now."
UNREADABLE = "\ufffd"
LONGEST_NAME = 255
OF_THE_DISK = (errno.ENOSPC, errno.EROFS, errno.EDQUOT)  # what keeps every file from being moved
SKIPPED = re.compile(
    r"""^( \..*                      # hidden, lock and owner files: .~lock.x#, .#x, ._x, .DS_Store, .stfolder
         | ~\$.* | ~.*\.tmp          # owner and temporary files of spreadsheet programs
         | .*\.(tmp|temp|part|filepart|crdownload|download|partial|swp|lock|lnk|bak) | .*~
         | thumbs\.db | desktop\.ini | @eadir | __macosx
         | site\.toml
        )$""",
    re.IGNORECASE | re.VERBOSE,
)


@dataclass(frozen=True)
class Waiting:
    """A file that lies in the inbox; ``claimed`` if an interrupted run had begun to take it.

    ``seen`` is the object whose bytes were read; None before that, and for a link.
    """

    path: Path
    name: str
    claimed: bool = False
    seen: Seen | None = None


class CannotBeRead(Exception):
    """A file that lies in the inbox and cannot be opened now; the others are taken all the same."""


def read(file: Waiting, most: float) -> Plain:
    """A file's bytes; of one with more than ``most`` only the first. Raises CannotBeRead.

    Only a plain file with one name is read. Of a link to a file of the inbox, that file is.
    """
    try:
        return read_plain(_within(file.path), most, several_names=False)
    except NotPlain as error:
        raise CannotBeRead(str(error)) from error
    except OSError as error:
        raise CannotBeRead(
            f"It cannot be read ({error.strerror or error}). Close it in the other program, or let this user read it."
        ) from error


def copy(file: Waiting, to: Path) -> None:
    """Copy the file that was read, and no other that took its place meanwhile. Raises CannotBeRead."""
    try:
        with open_plain(file.path) as stream, open(to, "wb") as target:
            if file.seen is not None and as_seen(os.fstat(stream.fileno())) != file.seen:
                raise CannotBeRead(EXCHANGED)
            shutil.copyfileobj(stream, target)
    except NotPlain as error:
        raise CannotBeRead(str(error)) from error


def _within(path: Path) -> Path:
    """The file itself, or the file of the same folder to which a link leads. Raises NotPlain for any other link."""
    if not path.is_symlink():
        return path
    target = Path(os.readlink(path))
    if target.is_absolute() and target.parent.resolve() == path.parent.resolve():
        target = Path(target.name)
    if len(target.parts) != 1 or target.name in ("", "..", TAKING):
        raise NotPlain(A_LINK)
    return path.parent / target.name


def passed_over(name: str) -> bool:
    """Whether a name is one of a lock, temporary or hidden file, or site.toml."""
    return bool(SKIPPED.match(name))


def waiting(inbox: Path) -> tuple[list[Waiting], dict[str, str]]:
    """Files to take, interrupted ones first, then by name; and what stays, with the reason.

    Nothing is opened. Folders and links that lead out of the inbox are never followed.
    """
    files: list[Waiting] = []
    staying: dict[str, str] = {}
    claimed = inbox / TAKING
    if claimed.is_symlink():
        staying[TAKING] = f"{TAKING} is a link, where files are set aside while they are taken. Remove it."
    elif claimed.is_dir():
        files.extend(
            Waiting(path, _readable(path), True)
            for path in _sorted(claimed)
            if path.is_file() and not path.is_symlink()
        )
    for path in _sorted(inbox):
        if passed_over(path.name):
            continue
        if path.is_symlink() and not _inside(path, inbox):
            staying[_readable(path)] = (
                "It is a link that leads out of the inbox; links are not followed. Copy the file itself."
            )
        elif path.is_dir():
            staying[_readable(path)] = "It is a folder; only files directly in the inbox are taken. Move its files up."
        elif path.is_file():
            files.append(Waiting(path, _readable(path)))
        else:
            staying[_readable(path)] = "It is no ordinary file, or a link to nothing. Put the file itself there."
    return files, staying


def _readable(path: Path) -> str:
    """A file's name; what in it is no text or steers a screen comes as a replacement character."""
    text = os.fsencode(path.name).decode("utf-8", "replace")
    return "".join(letter if letter.isprintable() else UNREADABLE for letter in text)


def _sorted(folder: Path) -> list[Path]:
    return sorted(folder.iterdir(), key=lambda path: (unicodedata.normalize("NFC", path.name).casefold(), path.name))


def _inside(path: Path, inbox: Path) -> bool:
    try:
        return path.resolve().parent == inbox.resolve()
    except (OSError, RuntimeError):
        return False


def claim(file: Waiting, inbox: Path) -> Waiting:
    """Move a file into .taking/, so that nobody else takes it; a name there already gets a number.

    Raises CannotBeRead for a file that another program holds, or that is gone.
    """
    if file.claimed:
        return file
    folder = inbox / TAKING
    if folder.is_symlink():
        raise CannotBeRead(f"{TAKING} in the inbox is a link; nothing can be taken until it is removed.")
    folder.mkdir(exist_ok=True)
    target = folder / file.path.name
    count = 1
    while target.exists():
        count += 1
        target = folder / _numbered(file.path, count)
    try:
        os.rename(file.path, target)
    except OSError as error:
        if error.errno in OF_THE_DISK:
            raise
        raise CannotBeRead(f"It cannot be taken ({error.strerror}). Close it in the other program.") from error
    return Waiting(target, file.name, True)


def _numbered(path: Path, count: int) -> str:
    stem = path.stem
    while len(os.fsencode(f"{stem} ({count}){path.suffix}")) > LONGEST_NAME and stem:
        stem = stem[:-1]
    return f"{stem} ({count}){path.suffix}"


def unclaim(file: Waiting, inbox: Path) -> None:
    """Put a claimed file back where it lay."""
    home = inbox / (file.path.name if UNREADABLE in file.name else file.name)
    if file.claimed and not home.exists():
        with suppress(FileNotFoundError):
            os.rename(file.path, home)
        tidy(inbox)


def leave(file: Waiting) -> None:
    """Remove a claimed file whose bytes are kept elsewhere; what is not that object any more goes back to the inbox."""
    inbox = file.path.parent.parent
    if not _is_seen(file):
        unclaim(file, inbox)
        return
    file.path.unlink(missing_ok=True)
    tidy(inbox)


def _is_seen(file: Waiting) -> bool:
    try:
        found = os.lstat(file.path)
    except OSError:
        return True  # it is gone already
    return stat.S_ISLNK(found.st_mode) if file.seen is None else as_seen(found) == file.seen


def tidy(inbox: Path) -> None:
    """Remove .taking/ when no claimed file lies in it."""
    with suppress(OSError):
        (inbox / TAKING).rmdir()
