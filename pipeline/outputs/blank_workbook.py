"""A blank sheet as a workbook: one page to fill in, one of explanations."""

from __future__ import annotations

import re
import textwrap
from typing import Any

from openpyxl import Workbook
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter, quote_sheetname
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from pipeline.contract.kinds import EXAMPLE, EXPLANATIONS
from pipeline.outputs.blank_sheet import KEEP, Blank, BlankColumn
from pipeline.writing.workbooks import workbook_bytes

TITLE, SAYS, MARKS, HEADER, FIRST = 1, 2, 3, 4, 5
RULED = 18  # rows with lines, for whoever fills in a printed sheet with a pen
REACH = 5000  # last row with drop-downs and checks
ACROSS = 150.0  # characters on a landscape page that can still be read
INLINE = 255  # a list in a cell's check is at most so long
INK, SOFT, PAPER, ASK, LINE = "212427", "585B5C", "EFE9DB", "FFF4CC", "B9B2A0"
FORMATS = {"date": "yyyy-mm-dd", "moment": "yyyy-mm-dd hh:mm", "number": "General", "count": "0"}
THIN = Side(style="thin", color=LINE)
BOX = Border(left=THIN, right=THIN, top=THIN, bottom=THIN)
WRAP = Alignment(vertical="top", wrap_text=True)
PAGE_HEADS = (
    *(("column", 24), ("needed", 22), ("what it holds", 40), ("how it is written", 34), ("unit", 16)),
    *(("allowed words", 34), ("other headers that are understood", 60)),
)


def book_of(blank: Blank, house: str) -> bytes:
    """The workbook's bytes; they depend on the declaration and the settings alone."""
    book = Workbook()
    sheet = book.worksheets[0]
    sheet.title = re.sub(r"[\[\]:*?/\\\\']", " ", blank.kind.name)[:31]
    explained = book.create_sheet("Explanations")
    areas = _explain(explained, blank)
    _fill_in(sheet, blank, house)
    for at, column in enumerate(blank.columns, start=1):
        check = _check(column, areas.get(column.column.name, ""))
        if check is not None:
            check.add(f"{get_column_letter(at)}{FIRST + 1}:{get_column_letter(at)}{REACH}")
            sheet.add_data_validation(check)
    return workbook_bytes(book)


def _text(sheet: Worksheet, row: int, column: int, text: str, **look: Any) -> None:
    """A cell of text, which no spreadsheet program runs."""
    cell = sheet.cell(row, column)
    if text:
        cell.value = ILLEGAL_CHARACTERS_RE.sub("\ufffd", text)
        cell.data_type = "s"
    cell.number_format = "@"
    cell.font = look.get("font", Font(name="Calibri", size=11, color=INK))
    cell.alignment = look.get("alignment", Alignment(vertical="top"))
    if "fill" in look:
        cell.fill = PatternFill("solid", start_color=look["fill"], end_color=look["fill"])
    if "border" in look:
        cell.border = look["border"]


# --- the page to fill in ---------------------------------------------------------------------------


def _fill_in(sheet: Worksheet, blank: Blank, house: str) -> None:
    kind = blank.kind
    widths = [_width(column) for column in blank.columns]
    across = max(1, round(sum(widths) / ACROSS))
    # a first column that is repeated on further pages would repeat the beginning of the title with it
    first = 2 if across > 1 else 1
    title = kind.name.replace("_", " ") + (f", {house}" if house else "")
    _text(sheet, TITLE, first, title, font=Font(name="Georgia", size=15, bold=True, color=INK))
    says = "The example is never taken. The second page explains the columns."
    says += f" One row: {kind.meaning}." if kind.meaning else ""
    _text(sheet, SAYS, first, says, font=Font(name="Calibri", size=10, color=SOFT))
    heights = {MARKS: 1, HEADER: 1, FIRST: 1}
    for at, (column, width) in enumerate(zip(blank.columns, widths, strict=True), start=1):
        _column(sheet, at, column, width)
        for row, text, size in (
            (MARKS, column.needed, 1.2),
            (HEADER, column.header, 1.0),
            (FIRST, column.example, 1.0),
        ):
            heights[row] = max(heights[row], len(textwrap.wrap(text, max(int(width * size) - 1, 4))))
    for row, lines in heights.items():
        sheet.row_dimensions[row].height = 15.0 * lines + 2
    sheet.row_dimensions[TITLE].height = 24.0
    for row in range(FIRST + 1, FIRST + 1 + RULED):
        sheet.row_dimensions[row].height = 20.0
    _for_print(sheet, f"{MARKS}:{HEADER}", across)
    sheet.freeze_panes = f"B{FIRST}"


