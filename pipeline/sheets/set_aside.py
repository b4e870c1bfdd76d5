"""Rows that are none: totals, what an instrument itself refuses, and what is of something else (a rinse, a check)."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from pipeline.contract.kinds import SheetColumn, plain
from pipeline.sheets.cells import as_text, clean, is_blank
from pipeline.sheets.found import Recognised
from pipeline.tables.tables import Table

TOTAL = re.compile(r"^\W*(grand |sub[- ]?)?(total|totals|sum|count|average|mean|totaal|summe|gesamt)\b", re.IGNORECASE)
NAMED_TOTAL = re.compile(r"^\W*(grand |sub[- ]?)?(totals?|sum|average|mean|totaal|summe|gesamt)\b\D*($|:)", re.I)


class Aside(NamedTuple):
    """A row that was not taken, and the note on it: row and column (``at``) from 0."""

    code: str
    severity: str
    message: str
    row: int
    at: int


def total_rows(found: Recognised, table: Table, positions: Sequence[int], firsts: Sequence[Any]) -> Iterator[Aside]:
    """Rows whose first cell says that they are totals. ``firsts``: the cells of the first column."""
    keys = [
        found.columns[name].index for name in found.kind.key if name in found.columns and found.columns[name].in_rows
    ]
    if "" in firsts:
        firsts = [next((cell for cell in table.rows[row] if cell != ""), "") for row in positions]
    words = {cell for cell in set(firsts) if isinstance(cell, str) and TOTAL.match(cell)}
    for row, first in zip(positions, firsts, strict=True) if words else ():
        if isinstance(first, str) and first in words and _looks_like_total(found, table.rows[row], keys):
            said = f"Row {row + 1} is a total ({clean(first)}) and was not taken."
            yield Aside("sheet.total-row", "note", said, row, 0)


def _looks_like_total(found: Recognised, cells: list[Any], keys: list[int]) -> bool:
    kind, columns = found.kind, found.columns
    there = [name for name in kind.required if name in columns and columns[name].in_rows]
    needed = [columns[name].index for name in there if not kind.column(name).may_be_blank]
    if all(index < len(cells) and not is_blank(cells[index]) for index in needed):
        return False
    stated = [cells[index] for index in keys if index < len(cells) and not is_blank(cells[index])]
    return len([cell for cell in stated if not (isinstance(cell, str) and TOTAL.match(cell))]) == 0


def unfilled_rows(found: Recognised, table: Table, positions: Sequence[int]) -> Iterator[Aside]:
    """Rows of a sheet that came filled in with names, on which nothing else was written."""
    columns = [found.columns[name] for name in found.kind.prefilled if name in found.columns]
    given = {matched.index for matched in columns if matched.in_rows}
    header = [as_text(cell) for cell in table.rows[found.header_row]]
    given |= {at for at, words in enumerate(header) if plain(words) in found.kind.printed_words}
    for row in positions if given else ():
        if {at for at, cell in enumerate(table.rows[row]) if not is_blank(cell)} <= given:
            said = f"Row {row + 1} has {' and '.join(found.kind.prefilled)} alone: nothing was written on it."
            yield Aside("sheet.unfilled-row", "note", said, row, min(given))


def rows_of_others(
    positions: Sequence[int], columns: Mapping[int, tuple[SheetColumn, Sequence[Any]]]
) -> Iterator[Aside]:
    """Rows of something that the kind has no rows of. ``columns``: those that tell, by index, with their cells."""
    for index, (column, cells) in columns.items():
        for place, words in rows_that_say(column.aside, cells):
            said = f"Row {positions[place] + 1} is of {words!r}, which is no {column.name} here; it was not taken."
            yield Aside("sheet.row-of-something-else", "note", said, positions[place], index)


def rows_that_say(pattern: str, cells: Sequence[Any]) -> Iterator[tuple[int, str]]:
    """Place and words of each cell in which the pattern is found; each distinct text is looked at once."""
    sought = re.compile(pattern)
    texts = {cell for cell in set(cells) if isinstance(cell, str) and sought.search(clean(cell).casefold())}
    if texts:
        yield from ((place, clean(cell)) for place, cell in enumerate(cells) if cell in texts)


def refused(words: str) -> str:
    """The fault of a row that its own words refuse."""
    return f"says {words!r}: the row is no result, and nothing of it counts"
