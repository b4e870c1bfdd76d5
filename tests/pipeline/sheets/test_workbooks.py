"""Workbooks as people and programs make them: every cell counts as a person saw it, or is a finding."""

from __future__ import annotations

import re
from datetime import datetime
from typing import Any

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl.utils.datetime import CALENDAR_MAC_1904

from pipeline.site.house import House
from pipeline.tables.readers import read_tables
from pipeline.tables.tables import Limits, Table, address
from pipeline.tables.workbook_parts import ANY_OF_BOTH, FAR, UNUSUAL
from tests.pipeline.kit import HEAD, PLAIN, ROWS, codes, column, csv, judged, repacked, said, xlsx


def read(name: str, data: bytes) -> list[Table]:
    return read_tables(name, data, Limits())


def test_workbook_cells_keep_their_types() -> None:
    """Numbers, texts, dates and truth values come as what they are; leading zeros stay."""
    rows: list[list[Any]] = [["a", "b", "c", "d", "e"], ["007", 7, 1.5, True, datetime(2026, 3, 2, 9, 40)]]
    (table,) = read("a.xlsx", xlsx({"S": rows}))
    assert table.rows[1] == ["007", 7.0, 1.5, True, datetime(2026, 3, 2, 9, 40)]
    assert not table.is_text


def test_several_sheets_are_several_tables() -> None:
    """Every sheet of a workbook is read, under its name."""
    tables = read("a.xlsx", xlsx({"Lab": PLAIN, "Stock": [["x"]]}))
    assert [table.sheet for table in tables] == ["Lab", "Stock"]


@pytest.mark.parametrize("state", ["hidden", "veryHidden"])
def test_a_hidden_sheet_is_not_taken_and_said(house: House, state: str) -> None:
    """A stale copy on a hidden sheet never counts, and a note names it."""

    def hide(book: Any) -> None:
        book["Old"].sheet_state = state

    old = [HEAD, ["C-9", datetime(2020, 1, 1), 99, 20]]
    item = judged(house, "a.xlsx", xlsx({"Old": old, "Data": PLAIN}, hide))
    assert [rows.sheet for rows in item.sheets] == ["Data"]
    assert any("'Old' is hidden" in f.message for f in said(item))


def test_a_formula_without_a_stored_value_is_a_finding_with_its_cell(house: House) -> None:
    """A row that depends on an uncalculated formula is not silently dropped or read as blank."""
    item = judged(house, "a.xlsx", xlsx({"S": [*PLAIN, ["C-3", datetime(2026, 3, 4), "=100+20", 20]]}))
    assert column(item, "vessel") == ["C-1", "C-2"]
    (fault,) = [f for f in said(item) if f.code == "sheet.unusable-row"]
    assert str(fault.place) == "a.xlsx · S · C4"
    assert "never calculated" in fault.message and "save" in fault.message
    assert fault.subject == "C-3"


def test_an_uncalculated_formula_in_an_optional_column_is_a_finding_too(house: House) -> None:
    """A blank left by a formula is not taken for a blank that a person meant."""
    head = [*HEAD, "Volume (L)"]
    item = judged(house, "a.xlsx", xlsx({"S": [head, ["C-3", datetime(2026, 3, 4), 120, 20, "=1+1"]]}))
    assert [f.place.cell for f in said(item) if f.code == "sheet.unusable-row"] == ["E2"]


@pytest.mark.parametrize("shown", ["#DIV/0!", "#N/A", "#REF!"])
def test_a_cell_that_shows_an_error_is_a_finding_with_the_error(house: House, shown: str) -> None:
    """#DIV/0! keeps its reason."""
    item = judged(house, "a.xlsx", xlsx({"S": [*PLAIN, ["C-3", datetime(2026, 3, 4), shown, 20]]}))
    (fault,) = [f for f in said(item) if f.code == "sheet.unusable-row"]
    assert shown in fault.message and fault.place.cell == "C4"


def test_a_total_row_of_uncalculated_formulas_is_only_a_note(house: House) -> None:
    """A total below the rows wants no person, calculated or not."""
    item = judged(house, "a.xlsx", xlsx({"S": [*PLAIN, ["Total", None, "=SUM(C2:C3)", None]]}))
    assert column(item, "vessel") == ["C-1", "C-2"]
    assert codes(said(item)) == ["sheet.total-row"]


def test_a_wrong_dimension_hides_no_rows() -> None:
    """Exporters write a false dimension; all rows are read all the same."""

    def change(name: str, data: bytes) -> bytes:
        return re.sub(rb'<dimension ref="[^"]*"', b'<dimension ref="A1"', data) if "sheet1" in name else data

    (table,) = read("a.xlsx", repacked(xlsx({"S": PLAIN}), change))
    assert len(table.rows) == 3 and table.rows[2][0] == "C-2"


def test_rows_keep_their_address_under_a_block_of_blank_rows(house: House) -> None:
    """A table that starts at C4 still names its true cells."""

    def shift(book: Any) -> None:
        sheet = book["S"]
        sheet.insert_rows(1, 3)
        sheet.insert_cols(1, 2)

    rows = [HEAD, ["C-1", datetime(2026, 3, 2), "none of it", 20]]
    item = judged(house, "a.xlsx", xlsx({"S": rows}, shift))
    (fault,) = [f for f in said(item) if f.code == "sheet.unusable-row"]
    assert fault.place.cell == "E5"