def _width(column: BlankColumn) -> float:
    longest = max(len(word) for word in [*column.header.split(), *column.needed.split()])
    roomy = 30 if column.column.type == "text" and not column.column.required else 15
    return float(
        max(roomy, longest + 3, min(len(column.example) + 3, 26), *(len(word) + 5 for word in column.words), 0)
    )


def _column(sheet: Worksheet, at: int, column: BlankColumn, width: float) -> None:
    must = column.needed == KEEP or column.needed.startswith("every ")
    fill = ASK if must else PAPER
    small = Font(name="Calibri", size=9, color=SOFT, italic=not must, bold=must)
    _text(sheet, MARKS, at, column.needed, font=small, alignment=WRAP, fill=fill, border=BOX)
    bold = Font(name="Calibri", size=11, bold=True, color=INK)
    _text(sheet, HEADER, at, column.header, font=bold, alignment=WRAP, fill=fill, border=BOX)
    italic = Font(name="Calibri", size=11, italic=True, color=SOFT)
    if column.example:
        _text(sheet, FIRST, at, column.example, font=italic, alignment=WRAP, border=BOX)
    else:
        sheet.cell(FIRST, at).border = BOX
    shown = FORMATS.get(column.column.type, "@")
    for row in range(FIRST + 1, FIRST + 1 + RULED):
        cell = sheet.cell(row, at)
        cell.number_format, cell.border, cell.alignment = shown, BOX, WRAP
    dimension = sheet.column_dimensions[get_column_letter(at)]
    dimension.width = width
    dimension.number_format = shown  # below the ruled rows too, without a cell being there


def _for_print(sheet: Worksheet, titles: str, across: int) -> None:
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.paperSize = 9
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = across, 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    sheet.page_margins.left = sheet.page_margins.right = 0.4
    sheet.page_margins.top = sheet.page_margins.bottom = 0.7
    sheet.page_margins.footer = 0.3
    sheet.print_title_rows = titles
    if across > 1:
        sheet.print_title_cols = "A:A"
    footer = sheet.HeaderFooter.oddFooter
    assert footer is not None
    footer.left.text, footer.right.text = "&A", "&P of &N"


# --- checks and prompts ----------------------------------------------------------------------------


def _check(column: BlankColumn, area: str) -> DataValidation | None:
    kind = column.column.type
    if column.words:
        # who may sign is checked at the door, without regard to case; here it is help, not a bar
        check = _list(column, area, strict=kind != "name")
    elif kind in ("number", "count"):
        check = _number(column, whole=kind == "count")
    elif kind in ("date", "moment"):
        check = _date(column)
    elif column.meaning:
        check = DataValidation(allow_blank=True)
    else:
        return None
    check.showInputMessage = True
    check.promptTitle = column.header[:32]
    unit = f" In {column.unit}." if column.unit else ""
    said = f"{_sentence(column.meaning)}{_sentence(column.how)}{unit} {_sentence(column.needed)}".strip()
    check.prompt = textwrap.shorten(said, 250, placeholder=" …")
    return check


def _sentence(words: str) -> str:
    return f"{words[:1].upper()}{words[1:].rstrip('.')}. " if words else ""


def _list(column: BlankColumn, area: str, strict: bool) -> DataValidation:
    listed = ",".join(column.words)
    plain = len(listed) < INLINE and not any(mark in word for word in column.words for mark in ',"')
    check = DataValidation("list", formula1=f'"{listed}"' if plain else area, allow_blank=True)
    check.showErrorMessage, check.errorStyle = True, "stop" if strict else "warning"
    check.errorTitle = column.header[:32]
    check.error = textwrap.shorten(f"One of: {', '.join(column.words)}; or leave it empty.", 220, placeholder=" …")
    return check


