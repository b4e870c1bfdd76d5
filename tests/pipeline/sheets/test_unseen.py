"""What a workbook hides or strikes out: said, not taken unless the site says so, and never lost."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable
from typing import Any

import pytest
from openpyxl.cell.rich_text import CellRichText, TextBlock
from openpyxl.cell.text import InlineFont
from openpyxl.styles import Font

from pipeline.site.house import House
from tests.pipeline.kit import codes, column, judged, repacked, said, toy_house, xlsx

OFFICE = b"http://schemas.openxmlformats.org/officeDocument/2006/relationships/sharedStrings"
SHARED_LINK = b'<Relationship Id="rId99" Type="' + OFFICE + b'" Target="sharedStrings.xml"/></Relationships>'
SHARED_TYPE = (
    b'<Override PartName="/xl/sharedStrings.xml" ContentType="application/vnd.openxmlformats-officedocument'
    b'.spreadsheetml.sharedStrings+xml"/>'
)
HEAD = ["Cask", "Date", "Reading", "Temp (°C)", "Batch", "Working"]
ROWS = [["C-1", "2026-03-02", 120, 20, "B-1", "x"], ["C-2", "2026-03-02", 118, 21, "B-1", "y"]]
ROWS += [["C-3", "2026-03-02", 117, 21, "B-1", "z"], ["C-4", "2026-03-02", 116, 21, "B-1", "z"]]


def lab(edit: Callable[[Any], None]) -> bytes:
    """A sheet of four readings under a title, changed as a person would."""
    return xlsx({"Lab": [["Gauges of the day"], HEAD, *ROWS]}, lambda book: edit(book["Lab"]))


def filtered(sheet: Any) -> None:
    sheet.auto_filter.ref = "A2:F6"
    sheet.auto_filter.add_filter_column(0, ["C-1", "C-4"])
    for row in (4, 5):
        sheet.row_dimensions[row].hidden = True


def test_rows_that_a_filter_hides_are_named_and_not_taken(house: House) -> None:
    """What one does not see was not meant to be dropped: a review that names rows and casks, and how to take them."""
    item = judged(house, "lab.xlsx", lab(filtered))
    assert column(item, "vessel") == ["C-1", "C-4"] and item.sheets[0].rows == [3, 6]
    (finding,) = [f for f in said(item) if f.code == "sheet.hidden-row"]
    assert finding.severity == "review" and "Rows 4–5 are hidden or filtered out" in finding.message
    assert "C-2, C-3" in finding.message and "take_hidden" in finding.remedy and finding.place.cell == "A4"


def test_a_site_takes_hidden_rows_if_it_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    """With take_hidden all four count, and a note says so."""
    house = toy_house(monkeypatch, 'timezone = "UTC"\n[sheets]\ntake_hidden = true\n')
    item = judged(house, "lab.xlsx", lab(filtered))
    assert column(item, "vessel") == ["C-1", "C-2", "C-3", "C-4"]
    (finding,) = [f for f in said(item) if f.code == "sheet.hidden-row"]
    assert finding.severity == "note" and "taken all the same" in finding.message


def test_rows_of_no_height_are_hidden_too(house: House) -> None:
    """A row dragged shut, and one of a sheet whose rows are shut unless they say otherwise."""
    dragged = lab(lambda sheet: setattr(sheet.row_dimensions[5], "height", 7))
    shut = repacked(dragged, lambda name, data: data.replace(b'ht="7"', b'ht="0"') if "sheet1" in name else data)
    assert column(judged(house, "lab.xlsx", shut), "vessel") == ["C-1", "C-2", "C-4"]

    def edit(sheet: Any) -> None:
        sheet.sheet_format.zeroHeight = True
        for row in (1, 2, 3, 4, 6):
            sheet.row_dimensions[row].height = 15

    assert column(judged(house, "lab.xlsx", lab(edit)), "vessel") == ["C-1", "C-2", "C-4"]


def test_a_hidden_column_is_said_and_not_taken(house: House) -> None:
    """A column of the kind is a review; one that nobody knows is a note; an empty one is nothing."""

    def edit(sheet: Any) -> None:
        for letter in ("E", "F", "H"):
            sheet.column_dimensions[letter].hidden = True

    item = judged(house, "lab.xlsx", lab(edit))
    assert column(item, "vessel") == ["C-1", "C-2", "C-3", "C-4"] and "batch" not in item.sheets[0].values
    (finding,) = [f for f in said(item) if f.code == "sheet.hidden-column"]
    assert finding.severity == "review" and "E (Batch), F (Working)" in finding.message and "H" not in finding.message
    only = judged(house, "lab.xlsx", lab(lambda sheet: setattr(sheet.column_dimensions["F"], "hidden", True)))
    assert [f.severity for f in said(only) if f.code == "sheet.hidden-column"] == ["note"]


def test_a_hidden_column_that_every_row_needs_sends_the_file_back_with_its_letter(house: House) -> None:
    """The reason names the column that is hidden, not only the one that is missing."""
    item = judged(house, "lab.xlsx", lab(lambda sheet: setattr(sheet.column_dimensions["D"], "hidden", True)))
    assert item.returned and "no temperature column" in item.reason and "columns D are hidden" in item.reason


@pytest.mark.parametrize("rich", [False, True])
def test_a_row_with_a_line_through_it_is_not_taken(house: House, rich: bool) -> None:
    """Struck out by the cell's font or letter by letter; one struck cell takes its row along; blank ones nothing."""

    def edit(sheet: Any) -> None:
        sheet["G3"].font = Font(strike=True)
        if rich:
            sheet["A5"] = CellRichText(TextBlock(InlineFont(strike=True), "C-3"))
            sheet["A6"] = CellRichText("C-", TextBlock(InlineFont(strike=True), "4"))
        else:
            sheet["C5"].font = Font(strike=True)

    item = judged(house, "lab.xlsx", lab(edit))
    assert column(item, "vessel") == ["C-1", "C-2", "C-4"]
    (finding,) = [f for f in said(item) if f.code == "sheet.hidden-row"]
    assert "Row 5 is struck out and was not taken: C-3" in finding.message


