"""How people lay out one table: headers of two rows, tables side by side, a day over columns, merged cells.

A table is looked at as one or several plain ones. Nothing is moved: in each view every cell keeps its address, what
does not belong to it is blank, and the words of a header of two rows stand together in the lower one.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import partial
from typing import Any

from pipeline.contract.kinds import NUMBERS, SheetKind, plain
from pipeline.sheets.cells import as_text, is_blank
from pipeline.sheets.explained import Layout
from pipeline.sheets.found import Doubtful, NotRecognised, OnlyExplains, Recognised
from pipeline.sheets.grids import Grid, added, grid_of
from pipeline.sheets.headers import match_header
from pipeline.sheets.numbers import feet_and_inches, joined
from pipeline.sheets.recognise import HEADER_ROWS, recognise
from pipeline.sheets.stacked import Stacked, days_across, is_day, over_columns, stacked
from pipeline.sheets.titles import Said, state_said
from pipeline.sheets.units import UnitTable
from pipeline.tables.tables import Table

Explained = Mapping[tuple[str, ...], Layout]
NOTHING: Explained = {}
ROWS_LOOKED_AT = HEADER_ROWS + 40
MOST_VIEWS = 400
FEWEST_COLUMNS = 3  # of a table beside one of another kind


@dataclass(frozen=True)
class View:
    """A way to look at a table: header cells (row, column, from 0) written anew; the columns that belong to it, all
    where None, from ``first_row`` on; what holds for all rows; columns of which one must be filled for a row to count;
    merged cells that say the same of each of their rows; cells made of others of their row."""

    headers: dict[tuple[int, int], str] = field(default_factory=dict)
    columns: frozenset[int] | None = None
    first_row: int = 0
    said: tuple[Said, ...] = ()
    asked: frozenset[int] = frozenset()
    filled: tuple[tuple[int, int, int], ...] = ()  # column, first and last row
    made: tuple[tuple[int, Callable[[list[Any]], Any]], ...] = ()  # column, and its cell from the row's cells

    def of(self, table: Table) -> Table:
        """The table as this view shows it."""
        if self == View():
            return table
        rows = list(table.rows)
        for column, first, last in self.filled:
            for row in range(first + 1, last + 1):
                rows[row] = _with(rows[row], {column: table.rows[first][column]})
        if self.columns is not None or self.asked:
            rows[self.first_row :] = [self._kept(cells) for cells in rows[self.first_row :]]
        for column, make in self.made:
            rows[self.first_row + 1 :] = [_with(r, {column: make(r)}) if r else r for r in rows[self.first_row + 1 :]]
        for row in {row for row, _ in self.headers}:
            rows[row] = _with(rows[row], {column: text for (at, column), text in self.headers.items() if at == row})
        faults = {spot: why for spot, why in table.faults.items() if self._shows(*spot)}
        return replace(table, rows=rows, faults=faults, said=tuple(self.said))

    def _shows(self, row: int, column: int) -> bool:
        return row < self.first_row or self.columns is None or column in self.columns

    def _kept(self, cells: list[Any]) -> list[Any]:
        if self.asked and all(is_blank(cells[column]) for column in self.asked if column < len(cells)):
            return []
        return [cell if self.columns is None or column in self.columns else "" for column, cell in enumerate(cells)]


def _with(cells: list[Any], new: dict[int, Any]) -> list[Any]:
    made = [*cells, *[""] * (max(new) + 1 - len(cells))]
    for column, cell in new.items():
        made[column] = cell
    return made


def views(table: Table, kinds: list[SheetKind], units: UnitTable, explained: Explained = NOTHING) -> list[View]:
    """The plain tables that a table is; one that shows all where it is one already, or none that is known.

    Raises NotRecognised for a header of two rows that could mean two things.
    """
    head = replace(table, rows=table.rows[:ROWS_LOOKED_AT])
    looked = _Looked(head, kinds, units, explained)
    single = looked.at(View())
    plain_error = looked.error
    if isinstance(plain_error, OnlyExplains):
        return [View()]
    in_feet = _feet_beside_inches(table, single) if single is not None else None
    if in_feet is not None:
        return [in_feet]
    grid = grid_of(table, kinds, HEADER_ROWS, units) if single is None else None
    of_grid = _of_grid(grid, table) if grid is not None else []
    seen = [looked.at(view) for view in of_grid]
    if grid is not None and all(seen):
        if any(found.columns[grid.cells].unit is None for found in seen if found is not None):
            what = grid.cells.split("_")[0]
            remedy = f"Write the unit in a line above ({what} in litres, {what} in gallons) and drop the file again."
            raise NotRecognised(f"holds a table of {what}, and nothing says in which unit.", remedy, FEWEST_COLUMNS)
        return of_grid
    across = [] if single is not None and not single.doubts else _across(looked)
    if across:
        return across
    two_rows, doubts = _two_rows(looked, single)
    if two_rows is not None:
        view, found = two_rows
        return [replace(view, filled=_fills(table, found))]
    beside = _beside(looked) if single is None else []
    if doubts and not beside and not isinstance(plain_error, Doubtful):
        said = "; ".join(dict.fromkeys(doubts))
        remedy = "Write all words of each header into one cell (Corrected proof) and drop the file again."
        raise NotRecognised(f"has a header of two rows; {said}.", remedy, FEWEST_COLUMNS)
    return beside or [View(filled=_fills(table, single) if single is not None else ())]


def left_out(table: Table, seen: Sequence[View], shown: Sequence[Table]) -> list[int]:
    """Rows (from 0) that hold something and that every view leaves out: a name with nothing under any day.

    ``shown``: the table as each view shows it.
    """
    if not all(view.asked for view in seen):
        return []
    kept = [one.rows for one in shown]
    below = range(max(view.first_row for view in seen) + 1, len(table.rows))
    return [row for row in below if any(not is_blank(c) for c in table.rows[row]) and not any(r[row] for r in kept)]


class _Looked:
    """A table that is looked at in several ways."""

    def __init__(self, table: Table, kinds: list[SheetKind], units: UnitTable, explained: Explained) -> None:
        self.table, self.kinds, self.units, self.explained = table, kinds, units, explained
        self.error: NotRecognised | None = None  # of the last look

    def at(self, view: View) -> Recognised | None:
        """What the table is in a view; None where that is not certain."""
        self.error = None
        try:
            return recognise(view.of(self.table), self.kinds, self.units, self.explained)
        except NotRecognised as error:
            self.error = error
            return None


def _fills(table: Table, found: Recognised) -> tuple[tuple[int, int, int], ...]:
    """Cells merged over several rows whose column names or dates them: amounts are never said of several rows."""
    names = {each.index for each in found.columns.values() if each.in_rows and each.column.type not in NUMBERS}
    return tuple(
        (first[1], first[0], min(last[0], len(table.rows) - 1))
        for first, last in table.merged
        if first[1] == last[1] in names and found.first_row <= first[0] < last[0] and first[0] < len(table.rows)
        if first[1] < len(table.rows[first[0]])
    )


def _two_rows(looked: _Looked, single: Recognised | None) -> tuple[tuple[View, Recognised] | None, list[str]]:
    """A view that reads two rows as one header, where that says more than one row does; else what is not certain."""
    best: tuple[View, Recognised] | None = None
    doubts: list[str] = []
    nearly: tuple[int, list[str]] = (1, [])
    rows = range(min(HEADER_ROWS, len(looked.table.rows) - 1))
    if single is not None:
        rows = range(max(0, single.header_row - 1), min(single.header_row + 1, len(rows)))
    for upper in rows:
        if single is not None and upper == single.header_row and single.first_row > upper + 1:
            continue  # a row of units, which is read with the header
        for kind in [single.kind] if single is not None else looked.kinds:
            both = stacked(looked.table, upper, kind, looked.units)
            if both is not None and single is not None:
                doubts += both.weighty
            if both is None or both.known <= 1:
                continue
            view = _view_of(both)
            found = looked.at(view)
            if found is None or found.kind is not kind:
                nearly = max(nearly, (both.known, both.doubts)) if both.doubts and single is None else nearly
            elif single is None or _says_more(found, single):
                unsure = both.doubts + _corrected_elsewhere(looked.table.rows[upper], found)
                doubts += unsure
                if not unsure and (best is None or len(found.columns) > len(best[1].columns)):
                    best = view, found
    return best, doubts or nearly[1]


def _corrected_elsewhere(upper: Sequence[Any], found: Recognised) -> list[str]:
    """Words of the upper row, over no column that counts, by which readings may not stand as they were read."""
    columns = {each.index for each in found.columns.values() if each.in_rows}
    titles = [as_text(cell) for at, cell in enumerate(upper) if isinstance(cell, str) and at not in columns]
    for matched in found.columns.values():
        says = matched.column.qualified_by
        if says and matched.says is None and says not in found.columns:
            words = state_said(found.kind.column(says), titles)
            return [f"{words!r} stands over the header {matched.header!r} or not"] if words else []
    return []


def _view_of(both: Stacked) -> View:
    upper = {(both.upper, column): "" for column in both.texts}
    return View({**upper, **{(both.header_row, column): text for column, text in both.texts.items()}})


def _says_more(found: Recognised, single: Recognised) -> bool:
    """Whether two rows say what one of them does, and another unit or state beside."""
    if found.kind is not single.kind or not found.columns.keys() >= single.columns.keys():
        return False
    one, other = ({name: (m.unit, m.says) for name, m in each.columns.items()} for each in (single, found))
    return one != {name: other[name] for name in one}


def _beside(looked: _Looked) -> list[View]:
    """Tables that stand side by side: the same header again, or tables of their own with blank columns between."""
    for row, cells in enumerate(looked.table.rows[:HEADER_ROWS]):
        texts = {column: as_text(cell) for column, cell in enumerate(cells) if isinstance(cell, str) and cell.strip()}
        if len(texts) < 4:
            continue
        for blocks in (_runs(looked.table, row, texts), _repeats(texts)):
            made = [View(columns=frozenset(block), first_row=_first_row(looked, row, block)) for block in blocks]
            found = [looked.at(view) for view in made] if len(made) > 1 else [None]
            whole = [each for each in found if each is not None and each.header_row == row]
            same = len({tuple(plain(texts[column]) for column in block if column in texts) for block in blocks}) == 1
            if len(whole) == len(made) and (same or all(len(each.columns) >= FEWEST_COLUMNS for each in whole)):
                fills = (_fills(looked.table, each) for each in whole)
                return [replace(view, filled=some) for view, some in zip(made, fills, strict=True)]
    return []


def _first_row(looked: _Looked, row: int, block: Sequence[int]) -> int:
    """Titles over one of several tables are its own; titles over none but the first are of all."""
    last = block[-1]
    titled = [column for cells in looked.table.rows[:row] for column, cell in enumerate(cells) if not is_blank(cell)]
    return 0 if any(block[0] <= column <= last for column in titled) else row


def _runs(table: Table, row: int, texts: dict[int, str]) -> list[list[int]]:
    """Columns with a header that follow each other."""
    runs: list[list[int]] = []
    for column in texts:
        if runs and runs[-1][-1] == column - 1:
            runs[-1].append(column)
        else:
            runs.append([column])
    return runs


def _repeats(texts: dict[int, str]) -> list[list[int]]:
    """Columns without a gap whose headers are some headers several times over."""
    columns, words = list(texts), [plain(text) for text in texts.values()]
    for size in range(2, len(words) // 2 + 1):
        if len(words) % size == 0 and words == words[:size] * (len(words) // size):
            return [columns[at : at + size] for at in range(0, len(columns), size)]
    return []


def _across(looked: _Looked) -> list[View]:
    """A day over each column or group of columns: one view a day. Empty where it is not certain what was measured."""
    table = looked.table
    for row, cells in enumerate(table.rows[: min(HEADER_ROWS, len(table.rows)) - 1]):  # rows come under it
        days = days_across(cells)
        between = cells[days[0] :] if days else []
        if not days or len(days) > MOST_VIEWS or not all(is_blank(cell) or is_day(cell) for cell in between):
            continue
        for made in (_grouped(looked, row, days), _titled(looked, row, days)):
            if made and all(_dated(looked.at(view)) for view in made):
                return made
    return []


def _of_grid(grid: Grid, table: Table) -> list[View]:
    """One view a column of a grid: its heads with what the column adds, and its cells."""
    blank = {(grid.row, at): "" for at in range(len(table.rows[grid.row])) if at != grid.corner}
    return [
        View(
            {**blank, (grid.row, at): grid.cells},
            frozenset({grid.corner, at}),
            grid.row,
            asked=frozenset({at}),
            made=((grid.corner, partial(_head, grid.corner, more)),),
        )
        for at, more in grid.steps
    ]


def _feet_beside_inches(table: Table, found: Recognised) -> View | None:
    """A view that joins a column of feet and one of inches, where these are what feet leave: none from 12 on."""
    for other in found.beside:
        kept = found.columns[other.column.name]
        by_unit = {each.unit.unit: each.index for each in (kept, other) if each.unit}
        if other.column.quantity != "length" or set(by_unit) != {"ft", "in"}:
            continue
        feet, inches = by_unit["ft"], by_unit["in"]
        rows = [row for row in table.rows[found.first_row :] if max(feet, inches) < len(row)]
        if all(_is_in_feet(joined(row[feet], row[inches])) for row in rows):
            blank = {(row, feet): "" for row in range(found.header_row, len(table.rows))}
            return View(blank, first_row=found.header_row, made=((inches, partial(_joined, feet, inches)),))
    return None


def _is_in_feet(text: str) -> bool:
    try:
        return not text or feet_and_inches(text) is not None
    except ValueError:
        return False


def _joined(feet: int, inches: int, cells: list[Any]) -> str:
    return joined(cells[feet], cells[inches]) if max(feet, inches) < len(cells) else ""


def _head(corner: int, more: Fraction, cells: list[Any]) -> Any:
    return added(cells[corner], more) if corner < len(cells) else ""


def _dated(found: Recognised | None) -> bool:
    """Whether the day over the columns is the day of the rows; a kind that asks for none would lose it."""
    return found is not None and any(each.said and not each.said.label for each in found.columns.values())


def _end(table: Table, row: int, days: list[int]) -> int:
    """Behind the last column of the last day: as wide as its merged cell, else as the columns of the first."""
    return days[-1] + (days[1] - days[0])


def _grouped(looked: _Looked, row: int, days: list[int]) -> list[View]:
    """The day over a group of columns, their headers in the row under it, alike for each day."""
    table, below = looked.table, looked.table.rows[row + 1]
    ends = [*days[1:], _end(table, row, days)]
    blocks = [list(range(first, end)) for first, end in zip(days, ends, strict=True)]
    words = [[plain(as_text(below[column])) if column < len(below) else "" for column in block] for block in blocks]
    if any(block != words[0] for block in words) or not any(words[0]):
        return []
    keys = _keys(table, row, days[0])
    headers = {(row, column): "" for column in range(ends[-1])} | {(row + 1, c): text for c, text in keys.items()}
    return [_of_day(table, row, block, keys, headers) for block in blocks]


def _keys(table: Table, row: int, first: int) -> dict[int, str]:
    """The headers before the first day, in either of the two rows."""
    below = [*table.rows[row + 1], *[""] * first]
    over = over_columns(table, row, first)
    texts = {c: "" if is_blank(below[c]) else as_text(below[c]) for c in range(first)}
    return {c: texts[c] or over[c].words for c in range(first) if texts[c] or (over[c].certain and over[c].words)}


def _titled(looked: _Looked, row: int, days: list[int]) -> list[View]:
    """A day over each column, and in a title above what was measured."""
    table = looked.table
    keys = {c: as_text(cell) for c, cell in enumerate(table.rows[row][: days[0]]) if not is_blank(cell)}
    titles = [as_text(cell) for cells in table.rows[:row] for cell in cells if isinstance(cell, str) and cell.strip()]
    measures = {title: title for title in titles if any(_measures(kind, title, looked.units) for kind in looked.kinds)}
    if not keys or len(measures) != 1:
        return []
    headers = {(row, c): text for c, text in keys.items()}
    title = next(iter(measures))
    return [_of_day(table, row, [c], keys, {**headers, (row, c): title}) for c in days]


def _measures(kind: SheetKind, title: str, units: UnitTable) -> bool:
    match = match_header(kind, title, units)
    return match is not None and match.column.type in NUMBERS and not match.doubt


def _of_day(
    table: Table, row: int, block: list[int], keys: dict[int, str], headers: dict[tuple[int, int], str]
) -> View:
    said = Said("", table.rows[row][block[0]], row, block[0])
    return View(headers, frozenset({*keys, *block}), row, (said,), frozenset(block))
