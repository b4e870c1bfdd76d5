"""One file from the inbox to the book, and back out if it cannot be taken."""

from __future__ import annotations

import logging
import os
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from sqlite3 import OperationalError
from typing import Any

from pipeline.book.book import Book
from pipeline.book.entering import enter
from pipeline.book.fates import Fate, KnownLayouts, fate_of_line, known_fate
from pipeline.book.journal import Originals
from pipeline.common.file_names import short_name
from pipeline.common.files import PART, sha256, write_whole
from pipeline.common.keys import is_key_file
from pipeline.common.opening import Plain
from pipeline.inbox import folder as door
from pipeline.inbox.attachments import attached
from pipeline.inbox.attempts import Tries
from pipeline.inbox.bounded_reader import Reader, ReaderEnded
from pipeline.inbox.daily import Daily
from pipeline.inbox.judging import ended_the_reader
from pipeline.inbox.pair import Pair
from pipeline.sheets.judged import Judged
from pipeline.site.house import House

log = logging.getLogger("vatting")

A_KEY = (
    "It is a private key and was not taken. Move it where only you can read it. If others could read it here, make "
    "a new one with vatting key, and have this one revoked in site.toml."
)
SETTLED = "Settled: a file of this name was taken since; nothing is to be done."


@dataclass(frozen=True)
class Intake:
    """What taking files needs.

    Files are taken together: nothing of them is in the journal or the book, and none leaves, before
    ``finish``. ``refresh`` publishes what the book says so far: rulings speak of that.
    """

    inbox: Path
    out: Path
    house: House
    book: Book
    originals: Originals
    tries: Tries
    refresh: Callable[[], object]
    reader: Reader
    pair: Pair
    account: Callable[[int | None], str]
    daily: Daily
    layouts: KnownLayouts
    leaving: list[door.Waiting] = field(default_factory=list)

    def finish(self) -> None:
        """Flush the originals and the journal, enter the files in the book, and only then let them leave.

        Raises WrongOutputs where the outputs went away meanwhile: nothing leaves.
        """
        self.pair.check()
        self.originals.flush()
        if self.book.sql.in_transaction:
            self.book.commit()
        self.pair.check()
        while self.leaving:
            door.leave(self.leaving.pop(0))

    def give_up(self) -> None:
        """Put back what was taken since ``finish``: the disk did not let it be kept. The session is at its end."""
        self.book.roll_back()
        while self.leaving:
            door.unclaim(self.leaving.pop(0), self.inbox)

    def take(self, file: door.Waiting, now: datetime, beside: int) -> list[Fate]:
        """Take one file, for good with ``finish``; nothing for one that stays as it is known to be.

        ``beside``: the number of the first of the files that were seen with it.

        Raises CannotBeRead, or OSError and OperationalError of a disk that is full or read-only: then
        the file waits where it lay and nothing of it was entered.
        """
        self.pair.check()
        interrupted = file.claimed
        leaves = self.house.site["after_taking"] == "move" or interrupted
        if leaves:
            self.daily.check(self.book, now.astimezone(self.house.site.zone), 0)  # before it is moved about
        link = file.path.is_symlink()
        read = self._read(file) if link else None  # where a link leads is lost once it is moved
        if leaves:
            file = door.claim(file, self.inbox)  # before reading: what is read is what leaves
        try:
            if read is None:
                read = self._read(file)
                file = replace(file, seen=read.seen)
            fates = self._fates(file, read, leaves, interrupted, now, beside)
        except (door.CannotBeRead, OSError, OperationalError):
            door.unclaim(file, self.inbox)
            raise
        if leaves:
            self.leaving.append(file)
        return fates

    def _read(self, file: door.Waiting) -> Plain:
        return door.read(file, self.house.site["limits.file_megabytes"] * 1e6)

    def _fates(
        self, file: door.Waiting, read: Plain, leaves: bool, interrupted: bool, now: datetime, beside: int
    ) -> list[Fate]:
        data = read.data
        if is_key_file(data):
            raise door.CannotBeRead(A_KEY)
        known = _known(self.book, data, self.house)
        if known is not None and known["outcome"] == "taken":
            return [known_fate(known, file.name)]
        again = known is not None and known["name"] == file.name and 0 < beside <= known["number"]
        if known is not None and (interrupted or again):  # it was on its way back when the run ended or failed
            _give_back(file, self.out, data, Judged(reason=known["reason"], remedy=known["remedy"]), leaves)
            return [replace(fate_of_line(known), name=file.name)]
        if known is not None and not leaves:
            return []
        self.daily.check(self.book, now.astimezone(self.house.site.zone), len(data))
        fate = self._enter(file, read, leaves, now, beside)
        self.daily.count(len(data))
        return [fate]

    def _enter(self, file: door.Waiting, read: Plain, leaves: bool, now: datetime, beside: int) -> Fate:
        house, book, data = self.house, self.book, read.data
        judged = attached(self._judge(file.name, data, now), file.name, book)
        if judged.rules:
            self.refresh()  # the rulings may speak of files taken in this very run, or of what these changed
        if judged.unrecognised and house.plugins.problems:
            raise door.CannotBeRead(
                f"{judged.reason} It may be of a kind that a plugin knows which was left out: "
                f"{house.plugins.problems[0]}"
            )
        if not book.sql.in_transaction:
            self.originals.hold()
            book.hold()
        if judged.returned:
            _give_back(file, self.out, data, judged, leaves)
        account = self.account(read.owner)
        fate = enter(file.name, data, judged, house, book, self.originals, now, account, beside)
        if not judged.returned:
            _settle(file, self.out)  # not before: a full disk may yet keep the file waiting
        return fate

    def _judge(self, name: str, data: bytes, now: datetime) -> Judged:
        """Judge a file, unless it has ended the program too often."""
        digest, most = sha256(data), self.house.site["limits.tries"]
        judged = None
        while judged is None:
            if self.tries.begin(digest) > most:
                judged = ended_the_reader(most)
                break
            try:
                day, site = now.astimezone(self.house.site.zone).date(), self.house.site
                judged = self.reader.judge(name, data, day, self.layouts.counting(site))
            except ReaderEnded as error:
                log.warning("%s: %s", name, error)
        self.tries.done(digest)
        return judged


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
    name = short_name(file.name)
    folder = out / "returned"
    _keep_earlier(folder, name, data)
    if leaves and not file.path.is_symlink():  # a file beyond the limit was not read whole
        folder.mkdir(parents=True, exist_ok=True)
        door.copy(file, folder / f"{PART}{name}")
        os.replace(folder / f"{PART}{name}", folder / name)  # never half a file under its own name
    else:
        write_whole(folder / name, data)
    judged.copy = _give_back_to_mend(folder, name, sha256(data), judged)
    write_whole(folder / f"{name}.why.txt", why(file.name, judged.reason, judged.remedy, judged.copy))