def test_a_text_struck_out_among_the_shared_ones(house: House) -> None:
    """As most programs keep texts: of the shared ones only that counts of which every run has the line."""
    texts = (
        '<sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><si><t>C-2</t></si>'
        "<si><r><rPr><strike/></rPr><t>C-3</t></r></si>"
        '<si><r><t>C-</t></r><r><rPr><strike val="1"/></rPr><t>4</t></r></si></sst>'
    )

    def change(name: str, data: bytes) -> bytes:
        if "sheet1" not in name:
            return data.replace(b"</Types>", SHARED_TYPE + b"</Types>").replace(b"</Relationships>", SHARED_LINK)
        for place, cask in enumerate((b"C-2", b"C-3", b"C-4")):
            text = b't="inlineStr"><is><t>' + cask + b"</t></is></c>"
            assert text in data
            data = data.replace(text, f't="s"><v>{place}</v></c>'.encode())
        return data

    raw = io.BytesIO(repacked(lab(lambda sheet: None), change))
    with zipfile.ZipFile(raw, "a") as packed:
        packed.writestr("xl/sharedStrings.xml", texts)
    item = judged(house, "lab.xlsx", raw.getvalue())
    assert column(item, "vessel") == ["C-1", "C-2", "C-4"]


def test_a_header_struck_out_takes_its_column_alone(house: House) -> None:
    """The rows stay; the column is said and left aside."""
    item = judged(house, "lab.xlsx", lab(lambda sheet: setattr(sheet["E2"], "font", Font(strike=True))))
    assert column(item, "vessel") == ["C-1", "C-2", "C-3", "C-4"] and "batch" not in item.sheets[0].values
    assert "E (Batch) is struck out" in [f for f in said(item) if f.code == "sheet.hidden-column"][0].message


def test_a_sheet_of_hidden_rows_alone_goes_back(house: House) -> None:
    """Nothing visible is left: returned, and the reason says that the rows are hidden."""

    def edit(sheet: Any) -> None:
        for row in range(3, 7):
            sheet.row_dimensions[row].hidden = True

    item = judged(house, "lab.xlsx", lab(edit))
    assert item.returned and "Rows 3–6 are hidden" in item.reason


def test_a_formula_in_a_hidden_column_is_no_fault_of_its_row(house: House) -> None:
    """Helper columns are hidden with formulas in them; an error there costs no reading."""

    def edit(sheet: Any) -> None:
        sheet["E3"] = "=1/0"
        sheet.column_dimensions["E"].hidden = True

    item = judged(house, "lab.xlsx", lab(edit))
    assert column(item, "vessel") == ["C-1", "C-2", "C-3", "C-4"]
    assert "sheet.unusable-row" not in codes(said(item))


def test_words_of_another_program_that_hide_nothing_hide_nothing(house: House) -> None:
    """hidden="false" and strike val="0", as some programs write on everything."""

    def change(name: str, data: bytes) -> bytes:
        data = data.replace(b"<row ", b'<row hidden="false" ') if "sheet1" in name else data
        return data.replace(b"<font>", b'<font><strike val="0"/>') if name.endswith("styles.xml") else data

    item = judged(house, "lab.xlsx", repacked(lab(lambda sheet: None), change))
    assert column(item, "vessel") == ["C-1", "C-2", "C-3", "C-4"]
    assert {"sheet.hidden-row", "sheet.hidden-column"}.isdisjoint(codes(said(item)))
