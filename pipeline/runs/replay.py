"""Opens the book and brings it up to the journal: what a crash left undone, or everything."""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterable
from datetime import datetime
from pathlib import Path
from typing import Any

from pipeline.book.book import Book
from pipeline.book.entering import enter_line, new_line
from pipeline.book.fates import KnownLayouts
from pipeline.book.journal import Originals
from pipeline.book.place import agree, disagreement, known_heads, known_published, set_aside
from pipeline.common.disks import network_share
from pipeline.common.errors import BookDamaged, BookError, BookOutdated
from pipeline.inbox.judging import judge
from pipeline.sheets.judged import Judged
from pipeline.site.house import House

log = logging.getLogger("vatting")

Progress = Callable[[str, str], None]


def open_book(house: House, out: Path, originals: Originals, progress: Progress) -> Book:
    """Open the book, brought up to the journal; made anew where another version made it."""
    path = out / house.site["book"]
    share = network_share(path.parent)
    if share:
        raise BookError(
            f"The book would lie on a network share ({share}), where it cannot be kept safe. "
            'State a folder on a local disk in site.toml: book = "/var/lib/vatting/book.sqlite".'
        )
    if originals.is_unchained:
        agree(known_heads(path), originals.lines())  # else a journal stripped of its chain would be taken over
        originals.take_over()
    try:
        book = Book(path, house.kinds)
    except BookOutdated as error:
        agree(known_heads(path), originals.lines())
        before = known_published(path)
        aside = set_aside(path, "damaged" if isinstance(error, BookDamaged) else "older")
        progress("setting aside", aside.name)
        log.warning("%s; it is set aside as %s and made anew", error, aside.name)
        book = Book(path, house.kinds)
        book.take_over_published(before)
    try:
        catch_up(book, house, originals, progress)
    except BaseException:
        book.sql.close()
        raise
    return book


def catch_up(book: Book, house: House, originals: Originals, progress: Progress) -> None:
    """Replay the journal lines that the book does not have yet; raises JournalBroken where it is of other lines."""
    lines = originals.lines()
    agree({int(line["number"]): str(line.get("head", "")) for line in book.files()}, lines)
    late = [line for line in lines if int(line["number"]) > book.last_number]
    originals.settle(late)
    replay(late, book, house, originals, progress)


def replay(lines: Iterable[dict[str, Any]], book: Book, house: House, originals: Originals, progress: Progress) -> None:
    """Enter journal lines as their files were taken; originals are only read."""
    known = KnownLayouts(book)
    for line in lines:
        progress("replaying", line["name"])
        _replay(line, book, house, originals, known)


def _replay(line: dict[str, Any], book: Book, house: House, originals: Originals, known: KnownLayouts) -> None:
    judged = Judged()
    if line["outcome"] == "taken":
        site = house.site_of(originals.read(line["settings"]).decode("utf-8"))
        day = datetime.fromisoformat(line["taken_at"]).astimezone(site.zone).date()
        judged = judge(line["name"], originals.read(line["sha256"]), site, house, day, known.counting(site))
        if judged.returned:
            line = {**line, "outcome": "returned", "reason": judged.reason, "remedy": judged.remedy}
    enter_line(line, judged, book)


def say_rebuilt(heads: dict[int, str], book: Book, house: House, originals: Originals, now: datetime) -> None:
    """Journal that a rebuild went by the journal although the book before it knew other lines: it is kept for good."""
    lines = originals.lines()
    why = disagreement(heads, lines)
    if not why:
        return
    knew = max(heads)
    why = f"{why} A rebuild went by the journal; the book set aside knew number {knew} as {heads[knew] or 'no head'}."
    line = new_line(originals, book, house, now)
    line.update(name="book", sha256=originals.keep(why.encode("utf-8")), outcome="rebuilt", why=why)
    originals.append(line)
    book.enter(line, [], [], [])
