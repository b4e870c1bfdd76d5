"""Notes in the journal when settings, plugins or code are not as it last knew them, and what that did to findings."""

from __future__ import annotations

import getpass
import json
from datetime import datetime

from pipeline.book.book import Book
from pipeline.book.changes import awaits_effect, because, last_described
from pipeline.book.entering import enter_line, new_line
from pipeline.book.journal import Originals
from pipeline.book.signatures import settings_signed
from pipeline.common.files import sha256
from pipeline.sheets.judged import Judged
from pipeline.site.description import as_bytes, described, differences
from pipeline.site.house import House

OpenFinding = tuple[str, str, str, str]


def note_house(house: House, book: Book, originals: Originals, now: datetime, was_open: list[OpenFinding]) -> None:
    """Journal settings, plugins and code when they are not as the journal last knew them, with what was changed.

    The line keeps what ``was_open`` before, so that a run that ends too early forgets nothing that a change closed.
    """
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
        line.update(account=account(), open=was_open, signed=settings_signed(lines, house.site.sha256))
    originals.append(line)
    enter_line(line, Judged(), book)


def note_effect(house: House, book: Book, originals: Originals, now: datetime) -> None:
    """Journal which findings a change of the house opened and closed: those open before it against those open now."""
    change = awaits_effect(book.files())
    assert change is not None, "nothing was changed"
    before, after = change["open"], book.open_findings()
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
