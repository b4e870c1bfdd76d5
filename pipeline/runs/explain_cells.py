"""Cells behind a figure: read back from the originals, the first few of each sheet, and how many there are.

A figure may rest on all of a laboratory's readings. So facts are looked at a sheet at a time: which of a column's
cells hold something is told once, and only the cells that are shown are read out.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import TYPE_CHECKING, Any

from pipeline.book.journal import Originals
from pipeline.book.ledger import SheetInfo
from pipeline.book.sources import Sources
from pipeline.common.libraries import np
from pipeline.contract.findings import Place
from pipeline.sheets.cells import as_text, is_blank
from pipeline.tables.readers import read_tables
from pipeline.tables.tables import Limits, Table, address

if TYPE_CHECKING:
    from numpy.typing import NDArray

SHOWN = 8
NO_LIMITS = Limits(float("inf"), sys.maxsize, sys.maxsize)  # what was taken once can be shown, whatever the limits now


@dataclass(frozen=True)
class Cell:
    """One cell: where it is, and its header with what stands there; ``words`` alone where a ruling set the figure."""

    column: str
    row: int
    header: str = ""
    said: str = ""
    words: str = ""

    @property
    def text(self) -> str:
        where = f"{self.column}{self.row}" if self.row else "the tab"
        return f"{where} {self.words or f'({self.header}: {self.said})'}"


@dataclass(frozen=True)
class Behind:
    """Cells of one sheet that a figure rests on: the first few of them, and how many there are."""

    where: str
    cells: tuple[Cell, ...]
    count: int

    @property
    def text(self) -> str:
        return f"{self.where}: {', '.join(cell.text for cell in self.cells)}{self.more}"

    @property
    def more(self) -> str:
        """What is said of the cells that are not shown."""
        return f" and {self.count - SHOWN} cells more" if self.count > SHOWN else ""


class Sheet:
    """One sheet as it was dropped."""

    def __init__(self, info: SheetInfo, where: str, rows: list[list[Any]]) -> None:
        self.info, self.where, self._rows = info, where, rows
        self._filled: dict[int, NDArray[np.bool_]] = {}

    def filled(self, index: int) -> NDArray[np.bool_]:
        """Which rows hold something in a column (from 0). Shape (rows,)."""
        if index not in self._filled:
            cells = [row[index] if index < len(row) else "" for row in self._rows]
            self._filled[index] = np.array([not is_blank(cell) for cell in cells], dtype=bool)
        return self._filled[index]

    @cached_property
    def _headers(self) -> dict[int, str]:
        return {column["index"]: column["header"] for column in self.info.columns.values() if "row" not in column}

    def said(self, column: dict[str, Any]) -> Cell:
        """The cell, or the tab, that says a column of all rows."""
        index, row = column["index"], column["row"]
        held = self._rows[row - 1][index] if row else self.info.name
        return Cell(address(0, index)[:-1] if row else "", row, column["header"], as_text(held))

    def cell(self, row: int, index: int) -> Cell:
        """The cell in a row (from 1) and a column (from 0) that holds something."""
        return Cell(address(0, index)[:-1], row, self._headers[index], as_text(self._rows[row - 1][index]))


@dataclass(frozen=True)
class Run:
    """Facts that follow each other in one sheet, by their rows (from 1)."""

    sheet: Sheet
    rows: NDArray[np.int64]

    def filled(self, indices: list[int]) -> Filled:
        """The cells in some columns that hold something, row after row."""
        rows, places = np.nonzero(np.stack([self.sheet.filled(index)[self.rows - 1] for index in indices], axis=1))
        return Filled(self.sheet, self.rows[rows], np.array(indices)[places])


@dataclass(frozen=True)
class Filled:
    """Cells of a sheet that hold something, by row (from 1) and column (from 0)."""

    sheet: Sheet
    rows: NDArray[np.int64]
    columns: NDArray[np.int64]

    def cells(self, most: int | None = None) -> list[Cell]:
        """The cells, or the first of them."""
        pairs = zip(self.rows[:most].tolist(), self.columns[:most].tolist(), strict=True)
        return [self.sheet.cell(row, column) for row, column in pairs]


class Cells:
    """Walks from facts to the cells of the originals. Each file is read once, when it is first wanted."""

    def __init__(self, originals: Originals, sources: Sources) -> None:
        self.originals, self.sources = originals, sources
        self._tables: dict[int, list[Table]] = {}
        self._sheets: dict[int, Sheet] = {}

    def runs(self, facts: Iterable[int]) -> list[Run | int]:
        """Facts as runs in sheets; those that rulings made, or that several sheets state, stand alone."""
        made: list[Run | int] = []
        for info, those in self.sources.runs(facts):
            if info is None:
                made.extend(those.tolist())
            else:
                made.append(Run(self._sheet(info), those))
        return made

    def behind(self, facts: list[Run | int], wanted: Iterable[tuple[str, str]]) -> tuple[Behind, ...]:
        """The cells of the wanted columns (kind, column), a sheet at a time in the order of the facts."""
        columns: dict[str, list[str]] = {}
        for kind, column in wanted:
            columns.setdefault(kind, []).append(column)
        found: dict[str, list[Filled | Cell]] = {}
        for part in facts:
            if isinstance(part, Run):
                asked = columns.get(part.sheet.info.kind, ())
                for once in self._said(part.sheet.info, asked):
                    found.setdefault(part.sheet.where, []).append(part.sheet.said(once))
                indices = self._indices(part.sheet.info, asked)
                filled = part.filled(indices) if indices else None
                if filled is not None and len(filled.rows):
                    found.setdefault(part.sheet.where, []).append(filled)
            else:
                kind = self.sources.spot(part).kind
                for where, cell in self._of_fact(part, columns.get(kind, ())):
                    found.setdefault(where, []).append(cell)
        return tuple(_joined(where, parts) for where, parts in found.items())

    def row(self, fact: int) -> list[str]:
        """Every cell of a fact's row with its address and header."""
        return [cell.text for _, cell in self._of_fact(fact, self.sources.spot(fact).sheet.columns)]

    def _of_fact(self, fact: int, columns: Iterable[str]) -> Iterator[tuple[str, Cell]]:
        """The cells of one fact's columns that hold something; of a corrected one the ruling's."""
        for column in columns:
            spot = self.sources.spot(self.sources.origin(fact, column))
            info, row = spot.sheet, spot.row
            made = self.sources.correction(fact, column)
            if made:
                place, about = self.sources.place(fact, column), made[1]
                letters = place.cell.rstrip("0123456789")
                words = f"({about['column']} corrected to {about['corrected_value']} by {about['by']})"
                yield str(Place(place.file, place.sheet)), Cell(letters, int(place.cell[len(letters) :]), words=words)
                continue
            for once in self._said(info, [column]):
                sheet = self._sheet(info)
                yield sheet.where, sheet.said(once)
            for index in self._indices(info, [column]):
                sheet = self._sheet(info)
                if sheet.filled(index)[row - 1]:
                    yield sheet.where, sheet.cell(row, index)

    def _indices(self, info: SheetInfo, columns: Iterable[str]) -> list[int]:
        """Where the columns stand in a sheet, those that it has, each once."""
        return list(dict.fromkeys(column["index"] for column in self._held(info, columns) if "row" not in column))

    def _said(self, info: SheetInfo, columns: Iterable[str]) -> list[dict[str, Any]]:
        """The columns that one cell, or the tab, says of all rows."""
        return [column for column in self._held(info, columns) if "row" in column]

    def _held(self, info: SheetInfo, columns: Iterable[str]) -> list[dict[str, Any]]:
        held = (
            info.columns.get(column) or info.columns.get(self.sources.sheet_column(info.kind, column))
            for column in columns
        )
        return [column for column in held if column]

    def _sheet(self, info: SheetInfo) -> Sheet:
        if info.sheet not in self._sheets:
            line = self.sources.file(info.number)
            if info.number not in self._tables:
                data = self.originals.read(line["sha256"])
                self._tables[info.number] = read_tables(line["name"], data, NO_LIMITS)
            table = next(table for table in self._tables[info.number] if table.sheet == info.name)
            self._sheets[info.sheet] = Sheet(info, str(Place(line["name"], info.name)), _with_merged(table))
        return self._sheets[info.sheet]


def _with_merged(table: Table) -> list[list[Any]]:
    """The rows, with the names and days of cells that are merged over several rows in each of them."""
    rows = list(table.rows)
    for first, last in table.merged:
        cell = rows[first[0]][first[1]] if first[0] < len(rows) and first[1] < len(rows[first[0]]) else None
        if first[1] == last[1] and isinstance(cell, str | date):
            for row in range(first[0] + 1, min(last[0] + 1, len(rows))):
                rows[row] = [*rows[row], *[""] * (first[1] + 1 - len(rows[row]))]
                rows[row][first[1]] = cell
    return rows


def _joined(where: str, parts: list[Filled | Cell]) -> Behind:
    """The cells of one sheet, or of several that are called the same, each once."""
    if len(parts) == 1 and isinstance(parts[0], Filled):
        return Behind(where, tuple(parts[0].cells(SHOWN)), len(parts[0].rows))
    cells = dict.fromkeys(cell for part in parts for cell in ([part] if isinstance(part, Cell) else part.cells()))
    return Behind(where, tuple(cells)[:SHOWN], len(cells))
