"""Workbooks as bytes that depend on their content alone.

openpyxl makes all of a workbook but its cells, once for all workbooks that are laid out alike and use the same looks.
The cells, of which a house has millions, are put together here. The bytes are those that openpyxl alone would give.
"""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Hashable, Iterable
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache
from math import isfinite
from operator import itemgetter
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from openpyxl import Workbook
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
from openpyxl.utils import absolute_coordinate, get_column_letter
from openpyxl.utils.datetime import to_excel
from openpyxl.worksheet.worksheet import Worksheet
from openpyxl.writer.excel import ExcelWriter
from openpyxl.xml.constants import ARC_WORKBOOK

STAMP = datetime(2000, 1, 1)
FRAMES = 256  # sets of looks and layouts whose frame is kept
LETTER, A4 = 1, 9  # as workbooks number paper
LONGEST = 32_767  # letters that a cell holds
PART = "xl/worksheets/sheet{}.xml"
# what stands in a frame until the cells are known
NO_CELLS, NO_EXTENT, SOME_AREA = "<sheetData></sheetData>", 'ref="A1:A1"', "A1:XFD1048576"
ANY_AREA = re.escape(absolute_coordinate(SOME_AREA))


def workbook_bytes(workbook: Workbook) -> bytes:
    """An openpyxl workbook as bytes that depend on its content alone, never on the clock."""
    made = io.BytesIO()
    workbook.properties.created = workbook.properties.modified = STAMP
    with _Archive(made, "w") as archive:
        ExcelWriter(workbook, archive).write_data()
    return made.getvalue()


def paper_size(markets: Iterable[str]) -> int:
    """The number by which workbooks know the paper of a house: Letter where its only market is the US, else A4."""
    return LETTER if set(markets) == {"US"} else A4


@dataclass(frozen=True)
class Formula:
    """A formula of our own, without its equals sign, and the number that it gives, which stands in the file beside it.

    What people wrote never becomes a part of one: names of others stand in cells that it refers to.
    """

    text: str
    value: float


def reckoned(formula: str, value: float | None, found: float | None) -> Formula | float | None:
    """The formula where it gives the value (``found``: what it gives, to 1 in 10^9), else the value itself."""
    if value is None or found is None or not abs(value - found) <= 1e-9 * max(1.0, abs(value)):
        return value  # one that is not known (NaN) among them
    return Formula(formula, value)


@dataclass(frozen=True)
class Paper:
    """What workbooks of a kind are made on.

    ``begin`` gives an openpyxl workbook with the named styles, ``give(cell, look)`` a cell its look, and
    ``lay_out(sheet, layout)`` a sheet its widths and how it prints. Looks and layouts are plain values.
    """

    begin: Callable[[], Workbook]
    give: Callable[[Any, Any], None]
    lay_out: Callable[[Worksheet, Any], None]


class Sheet:
    """Cells by row and column from 1 on, heights of rows in points, and the area to filter by, as in A4:C9."""

    def __init__(self, name: str, met: dict[Any, None]) -> None:
        self.name, self._met = name, met
        self.rows: dict[int, dict[int, tuple[Any, Hashable]]] = {}
        self.heights: dict[int, float] = {}
        self.layout: Any = None  # a plain value, hashable
        self.filter = ""

    @property
    def last(self) -> int:
        """The last row with cells."""
        return max(self.rows, default=1)

    def put(self, row: int, column: int, value: Any, look: Hashable) -> None:
        """Write one cell: a text (that nothing runs), a number, True or False, a date or moment, a Formula, or None.

        A date's look says how it is shown.
        """
        if isinstance(value, date):
            self._met.setdefault(type(value))
        self._met.setdefault(look)
        self.rows.setdefault(row, {})[column] = value, look

    def extent(self) -> str:
        """The area of all cells."""
        if not self.rows:
            return "A1:A1"
        columns = [column for cells in self.rows.values() for column in (min(cells), max(cells))]
        return f"{get_column_letter(min(columns))}{min(self.rows)}:{get_column_letter(max(columns))}{self.last}"


