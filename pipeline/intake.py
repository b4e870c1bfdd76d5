"""One file from the inbox to the book, and back out if it cannot be taken."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from sqlite3 import OperationalError
from typing import Any

from pipeline import inbox as door
from pipeline.book import Book
from pipeline.files import sha256, write_whole
from pipeline.house import House
from pipeline.journal import Originals
from pipeline.taking import Fate, Judged, enter, judge, known_fate

SETTLED = "Settled: a file of this name was taken since; nothing is to be done."


def take(
    file: door.Waiting,
    inbox: Path,
    out: Path,
    house: House,
    book: Book,
    originals: Originals,
    now: datetime,
    refresh: Callable[[], object],
) -> list[Fate]:
    """Take one file; nothing for one that stays as it is known to be. Raises CannotBeRead.

    ``refresh`` publishes what the book says so far: rulings speak of that.
    """
    leaves = house.site["after_taking"] == "move"
    if not leaves and file.claimed:
        leaves = True
    if leaves and not file.path.is_symlink():
        file = door.claim(file, inbox)  # before reading: what is read is what leaves
    try:
        data = door.read(file, house.site["limits.file_megabytes"] * 1e6)
    except door.CannotBeRead:
        door.unclaim(file, inbox)
        raise
    known = _known(book, data, house)
    if known is not None and not leaves:
        return [] if known["outcome"] == "returned" else [known_fate(known, file.name)]
    if leaves:
        file = door.claim(file, inbox)
    if known is not None and known["outcome"] == "taken":
        door.leave(file)
        return [known_fate(known, file.name)]
    try:
        fate = _enter(file, out, house, book, originals, now, data, leaves, refresh)
    except door.CannotBeRead:
        door.unclaim(file, inbox)
        raise
    except (OSError, OperationalError):
        door.unclaim(file, inbox)  # a full or read-only disk: the file waits where it lay
        raise
    if leaves:
        door.leave(file)
    return [fate]


def _enter(
    file: door.Waiting,
    out: Path,
    house: House,
    book: Book,
    originals: Originals,
    now: datetime,
    data: bytes,
    leaves: bool,
    refresh: Callable[[], object],
) -> Fate:
    judged = judge(file.name, data, house.site, house, now.astimezone(house.site.zone).date())
    if judged.releases or any(book.known_finding(name) is None for name in judged.ruled_on):
        refresh()  # the rulings may speak of files taken in this very run
    if judged.unrecognised and house.plugins.problems:
        raise door.CannotBeRead(
            f"{judged.reason} It may be of a kind that a plugin knows which was left out: {house.plugins.problems[0]}"
        )
    if judged.returned:
        _give_back(file, out, data, judged, leaves)
    fate = enter(file.name, data, judged, house, book, originals, now)
    if not judged.returned:
        _settle(file, out)  # not before: a full disk may yet keep the file waiting
    return fate


def _known(book: Book, data: bytes, house: House) -> dict[str, Any] | None:
    """The journal line of the same bytes, unless they were returned under other settings or plugins."""
    for line in reversed(book.lines_of(sha256(data))):
        if line["outcome"] == "taken":
            return line
        if line["outcome"] == "returned":
            same = line["settings"] == house.site.sha256 and line["versions"] == house.versions
            return line if same else None
    return None


def _give_back(file: door.Waiting, out: Path, data: bytes, judged: Judged, leaves: bool) -> None:
    name = door.short_name(file.name)
    folder = out / "returned"
    _keep_earlier(folder, name, data)
    if leaves and not file.path.is_symlink():  # a file beyond the limit was not read whole
        folder.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(file.path, folder / name)
    else:
        write_whole(folder / name, data)
    write_whole(folder / f"{name}.why.txt", why(file.name, judged.reason, judged.remedy))


def _keep_earlier(folder: Path, name: str, data: bytes) -> None:
    """What was returned before under the name, and is something else, is moved aside and not lost."""
    before = folder / name
    if before.is_file() and (kept := sha256(before.read_bytes())) != sha256(data):
        (folder / "earlier").mkdir(exist_ok=True)
        before.replace(folder / "earlier" / f"{kept[:8]}-{name}")


def _settle(file: door.Waiting, out: Path) -> None:
    """Say beside a file returned before that one of its name was taken since."""
    path = out / "returned" / f"{door.short_name(file.name)}.why.txt"
    if path.is_file() and not (told := path.read_text("utf-8", "replace")).startswith(SETTLED):
        write_whole(path, f"{SETTLED}\n\nWhat was said before:\n{told}".encode("utf-8", "replace"))


def why(name: str, reason: str, remedy: str) -> bytes:
    """The words that lie beside a returned file."""
    said = f"{name} was not taken.\n\nWhy: {reason}\n\nWhat to do: {remedy}\n"
    return said.encode("utf-8", "replace")


def say_staying(staying: dict[str, str], out: Path, house: House) -> None:
    plugin_folders = {Path(folder).parts[0] for folder in house.site["plugin_folders"] if Path(folder).parts}
    for name, reason in list(staying.items()):
        if name in plugin_folders:
            del staying[name]
            continue
        path = out / "returned" / f"{door.short_name(name)}.why.txt"
        write_whole(path, f"{name} stays in the inbox.\n\n{reason}\n".encode("utf-8", "replace"))
