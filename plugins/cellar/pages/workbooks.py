"""Workbooks: the month accounts with every line, and the recount sheet that comes back as a sheet of casks."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import pandas as pd
from openpyxl import Workbook
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from pipeline.writing.plain import spreadsheet_safe
from pipeline.writing.workbooks import Book, Paper, Sheet, reckoned

FOOT = "Control record. Not a return, and not accepted by any authority."
THIN = Side(style="thin", color="D8D0BF")
LINE, BOX = Border(bottom=THIN), Border(left=THIN, right=THIN, top=THIN, bottom=THIN)
FILLS = {name: PatternFill("solid", start_color=color) for name, color in (("head", "EFE9DB"), ("ask", "FFF8DC"))}
WRAPPED, PLAIN = Alignment(vertical="top", wrap_text=True), Alignment(vertical="top")
FONTS = {
    "title": Font(name="Georgia", size=17, bold=True),
    "aside": Font(size=10, color="585B5C"),
    "head": Font(bold=True),
}
Heads = Sequence[tuple[str, float, str]]


class Look(NamedTuple):
    """How a cell of a table is shown: its number format, whether text wraps, and the name of its fill."""

    shown: str = ""
    wrapped: bool = True
    fill: str = ""


@dataclass(frozen=True)
class Layout:
    """Widths of columns, the row of the header; areas with the words to choose from; what of it prints ("": all)."""

    widths: tuple[float, ...]
    top: int
    choices: tuple[tuple[str, str], ...] = ()
    area: str = ""
    paper: int = 0
    one_page: bool = False


def _give(cell: Any, look: Look | str) -> None:
    if isinstance(look, str):
        cell.font = FONTS[look]
        return
    if look.shown:
        cell.number_format = look.shown
    cell.border = BOX if look.fill == "ask" else LINE
    cell.alignment = WRAPPED if look.wrapped else PLAIN
    if look.fill:
        cell.fill = FILLS[look.fill]
    if look.fill == "head":
        cell.font = FONTS["head"]


def _lay_out(sheet: Worksheet, layout: Layout) -> None:
    """One page wide, the header on every page, pages numbered."""
    sheet.sheet_view.showGridLines = False
    for column, width in enumerate(layout.widths, start=1):
        sheet.column_dimensions[get_column_letter(column)].width = width
    sheet.freeze_panes = f"B{layout.top + 1}"
    sheet.print_title_rows = f"{layout.top}:{layout.top}"
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, int(layout.one_page)
    if layout.paper:
        sheet.page_setup.paperSize = layout.paper
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    footer = sheet.HeaderFooter.oddFooter
    assert footer is not None
    for part, text in ((footer.left, FOOT), (footer.right, "&P of &N")):
        part.text = text
    for area, words in layout.choices:
        choice = DataValidation(type="list", formula1=f'"{words}"', allow_blank=True)
        sheet.add_data_validation(choice)
        choice.add(area)
    if layout.area:
        sheet.print_area = layout.area


PAPER = Paper(Workbook, _give, _lay_out)


def put(sheet: Sheet, row: int, column: int, value: Any, shown: str = "", fill: str = "") -> None:
    """One cell; a text stays a text and begins with nothing that a spreadsheet would run."""
    if isinstance(value, str):
        sheet.put(row, column, spreadsheet_safe(value), Look("", True, fill))
        return
    if value is not None and value != value:
        value = None
    elif isinstance(value, pd.Timestamp):
        value = value.to_pydatetime()
    sheet.put(row, column, value, Look(shown, False, fill))


def table(sheet: Sheet, top: int, heads: Heads, rows: Iterable[Sequence[Any]], ask: Collection[int] = ()) -> None:
    """A header at row ``top`` and the rows below it, columns ``ask`` coloured; heads are (title, width, format)."""
    for column, (title, _, _) in enumerate(heads, start=1):
        put(sheet, top, column, title, fill="head")
    fills = ["ask" if column in ask else "" for column in range(1, len(heads) + 1)]
    for row, values in enumerate(rows, start=top + 1):
        for column, (value, (_, _, shown), fill) in enumerate(zip(values, heads, fills, strict=True), start=1):
            put(sheet, row, column, value, shown, fill)
    sheet.layout = Layout(tuple(width for _, width, _ in heads), top)


def title(sheet: Sheet, text: str, asides: Sequence[str]) -> int:
    """Title and explanations above a table; gives the row of its header."""
    sheet.put(1, 1, text, "title")
    for row, aside in enumerate(asides, start=2):
        sheet.put(row, 1, aside, "aside")
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
    *(("Water L", 10.0, TENTH), ("Gauged PG", 12.0, TENTH), ("Bottles", 10.0, "#,##0")),
)
MONTH_NAMES = (
    *("month", "account", "spirit", "entry", "lines", "proof_gallons_official", "proof_gallons", "lpa_rounded", "lpa"),
    *("watered_L", "gauged_official", "bottles"),
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
    ("Bottles", 10.0, "#,##0"),
)


MOST_LINES = 10_000


def accounts_book(months: list[list[Any]], lines: list[list[Any]], house: str, older: int = 0) -> bytes:
    """Both tables; every total of the first is a sum over the second by month, account, spirit and entry.

    ``older``: how many lines before the given ones are left out.
    """
    book = Book(PAPER)
    sheet = book.sheet("Months")
    top_of_lines = 4 + bool(older)
    asides = (
        "Opening and entries make up what is on hand. Totals are sums of lines rounded to a tenth (27 CFR 30.51; LPA: "
        "the house's own rule).",
        "Entries add up the sheet Lines, on hand adds up opening and entries, opening is what was on hand before. "
        "Filter Lines by month, account, spirit and entry for the lines of a total, with file and cell.",
    )
    top = title(sheet, f"Month accounts of {house}" if house else "Month accounts", asides)
    table(sheet, top, MONTHS, living(months, lines, top, top_of_lines))
    sheet = book.sheet("Lines")
    said = ["+ in, − out. A loss is what the book had less what was gauged."]
    if older:
        said.append(f"The newest {len(lines):,} lines; {older:,} older ones stand in lines.csv.")
    top = title(sheet, "Lines of the accounts", said)
    assert top == top_of_lines
    table(sheet, top, LINES, lines)
    sheet.filter = f"A{top}:{get_column_letter(len(LINES))}{top + len(lines)}"
    return book.to_bytes()


# --- day sheet --------------------------------------------------------------------------------------

HIGH = 24.0  # points: room for a pen
FREE = 3  # rows for what is not on the list


def day_book(
    heads: Sequence[tuple[str, float]], rows: Sequence[Sequence[str]], asides: Sequence[str], more: str, paper: int
) -> bytes:
    """The day sheet on one page: names and last figures printed, the rest to be written; ``more`` stands below."""
    book = Book(PAPER)
    sheet = book.sheet("Day sheet")
    top = title(sheet, "Day sheet of the lab", asides) + 1
    put(sheet, top - 1, 1, "Date:")
    put(sheet, top - 1, 2, None, "yyyy-mm-dd", "ask")
    columns = [(head, width, "") for head, width in heads]
    blank = [None] * (len(heads) - 2)
    table(sheet, top, columns, [[*row, *blank] for row in [*rows, *[["", ""]] * FREE]], range(3, len(heads) + 1))
    last = top + len(rows) + FREE
    if more:
        sheet.put(last + 2, 1, more, "aside")
    area = f"A1:{get_column_letter(len(heads))}{last + 2 * bool(more)}"
    sheet.layout = Layout(tuple(width for _, width in heads), top, (), area, paper, one_page=True)
    sheet.heights.update({top: 32.0, **dict.fromkeys(range(top + 1, last + 1), HIGH)})
    return book.to_bytes()


SUMMED = {6: 11, 7: 12, 8: 13, 9: 14, 12: 19}
"""Columns of Months that add up, and the columns of Lines that they add up, both from 1."""


def living(months: list[list[Any]], lines: list[list[Any]], top: int, top_of_lines: int) -> list[list[Any]]:
    """The rows of Months with formulas in place of figures, wherever a formula gives the very figure."""
    place = {tuple(row[:4]): top + 1 + at for at, row in enumerate(months)}
    before = _on_hand_before(months)
    sums: dict[tuple[Any, ...], list[float]] = {}
    for line in lines:
        found = sums.setdefault((line[2], line[3], line[4], line[7]), [0.0] * len(SUMMED))
        for at, column in enumerate(SUMMED.values()):
            found[at] += line[column - 1] or 0.0
    made: list[list[Any]] = []
    running = dict.fromkeys(SUMMED, 0.0)
    first = 0
    for row in months:
        key, here, shown = tuple(row[:4]), place[tuple(row[:4])], list(row)
        if not made or months[len(made) - 1][:3] != row[:3]:
            running, first = dict.fromkeys(SUMMED, 0.0), here
        last = before.get(key[:3])
        for at, (column, of) in enumerate(SUMMED.items()):
            letter, value = get_column_letter(column), row[column - 1]
            if row[3] == ON_HAND:
                shown[column - 1] = reckoned(f"SUM({letter}{first}:{letter}{here - 1})", value, running[column])
            elif row[3] == OPENING:
                if last is not None:
                    shown[column - 1] = reckoned(f"{letter}{place[tuple(last[:4])]}", value, last[column - 1])
            elif key in sums:
                shown[column - 1] = reckoned(_sum_of_lines(here, of, top_of_lines, len(lines)), value, sums[key][at])
            running[column] += value or 0.0
        made.append(shown)
    return made


OPENING, ON_HAND = "opening", "on hand"


def _sum_of_lines(row: int, column: int, top: int, count: int) -> str:
    """What adds up a column of Lines for the month, account, spirit and entry of a row of Months."""
    first, last = top + 1, top + count
    area = {name: f"Lines!${name}${first}:${name}${last}" for name in ("C", "D", "E", "H", get_column_letter(column))}
    tests = f"({area['C']}=$A{row})*({area['D']}=$B{row})*EXACT({area['E']},$C{row})*({area['H']}=$D{row})"
    return f"SUMPRODUCT({tests},{area[get_column_letter(column)]})"


def _on_hand_before(months: list[list[Any]]) -> dict[tuple[Any, ...], list[Any]]:
    """Month, account and spirit → the row of what was on hand at the end of the month before that has one."""
    found: dict[tuple[Any, ...], list[Any]] = {}
    last: dict[tuple[Any, ...], list[Any]] = {}
    for row in sorted((row for row in months if row[3] == ON_HAND), key=lambda row: str(row[0])):
        if (earlier := last.get((row[1], row[2]))) is not None:
            found[row[0], row[1], row[2]] = earlier
        last[row[1], row[2]] = row
    return found


# --- recount ----------------------------------------------------------------------------------------

FILLED_IN = ("Inventory date", "Volume", "Proof", "Gauge date", "Status")
CHOICES = {"Status": "not counted,present,not found,empty", "Volume basis": "regauge,estimate"}


def recount_book(heads: Heads, asked: int, rows: Sequence[Sequence[Any]], asides: Sequence[str]) -> bytes:
    """The recount sheet: of ``heads`` the first ``asked`` print; those after are carried along unseen on paper."""
    book = Book(PAPER)
    sheet = book.sheet("Recount")
    top = title(sheet, "Recount of casks", asides)
    ask = [at for at, (name, _, _) in enumerate(heads, start=1) if name.startswith(FILLED_IN)]
    table(sheet, top, heads, rows, ask)
    last = top + len(rows)
    choices = tuple(
        (f"{get_column_letter(at)}{top + 1}:{get_column_letter(at)}{last}", CHOICES[name])
        for at, (name, _, _) in enumerate(heads, start=1)
        if name in CHOICES and rows
    )
    area = f"A1:{get_column_letter(asked)}{max(last, top)}"
    sheet.layout = Layout(tuple(width for _, width, _ in heads), top, choices, area)
    sheet.heights.update(dict.fromkeys(range(top + 1, last + 1), 22.0))
    return book.to_bytes()
