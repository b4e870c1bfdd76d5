"""Opens the book and brings it up to the journal: what a crash left undone, or everything."""

from __future__ import annotations

import getpass
import json
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

from pipeline.book.book import Book
from pipeline.book.changes import awaits_effect, because, last_described
from pipeline.book.entering import enter_line, new_line
from pipeline.book.journal import Originals
from pipeline.common.disks import network_share
from pipeline.common.errors import BookError, BookOutdated, JournalBroken
from pipeline.common.files import sha256
from pipeline.inbox.judging import judge
from pipeline.sheets.judged import Judged
from pipeline.site.description import as_bytes, described, differences
from pipeline.site.house import House

OpenFinding = tuple[str, str, str, str]
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
    try:
        book = Book(path, house.kinds)
    except BookOutdated:
        path.unlink(missing_ok=True)
        book = Book(path, house.kinds)
    catch_up(book, house, originals, progress)
    return book


def catch_up(book: Book, house: House, originals: Originals, progress: Progress) -> None:
    """Replay the journal lines that the book does not have yet."""
    lines = originals.lines()
    last = int(lines[-1]["number"]) if lines else 0
    if book.last_number > last:
        raise JournalBroken(
            f"The book knows {book.last_number} files, the journal only {last}; "
            "restore originals/ from a newer backup, or run vatting rebuild to go by the journal."
        )
    for line in lines:
        if int(line["number"]) > book.last_number:
            progress("replaying", line["name"])
            _replay(line, book, house, originals)


def _replay(line: dict[str, Any], book: Book, house: House, originals: Originals) -> None:
    judged = Judged()
    if line["outcome"] == "taken":
        site = house.site_of(originals.read(line["settings"]).decode("utf-8"))
        day = datetime.fromisoformat(line["taken_at"]).astimezone(site.zone).date()
        judged = judge(line["name"], originals.read(line["sha256"]), site, house, day)
        if judged.returned:
            line = {**line, "outcome": "returned", "reason": judged.reason, "remedy": judged.remedy}
    enter_line(line, judged, book)


def note_house(house: House, book: Book, originals: Originals, now: datetime) -> None:
    """Journal settings, plugins and code when they are not as the journal last knew them, with what was changed."""
    lines = book.files()
    now_described = described(house)
    data = as_bytes(now_described)
    before = last_described(lines)
    if before is not None and before["house"] == sha256(data) and lines[-1]["settings"] == house.site.sha256:
        return
    line = new_line(originals, book, house, now)
    line.update(name="site.toml", sha256=line["settings"], outcome="settings", house=originals.keep(data))
    if before is not None:
        line["changed"] = differences(json.loads(originals.read(before["house"])), now_described)
        line["account"] = account()
    originals.append(line)
    enter_line(line, Judged(), book)


def note_effect(before: list[OpenFinding], house: House, book: Book, originals: Originals, now: datetime) -> None:
    """Journal which findings a change of the house opened and closed, from those open ``before`` and those open now."""
    change = awaits_effect(book.files())
    assert change is not None, "nothing was changed"
    after = book.open_findings()
    line = new_line(originals, book, house, now)
    line.update(name="site.toml", sha256=line["settings"], outcome="effect", of=change["number"])
    line["because"] = because(change)
    known = {row[0] for row in before}, {row[0] for row in after}
    line["closed"] = [row for row in before if row[0] not in known[1]]
    line["opened"] = [row for row in after if row[0] not in known[0]]
    originals.append(line)
    enter_line(line, Judged(), book)


def account() -> str:
    """The account that runs vatting, or that the system does not tell."""
    try:
        return getpass.getuser()
    except (OSError, KeyError, ImportError):
        return "that the system does not tell"
