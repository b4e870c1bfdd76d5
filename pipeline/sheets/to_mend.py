"""What goes back of a file that was not taken: its tables, which header was taken for what, and what is wrong where."""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.contract.kinds import SheetKind
from pipeline.sheets.cells import as_text, is_blank
from pipeline.sheets.columns_sheet import ToMend
from pipeline.sheets.explained import LEAVE, choices_of
from pipeline.sheets.found import Recognised
from pipeline.sheets.headers import match_header
from pipeline.sheets.recognise import DOUBTFUL, match_row
from pipeline.sheets.rulings_sheet import RULINGS
from pipeline.sheets.units import UnitTable
from pipeline.tables.tables import Table

MOST_CELLS = 50_000  # of a larger file no copy is made: mending it by hand is no help
FIRST_VALUES = 3


def small_enough(tables: Sequence[Table]) -> bool:
    """Whether a copy to mend is made of these tables."""
    return sum(len(cells) for table in tables for cells in table.rows) <= MOST_CELLS


def to_mend(
    table: Table,
    found: Recognised | None,
    bad: dict[tuple[int, int], str],
    kinds: list[SheetKind],
    units: UnitTable,
) -> ToMend:
    """One table as it goes back. ``bad``: (row, column) from 0 → what is wrong there."""
    if found is None:
        return ToMend(table, None, 0, bad=dict(table.faults))
    made = ToMend(table, found.kind, found.header_row, bad={**table.faults, **bad})
    made.chosen = dict(found.layout.means) if found.layout else {}
    made.lacking = " and no ".join(found.missing)
    if found.missing and found.layout is None:
        made.kinds, made.open_kind = _rivals(found, table, kinds, units)
    doubtful = _doubtful(found, table, units) | set(made.chosen)
    sure = {name for name, matched in found.columns.items() if matched.index not in doubtful}
    for index, header in _headers(found, table):
        choices = []
        if index in doubtful and not made.open_kind:
            offered = choices_of(found.kind, header, units)
            free = [words for words, match in offered.items() if match.column.name not in sure]
            needed = [words for words in free if offered[words].column.required]
            choices = [*needed, *(words for words in free if words not in needed), LEAVE] if offered else []
        made.columns.append((index, header, "" if choices else _taken_for(found, index), choices))
    return made


def _rivals(found: Recognised, table: Table, kinds: list[SheetKind], units: UnitTable) -> tuple[list[str], bool]:
    """The kinds of which a header row has as many columns as of the nearest, that first; none where there is no other.

    And whether it is as much like one of them, so that a person must say which.
    """
    headers = _headers(found, table)
    like = [match_row(kind, found.header_row, headers, units) for kind in kinds if kind.name != RULINGS.name]
    others = [one for one in like if one.kind is not found.kind and len(one.columns) >= len(found.columns)]
    as_like = any(_needed(one) >= _needed(found) for one in others)
    return ([found.kind.name, *(one.kind.name for one in others)] if others else []), as_like


def _needed(found: Recognised) -> int:
    return sum(name in found.columns for name in found.kind.required)


def first_values(one: ToMend, index: int) -> str:
    """The first cells under a header, as a person sees them."""
    cells = [cells[index] for cells in one.table.rows[one.header_row + 1 :] if index < len(cells)]
    return ", ".join(as_text(cell)[:24] for cell in [cell for cell in cells if not is_blank(cell)][:FIRST_VALUES])


def _headers(found: Recognised, table: Table) -> list[tuple[int, str]]:
    cells = table.rows[found.header_row]
    return [(index, as_text(cell)) for index, cell in enumerate(cells) if isinstance(cell, str) and not is_blank(cell)]


def _doubtful(found: Recognised, table: Table, units: UnitTable) -> set[int]:
    """Which headers are not known, state a unit that is not, or say what another says, too."""
    twice = {doubt.rpartition(" both say ")[2] for doubt in found.doubts if " both say " in doubt}
    made = {matched.index for matched in found.columns.values() if matched.rank >= DOUBTFUL}
    for index, header in _headers(found, table):
        match = match_header(found.kind, header, units)
        if (match is None and _taken_for(found, index) == UNKNOWN) or (match and match.column.name in twice):
            made.add(index)
    return made


UNKNOWN = "not known; it was left aside"


def _taken_for(found: Recognised, index: int) -> str:
    header = next((matched for matched in found.columns.values() if matched.index == index), None)
    if header is not None:
        unit = f" in {header.unit.unit}" if header.unit else ""
        return f"{header.column.name}{unit}{f', {header.says[1]}' if header.says else ''}"
    for matched in found.columns.values():
        if index in (matched.unit_index, matched.time_index):
            return f"{'the unit' if index == matched.unit_index else 'the time of day'} of {matched.column.name}"
    beside = next((matched for matched in found.beside if matched.index == index), None)
    return f"held against {beside.column.name}" if beside is not None else UNKNOWN
