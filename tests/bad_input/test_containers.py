"""Files that are not what they seem: each comes back with a reason, and none harms the run."""

from __future__ import annotations

import io
import struct
import zipfile
from collections.abc import Callable
from typing import Any

import pytest
from openpyxl.utils.datetime import CALENDAR_MAC_1904

from pipeline.tables.workbook_parts import TooLarge, suspicious_sheets
from tests.bad_input.kit import (
    HEADER,
    MARCH,
    ROWS,
    SHEET,
    codes,
    column,
    judged,
    patched,
    readings,
    said,
    swap,
    swap_all,
    xlsx,
)

MAIN = b"http://schemas.openxmlformats.org/spreadsheetml/2006/main"
OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(500)
PROTECTED = OLE + "EncryptedPackage".encode("utf-16-le") + bytes(500)


def packed(**parts: str) -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as archive:
        for name, text in parts.items():
            archive.writestr(name, text)
    return made.getvalue()


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("a.csv", b"", "empty"),
        ("a.xlsx", b"", "empty"),
        ("a.csv", b" \r\n\r\n", "empty"),
        ("a.csv", b",,,\n,,,\n", "no cells"),
        ("a.xlsx", PROTECTED, "password"),
        ("a.csv", PROTECTED, "password"),
        ("a.xlsx", OLE, ".xls"),
        ("a.xls", OLE, "cannot be opened"),
        ("a.xls", b"Cask,Date\n", ".xls"),
        ("a.ods", b"PK\x03\x04", "not copied whole"),
        ("a.ods", b"Cask,Date\n", ".ods"),
        ("a.xlsx", b"Cask,Date\nC-1,2026-03-02\n", "plain text"),
        ("a.xlsx", b"<html><table></table></html>", "plain text"),
        ("a.csv", b"%PDF-1.7\n", "neither text nor a workbook"),
        ("a.csv", b"\x89PNG\r\n\x1a\n\x00\x00", "neither text nor a workbook"),
        ("a.csv", b"Cask,Date\n" * 9000 + b"C-\x002\n", "neither text nor a workbook"),
        ("a.csv", "Cask;Date\n".encode("utf-16-le"), "neither text nor a workbook"),
        ("a.xlsx", packed(x="y"), "packed archive"),
        ("a.csv", packed(x="y"), "workbook"),
        ("readings", b"Cask,Date\n", "end in nothing"),
        ("a.docx", b"PK\x03\x04", ".docx"),
    ],
)
def test_what_is_no_sheet_is_returned_in_words(name: str, data: bytes, words: str) -> None:
    """A file that is empty, protected or of another make is returned; reason and remedy are sentences."""
    made = judged(name, data)
    assert made.returned and words in made.reason
    assert made.reason.endswith(".") and made.remedy.endswith(".")


def test_a_workbook_saved_as_csv_is_not_read_as_text() -> None:
    """A real workbook under a name that ends in .csv is returned, not read as a heap of letters."""
    assert "workbook" in judged("a.csv", readings()).reason


@pytest.mark.parametrize("cut", [0.2, 0.5, 0.9, 0.99])
def test_a_workbook_that_was_not_copied_whole_is_returned(cut: float) -> None:
    """A truncated workbook is returned, wherever it was cut."""
    whole = readings()
    assert "not copied whole" in judged("a.xlsx", whole[: int(len(whole) * cut)]).reason


