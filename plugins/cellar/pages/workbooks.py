"""Workbooks: the month accounts with every line, and the recount sheet that comes back as a sheet of casks."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import pandas as pd
from openpyxl import Workbook
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from pipeline.outputs.replacing import workbook_bytes
from pipeline.writing.plain import spreadsheet_safe

FOOT = "Control record. Not a return, and not accepted by any authority."
LINE = Border(bottom=Side(style="thin", color="D8D0BF"))
HEAD, ASK = PatternFill("solid", start_color="EFE9DB"), PatternFill("solid", start_color="FFF8DC")
WRAPPED, PLAIN = Alignment(vertical="top", wrap_text=True), Alignment(vertical="top")


def put(sheet: Worksheet, row: int, column: int, value: Any, shown: str = "", fill: PatternFill | None = None) -> None:
    """One cell; a text stays a text and begins with nothing that a spreadsheet would run."""
    cell = sheet.cell(row, column)
    if isinstance(value, str):
        text = ILLEGAL_CHARACTERS_RE.sub("\ufffd", value)
        cell.value = spreadsheet_safe(text)
        cell.data_type = "s"
    elif value is not None and value == value:
        cell.value = value.to_pydatetime() if isinstance(value, pd.Timestamp) else value
    if shown:
        cell.number_format = shown
    cell.border = LINE
    cell.alignment = WRAPPED if isinstance(value, str) and not shown else PLAIN
    if fill:
        cell.fill = fill


def table(sheet: Worksheet, top: int, heads: Sequence[tuple[str, float, str]], rows: Iterable[Sequence[Any]]) -> None:
    """A header at row ``top`` and the rows below it; heads are (title, width, number format)."""
    for column, (title, width, _) in enumerate(heads, start=1):
        put(sheet, top, column, title, fill=HEAD)
        sheet.cell(top, column).font = Font(bold=True)
        sheet.column_dimensions[get_column_letter(column)].width = width
    for row, values in enumerate(rows, start=top + 1):
        for column, (value, (_, _, shown)) in enumerate(zip(values, heads, strict=True), start=1):
            put(sheet, row, column, value, shown if not isinstance(value, str) else "")
    for_print(sheet, top)


def for_print(sheet: Worksheet, top: int) -> None:
    """One page wide, the header on every page, pages numbered."""
    sheet.freeze_panes = f"B{top + 1}"
    sheet.print_title_rows = f"{top}:{top}"
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    footer = sheet.HeaderFooter.oddFooter
    assert footer is not None
    for part, text in ((footer.left, FOOT), (footer.right, "&P of &N")):
        part.text = text


def title(sheet: Worksheet, text: str, asides: Sequence[str]) -> int:
    """Title and explanations above a table; gives the row of its header."""
    sheet.sheet_view.showGridLines = False
    sheet.cell(1, 1, text).font = Font(name="Georgia", size=17, bold=True)
    for row, aside in enumerate(asides, start=2):
        sheet.cell(row, 1, aside).font = Font(size=10, color="585B5C")
    return len(asides) + 3


# --- accounts ---------------------------------------------------------------------------------------

TENTH, HUNDREDTH = "#,##0.0", "#,##0.00"
MONTHS = (
    *(("Month", 10.0, ""), ("Account", 11.0, ""), ("Spirit", 26.0, ""), ("Entry", 19.0, ""), ("Lines", 8.0, "0")),
    *(
        ("Proof gallons", 14.0, TENTH),
        ("unrounded", 12.0, HUNDREDTH),
        ("LPA", 12.0, TENTH),
        ("unrounded", 12.0, HUNDREDTH),
    ),
    *(("Water L", 10.0, TENTH), ("Gauged PG", 12.0, TENTH)),
)
MONTH_NAMES = (
    *("month", "account", "spirit", "entry", "lines", "proof_gallons_official", "proof_gallons", "lpa_rounded", "lpa"),
    *("watered_L", "gauged_official"),
)
LINES = (
    *(
        ("Line", 8.0, "0"),
        ("Day", 12.0, "yyyy-mm-dd"),
        ("Month", 10.0, ""),
        ("Account", 10.0, ""),
        ("Spirit", 20.0, ""),
    ),
    *(("Owner", 18.0, ""), ("Holder", 13.0, ""), ("Entry", 15.0, ""), ("What", 26.0, ""), ("By", 18.0, "")),
    *(
        ("Proof gallons", 12.0, TENTH),
        ("unrounded", 12.0, HUNDREDTH),
        ("LPA", 11.0, TENTH),
        ("unrounded", 12.0, HUNDREDTH),
    ),
    *(("Water L", 10.0, TENTH), ("Gauged PG", 11.0, TENTH), ("File", 24.0, ""), ("Sheet and cell", 18.0, "")),
)


MOST_LINES = 10_000


def accounts_book(months: list[list[Any]], lines: list[list[Any]], house: str) -> bytes:
    """Both tables; every total of the first is a sum over the second by month, account, spirit and entry."""
    book = Workbook()
    book.remove(book.worksheets[0])
    sheet = book.create_sheet("Months")
    asides = (
        "Opening and entries make up what is on hand. Totals are sums of lines rounded to a tenth (27 CFR 30.51; LPA: "
        "the house's own rule).",
        "Filter the sheet Lines by month, account, spirit and entry for the lines of a total, with file and cell.",
    )
    table(sheet, title(sheet, f"Month accounts of {house}" if house else "Month accounts", asides), MONTHS, months)
    sheet = book.create_sheet("Lines")
    said = ["+ in, − out. A loss is what the book had less what was gauged."]
    if len(lines) > MOST_LINES:
        left, lines = len(lines) - MOST_LINES, lines[-MOST_LINES:]
        said.append(f"The newest {MOST_LINES:,} lines; {left:,} older ones stand in lines.csv.")
    top = title(sheet, "Lines of the accounts", said)
    table(sheet, top, LINES, lines)
    sheet.auto_filter.ref = f"A{top}:{get_column_letter(len(LINES))}{top + len(lines)}"
    return workbook_bytes(book)


# --- recount ----------------------------------------------------------------------------------------


def recount_book(
    heads: Sequence[tuple[str, float, str]], asked: int, rows: Sequence[Sequence[Any]], asides: Sequence[str]
) -> bytes:
    """The recount sheet: of ``heads`` the first ``asked`` print; those after are carried along unseen on paper."""
    book = Workbook()
    book.remove(book.worksheets[0])
    sheet = book.create_sheet("Recount")
    top = title(sheet, "Recount of casks", asides)
    table(sheet, top, heads, rows)
    last = top + len(rows)
    for column, (name, _, _) in enumerate(heads, start=1):
        if name.startswith(("Inventory date", "Volume", "Proof", "Gauge date", "Status")):
            for row in range(top + 1, last + 1):
                sheet.cell(row, column).fill = ASK
        if name == "Status" and rows:
            choice = DataValidation(type="list", formula1='"not counted,present,not found,empty"', allow_blank=True)
            sheet.add_data_validation(choice)
            choice.add(f"{get_column_letter(column)}{top + 1}:{get_column_letter(column)}{last}")
        if name == "Volume basis" and rows:
            choice = DataValidation(type="list", formula1='"regauge,estimate"', allow_blank=True)
            sheet.add_data_validation(choice)
            choice.add(f"{get_column_letter(column)}{top + 1}:{get_column_letter(column)}{last}")
    for row in range(top + 1, last + 1):
        sheet.row_dimensions[row].height = 22.0
    sheet.print_area = f"A1:{get_column_letter(asked)}{max(last, top)}"
    return workbook_bytes(book)
