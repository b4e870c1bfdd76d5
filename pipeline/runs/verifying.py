"""Verifies some outputs with what their last settings say: where the book lies, and which witness they have."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from pipeline.book.journal import Originals
from pipeline.common.errors import VattingError
from pipeline.kept.place import BOOK
from pipeline.runs.rereading import note_full
from pipeline.site.settings_file import parse
from pipeline.verify.of_journal import Journal
from pipeline.verify.said import Report
from pipeline.verify.verify import verify


def verify_outputs(out: Path, against: Iterable[str] = (), full: bool = False) -> Report:
    """All that does not agree in some outputs. Raises NotKnown for what is no head."""
    table = last_settings(out)
    witness = str(table.get("witness") or "")
    heads = [*against, *([witness] if witness and Path(witness).is_file() else [])]
    report = verify(out, out / str(table.get("book", BOOK)), heads, full)
    if full and not any(one.what == "original" for one in report.disagreements):
        note_full(out, datetime.now(UTC))
    if witness and not Path(witness).is_file():
        report.remarks.append(f"The witness {witness} is not there, so nothing was checked against it.")
    return report


def last_settings(out: Path) -> dict[str, Any]:
    """The settings as the journal last knew them, as far as they can be read; they say where to look, no more."""
    originals = Originals(out / "originals")
    for line in reversed(Journal(originals.path).lines()):
        with suppress(VattingError, OSError, ValueError, KeyError):
            return parse(originals.read(line["settings"]).decode("utf-8"))
    return {}
