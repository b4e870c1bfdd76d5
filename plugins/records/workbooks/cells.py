"""Workbooks that people open: one plain look, texts that no spreadsheet runs, numbers that are numbers."""

from __future__ import annotations

import itertools
import re
import textwrap
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache
from typing import Any

from openpyxl import Workbook
from openpyxl.styles import Alignment, Border, Font, NamedStyle, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from pipeline.writing.workbooks import Book, Paper, Sheet
from plugins.records.record.finding_tables import harmless

FOOT = "Control record. Not a return, and not accepted by any authority."
LONGEST, TEXTS = 32_000, 1 << 14
LINE_HEIGHT = 15.0
INK, SOFT, RULE = "212427", "585B5C", "D8D0BF"
FILLS = {
    "header": "EFE9DB",
    "ask": "F3E2A0",
    "fill in": "FFF8DC",
    "stop": "F6DAD7",
    "review": "F8E7C4",
    "good": "DDEBDD",
    "sum": "F4F0E6",
}
FORMATS = {
    "text": "@",
    "proof": "0.0",
    "strength": "0.00",
    "tenth": "#,##0.0",
    "hundredth": "#,##0.00",
    "count": "#,##0",
    "date": "yyyy-mm-dd",
    "moment": "yyyy-mm-dd hh:mm",
    "any": "General",
}
LEFT = Alignment(vertical="top", horizontal="left", wrap_text=True, indent=1)
RIGHT = Alignment(vertical="top", horizontal="right", wrap_text=False)
ALIGNED = {
    "left": LEFT,
    "right": RIGHT,
    "head": Alignment(vertical="top", horizontal="right", wrap_text=True),
    "overflows": Alignment(vertical="top", horizontal="left", wrap_text=False, indent=1),
}
NUMBERS = ("proof", "strength", "tenth", "hundredth", "count", "any")


@dataclass(frozen=True)
class Head:
    """One column: its heading, width in characters, and how its cells are shown."""

    title: str
    width: float
    look: str = "text"


@dataclass(frozen=True)
class Layout:
    """How a sheet prints; ``more``: a function that adds to the openpyxl sheet, with its arguments."""

    widths: tuple[float, ...]
    header: int
    freeze: str
    landscape: bool
    across: int
    more: tuple[Any, ...]


def _begin() -> Workbook:
    """A workbook with the styles in which all sheets are written."""
    book = Workbook()
    line = Side(style="thin", color=RULE)
    for look, shown in FORMATS.items():
        for fill in ("", *FILLS) if look == "text" else ("", "sum", "fill in"):
            style = NamedStyle(f"{look} {fill}".strip(), number_format=shown)
            style.font = Font(name="Calibri", size=11, color=INK, bold=fill in ("header", "sum", "ask"))
            style.alignment = RIGHT if look in NUMBERS else LEFT
            style.border = Border(bottom=line)
            if fill:
                style.fill = PatternFill("solid", start_color=FILLS[fill], end_color=FILLS[fill])
            book.add_named_style(style)
    for name, font in (
        ("title", Font(name="Georgia", size=17, bold=True, color=INK)),
        ("part", Font(name="Calibri", size=12, bold=True, color=INK)),
        ("aside", Font(name="Calibri", size=10, color=SOFT)),
    ):
        style = NamedStyle(name, font=font, alignment=Alignment(vertical="top", wrap_text=False))
        book.add_named_style(style)
    return book


def _give(cell: Any, look: tuple[str, str]) -> None:
    cell.style, align = look
    if align:
        cell.alignment = ALIGNED[align]


def _lay_out(made: Worksheet, layout: Layout) -> None:
    """Fits so many pages ``across``, repeats the header row, numbers the pages, keeps the header in sight."""
    made.sheet_view.showGridLines = False
    for column, width in enumerate(layout.widths, start=1):
        made.column_dimensions[get_column_letter(column)].width = width
    if layout.more:
        layout.more[0](made, *layout.more[1:])
    made.page_setup.orientation = "landscape" if layout.landscape else "portrait"
    made.page_setup.fitToWidth = layout.across
    made.page_setup.fitToHeight = 0
    made.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    made.page_margins.left = made.page_margins.right = 0.5
    made.page_margins.top = made.page_margins.bottom = 0.7
    footer = made.HeaderFooter.oddFooter
    assert footer is not None
    for part, text in ((footer.left, FOOT), (footer.right, "&P of &N")):
        part.text = text
    made.print_title_rows = f"{layout.header}:{layout.header}"
    if layout.across > 1:
        made.print_title_cols = "A:A"
    made.freeze_panes = layout.freeze


