"""A file that goes back as a workbook to mend: its rows, what is wrong in them, and the page ``Columns``.

Cells keep what they hold: text stays text, which no spreadsheet program runs, and what was hidden or struck out is so.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date, datetime, time, timedelta
from typing import Any

from openpyxl import Workbook
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE, Cell
from openpyxl.comments import Comment
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.utils.datetime import CALENDAR_MAC_1904
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from pipeline.sheets.columns_sheet import (
    COLUMN_HEADS,
    CONFIRMED_BY,
    MARK,
    MENDS,
    SHEET_HEADS,
    TITLE,
    TO_MEND,
    ToMend,
    read_as,
)
from pipeline.sheets.to_mend import first_values
from pipeline.tables.tables import address
from pipeline.writing.workbooks import LONGEST, workbook_bytes

ENDING = ".to_mend.xlsx"
INK, SOFT, ASK, WRONG = "212427", "585B5C", "FFF4CC", "F6D5CF"
THIN, THICK = Side(style="thin", color="B9B2A0"), Side(style="medium", color="8C2F1B")
BOX, WRONG_BOX = (Border(left=side, right=side, top=side, bottom=side) for side in (THIN, THICK))
WRAP = Alignment(vertical="top", wrap_text=True)
LISTS = 9  # column of the page Columns from which on the choices are listed
WIDTHS = (18, 20, 24, 30, 30, 34)
FORMATS = {datetime: "yyyy-mm-dd hh:mm:ss", date: "yyyy-mm-dd", time: "hh:mm:ss", timedelta: "[h]:mm:ss"}
MOST_NOTED = 400  # cells that get a comment
LIKE_SEVERAL = "like several kinds"
NOT_THERE = "A column that every row needs is in no header"


def name_to_mend(name: str) -> str:
    """The name of the workbook that goes back of a file: of one that was such a workbook, the next number."""
    match = re.fullmatch(r"(.*)\.to_mend( (\d{1,6}))?\.xlsx", name, re.DOTALL | re.IGNORECASE)
    return f"{name}{ENDING}" if match is None else f"{match[1]}.to_mend {int(match[3] or 1) + 1}.xlsx"


def book_to_mend(parts: list[ToMend], name: str, digest: str, reason: str, remedy: str) -> bytes:
    """The workbook's bytes. ``digest``: SHA-256 of the file that goes back under this name."""
    book = Workbook()
    book.epoch = CALENDAR_MAC_1904 if any(part.epoch_1904 for part in parts) else book.epoch
    page = book.worksheets[0]
    page.title = TITLE
    sheets = [(part, book.create_sheet(_title(part.table.sheet, book))) for part in parts]
    for part, sheet in sheets:
        _rows(sheet, part)
    _page(page, [(part, sheet.title) for part, sheet in sheets if part.kind], name, digest, f"{reason} {remedy}")
    return workbook_bytes(book)


def _title(name: str, book: Workbook) -> str:
    """A sheet's name, where a spreadsheet program takes it; else the nearest that is free."""
    made = re.sub(r"[\[\]:*?/\\]", " ", name)[:31].strip("'") or "Rows"
    taken = {one.casefold() for one in book.sheetnames}
    return made if made.casefold() not in taken else f"{made[:27]} {len(taken)}"


# --- the rows -------------------------------------------------------------------------------------


def _rows(sheet: Worksheet, part: ToMend) -> None:
    table = part.table
    width = len(table.rows[part.header_row]) if table.is_text and part.kind else 0
    for row, cells in enumerate(table.rows):
        ragged = table.is_text and row > part.header_row and any(cell != "" for cell in cells[width:]) and width
        for column, cell in enumerate(cells):
            if cell != "" or (row, column) in table.faults:
                unsure = bool(ragged) or (row, column) in table.faults
                _put(sheet.cell(row + 1, column + 1), cell, unsure, table.shown.get((row, column), ""))
    for row, column in table.struck:
        sheet.cell(row + 1, column + 1).font = Font(strike=True)
    for row in table.hidden_rows:
        sheet.row_dimensions[row + 1].hidden = True
    for column in table.hidden_columns:
        sheet.column_dimensions[get_column_letter(column + 1)].hidden = True
    if part.kind:
        _look(sheet, part)
    for (row, column), said in list(part.bad.items())[:MOST_NOTED]:
        cell = sheet.cell(row + 1, column + 1)
        cell.fill, cell.border = PatternFill("solid", start_color=WRONG, end_color=WRONG), WRONG_BOX
        cell.comment = _comment(f"To mend: {_clean(said)}")


