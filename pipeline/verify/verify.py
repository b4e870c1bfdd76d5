"""Everything that can be checked of outputs without working anything out: quick, and nothing is changed."""

from __future__ import annotations

import time
from collections.abc import Iterable
from pathlib import Path

from pipeline.common.lock import holder
from pipeline.verify import of_book, of_heads, of_journal, of_originals, of_outputs
from pipeline.verify.said import Report

AGAIN, PAUSE = 3, 0.5  # looks, and seconds between them, while another vatting writes there


def verify(out: Path, book: Path, against: Iterable[str] = (), full: bool = False) -> Report:
    """Check journal, originals, book and outputs. ``against`` are heads, or files of heads, kept elsewhere.

    With ``full`` every original is read. Raises NotKnown for what is no head.
    """
    heads = of_heads.wanted(against)
    report = _look(out, book, heads, full)
    for _ in range(AGAIN - 1):
        if not report.disagreements or holder(out) is None:
            break
        time.sleep(PAUSE)  # a vatting at work may just have been between two writes
        report = _look(out, book, heads, full)
    return report


def _look(out: Path, book: Path, heads: list[tuple[str, int, str]], full: bool) -> Report:
    report = Report(full=full)
    rows = of_book.Rows(book)  # before the journal, which goes ahead of it
    journal = of_journal.Journal(out / "originals" / "journal.jsonl")
    of_journal.look(journal, report)
    of_heads.look(journal, heads, report)
    of_book.look(journal, rows, report)
    of_originals.look(journal, out / "originals", report)
    of_outputs.look(journal, rows, out, report)
    return report
