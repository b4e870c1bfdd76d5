"""Workbooks put together cell by cell are, byte for byte, those that openpyxl makes alone."""

from __future__ import annotations

import io
from datetime import date, datetime
from typing import Any

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl.styles import Alignment, Font, NamedStyle, PatternFill
from openpyxl.utils import get_column_letter

from pipeline.writing.workbooks import Book, Paper, workbook_bytes

LOOKS = (("plain", ""), ("plain", "bold"), ("plain", "filled"), ("named", ""), ("named", "right"), ("", "day"))
VALUES = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(10**20), 10**20),
    st.floats(),
    st.text(st.characters(codec="utf-8"), max_size=12),
    st.sampled_from(["", " ", " a ", "=1+1", "<b>&amp;</b>", "two\nlines", "\u00b0F", "#N/A"]),
)
DATES = st.one_of(
    st.dates(date(1900, 1, 1), date(2100, 1, 1)), st.datetimes(datetime(1900, 1, 1), datetime(2100, 1, 1))
)
PUT = st.one_of(
    st.tuples(VALUES, st.sampled_from(LOOKS)), st.tuples(DATES, st.sampled_from([("named", ""), ("", "day")]))
)
CELLS = st.dictionaries(st.tuples(st.integers(1, 9), st.integers(1, 30)), PUT, max_size=12)
HEIGHTS = st.dictionaries(st.integers(1, 12), st.floats(1.0, 400.0), max_size=3)


def begin() -> openpyxl.Workbook:
    book = openpyxl.Workbook()
    book.add_named_style(NamedStyle("named", font=Font(name="Georgia", size=17), number_format="0.0"))
    return book


def give(cell: Any, look: tuple[str, str]) -> None:
    if look[0] == "named":
        cell.style = "named"
    if look[1] == "bold":
        cell.font = Font(bold=True)
    if look[1] == "filled":
        cell.fill = PatternFill("solid", start_color="EFE9DB")
    if look[1] == "right":
        cell.alignment = Alignment(horizontal="right")
    if look[1] == "day":
        cell.number_format = "yyyy-mm-dd"


def lay_out(sheet: Any, layout: tuple[float, ...]) -> None:
    for column, width in enumerate(layout, start=1):
        sheet.column_dimensions[get_column_letter(column)].width = width
    sheet.freeze_panes, sheet.print_title_rows = "B3", "2:2"


PAPER = Paper(begin, give, lay_out)
ILLEGAL = openpyxl.cell.cell.ILLEGAL_CHARACTERS_RE


def by_openpyxl(sheets: list[Any]) -> bytes:
    """The same workbook with openpyxl alone, every cell an object."""
    book = begin()
    book.remove(book.worksheets[0])
    for name, cells, heights, filtered in sheets:
        sheet = book.create_sheet(name)
        for (row, column), (value, look) in cells.items():
            cell = sheet.cell(row, column)
            if isinstance(value, str):
                cell.value, cell.data_type = ILLEGAL.sub("\ufffd", value), "s"
            elif value is not None:
                cell.value = value
            give(cell, look)
        for row, height in heights.items():
            sheet.row_dimensions[row].height = height
        lay_out(sheet, (9.0, 12.5))
        if filtered:
            sheet.auto_filter.ref = filtered
    return workbook_bytes(book)


def by_us(sheets: list[Any]) -> bytes:
    book = Book(PAPER)
    for name, cells, heights, filtered in sheets:
        sheet = book.sheet(name)
        for (row, column), (value, look) in cells.items():
            sheet.put(row, column, value, look)
        sheet.heights.update(heights)
        sheet.layout, sheet.filter = (9.0, 12.5), filtered
    return book.to_bytes()


@given(CELLS, CELLS, HEIGHTS, st.sampled_from(["", "A2:C9"]))
def test_the_bytes_are_those_of_openpyxl(first: Any, second: Any, heights: Any, filtered: str) -> None:
    """Values of every kind, looks made of named and own styles, heights, filters and a second sheet."""
    sheets = [("It's one", first, heights, filtered), ("Two", second, {}, "A1:B7")]
    assert by_us(sheets) == by_openpyxl(sheets)


def test_what_was_put_is_read_back() -> None:
    """A cell written over holds the last value; the last row is known; nothing runs."""
    book = Book(PAPER)
    sheet = book.sheet("One")
    assert sheet.last == 1
    sheet.put(4, 2, 1.5, ("plain", ""))
    sheet.put(4, 2, "=1+1", ("plain", "bold"))
    sheet.put(2, 3, date(2026, 3, 2), ("", "day"))
    sheet.layout = (9.0,)
    assert sheet.last == 4
    read = openpyxl.load_workbook(io.BytesIO(book.to_bytes()))["One"]
    assert (read["B4"].value, read["B4"].data_type, read["B4"].font.bold) == ("=1+1", "s", True)
    assert read["C2"].value == datetime(2026, 3, 2)
    assert read.dimensions == "B2:C4"


def test_two_books_of_one_layout_do_not_mix() -> None:
    """What is kept of a layout holds no cells."""
    made = [by_us([("One", {(1, 1): (text, ("plain", ""))}, {}, f"A1:A{rows}")]) for text, rows in (("a", 2), ("b", 3))]
    books = [openpyxl.load_workbook(io.BytesIO(data))["One"] for data in made]
    assert [book["A1"].value for book in books] == ["a", "b"]
    assert [book.auto_filter.ref for book in books] == ["A1:A2", "A1:A3"]


def test_a_value_of_another_kind_is_refused() -> None:
    """A list is no cell."""
    book = Book(PAPER)
    sheet = book.sheet("One")
    sheet.layout = ()
    sheet.put(1, 1, [1], ("plain", ""))
    with pytest.raises(TypeError):
        book.to_bytes()
