"""Old workbooks (.xls): read as the new ones are, with what they hide; what is not certain comes back."""

from __future__ import annotations

import io
import random
from collections.abc import Callable
from datetime import datetime
from typing import Any

import pytest
import xlwt

from pipeline.tables.old_workbooks import read_old_workbook
from pipeline.tables.tables import Limits, Unreadable
from tests.bad_input.kit import HEADER, column, judged, said

DAY = xlwt.easyxf(num_format_str="yyyy-mm-dd")
MARCH = datetime(2026, 3, 2, 9, 40)


def xls(edit: Callable[[Any], None] | None = None, **more: Any) -> bytes:
    """Two readings under the usual header; ``edit`` may change the sheet, ``more`` the workbook."""
    book = xlwt.Workbook()
    sheet = book.add_sheet("Lab", cell_overwrite_ok=True)
    for at, head in enumerate(HEADER):
        sheet.write(0, at, head)
    for row, cask in enumerate(("C-1", "C-2"), start=1):
        sheet.write(row, 0, cask)
        sheet.write(row, 1, MARCH, DAY)
        for at, figure in enumerate((120.0, 68.0, 50.0), start=2):
            sheet.write(row, at, figure)
    if edit is not None:
        edit(sheet)
    for name, value in more.items():
        setattr(book, name, value)
    raw = io.BytesIO()
    book.save(raw)
    return raw.getvalue()


def test_an_old_workbook_is_read_as_a_new_one() -> None:
    """Names, moments and figures are those of the cells."""
    made = judged("a.xls", xls())
    assert column(made, "vessel") == ["C-1", "C-2"] and column(made, "taken_at") == ["2026-03-02T09:40:00"] * 2
    assert column(made, "reading") == [120.0, 120.0] and said(made) == []


def test_what_an_old_workbook_hides_or_strikes_out_is_said() -> None:
    """A hidden row and one with a line through it are told, not taken."""

    def edit(sheet: Any) -> None:
        sheet.row(1).hidden = True
        sheet.write(2, 0, "C-2", xlwt.easyxf("font: struck_out on"))
        for at, cell in enumerate(("C-3", MARCH, 121.0, 68.0, 50.0)):
            sheet.write(3, at, cell, DAY if at == 1 else xlwt.Style.default_style)

    made = judged("a.xls", xls(edit))
    assert column(made, "vessel") == ["C-3"]
    assert [finding.code for finding in said(made)] == ["sheet.hidden-row", "sheet.hidden-row"]


def test_formats_and_merged_names() -> None:
    """A percent cell is what it shows, and a name merged over two rows is that of both."""

    def edit(sheet: Any) -> None:
        sheet.write(0, 2, "ABV")
        for row in (1, 2):
            sheet.write(row, 2, 0.62, xlwt.easyxf(num_format_str="0.0%"))
            sheet.write(row, 1, datetime(2026, 3, row), DAY)
        sheet.write(2, 0, "")
        sheet.merge(1, 2, 0, 0)

    made = judged("a.xls", xls(edit))
    assert column(made, "reading") == pytest.approx([62.0, 62.0]) and column(made, "vessel") == ["C-1", "C-1"]


def test_a_formula_that_may_never_have_been_calculated_is_asked_about() -> None:
    """Programs that only write such files leave formulas without a value; nothing is read as 0 there."""
    made = judged("a.xls", xls(lambda sheet: sheet.write(2, 4, xlwt.Formula("40+10"))))
    assert column(made, "vessel") == ["C-1"]
    (fault,) = said(made)
    assert fault.place.cell == "E3" and "never have been calculated" in fault.message


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("a.xls", xls(dates_1904=True), "1904"),
        ("a.xls", b"Cask,Date\n", "holds plain text"),
        ("a.xls", b"PK\x03\x04" + bytes(40), "holds a workbook or another packed file"),
        ("a.xls", xls()[:3000], "cannot be opened"),
        ("a.xlsx", xls(), "holds an old workbook"),
        ("a.xls", xls(lambda sheet: sheet.write(60_000, 255, "x")), "reaches to cell IV60001"),
    ],
)
def test_old_workbooks_that_are_returned(name: str, data: bytes, words: str) -> None:
    """What is not certain, not whole or too large comes back with what to do."""
    made = judged(name, data)
    assert made.returned and words in made.reason and made.remedy.endswith(".")


@pytest.mark.long
def test_damaged_old_workbooks_are_unreadable_and_nothing_else() -> None:
    """Bytes changed at random are read or refused in words; no other error comes out."""
    whole, chance, refused = xls(), random.Random(20), 0
    for _ in range(150):
        data = bytearray(whole)
        for _ in range(chance.randint(1, 12)):
            data[chance.randrange(8, len(data))] = chance.randrange(256)
        try:
            read_old_workbook(bytes(data), Limits())
        except Unreadable as error:
            assert error.remedy
            refused += 1
    assert refused > 0
