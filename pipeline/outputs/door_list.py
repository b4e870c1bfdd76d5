"""The door book: the fate of every file, in a table that grows by a line as soon as a file is taken.

The pages follow when the stages have run; this file answers at once.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

from pipeline.book.fates import Fate
from pipeline.outputs.replacing import NotPublished, replace_file
from pipeline.writing.plain import spreadsheet_safe

PATH = "door.csv"
COLUMNS = ("number", "taken_at", "file", "fate", "kinds", "rows", "findings", "why", "what_to_do", "read_as")


class DoorBook:
    """``door.csv`` in the outputs."""

    def __init__(self, out: Path) -> None:
        self.out = out

    def append(self, fate: Fate) -> None:
        """Add the fate of a file that was just taken or returned."""
        if fate.outcome == "known":
            return
        path = self.out / PATH
        fresh = not path.exists()
        try:
            with open(path, "a", encoding="utf-8", newline="") as stream:
                stream.write(_table([fate], head=fresh))
        except OSError:
            pass  # held open by a spreadsheet program: the next publishing writes all of it

    def rewrite(self, fates: Iterable[Fate]) -> None:
        """Write all fates anew, as the book knows them now."""
        with suppress(NotPublished):
            replace_file(self.out, PATH, _table(fates, head=True).encode("utf-8"))


def in_words(fate: Fate) -> str:
    """``taken``, ``taken with findings``, ``returned`` or ``known``."""
    return "taken with findings" if fate.outcome == "taken" and fate.findings else fate.outcome


def _table(fates: Iterable[Fate], head: bool) -> str:
    made = io.StringIO()
    writer = csv.writer(made, lineterminator="\n")
    if head:
        writer.writerow(COLUMNS)
    for fate in fates:
        texts = [spreadsheet_safe(text) for text in (fate.kinds, fate.reason, fate.remedy, "; ".join(fate.read))]
        writer.writerow(
            [
                fate.number,
                fate.taken_at,
                spreadsheet_safe(fate.name),
                in_words(fate),
                texts[0],
                fate.rows,
                fate.findings,
                *texts[1:],
            ]
        )
    return made.getvalue()
