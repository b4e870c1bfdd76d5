"""The first rows of a file in words, so that a person can hold them against the paper they were written on."""

from __future__ import annotations

import logging
from typing import Any

import numpy as np

from pipeline.book.book import Book
from pipeline.contract.frames import FACTS, first_facts
from pipeline.contract.kinds import SheetColumn, SheetKind
from pipeline.sheets.rulings_sheet import RULINGS
from pipeline.sheets.units import UnitTable, convert
from pipeline.stages.work import Worked
from pipeline.writing.plain import Row, plain
from pipeline.writing.spoken import spoken

log = logging.getLogger("vatting")

FIRST = 3  # rows of a file
COLUMNS, LETTERS = 8, 40  # of a row that is said column by column
FILES = 12  # the latest files are read back


def read_back(numbers: list[int], book: Book, worked: Worked, units: UnitTable) -> dict[int, list[str]]:
    """Journal number → the first rows of the file, in words."""
    wanted, facts = set(numbers), dict[int, tuple[int, str]]()
    counts = dict.fromkeys(numbers, 0)
    for info in book.sheets():
        if info.number in wanted and info.kind != RULINGS.name:
            some = range(info.first_fact, info.first_fact + min(info.count, FIRST - counts[info.number]))
            facts.update(dict.fromkeys(some, (info.number, info.kind)))
            counts[info.number] += len(some)
    told: dict[int, str] = {}
    for name in {name for _, name in facts.values()}:
        try:
            told |= _told_by_plugin(
                book.kinds[name], [fact for fact, (_, kind) in facts.items() if kind == name], worked
            )
        except Exception:  # what only tells must not stop what counts
            log.exception("rows of %s in words", name)
    said: dict[int, list[str]] = {}
    for fact, (number, name) in facts.items():
        words = told.get(fact) or _plainly(book.kinds[name], fact, book, units, worked.rulings.ruled.undone)
        said.setdefault(number, []).append(words)
    return said


def _told_by_plugin(kind: SheetKind, facts: list[int], worked: Worked) -> dict[int, str]:
    """Fact → its row in the words that the kind declares; those that such a frame has no row of are left out."""
    said = kind.in_words
    if said is None or said.frame not in worked.states:
        return {}
    frame = worked.states[said.frame].frame
    first, key = first_facts(frame[FACTS]), kind.key[0]
    places = np.flatnonzero(np.isin(first, facts))
    near = frame[frame[key].isin(frame[key].iloc[places])]
    made: dict[int, str] = {}
    for at in places.tolist():
        row = frame.iloc[at]
        same = near[near[key] == row[key]]
        if kind.dates:
            same = same[same[kind.dates] < row[kind.dates]].sort_values(kind.dates, kind="stable")
        before = _row(same.iloc[-1]) if kind.dates and len(same) else None
        made[int(first[at])] = said.words(_row(row), before, worked.site)
    return made


def _row(row: Any) -> Row:
    return {str(name): plain(value) for name, value in row.items()}


def _plainly(kind: SheetKind, fact: int, book: Book, units: UnitTable, undone: frozenset[int]) -> str:
    """A row column by column, as the sheet stated it."""
    loaded = book.load(kind, undone)
    at = int(np.searchsorted(loaded.fact, fact))
    values = {name: plain(_item(held[at])) for name, held in loaded.values.items()}
    stated = [column for column in kind.columns if _has(values, column)]
    stated.sort(key=lambda column: column.name not in kind.key)
    more = ", …" if len(stated) > COLUMNS else ""
    return ", ".join(_cell(column, values, units) for column in stated[:COLUMNS]) + more


def _item(value: Any) -> Any:
    return None if isinstance(value, np.datetime64) and np.isnat(value) else value


def _has(values: Row, column: SheetColumn) -> bool:
    value = values.get(column.frame_column)
    return value is not None and value == value


def _cell(column: SheetColumn, values: Row, units: UnitTable) -> str:
    value, unit = values[column.frame_column], values.get(f"{column.name}_unit") or column.unit
    stated, canonical = units.find(column.quantity, unit), units.find(column.quantity, column.unit)
    if isinstance(value, float) and stated is not None and canonical is not None:
        value = float(convert(np.array([value]), canonical, stated)[0])
    if isinstance(value, bool):
        value = "yes" if value else "no"
    text = f"{value:.6g}" if isinstance(value, float) else str(value)
    text = text.replace("T", " ") if column.type in ("date", "moment") else text
    text = text if len(text) <= LETTERS else f"{text[:LETTERS]}…"
    return f"{spoken(column.name)} {text}{f' {unit}' if unit and column.type == 'number' else ''}"
