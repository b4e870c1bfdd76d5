"""One thing the doctor says, the trying of a folder, and figures in words."""

from __future__ import annotations

import os
import time
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

OK, LOOK, BAD = "OK", "look", "bad"


@dataclass(frozen=True)
class Check:
    """One thing looked at. ``state``: ``OK``, ``look`` (works, but see) or ``bad`` (must be mended)."""

    topic: str
    state: str
    said: str
    remedy: str = ""


@dataclass
class Probe:
    """What came of trying a folder: the right that is missing, if any, and how far its clock is off."""

    missing: str = ""
    why: str = ""
    left: str = ""
    ahead_seconds: float = 0.0


def probe(folder: Path) -> Probe:
    """Try to list, write, read, make a folder, rename into it and delete; what was made is removed again.

    The names begin with a point and end in .tmp, so that no watcher and no run takes them.
    """
    found = Probe()
    first = folder / f".vatting-probe-{os.getpid()}.tmp"
    inner = folder / f".vatting-probe-{os.getpid()}"
    second = inner / "renamed.tmp"
    step = "list"
    try:
        os.listdir(folder)
        step = "write"
        first.write_bytes(b"probe")
        found.ahead_seconds = first.stat().st_mtime - time.time()
        step = "read"
        if first.read_bytes() != b"probe":
            raise OSError("other bytes came back than were written")
        step = "make a folder"
        inner.mkdir()
        step = "rename"
        os.rename(first, second)
        step = "delete"
        os.unlink(second)
        os.rmdir(inner)
    except OSError as error:
        found.missing, found.why = step, error.strerror or str(error)
    finally:
        for path in (first, second):
            with suppress(OSError):
                path.unlink(missing_ok=True)
        with suppress(OSError):
            inner.rmdir()
        with suppress(OSError):  # where even looking is refused, nothing was made either
            found.left = ", ".join(path.name for path in (first, inner) if path.exists())
    return found


def nearest_folder(path: Path) -> Path:
    """The folder itself, or the nearest one above it that is there."""
    path = path.absolute()
    while not path.is_dir() and path != path.parent:
        path = path.parent
    return path


def readable(path: Path) -> str:
    """A file's name; what in it is no text, or steers a screen, comes as a replacement character."""
    text = os.fsencode(path.name).decode("utf-8", "replace")
    return "".join(letter if letter.isprintable() else "\ufffd" for letter in text)


def few(paths: list[Path], most: int = 3) -> str:
    """The first names of several files."""
    more = f" and {len(paths) - most} more" if len(paths) > most else ""
    return ", ".join(sorted(map(readable, paths))[:most]) + more


def sizes(count: float) -> str:
    """Bytes in words."""
    for unit, size in (("TB", 1e12), ("GB", 1e9), ("MB", 1e6)):
        if count >= size:
            return f"{count / size:.3g} {unit}"
    return f"{count / 1e3:.3g} kB"


def lasting(seconds: float) -> str:
    """A time in words."""
    for unit, size in (("day", 86400), ("hour", 3600), ("minute", 60)):
        if seconds >= size:
            count = int(seconds // size)
            return f"{count} {unit}{'s' if count != 1 else ''}"
    return f"{int(seconds)} second{'s' if int(seconds) != 1 else ''}"