class Book:
    """A workbook on paper of some kind."""

    def __init__(self, paper: Paper) -> None:
        self.paper = paper
        self.sheets: list[Sheet] = []
        self._met: dict[Any, None] = {}  # looks and types of dates in the order in which they were put

    def sheet(self, name: str) -> Sheet:
        """A new sheet after the others."""
        self.sheets.append(Sheet(name, self._met))
        return self.sheets[-1]

    def to_bytes(self) -> bytes:
        """The workbook packed."""
        rows = [_in_order(one) for one in self.sheets]
        looks = dict.fromkeys(look for cells in rows for _, line in cells for _, (_, look) in line)
        laid_out = tuple((one.name, one.layout, bool(one.filter)) for one in self.sheets)
        parts, styles = _frame(self.paper, laid_out, tuple(self._met), tuple(looks))
        areas = iter([absolute_coordinate(one.filter) for one in self.sheets if one.filter])
        parts = {**parts, ARC_WORKBOOK: re.sub(ANY_AREA, lambda _: next(areas), parts[ARC_WORKBOOK])}
        for number, (one, lines) in enumerate(zip(self.sheets, rows, strict=True), start=1):
            head, tail = parts[PART.format(number)].split(NO_CELLS)
            head = head.replace(NO_EXTENT, f'ref="{one.extent()}"')
            tail = tail.replace(SOME_AREA, one.filter)
            parts[PART.format(number)] = f"{head}<sheetData>{_lines(one, lines, styles)}</sheetData>{tail}"
        made = io.BytesIO()
        with _Archive(made, "w") as archive:
            for name, text in parts.items():
                archive.writestr(name, text)
        return made.getvalue()


Line = list[tuple[int, tuple[Any, Hashable]]]


def _in_order(sheet: Sheet) -> list[tuple[int, Line]]:
    """All rows that have cells or a height, each with its cells from left to right."""
    numbers = sorted(sheet.rows.keys() | sheet.heights.keys())
    return [(number, sorted(sheet.rows.get(number, {}).items(), key=itemgetter(0))) for number in numbers]


def _lines(sheet: Sheet, rows: list[tuple[int, Line]], styles: dict[Hashable, str]) -> str:
    """The rows of a sheet as XML."""
    parts = []
    for number, cells in rows:
        height = sheet.heights.get(number)
        said = "" if height is None else f' ht="{height:.16g}" customHeight="1"'
        parts.append(f'<row r="{number}"{said}>')
        parts += [_cell(f"{get_column_letter(column)}{number}", value, styles[look]) for column, (value, look) in cells]
        parts.append("</row>")
    return "".join(parts)


def _cell(place: str, value: Any, style: str) -> str:
    if value is None:
        return f'<c r="{place}"{style} t="n" />' if style else ""
    if isinstance(value, str):
        text = ILLEGAL_CHARACTERS_RE.sub("\ufffd", value)[:LONGEST]
        bare = text.strip()
        kept = ' xml:space="preserve"' if bare and bare != text else ""
        inner = f"><is><t{kept}>{escape(text)}</t></is></c>" if text else " />"
        return f'<c r="{place}"{style} t="inlineStr"{inner}'
    if isinstance(value, Formula):
        return f'<c r="{place}"{style}><f>{escape(value.text)}</f><v>{value.value:.16g}</v></c>'
    kind = "b" if isinstance(value, bool) else "n"
    number = to_excel(value) if isinstance(value, date) else value
    return f'<c r="{place}"{style} t="{kind}">' + (f"<v>{number:.16g}</v></c>" if isfinite(number) else "<v /></c>")


@lru_cache(FRAMES)
def _frame(
    paper: Paper, sheets: tuple[tuple[str, Hashable, bool], ...], met: tuple[Any, ...], looks: tuple[Hashable, ...]
) -> tuple[dict[str, str], dict[Hashable, str]]:
    """The parts of a workbook without cells, and how a cell of each of the ``looks`` names its style.

    Styles are numbered as openpyxl would: what they are made of as they were ``met``, they themselves as written.
    """
    book = paper.begin()
    for sheet in book.worksheets:
        book.remove(sheet)
    for name, layout, filtered in sheets:
        sheet = book.create_sheet(name)
        paper.lay_out(sheet, layout)
        sheet.auto_filter.ref = SOME_AREA if filtered else None
    scratch = book.create_sheet()
    cells = {one: scratch.cell(row, 1) for row, one in enumerate(met, start=1)}
    for one, cell in cells.items():
        if isinstance(one, type):
            cell.value = one(2000, 1, 1)  # a date has its workbook know how dates are shown
        else:
            paper.give(cell, one)
    styles = {look: f' s="{cells[look].style_id}"' if cells[look].has_style else "" for look in looks}
    book.remove(scratch)
    with ZipFile(io.BytesIO(workbook_bytes(book))) as packed:
        return {name: packed.read(name).decode("utf-8") for name in packed.namelist()}, styles


class _Archive(ZipFile):
    """A packed file whose parts bear no time of their own."""

    def writestr(self, name: Any, data: Any, *_: Any) -> None:
        part = ZipInfo(name, STAMP.timetuple()[:6])
        part.compress_type = ZIP_DEFLATED
        super().writestr(part, data)

    def write(self, filename: Any, arcname: Any = None, *_: Any, **__: Any) -> None:
        self.writestr(arcname, Path(filename).read_bytes())
