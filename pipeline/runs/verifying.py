"""Verifies some outputs with what their last settings say: where the book lies, and which witness they have."""

from __future__ import annotations

import sqlite3
import tempfile
from collections.abc import Iterable
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from pipeline.book.book import Book
from pipeline.book.journal import Originals
from pipeline.common.errors import VattingError
from pipeline.kept.place import BOOK
from pipeline.runs.last_house import last_house
from pipeline.runs.replay import Progress, replay
from pipeline.runs.rereading import note_full, since_when, state_of
from pipeline.site.settings_file import parse
from pipeline.verify import of_facts
from pipeline.verify.of_journal import Journal
from pipeline.verify.said import Report
from pipeline.verify.verify import verify


def verify_outputs(
    out: Path,
    against: Iterable[str] = (),
    full: bool = False,
    facts: bool = False,
    progress: Progress = lambda *_: None,
) -> Report:
    """All that does not agree in some outputs. Raises NotKnown for what is no head.

    With ``facts`` every original is read anew as a run reads it, and the book's facts are held against what it gives.
    """
    table = last_settings(out)
    witness = str(table.get("witness") or "")
    heads = [*against, *([witness] if witness and Path(witness).is_file() else [])]
    report = verify(out, out / str(table.get("book", BOOK)), heads, full)
    spoilt = [one.place for one in report.disagreements if one.what == "original"]
    report.remarks += since_when(state_of(out), spoilt)
    if full and not spoilt:
        note_full(out, datetime.now(UTC))
    if witness and not Path(witness).is_file():
        report.remarks.append(f"The witness {witness} is not there, so nothing was checked against it.")
    if facts:
        _verify_facts(out, out / str(table.get("book", BOOK)), report, progress)
    return report


def _verify_facts(out: Path, book: Path, report: Report, progress: Progress) -> None:
    """Make a second book in a place of its own and compare the two."""
    originals = Originals(out / "originals")
    try:
        house = last_house(originals)
        with tempfile.TemporaryDirectory(prefix="vatting-", ignore_cleanup_errors=True) as name:
            anew = Path(name) / BOOK
            with Book(book, house.kinds, only_read=True), Book(anew, house.kinds) as made:
                replay(originals.lines(), made, house, originals, progress)
            of_facts.look(book, anew, {kind.name: kind for kind in house.kinds}, report)
    except (VattingError, OSError, sqlite3.Error) as error:
        report.say("book", book.name, f"could not be held against the originals: {error}")


def last_settings(out: Path) -> dict[str, Any]:
    """The settings as the journal last knew them, as far as they can be read; they say where to look, no more."""
    originals = Originals(out / "originals")
    for line in reversed(Journal(originals.path).lines()):
        with suppress(VattingError, OSError, ValueError, KeyError):
            return parse(originals.read(line["settings"]).decode("utf-8"))
    return {}