def _give_back_to_mend(folder: Path, name: str, digest: str, judged: Judged) -> str:
    """Put a workbook to mend beside a returned file, where one can be made; gives its name."""
    if not judged.to_mend:
        return ""
    from pipeline.inbox.mended_workbook import book_to_mend, name_to_mend

    copy = name_to_mend(name)
    try:
        made = book_to_mend(judged.to_mend, name, digest, judged.reason, judged.remedy)
    except Exception:  # what cannot be written as a workbook goes back all the same
        log.exception("a copy of %s to mend", name)
        return ""
    _keep_earlier(folder, copy, made)
    write_whole(folder / copy, made)
    return copy


def _keep_earlier(folder: Path, name: str, data: bytes) -> None:
    """What was returned before under the name, and is something else, is moved aside and not lost."""
    before = folder / name
    if before.is_file() and (kept := sha256(before.read_bytes())) != sha256(data):
        (folder / "earlier").mkdir(exist_ok=True)
        before.replace(folder / "earlier" / f"{kept[:8]}-{name}")


def _settle(file: door.Waiting, out: Path) -> None:
    """Say beside a file returned before that one of its name was taken since."""
    path = out / "returned" / f"{short_name(file.name)}.why.txt"
    if path.is_file() and not (told := path.read_text("utf-8", "replace")).startswith(SETTLED):
        write_whole(path, f"{SETTLED}\n\nWhat was said before:\n{told}".encode("utf-8", "replace"))


def why(name: str, reason: str, remedy: str, copy: str = "") -> bytes:
    """The words that lie beside a returned file, and a ``copy`` of it to mend, if any."""
    said = f"{name} was not taken.\n\nWhy: {reason}\n\nWhat to do: {remedy}\n"
    if copy:
        said += f"\nOr open {copy}, beside this file: it shows what to mend. Fill it in and save it into the inbox.\n"
    return said.encode("utf-8", "replace")


def say_staying(staying: dict[str, str], out: Path) -> None:
    """Say beside the returned files why others stay where they are."""
    for name, reason in staying.items():
        path = out / "returned" / f"{short_name(name)}.why.txt"
        told = f"{name} stays in the inbox.\n\n{reason}\n".encode("utf-8", "replace")
        if not path.is_file() or path.read_bytes() != told:
            write_whole(path, told)