@pytest.mark.parametrize("part", ["sheet1.xml", "workbook.xml", "workbook.xml.rels", "styles.xml"])
def test_a_workbook_with_a_broken_part_is_returned(part: str) -> None:
    """Half of a part's XML is missing: the workbook is returned, whichever part it is."""
    assert judged("a.xlsx", patched(readings(), part, lambda held: held[: len(held) // 2])).returned


@pytest.mark.parametrize("part", ["sheet1.xml", "workbook.xml"])
def test_document_types_are_refused(part: str) -> None:
    """XML that declares a document type, as entity bombs do, is returned."""
    change = swap_all(rb"<(worksheet|workbook) ", rb'<!DOCTYPE x [<!ENTITY a "b">]><\1 ')
    assert "document type" in judged("a.xlsx", patched(readings(), part, change)).reason


def test_a_zip_bomb_is_refused_before_it_is_unpacked() -> None:
    """What a workbook says it unpacks to is held against the limit first."""
    bomb = patched(readings(), SHEET, lambda held: held + b" " * 5_000_000)
    assert len(bomb) < 20_000
    made = judged("a.xlsx", bomb, "[limits]\nunpacked_megabytes = 4\n")
    assert "unpacks to 5 MB" in made.reason and "unpacked_megabytes" in made.remedy


def test_a_lying_zip_header_is_refused() -> None:
    """A part that says it is small and is not never unpacks further than it said."""
    data = bytearray(patched(readings(), SHEET, lambda held: held + b" " * 5_000_000))
    with zipfile.ZipFile(io.BytesIO(bytes(data))) as archive:
        offset = archive.getinfo(SHEET).header_offset
    data[offset + 22 : offset + 26] = struct.pack("<I", 1000)
    at = data.rfind(b"PK\x01\x02", 0, data.rfind(SHEET.encode()))
    data[at + 24 : at + 28] = struct.pack("<I", 1000)
    assert judged("a.xlsx", bytes(data)).returned


FAR = {
    "as written": b' r="XFD1048576" t="n"',
    "lower case": b' r="xfd1048576" t="n"',
    "single quotes": b" r='XFD1048576' t='n'",
    "space before": b' r ="XFD1048576" t="n"',
    "space after": b' r= "XFD1048576" t="n"',
    "tab": b'\tr="XFD1048576" t="n"',
    "line break": b'\n r="XFD1048576" t="n"',
    "another attribute first": b' t="n" r="XFD1048576"',
    "no sheet has that": b' r="AAAAAAAA99999999999" t="n"',
    "far down": b' r="A999999999" t="n"',
}


@pytest.mark.parametrize("reference", FAR.values(), ids=FAR)
def test_a_stray_cell_far_out_never_ends_the_run(reference: bytes) -> None:
    """One cell at XFD1048576 is returned with its address: reading it would ask for half a terabyte.

    The guard is asked first, as a reader that got the file would end this very process.
    """
    data = patched(readings(), SHEET, swap(b' r="E3" t="n"', reference))
    with zipfile.ZipFile(io.BytesIO(data)) as archive, pytest.raises(TooLarge):
        suspicious_sheets(archive, 5_000_000, 500)
    made = judged("a.xlsx", data)
    assert "reaches to cell" in made.reason and "[limits]" in made.remedy


def test_formatted_blanks_far_out_do_no_harm() -> None:
    """A cell that only has a format, in the last row and column of the sheet, is nothing."""

    def far(book: Any) -> None:
        book.active["A1048576"].number_format = "0.0"
        book.active["XFD9"].number_format = "0.0"

    made = judged("a.xlsx", readings(far))
    assert column(made, "vessel") == ["C-1", "C-2"] and said(made) == []


@pytest.mark.parametrize(
    "dimension", [b'<dimension ref="A1" />', b'<dimension ref="A1:XFD1048576" />', b"", b'<dimension ref="Z9:Z9" />']
)
def test_a_wrong_dimension_hides_no_row(dimension: bytes) -> None:
    """What a sheet says of its size is not believed."""
    made = judged("a.xlsx", patched(readings(), SHEET, swap_all(rb"<dimension[^>]*>", dimension)))
    assert column(made, "vessel") == ["C-1", "C-2"]


def without_references(held: bytes) -> bytes:
    return swap_all(rb' r="[A-Z]*\d+"', b"")(held)


def prefixed(held: bytes) -> bytes:
    return swap_all(rb"<(/?)([a-zA-Z])", rb"<\1x:\2")(swap(b"xmlns=", b"xmlns:x=")(held))


@pytest.mark.parametrize("write", [lambda held: held, without_references, prefixed], ids=["usual", "no r", "prefix"])
@pytest.mark.parametrize("formula", [b"<f>A1+1</f><v></v>", b"<f>A1+1</f>", b"<f>A1+1</f><v/>"])
def test_a_formula_that_was_never_calculated_is_a_finding(write: Callable[[bytes], bytes], formula: bytes) -> None:
    """A formula without its value is a finding with its cell, however the exporter writes its XML; never a blank."""
    data = patched(readings(), SHEET, lambda held: write(swap(b"<v>50</v>", formula)(held)))
    made = judged("a.xlsx", data)
    assert column(made, "vessel") == ["C-2"]
    (fault,) = said(made)
    assert fault.place.cell == "E2" and "never calculated" in fault.message and "save" in fault.message


def test_a_workbook_in_the_strict_form_is_looked_into_too() -> None:
    """The format's other namespace changes nothing: values are read, a formula without value is a finding."""

    def strict(held: bytes) -> bytes:
        held = held.replace(MAIN, b"http://purl.oclc.org/ooxml/spreadsheetml/main")
        return held.replace(b"schemas.openxmlformats.org/officeDocument/2006", b"purl.oclc.org/ooxml/officeDocument")

    data = patched(readings(), SHEET, swap(b"<v>50</v>", b"<f>A1+1</f>"))
    made = judged("a.xlsx", patched(patched(data, ".xml", strict), ".rels", strict))
    assert column(made, "vessel") == ["C-2"] and codes(made) == ["sheet.unusable-row"]


def test_a_calculated_formula_counts() -> None:
    """A formula whose value the workbook keeps is that value."""
    made = judged("a.xlsx", patched(readings(), SHEET, swap(b"<v>50</v>", b"<f>A1+1</f><v>55</v>")))
    assert column(made, "volume_L") == pytest.approx([55 * 3.785411784, 51 * 3.785411784])


@pytest.mark.parametrize("error", ["#DIV/0!", "#N/A", "#REF!", "#VALUE!"])
def test_a_cell_that_shows_an_error_is_a_finding(error: str) -> None:
    """#DIV/0! is told by its name and cell, not taken for a blank; in a name column of a CSV neither."""
    shown = b't="e"><v>' + error.encode() + b"</v>"
    made = judged("a.xlsx", patched(readings(), SHEET, swap(b't="n"><v>50</v>', shown)))
    assert column(made, "vessel") == ["C-2"] and error in said(made)[0].message
    text = judged("a.csv", f"Cask,Date,Observed Proof,Temp (F)\n{error},2026-03-02,120,68\nC-2,2026-03-02,120,68\n")
    assert column(text, "vessel") == ["C-2"] and error in said(text)[0].message


@pytest.mark.parametrize("value", [b"NaN", b"INF", b"1e400", b"1e300", b"-1e300"])
def test_numbers_that_no_person_typed_are_findings(value: bytes) -> None:
    """NaN, infinity and 1e300 in the XML are faults of their rows, never a blank and never a quantity."""
    made = judged("a.xlsx", patched(readings(), SHEET, swap(b"<v>50</v>", b"<v>" + value + b"</v>")))
    assert column(made, "vessel") == ["C-2"]
    assert said(made)[0].place.cell == "E2"


def test_days_count_from_1904_where_the_workbook_says_so() -> None:
    """In a 1904 workbook formatted dates and bare day numbers both are the day that the person saw."""

    def mac(book: Any) -> None:
        book.epoch = CALENDAR_MAC_1904
        book.active["B3"] = 46083 - 1462
        book.active["B3"].number_format = "General"

    made = judged("a.xlsx", readings(mac))
    assert column(made, "taken_at") == ["2026-03-02", "2026-03-02"]
    assert codes(made) == ["sheet.day-numbers"]


@pytest.mark.parametrize("state", ["hidden", "veryHidden"])
def test_hidden_sheets_are_left_with_a_note(state: str) -> None:
    """A hidden sheet, often a stale copy, is not taken, even if it comes first; a note says so."""

    def hide(book: Any) -> None:
        old = book.create_sheet("Old", 0)
        old.append(HEADER)
        old.append(["C-9", *ROWS[0][1:]])
        old.sheet_state = state
        book.active = 1

    made = judged("a.xlsx", readings(hide))
    assert column(made, "vessel") == ["C-1", "C-2"]
    assert "'Old' is hidden" in said(made)[0].message


def test_a_chart_and_a_sheet_of_notes_beside_the_readings() -> None:
    """Other sheets of the workbook do not stop the readings; what was left aside is said."""

    def more(book: Any) -> None:
        book.create_chartsheet("Chart")
        book.create_sheet("Notes").append(["Order corks by Friday"])

    made = judged("a.xlsx", readings(more))
    assert column(made, "vessel") == ["C-1", "C-2"]
    assert [finding.message for finding in said(made)] == ["Sheet 'Notes' is no known kind and was left aside."]


def test_a_workbook_of_blank_sheets_and_one_of_a_title_alone() -> None:
    """Nothing to read is a reason in words."""
    assert "no cells" in judged("a.xlsx", xlsx([])).reason
    assert "Hello" in judged("a.xlsx", xlsx([["Hello"]])).reason


def test_dates_that_are_small_numbers_shown_as_dates() -> None:
    """12 formatted as a date is 12 January 1900: a finding, not a reading of that day; 2206 neither."""
    rows = [["C-1", 12], ["C-2", MARCH.replace(year=2206)], ["C-3", MARCH]]

    def as_date(book: Any) -> None:
        book.active["B2"].number_format = "yyyy-mm-dd"

    made = judged("a.xlsx", xlsx([["Cask", "Filled"], *rows], as_date))
    assert column(made, "cask") == ["C-3"]
    assert codes(made) == ["sheet.unusable-row"] * 2