def _put(cell: Cell | Any, value: Any, unsure: bool, shown: str) -> None:
    """A cell as it was; one of which nothing may be taken before somebody looked at it says so."""
    if unsure:
        value = f"{_plain(value)}{TO_MEND}"
    if isinstance(value, str):
        cell.value = _clean(value)
        cell.data_type, cell.number_format = "s", "@"
        return
    cell.value = value
    if type(value) in FORMATS:
        cell.number_format = FORMATS[type(value)]
    elif shown == "%":
        cell.number_format = "0.0#######%"
    elif shown:
        cell.number_format = f'General"{" " + shown.replace(chr(34), "")}"'


def _plain(value: Any) -> str:
    return f"{value:.15g}" if isinstance(value, float) else str(value)


def _clean(text: str) -> str:
    return ILLEGAL_CHARACTERS_RE.sub("\ufffd", text)[:LONGEST]


def _comment(text: str) -> Comment:
    return Comment(text[:1000], "vatting", height=40 + 18 * (1 + len(text) // 40), width=300)


def _look(sheet: Worksheet, part: ToMend) -> None:
    bold = Font(name="Calibri", size=11, bold=True, color=INK)
    top = part.header_row + 1
    for index, _, taken_for, choices in part.columns:
        cell = sheet.cell(top, index + 1)
        cell.font, cell.alignment, cell.border = bold, WRAP, BOX
        letter = get_column_letter(index + 1)
        if not sheet.column_dimensions[letter].hidden:
            sheet.column_dimensions[letter].width = 17
        if choices:
            cell.fill, cell.border = PatternFill("solid", start_color=ASK, end_color=ASK), WRONG_BOX
            cell.comment = _comment(f"Not known for sure. Say on the page {TITLE} what it means.")
        else:
            cell.comment = _comment(f"Taken for: {taken_for}") if taken_for else None
    sheet.freeze_panes = f"A{top + 1}"


# --- the page Columns -------------------------------------------------------------------------------


def _page(page: Worksheet, parts: list[tuple[ToMend, str]], name: str, digest: str, why: str) -> None:
    for column, width in enumerate(WIDTHS, start=1):
        page.column_dimensions[get_column_letter(column)].width = width
    _line(page, 1, [MARK], Font(name="Georgia", size=13, bold=True, color=INK))
    _across(page, 2, f"{name} was not taken. {why}")
    _across(page, 3, _what_to_do(parts))
    _line(page, 4, [CONFIRMED_BY, ""])
    page.cell(4, 2).fill, page.cell(4, 2).border = PatternFill("solid", start_color=ASK, end_color=ASK), WRONG_BOX
    _line(page, 4, ["", "", "your name: what you say of headers is kept for files with the same header row"])
    _line(page, 5, [MENDS, digest])
    row, lists = _heads(page, 7, SHEET_HEADS), LISTS
    for part, sheet in parts:
        kind = part.kind.name if part.kind else ""
        said = LIKE_SEVERAL if part.open_kind else kind
        _line(page, row, [sheet, said, str(part.header_row + 1), read_as(part.table), ""], border=BOX)
        if part.kinds:
            lists = _ask(page, row, len(SHEET_HEADS), part.kinds, "", lists)
        row += 1
    row = _heads(page, row + 1, COLUMN_HEADS)
    for part, sheet in parts:
        for index, header, taken_for, choices in part.columns:
            cell = address(part.header_row, index)
            said = taken_for or ("say on the right what it means" if choices else "")
            _line(page, row, [sheet, cell, header, first_values(part, index), said, ""], border=BOX)
            if choices:
                lists = _ask(page, row, len(COLUMN_HEADS), choices, part.chosen.get(index, ""), lists)
            row += 1
    page.print_area = f"A1:F{_cells_to_mend(page, row + 1, parts)}"
    page.page_setup.orientation, page.page_setup.fitToHeight = "landscape", 0
    page.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    page.page_setup.paperSize = 9


def _what_to_do(parts: list[tuple[ToMend, str]]) -> str:
    said = []
    if any(part.open_kind for part, _ in parts):
        said.append("Say what the rows are in the yellow field; the columns are asked for after that.")
    elif any(part.kinds for part, _ in parts):
        said.append("Where the rows are of another kind, say which in the yellow field beside it.")
    if any(choices for part, _ in parts for *_, choices in part.columns):
        said.append("Choose in the yellow fields what each header means; where you choose nothing it is left aside.")
    lacking = ", ".join(f"{part.lacking} ({sheet})" for part, sheet in parts if part.lacking and not part.open_kind)
    if lacking:
        said.append(f"{NOT_THERE}: {lacking}. Choose the header that means it, or add the column.")
    if any(part.bad for part, _ in parts):
        said.append("Mend the cells with a thick border; they are listed below.")
    return " ".join([*said, "Then save this workbook into the inbox, under any name."])


def _heads(page: Worksheet, row: int, heads: Iterable[str]) -> int:
    _line(page, row, list(heads), Font(name="Calibri", size=11, bold=True, color=INK), BOX)
    return row + 1


def _line(page: Worksheet, row: int, texts: list[str], font: Font | None = None, border: Border | None = None) -> None:
    for column, text in enumerate(texts, start=1):
        cell = page.cell(row, column)
        if text:
            cell.value, cell.data_type = _clean(text), "s"
        if text or border:
            cell.number_format, cell.alignment = "@", Alignment(vertical="top", wrap_text=row > 6)
            cell.font = font or Font(name="Calibri", size=11, color=INK)
        if border:
            cell.border = border


def _across(page: Worksheet, row: int, text: str) -> None:
    """A text over the width of the page, on as many lines as it needs."""
    page.merge_cells(start_row=row, end_row=row, start_column=1, end_column=len(WIDTHS))
    _line(page, row, [text])
    page.cell(row, 1).alignment = WRAP
    page.row_dimensions[row].height = 15.0 * (1 + len(text) // int(0.95 * sum(WIDTHS))) + 3


def _ask(page: Worksheet, row: int, column: int, choices: list[str], chosen: str, lists: int) -> int:
    """A field with a dropdown, whose words stand in a column of their own; gives the next free one."""
    cell = page.cell(row, column)
    cell.fill, cell.border = PatternFill("solid", start_color=ASK, end_color=ASK), WRONG_BOX
    if chosen:
        cell.value, cell.data_type = chosen, "s"
    letter = get_column_letter(lists)
    for at, words in enumerate(choices, start=1):
        page.cell(at, lists).value = words
        page.cell(at, lists).font = Font(name="Calibri", size=8, color=SOFT)
    page.column_dimensions[letter].hidden = True
    check = DataValidation("list", formula1=f"${letter}$1:${letter}${len(choices)}", allow_blank=True)
    check.showErrorMessage, check.errorTitle = True, "What it means"
    check.error = "Choose one of the list, or leave it empty."
    check.add(cell.coordinate)
    page.add_data_validation(check)
    return lists + 1


def _cells_to_mend(page: Worksheet, row: int, parts: list[tuple[ToMend, str]]) -> int:
    """List the cells; gives the last row."""
    bad = [(sheet, spot, said) for part, sheet in parts for spot, said in sorted(part.bad.items())]
    if not bad:
        return row
    row = _heads(page, row, ("Sheet", "Cell to mend", "What is wrong"))
    for sheet, spot, said in bad[:MOST_NOTED]:
        _line(page, row, [sheet, address(*spot), said], border=BOX)
        page.merge_cells(start_row=row, end_row=row, start_column=3, end_column=len(WIDTHS))
        page.row_dimensions[row].height = 15.0 * (1 + len(said) // 100) + 3
        row += 1
    if len(bad) > MOST_NOTED:
        _line(page, row, ["", "", f"and {len(bad) - MOST_NOTED} cells more"])
    return row