PAPER = Paper(_begin, _give, _lay_out)


def put(made: Sheet, row: int, column: int, value: Any, look: str = "text", fill: str = "", align: str = "") -> None:
    """Write one cell. Text stays text and never begins with what a spreadsheet would run; None leaves it empty."""
    if isinstance(value, str):
        text, look = harmless(value), "text"
        value = text if len(text) <= LONGEST else text[: LONGEST - 1] + "…"
    elif look == "moment" and not isinstance(value, datetime):
        look = "date"
    made.put(row, column, value, (f"{look} {fill}" if fill else look, align))


def sheet(book: Book, name: str, title: str, asides: Iterable[str] = (), column: int = 1) -> Sheet:
    """A new sheet with its title and lines of explanation above the table, from ``column`` on.

    A sheet that prints several pages wide repeats its first column on each: there the title must
    begin in the second one, or its beginning would stand cut off on every further page.
    """
    made = book.sheet(name)
    say(made, 1, title, "title", column)
    for row, aside in enumerate(asides, start=2):
        say(made, row, aside, "aside", column)
    return made


def say(made: Sheet, row: int, text: str, style: str, column: int = 1) -> None:
    """One line of text across the sheet."""
    made.put(row, column, text, (style, ""))
    made.heights[row] = {"title": 28.0, "part": 20.0}.get(style, LINE_HEIGHT)


def below(made: Sheet) -> int:
    """The row that leaves one row free below what is there."""
    return made.last + 2


def sheet_name(book: Book, wanted: str) -> str:
    """A name that a workbook takes and that none of its sheets has."""
    base = re.sub(r"[\[\]:*?/\\']", " ", wanted).strip()[:26] or "Sheet"
    taken = {sheet.name.casefold() for sheet in book.sheets}
    names = itertools.chain([base], (f"{base} {number}" for number in itertools.count(2)))
    return next(name for name in names if name.casefold() not in taken)


def header(made: Sheet, heads: Sequence[Head]) -> int:
    """The header row, one row free above it; gives its number."""
    row = below(made)
    for column, head in enumerate(heads, start=1):
        put(made, row, column, head.title, "text", "header", "head" if head.look in NUMBERS else "")
    fit(made, row, heads, [head.title for head in heads])
    return row


def line(made: Sheet, row: int, heads: Sequence[Head], values: Sequence[Any], fill: str = "") -> None:
    """One row of the table."""
    for column, (head, value) in enumerate(zip(heads, values, strict=True), start=1):
        put(made, row, column, value, head.look, fill)
    fit(made, row, heads, values)


def fit(made: Sheet, row: int, heads: Sequence[Head], values: Sequence[Any]) -> None:
    """A height that shows wrapped text whole: not every program works it out when it opens a file."""
    most = 1
    for head, value in zip(heads, values, strict=False):
        if isinstance(value, str):
            # a letter of text is narrower than the digit by which a column's width is counted
            room = max(int(head.width * 1.1 - 2), 4)
            if len(value) > room or "\n" in value or "\t" in value:
                most = max(most, sum(_lines(part, room) for part in value[:LONGEST].split("\n")))
    made.heights[row] = min(LINE_HEIGHT * most + 2, 400.0)


@lru_cache(TEXTS)
def _lines(text: str, room: int) -> int:
    """How many lines a text without breaks fills."""
    return len(textwrap.wrap(text, room)) or 1


def for_print(
    made: Sheet,
    heads: Sequence[Head],
    header_row: int,
    freeze: str,
    landscape: bool = True,
    across: int = 1,
    more: tuple[Any, ...] = (),
) -> None:
    """Lay the sheet out: see ``Layout``."""
    made.layout = Layout(tuple(head.width for head in heads), header_row, freeze, landscape, across, more)


def day(text: str | None) -> date | datetime | None:
    """An ISO date or moment as a date that a spreadsheet can reckon with."""
    if text is None:
        return None
    found = datetime.fromisoformat(text)
    return found if "T" in text else found.date()