def test_a_merged_title_row_above_the_header(house: House) -> None:
    """A merged title does not hide the header."""

    def title(book: Any) -> None:
        sheet = book["S"]
        sheet.insert_rows(1, 2)
        sheet["A1"] = "Lab readings of March"
        sheet.merge_cells("A1:D1")

    item = judged(house, "a.xlsx", xlsx({"S": PLAIN}, title))
    assert column(item, "vessel") == ["C-1", "C-2"] and item.sheets[0].header_row == 3


def test_bare_day_numbers_count_from_1900_or_1904(house: House) -> None:
    """A serial in a plain cell is a date with a note; a 1904 workbook is 1,462 days on."""
    serial = (datetime(2026, 3, 2) - datetime(1899, 12, 30)).days

    def mac(book: Any) -> None:
        book.epoch = CALENDAR_MAC_1904

    for edit, number in ((None, serial), (mac, serial - 1462)):
        item = judged(house, "a.xlsx", xlsx({"S": [HEAD, ["C-1", number, 120, 20]]}, edit))
        assert column(item, "taken_at") == ["2026-03-02"]
        assert "sheet.day-numbers" in codes(said(item))


def test_a_formatted_date_of_a_1904_workbook_is_not_shifted_twice(house: House) -> None:
    """A date cell of a 1904 workbook is the day that the person saw."""

    def mac(book: Any) -> None:
        book.epoch = CALENDAR_MAC_1904
        book["S"]["B2"] = datetime(2026, 3, 2)

    item = judged(house, "a.xlsx", xlsx({"S": [HEAD, ["C-1", None, 120, 20]]}, mac))
    assert column(item, "taken_at") == ["2026-03-02"]


def test_a_number_that_is_no_day_is_a_finding(house: House) -> None:
    """20260302 in a date column is no spreadsheet day."""
    item = judged(house, "a.xlsx", xlsx({"S": [HEAD, ["C-1", 20260302, 120, 20], ["C-2", 0.5, 120, 20]]}))
    assert [f.place.cell for f in said(item) if f.code == "sheet.unusable-row"] == ["B2", "B3"]


def test_a_workbook_row_of_spaces_is_no_row(house: House) -> None:
    """A cell that holds only a space does not make a row that lacks everything."""
    item = judged(house, "a.xlsx", xlsx({"S": [*PLAIN, [" ", None, None, " "]]}))
    assert column(item, "vessel") == ["C-1", "C-2"] and said(item) == []


def test_a_text_cell_that_begins_with_an_equals_sign(house: House) -> None:
    """Text such as =C-1 in a name, a number or a date ends as a finding, in CSV and XLSX."""

    def as_text(book: Any) -> None:
        for cell in ("A2", "B3", "C4"):
            book["S"][cell].data_type = "s"

    rows = [
        HEAD,
        ["=C-1", datetime(2026, 3, 2), 120, 20],
        ["C-2", "=TODAY()", 120, 20],
        ["C-3", datetime(2026, 3, 2), "=120", 20],
        ["C-4", datetime(2026, 3, 2), 120, 20],
    ]
    workbook = judged(house, "a.xlsx", xlsx({"S": rows}, as_text))
    text = judged(
        house, "a.csv", csv("=C-1,2026-03-02,120,20,", "C-2,=TODAY(),120,20,", "C-3,2026-03-02,=120,20,", ROWS[0])
    )
    for item in (workbook, text):
        assert [f.place.cell for f in said(item) if f.code == "sheet.unusable-row"] == ["A2", "B3", "C4"]
        assert len(column(item, "vessel")) == 1


def test_addresses_are_those_of_spreadsheets() -> None:
    """Row and column from 0 become A1, Z1, AA1, and back again by the spreadsheet library."""
    for row, index in ((0, 0), (13, 2), (0, 25), (0, 26), (99, 701), (99, 702)):
        made = address(row, index)
        assert openpyxl.utils.cell.coordinate_to_tuple(made) == (row + 1, index + 1)


TAGS = st.builds(
    "<{}{}{}>".format,
    st.sampled_from(["c", "col", "cols", "x:c", "row"]),
    st.sampled_from(["", ' s="1"', " t='s'", "  "]),
    st.from_regex(r"( r=[\"'][A-Za-z]{0,3}[0-9]{0,8}[\"'])?", fullmatch=True),
)


@given(st.lists(TAGS, max_size=6))
def test_one_look_misses_no_cell_that_is_far_off_or_odd(tags: list[str]) -> None:
    """Where the quick look finds nothing, the exact ones find no odd cell, and none beyond row 99,999 or column Z."""
    window = "".join(tags).encode()
    if not ANY_OF_BOTH.search(window):
        assert not UNUSUAL.search(window)
        assert not FAR.search(b"".join(tag.encode() for tag in tags if tag.startswith("<c ")))


def test_the_quick_look_lets_near_cells_pass() -> None:
    """Usual cells need no exact look; the first row beyond does."""
    assert not ANY_OF_BOTH.search(b'<cols><col min="1"/></cols><row r="123456"><c r="A1"/><c r="Z99999" s="3" t="s">')
    assert ANY_OF_BOTH.search(b'<c r="A100000">') and ANY_OF_BOTH.search(b'<c r="AA1">')
