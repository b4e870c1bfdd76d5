"""A recognised table → typed rows and findings: a row counts whole, or it is a finding."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any

from pipeline.common.libraries import np
from pipeline.contract.findings import Finding, Place
from pipeline.contract.kinds import NUMBERS, SheetColumn, SheetKind, marked_as_example
from pipeline.contract.site import Site
from pipeline.contract.units import UnitWords
from pipeline.sheets.beside import held_against
from pipeline.sheets.blanks import fill_blanks, listed, missing
from pipeline.sheets.cells import (
    Context,
    Stated,
    Typed,
    as_shown,
    as_text,
    is_blank,
    type_column,
    with_time_of_day,
)
from pipeline.sheets.dates import wall_clock_as_utc
from pipeline.sheets.differences import fill_differences
from pipeline.sheets.found import Matched, Recognised, column_map, nameless_columns, second_table
from pipeline.sheets.keys import key_of
from pipeline.sheets.numbers import tell_decimal
from pipeline.sheets.set_aside import NAMED_TOTAL, refused, rows_of_others, rows_that_say, total_rows, unfilled_rows
from pipeline.sheets.titles import ON_THE_TAB
from pipeline.sheets.units import UnitTable, default_unit
from pipeline.tables.tables import Table, address

STATES_A_UNIT = re.compile(r"[^\d.,\s+\-−/⁄¼-¾⅐-⅞'’]|['’](?!\d{3})")


@dataclass
class SheetRows:
    """The usable rows of one sheet, ready for the book.

    ``values``: frame column → list, one per row; ``rows``: spreadsheet row numbers (from 1);
    ``void``: which rows withdraw their key; ``columns``: where each sheet column stands. ``blocks``
    holds the values as the book keeps them where they were packed already, and ``values`` is empty. ``bad`` are
    cells (row, column from 0) that kept a row from being taken, each with what is wrong.
    """

    kind: SheetKind
    sheet: str
    header_row: int
    rows: list[int]
    values: dict[str, list[Any]]
    void: list[bool]
    columns: dict[str, dict[str, Any]]
    findings: list[Finding] = field(default_factory=list)
    blocks: dict[str, bytes] = field(default_factory=dict)
    bad: dict[tuple[int, int], str] = field(default_factory=dict)


@dataclass(frozen=True)
class Taken:
    """What typing needs to know of the file: its name as dropped and the local day it was taken."""

    name: str
    day: date
    epoch_1904: bool = False


def type_rows(table: Table, found: Recognised, site: Site, units: UnitTable, taken: Taken) -> SheetRows:
    """Type every row of a recognised table.

    A row with a cell that cannot be used is left out, whole, with a finding that names the cell.
    """
    reader = _Reader(table, found, site, units, taken)
    return reader.read()


class _Reader:
    def __init__(self, table: Table, found: Recognised, site: Site, units: UnitTable, taken: Taken) -> None:
        self.table, self.found, self.site, self.units, self.taken = table, found, site, units, taken
        self.findings: list[Finding] = []
        span: Iterable[int] = range(found.first_row, found.end or len(table.rows))
        span = (row for row in span if row not in found.repeated) if found.repeated else span
        self.positions = self._filled(span)
        self.totals: set[int] = set()
        self._set_aside()
        self.cells = {name: self._cells(matched) for name, matched in found.columns.items()}
        for name, matched in found.columns.items():
            if matched.time_index is not None and matched.time_index < len(table.columns):
                self.cells[name] = list(map(with_time_of_day, self.cells[name], self._column(matched.time_index)))
        self.faults: dict[int, list[tuple[str, str]]] = {}
        self.bad: dict[tuple[int, int], str] = {}

    def read(self) -> SheetRows:
        context = self._context()
        typed: dict[str, Typed] = {}
        self._refused()
        for name, matched in self.found.columns.items():
            typed[name] = self._type(matched, context)
        self._said_by_headers(typed)
        for row, name, wrong in fill_differences(self.found.kind, typed, len(self.positions)):
            self.faults.setdefault(row, []).append((name, wrong))
        self._required_cells(typed)
        self._still_examples()
        self._named_totals()
        self._times(typed)
        self._ragged()
        self._uncalculated()
        self._say_faults({name: each.values for name, each in typed.items()})
        beside = {matched.index: self._column(matched.index) for matched in self.found.beside}
        for said in held_against(self.found, typed, self.cells, beside, self.positions, self.faults, context):
            self._say(said.code, said.severity, said.message, said.row, said.at, **said.more)
        self._notes()
        return self._assemble(typed)

    def _filled(self, span: Iterable[int]) -> list[int]:
        """The rows that hold something; where the first column does, the others need not be looked at."""
        rows = self.table.rows
        if self.table.is_text:
            return [row for row in span if any(not is_blank(cell) for cell in rows[row])]
        firsts = self.table.columns[0] if self.table.columns else []
        return [row for row in span if firsts[row] or any(rows[row]) or 0 in rows[row]]  # noughts alone are a row

    def _cells(self, matched: Matched) -> list[Any]:
        """What a column holds in the rows that count."""
        return [matched.said.cell] * len(self.positions) if matched.said else self._column(matched.index)

    def _column(self, index: int) -> list[Any]:
        """A column's cells in the rows that count; blanks where no row reaches so far."""
        columns, positions = self.table.columns, self.positions
        if index >= len(columns) or not positions:
            return [""] * len(positions)
        first, last = positions[0], positions[-1]
        cells = columns[index]
        return cells[first : last + 1] if last - first < len(positions) else [cells[row] for row in positions]

    def _set_aside(self) -> None:
        """Totals, and rows of something that is no row of this kind."""
        matched = [matched for matched in self.found.columns.values() if matched.column.aside]
        others = {each.index: (each.column, self._cells(each)) for each in matched}
        for said in [
            *total_rows(self.found, self.table, self.positions, self._column(0)),
            *rows_of_others(self.positions, others),
            *unfilled_rows(self.found, self.table, self.positions),
        ]:
            if said.row not in self.totals:
                self._say(*said)
            self.totals.add(said.row)
        self.positions = [row for row in self.positions if row not in self.totals]

    def _refused(self) -> None:
        """Rows of which a cell says in the instrument's own words that they are no result."""
        for name, matched in self.found.columns.items():
            if matched.column.refused:
                for row, words in rows_that_say(matched.column.refused, self.cells[name]):
                    self.faults.setdefault(row, []).append((name, refused(words)))

    def _said_by_headers(self, typed: dict[str, Typed]) -> None:
        """What a header says of all its rows; a cell that says otherwise is a fault."""
        for matched in [matched for matched in self.found.columns.values() if matched.says]:
            name, kept = matched.says or ("", "")
            if name not in typed:
                typed[name] = Typed([kept] * len(self.positions))
                continue
            for row, word in enumerate(typed[name].values):
                if word is None:
                    typed[name].values[row] = kept
                elif word != kept:
                    said = f"says {word!r}, but the header {matched.header!r} says {kept!r}"
                    self.faults.setdefault(row, []).append((name, said))

    def _named_totals(self) -> None:
        """A total that stands where a name belongs would count everything twice."""
        for name in self.found.kind.key:
            if name in self.found.columns and self.found.columns[name].column.type == "name":
                cells = self.cells[name]
                totals = {cell for cell in set(cells) if isinstance(cell, str) and NAMED_TOTAL.match(cell)}
                for row in [row for row, cell in enumerate(cells) if cell in totals] if totals else ():
                    self.faults.setdefault(row, []).append((name, "reads like a total, which is no row of its own"))

    def _context(self) -> Context:
        decimal = self.site.decimal
        if not decimal and self.table.is_text:
            numeric = [n for n, m in self.found.columns.items() if m.column.type in ("number", "count")]
            decimal = tell_decimal([cell for name in numeric for cell in self.cells[name]])
            if not decimal and self.table.delimiter == ",":
                decimal = "."
        return Context(self.site, self.units, decimal, self.taken.day.year + 1, self.taken.epoch_1904, self.taken.day)

    def _type(self, matched: Matched, context: Context) -> Typed:
        column = matched.column
        stated = Stated()
        if column.quantity:
            rows = None
            if matched.unit_index is not None:
                rows = self._column(matched.unit_index)
            usual = None if matched.asks_unit else default_unit(column, self.site, self.units)
            stated = Stated(matched.unit, rows, usual)
        if self.table.shown and column.type in NUMBERS:
            shown = [self.table.shown.get((row, matched.index), "") for row in self.positions]
            self.cells[column.name] = as_shown(self.cells[column.name], shown, column, context)
        typed = type_column(column, self.cells[column.name], context, stated)
        if matched.asks_unit and typed.units is not None and "scale" not in self.found.columns:
            for row, unit in enumerate(typed.units):
                if unit is None and not np.isnan(typed.values[row]):
                    typed.faults.setdefault(row, "has no unit, and could be of several; write it in the header")
        for row, fault in typed.faults.items():
            self.faults.setdefault(row, []).append((column.name, fault))
        for note in typed.notes:
            self._say(
                "sheet.day-numbers", "note", f"Column {matched.header!r} {note}.", self.found.header_row, matched.index
            )
        asks = column.unit or column.default_unit
        if asks and stated.default and matched.unit is None and self._assumed(typed, stated, column, context):
            self._say_assumed(matched, stated.default, typed)
        return typed

    def _say_assumed(self, matched: Matched, unit: UnitWords, typed: Typed) -> None:
        """The note on an assumed unit; a person looks when it would have most of a column freeze."""
        values = typed.values[~np.isnan(typed.values)]
        frozen = unit.quantity == "temperature" and len(values) > 0 and float(np.median(values)) < 0.0
        doubt = " Most of the column would then lie below freezing; was °C meant?" if frozen else ""
        self._say(
            "sheet.unit-assumed",
            "review" if frozen else "note",
            f"Column {matched.header!r} states no unit; {unit.unit} was assumed.{doubt}",
            self.found.header_row,
            matched.index,
            remedy=f"Write the unit in the header, or state {matched.column.name} under [units] in site.toml.",
        )

    def _assumed(self, typed: Typed, stated: Stated, column: SheetColumn, context: Context) -> bool:
        for row, cell in enumerate(self.cells[column.name]):
            in_row = stated.rows is not None and not is_blank(stated.rows[row])
            if isinstance(cell, float | int) and not isinstance(cell, bool):
                if not in_row:
                    return True
            elif not is_blank(cell) and not in_row and not STATES_A_UNIT.search(str(cell)):
                return True
        return False

    def _required_cells(self, typed: dict[str, Typed]) -> None:
        marks = typed["void"].values if "void" in typed else [None] * len(self.positions)
        for name in self.found.kind.required:
            if self.found.kind.column(name).may_be_blank:
                continue
            faulty = {row for row, faults in self.faults.items() if any(n == name for n, _ in faults)}
            for row in missing(typed[name].values):
                withdraws = marks[row] and name not in self.found.kind.key  # its key is enough
                if row not in faulty and not withdraws:
                    self.faults.setdefault(row, []).append((name, "is empty, but every row needs it"))
        for group in self.found.kind.needs_one_of:
            there = [name for name in group if name in typed]
            lacking = set.intersection(*(set(missing(typed[name].values)) for name in there))
            for row in sorted(lacking):
                if not marks[row]:
                    self.faults.setdefault(row, []).append((there[0], f"is empty; a row needs {' or '.join(group)}"))

    def _still_examples(self) -> None:
        """A row that was filled in over the example, but for a cell, would mix it with what was measured."""
        for name, cells in self.cells.items():
            free = self.found.columns[name].column.type in ("text", "name")  # elsewhere it is a fault already
            marked = {cell for cell in set(cells) if marked_as_example(cell)} if free else ()
            rows: Iterable[int] = () if free and not marked else range(len(cells)) if free else list(self.faults)
            for row in [row for row in rows if marked_as_example(cells[row])]:
                others = [fault for fault in self.faults.get(row, []) if fault[0] != name]
                self.faults[row] = [(name, "is still the example's; write your own or empty the cell"), *others]

    def _times(self, typed: dict[str, Typed]) -> None:
        last = (datetime.combine(self.taken.day, datetime.min.time()) + timedelta(days=1)).strftime("%Y-%m-%d")
        for name, matched in self.found.columns.items():
            if matched.column.past and max(filter(None, typed[name].values), default="")[:10] > last:
                for row, value in enumerate(typed[name].values):
                    if value is not None and value[:10] > last:
                        said = f"is {value[:10]}, later than the day the file was taken ({self.taken.day})"
                        self.faults.setdefault(row, []).append((name, said))

    def _ragged(self) -> None:
        if not self.table.is_text:
            return
        width = len(self.table.rows[self.found.header_row])
        for position, row in enumerate(self.positions):
            cells = self.table.rows[row]
            if any(not is_blank(cell) for cell in cells[width:]):
                first = next(iter(self.found.columns))
                said = f"stands in a row of {len(cells)} cells under a header of {width}; a delimiter too many?"
                self.faults.setdefault(position, []).append((first, said))

    def _uncalculated(self) -> None:
        by_index = {matched.index: name for name, matched in self.found.columns.items() if matched.in_rows}
        where = {row: position for position, row in enumerate(self.positions)}
        for (row, index), why in self.table.faults.items():
            if row >= self.found.first_row and index in by_index and row not in self.totals:
                said = f"has no value: {why}; open the workbook in the spreadsheet program, save, and drop it again"
                if row in where:
                    faults = self.faults.setdefault(where[row], [])
                    faults[:] = [fault for fault in faults if fault[0] != by_index[index]]
                    faults.insert(0, (by_index[index], said))
                else:
                    self._say(
                        "sheet.unusable-row", "review", f"Row {row + 1}: {address(row, index)} {said}.", row, index
                    )

    def _say_faults(self, values: dict[str, Any]) -> None:
        for position in sorted(self.faults):
            row = self.positions[position]
            faults = self.faults[position]
            parts = []
            for name, said in faults:
                cell = self._cell_text(name, position)
                shown = f" holds {cell!r} and" if cell else ""
                matched = self.found.columns[name]
                if matched.in_rows:
                    self.bad.setdefault((row, matched.index), f"{name} {said}")
                parts.append(f"{name} ({self._cell(name, row) or 'the tab'}){shown} {said}")
            name = faults[0][0]
            self._say(
                "sheet.unusable-row",
                "review",
                f"Row {row + 1} was not taken: {'; '.join(parts)}.",
                row,
                self.found.columns[name].index,
                subject=self._subject(position),
                column=name,
                observed=self._cell_text(name, position),
                key=key_of(self.found.kind, values, position, [name for name, _ in faults]),
                remedy="Mend the cell and drop the file again under the same name; rows already taken count once.",
            )

    def _cell(self, name: str, row: int) -> str:
        """The address of the cell that says what a column holds in a row; empty for the tab."""
        matched = self.found.columns[name]
        row = row if matched.said is None else matched.said.row
        return "" if row == ON_THE_TAB else address(row, matched.index)

    def _cell_text(self, name: str, position: int) -> str:
        cell = self.cells[name][position]
        return as_text(cell)[:80] if not is_blank(cell) else ""

    def _subject(self, position: int) -> str:
        first = self.found.kind.key[0]
        return self._cell_text(first, position) if first in self.cells else ""

    def _notes(self) -> None:
        for note in self.table.notes:
            self._say("sheet.read-note", "note", note, self.found.header_row, 0)
        if self.found.unknown:
            named = ", ".join(repr(header) for header in self.found.unknown)
            self._say(
                "sheet.columns-not-used",
                "note",
                f"Columns that {self.found.kind.name} does not know were left aside: {named}.",
                self.found.header_row,
                0,
            )
        for index, said in nameless_columns(self.found, self.table, self.positions):
            self._say("sheet.columns-not-used", "note", said, self.found.header_row, index)
        if self.found.end is not None:
            said = second_table(self.table, self.found.end)
            remedy = "Put the second table on a sheet or in a file of its own and drop that."
            self._say("sheet.second-table", "review", said, self.found.end, 0, remedy=remedy)

    def _say(self, code: str, severity: str, message: str, row: int, index: int, **more: Any) -> None:
        place = Place(self.taken.name, self.table.sheet, address(row, index))
        self.findings.append(Finding(code, severity, message, place=place, **{"subject": "", **more}))

    def _assemble(self, typed: dict[str, Typed]) -> SheetRows:
        every = not self.faults
        good: Sequence[int] = range(len(self.positions))
        good = good if every else [position for position in good if position not in self.faults]
        values: dict[str, list[Any]] = {}
        for name, each in typed.items():
            if name == "void":
                continue
            matched = self.found.columns.get(name)
            column = matched.column if matched else self.found.kind.column(name)
            held = listed(each.values)
            values[column.frame_column] = held = held if every else [held[i] for i in good]
            if column.type == "moment":
                values[f"{name}_timed"] = [None if moment is None else len(moment) > 10 for moment in held]
                values[f"{name}_utc"] = wall_clock_as_utc(held, self.site.timezone)
            if each.units is not None:
                values[f"{name}_unit"] = each.units if every else [each.units[i] for i in good]
        fill_blanks(values, len(good), self.found.kind, self.taken.day)
        marks = typed["void"].values if "void" in typed else [None] * len(self.positions)
        rows = [self.positions[position] + 1 for position in good]
        void = [bool(marks[position]) for position in good]
        sheet, header_row, columns = self.table.sheet, self.found.header_row + 1, column_map(self.found)
        return SheetRows(self.found.kind, sheet, header_row, rows, values, void, columns, self.findings, bad=self.bad)