def _number(column: BlankColumn, whole: bool) -> DataValidation:
    low = -999_999_999_999.0 if column.low is None else column.low
    high = 999_999_999_999.0 if column.high is None else column.high
    check = DataValidation("whole" if whole else "decimal", operator="between", formula1=f"{low:.12g}")
    check.formula2, check.allow_blank, check.showErrorMessage = f"{high:.12g}", True, True
    # 72 °F in a column of degrees C is text, and understood: the program asks, and does not refuse
    check.errorStyle = "stop" if whole else "warning"
    bounds = [f"at least {column.low:g}" if column.low is not None else ""]
    bounds.append(f"at most {column.high:g}" if column.high is not None else "")
    said = " and ".join(filter(None, bounds))
    check.errorTitle = column.header[:32]
    unit = f" in {column.unit}" if column.unit else ""
    check.error = f"{'A whole number' if whole else 'A number'}{unit}{', ' + said if said else ''}."
    return check


def _date(column: BlankColumn) -> DataValidation:
    check = DataValidation("date", operator="between", formula1="DATE(1940,1,1)", allow_blank=True)
    check.formula2 = "TODAY()+2" if column.column.past else "DATE(2100,12,31)"
    check.showErrorMessage, check.errorStyle = True, "warning"
    check.errorTitle = column.header[:32]
    past = ", not later than today" if column.column.past else ""
    example = column.example.removeprefix(EXAMPLE)
    check.error = f"A date{past}, written as {example or '2026-03-14'}."
    return check


# --- the page of explanations ----------------------------------------------------------------------


def _explain(sheet: Worksheet, blank: Blank) -> dict[str, str]:
    """Write the page; gives, for columns whose words do not fit into a check, where they are listed."""
    _text(sheet, 1, 1, EXPLANATIONS, font=Font(name="Georgia", size=13, bold=True, color=INK))
    row = 2
    for note in blank.notes:
        sheet.merge_cells(start_row=row, end_row=row, start_column=1, end_column=len(PAGE_HEADS))
        _text(sheet, row, 1, note, alignment=WRAP)
        sheet.row_dimensions[row].height = 15.0 * (1 + len(note) // 210) + 2
        row += 1
    row += 1
    for at, (head, width) in enumerate(PAGE_HEADS, start=1):
        bold = Font(name="Calibri", size=11, bold=True, color=INK)
        _text(sheet, row, at, head, font=bold, fill=PAPER, border=BOX, alignment=WRAP)
        sheet.column_dimensions[get_column_letter(at)].width = width
    top = row
    for column in blank.columns:
        row += 1
        words = ", ".join(column.words)
        cells = (column.header, column.needed, column.meaning, column.how, column.unit, words, column.also)
        most = 1
        for at, (text, (_, width)) in enumerate(zip(cells, PAGE_HEADS, strict=True), start=1):
            _text(sheet, row, at, text, alignment=WRAP, border=BOX)
            most = max(most, len(textwrap.wrap(text, int(width * 1.05))))
        sheet.row_dimensions[row].height = 15.0 * most + 2
    areas = _word_lists(sheet, blank, row + 2)
    _for_print(sheet, f"{top}:{top}", 1)
    sheet.freeze_panes = f"B{top + 1}"
    return areas


def _word_lists(sheet: Worksheet, blank: Blank, row: int) -> dict[str, str]:
    """Lists for drop-downs that are too long to stand in the check itself."""
    areas = {}
    for column in blank.columns:
        if len(",".join(column.words)) >= INLINE or any(mark in word for word in column.words for mark in ',"'):
            _text(sheet, row, 1, f"words for {column.header}", font=Font(name="Calibri", size=11, bold=True))
            for place, word in enumerate(column.words, start=row + 1):
                _text(sheet, place, 1, word)
            areas[column.column.name] = f"{quote_sheetname(sheet.title)}!$A${row + 1}:$A${row + len(column.words)}"
            row += len(column.words) + 2
    return areas
