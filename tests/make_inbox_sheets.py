"""Writes sheets as people lay them out: a merged title, notes above the header, a total below."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from openpyxl import Workbook
from openpyxl.styles import Alignment, Font, PatternFill

from pipeline.writing.workbooks import workbook_bytes

HEADER = PatternFill("solid", fgColor="E4DCCF")
DAY, MINUTE = "yyyy-mm-dd", "yyyy-mm-dd hh:mm"


@dataclass(frozen=True)
class Sheet:
    """One sheet: ``above`` are the lines over the header, the first of them merged across and large."""

    name: str
    header: Sequence[str]
    rows: Sequence[Sequence[Any]]
    above: Sequence[str] = ()


def workbook(sheets: Iterable[Sheet]) -> bytes:
    """A workbook whose bytes depend on the sheets alone."""
    book = Workbook()
    book.remove(book["Sheet"])
    for sheet in sheets:
        _write(book.create_sheet(sheet.name), sheet)
    return workbook_bytes(book)


def _write(page: Any, sheet: Sheet) -> None:
    for line in sheet.above:
        page.append([line])
    if sheet.above:
        page.merge_cells(start_row=1, start_column=1, end_row=1, end_column=len(sheet.header))
        page["A1"].font = Font(size=14, bold=True)
        page["A1"].alignment = Alignment(horizontal="center")
        page.append([])
    top = len(sheet.above) + (2 if sheet.above else 1)
    for column, words in enumerate(sheet.header, start=1):
        cell = page.cell(top, column, words)
        cell.font, cell.fill = Font(bold=True), HEADER
        page.column_dimensions[cell.column_letter].width = _width(words, [row[column - 1] for row in sheet.rows])
    for place, row in enumerate(sheet.rows, start=top + 1):
        for column, value in enumerate(row, start=1):
            cell = page.cell(place, column, value)
            if isinstance(value, datetime):
                cell.number_format = MINUTE
            elif isinstance(value, date):
                cell.number_format = DAY
    page.freeze_panes = page.cell(top + 1, 1)


def _width(words: str, values: Iterable[Any]) -> float:
    longest = max([len(words), *(16 if isinstance(value, datetime) else len(str(value)) for value in values)])
    return float(min(longest + 2, 60))


def text(
    header: Sequence[str],
    rows: Iterable[Sequence[Any]],
    above: Sequence[Sequence[Any]] = (),
    delimiter: str = ",",
    end: str = "\n",
) -> str:
    """A text file of cells. ``above`` are whole rows over the header."""
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter, lineterminator=end).writerows([*above, header, *rows])
    return out.getvalue()


def decimal_comma(value: float, places: int) -> str:
    return f"{value:.{places}f}".replace(".", ",")


def slashed(day: date) -> str:
    """A date as an American writes it."""
    return f"{day.month}/{day.day}/{day.year}"
