"""CSV and XLSX become tables that remember their cells; what cannot be taken says why."""

from __future__ import annotations

import io
import random
import re
import zipfile
from itertools import zip_longest
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.site.house import House
from pipeline.tables.readers import read_tables, what_it_is
from pipeline.tables.tables import Limits, Table, Unreadable, by_column
from tests.pipeline.kit import PLAIN, column, csv, judged, repacked, said, xlsx
from tests.sets import search

LIMITS = Limits()


def read(name: str, data: bytes) -> list[Table]:
    return read_tables(name, data, LIMITS)


# --- text -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le-bom", "utf-16-be-bom"])
def test_unicode_encodings_give_the_same_cells(encoding: str) -> None:
    """A BOM never becomes part of the first header, and UTF-16 with a BOM is read without a note."""
    text = "Cask,Temp (°C)\nÉ-1,20\n"
    if encoding.endswith("-bom"):
        plain = encoding.removesuffix("-bom")
        data = "\ufeff".encode(plain) + text.encode(plain)
    else:
        data = text.encode(encoding)
    (table,) = read("a.csv", data)
    assert table.rows == [["Cask", "Temp (°C)"], ["É-1", "20"]]
    assert table.notes == []


def test_windows_1252_is_read_with_a_note_of_the_assumption() -> None:
    """Text that is not UTF-8 is read as cp1252, and a person is told."""
    (table,) = read("a.csv", "Cask,Temp (°C)\nÉ-1,20\n".encode("cp1252"))
    assert table.rows == [["Cask", "Temp (°C)"], ["É-1", "20"]]
    assert len(table.notes) == 1 and "Windows-1252" in table.notes[0]


def test_the_note_on_the_encoding_reaches_the_findings(house: House) -> None:
    """The assumption of cp1252 is a finding of the file."""
    data = "Cask,Date,Reading,Temp (°C)\nC-1,2026-03-02,120,20\n".encode("cp1252")
    notes = [f for f in said(judged(house, "a.csv", data)) if f.code == "sheet.read-note"]
    assert len(notes) == 1 and notes[0].severity == "note" and notes[0].place.file == "a.csv"


def test_bytes_in_no_encoding_are_returned() -> None:
    """Bytes that neither UTF-8 nor cp1252 has are refused, never read as latin-1."""
    with pytest.raises(Unreadable) as error:
        read("a.csv", b"Cask,Temp\n\x81\x8d\xff,20\n")
    assert "encoding" in error.value.reason and "UTF-8" in error.value.remedy


def test_utf_16_cut_in_half_is_returned() -> None:
    """UTF-16 with an odd number of bytes is refused."""
    with pytest.raises(Unreadable):
        read("a.csv", "Cask,Temp\nC-1,20\n".encode("utf-16")[:-1])


@pytest.mark.parametrize("mark", [",", ";", "\t"])
@pytest.mark.parametrize("ending", [".csv", ".txt"])
@pytest.mark.parametrize("newline", ["\n", "\r\n", "\r"])
def test_delimiters_and_line_ends_are_told_from_the_text(mark: str, ending: str, newline: str) -> None:
    """Comma, semicolon and tab, with every kind of line end, cut the same cells."""
    text = newline.join(mark.join(row) for row in (["Cask", "Date", "Temp"], ["C-1", "2026-03-02", "20"])) + newline
    (table,) = read("a" + ending, text.encode())
    assert table.rows == [["Cask", "Date", "Temp"], ["C-1", "2026-03-02", "20"]]
    assert table.delimiter == mark


def test_semicolons_with_decimal_commas() -> None:
    """A decimal comma is not taken for the delimiter."""
    (table,) = read("a.csv", b"Cask;Date;Reading;Temp\nC-1;2026-03-02;124,6;68,0\nC-2;2026-03-02;120,1;67,5\n")
    assert table.rows[1] == ["C-1", "2026-03-02", "124,6", "68,0"]


def test_a_title_with_commas_above_semicolons() -> None:
    """A title block with commas does not decide the delimiter."""
    text = "Lab, week 12, room 3\n\nCask;Date;Reading;Temp\nC-1;2026-03-02;124,6;68,0\n"
    (table,) = read("a.csv", text.encode())
    assert table.rows[-1] == ["C-1", "2026-03-02", "124,6", "68,0"]


def tables(width: int) -> st.SearchStrategy[list[list[Any]]]:
    """Two to eight rows of so many decimals."""
    return st.lists(st.lists(st.decimals(0, 999, places=1), min_size=width, max_size=width), min_size=2, max_size=8)


@given(st.integers(3, 6).flatmap(tables))
@search(60)
def test_semicolons_win_over_any_decimal_commas(rows: list[list[Any]]) -> None:
    """Whatever the numbers, semicolons with decimal commas are cut at the semicolons."""
    cells = [[str(value).replace(".", ",") for value in row] for row in rows]
    text = "\n".join([";".join(f"column {n}" for n in range(len(cells[0]))), *(";".join(row) for row in cells)])
    (table,) = read("a.csv", text.encode())
    assert table.rows[1:] == cells


def test_quoted_cells_hold_delimiters_and_line_ends() -> None:
    """Quotation marks keep a delimiter and a line end inside a cell."""
    (table,) = read("a.csv", b'Cask,Notes\n"C-1","smoke, salt\nand ""sea"""\n')
    assert table.rows[1] == ["C-1", 'smoke, salt\nand "sea"']


def test_a_stray_quotation_mark_is_noted_and_read() -> None:
    """A quotation mark that never closes is not a traceback."""
    (table,) = read("a.csv", b'Cask,Notes,Temp\nC-1,"5" cask,20\n')
    assert len(table.notes) == 1 and "quotation mark" in table.notes[0]


def test_one_endless_line_is_returned_in_words() -> None:
    """A cell longer than the csv module allows is refused, not a traceback."""
    with pytest.raises(Unreadable):
        read("a.csv", b"x" * 300_000)
    with pytest.raises(Unreadable):
        read("a.csv", b"a,b\n" + b"x" * 300_000 + b",1\n")


def test_identifiers_stay_as_written(house: House) -> None:
    """007, 1E5, NA and null are names, not numbers or nothing."""
    item = judged(house, "a.csv", csv(*(f"{name},2026-03-02,120,20," for name in ("007", "1E5", "NA", "null"))))
    assert column(item, "vessel") == ["007", "1E5", "NA", "null"]


# --- containers -------------------------------------------------------------------------------------


OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(504)


@pytest.mark.parametrize(
    ("name", "data", "reason", "remedy"),
    [
        ("a.csv", b"", "empty", "drop"),
        ("a.xlsx", b"", "empty", "drop"),
        ("a.csv", b" \r\n\t\n", "empty", "drop"),
        ("a.xlsx", OLE + "EncryptedPackage".encode("utf-16-le"), "password", "Remove the password"),
        ("a.xlsx", OLE + b"Workbook", "old workbook", "Save it as XLSX"),
        ("a.xlsx", b"Cask,Date\nC-1,2026-03-02\n", "plain text", ".csv"),
        ("a.xlsx", b"\x00\x01\x02\x03", "neither text nor a workbook", "XLSX or CSV"),
        ("a.csv", b"%PDF-1.7 ...", "neither text nor a workbook", "CSV"),
        ("a.csv", xlsx({"S": PLAIN}), "workbook", "CSV"),
        ("a.xls", OLE, "cannot be opened", "Save it as XLSX"),
        ("a.docx", b"PK\x03\x04", "not taken", "XLSX or CSV"),
        ("a", b"Cask,Date\n", "not taken", "XLSX or CSV"),
        ("a.xlsx", b"PK\x03\x04 cut off", "damaged", "Copy it again"),
        ("a.xlsx", xlsx({"S": PLAIN})[:-200], "damaged", "Copy it again"),
    ],
)
def test_what_a_file_claims_and_is_must_agree(name: str, data: bytes, reason: str, remedy: str) -> None:
    """Each wrong container has its own reason and remedy."""
    with pytest.raises(Unreadable) as error:
        read(name, data)
    assert reason in error.value.reason
    assert remedy in error.value.remedy


def test_a_packed_archive_is_no_workbook() -> None:
    """A zip of something else is named as such."""
    raw = io.BytesIO()
    with zipfile.ZipFile(raw, "w") as packed:
        packed.writestr("lab.csv", "Cask,Date\n")
    with pytest.raises(Unreadable, match="packed archive"):
        read("a.xlsx", raw.getvalue())


def test_text_that_begins_with_pk_is_text() -> None:
    """A header PKG does not make a CSV a packed file."""
    assert what_it_is(b"PKG,Date,Reading,Temp\n") == "text"
    (table,) = read("a.csv", b"PKG,Date\nC-1,2026-03-02\n")
    assert table.rows[0] == ["PKG", "Date"]


def test_limits_hold_before_unpacking() -> None:
    """Unpacked size, cells and columns are bounded, with the setting named in the remedy."""
    data = xlsx({"S": PLAIN})
    for limits, setting in (
        (Limits(unpacked_bytes=1000), "unpacked_megabytes"),
        (Limits(cells=11), "[limits]"),
        (Limits(columns=3), "[limits]"),
    ):
        with pytest.raises(Unreadable) as error:
            read_tables("a.xlsx", data, limits)
        assert setting in error.value.remedy
    for limits in (Limits(cells=5), Limits(columns=2)):
        with pytest.raises(Unreadable, match="at most"):
            read_tables("a.csv", b"a,b,c\n1,2,3\n", limits)


@pytest.mark.parametrize("padding", [0, 5000])
def test_xml_with_a_document_type_is_refused(padding: int) -> None:
    """Entities are never expanded, wherever the document type hides."""

    def change(name: str, data: bytes) -> bytes:
        if name != "xl/workbook.xml":
            return data
        bomb = b"<!--" + b"x" * padding + b'--><!DOCTYPE z [<!ENTITY a "aaaa">]>'
        return re.sub(rb"(<workbook)", bomb + rb"\1", data, count=1)

    with pytest.raises(Unreadable):
        read("a.xlsx", repacked(xlsx({"S": PLAIN}), change))


def test_broken_xml_inside_is_returned() -> None:
    """A workbook whose XML is cut off is refused in words."""

    def change(name: str, data: bytes) -> bytes:
        return data[: len(data) // 2] if name == "xl/workbook.xml" else data

    with pytest.raises(Unreadable):
        read("a.xlsx", repacked(xlsx({"S": PLAIN}), change))


def test_damaged_workbooks_are_read_or_returned_never_a_traceback(house: House) -> None:
    """Two hundred damaged copies of a workbook: each is rows or a reason."""
    whole = xlsx({"S": [*PLAIN, ["C-3", "=1+1", 3, 4]]})
    chance = random.Random(7)
    returned = 0
    for _ in range(200):
        data = bytearray(whole)
        for _ in range(chance.randint(1, 4)):
            data[chance.randrange(len(data))] = chance.randrange(256)
        item = judged(house, "a.xlsx", bytes(data))
        returned += item.returned
        assert item.sheets or item.reason
        assert "could not be read" not in item.reason, "the last net was needed"
    assert returned > 20


@given(st.binary(max_size=400))
@search(150)
def test_any_bytes_as_csv_are_read_or_returned(data: bytes) -> None:
    """No bytes make the reader raise anything but Unreadable."""
    try:
        tables = read("a.csv", data)
    except Unreadable as error:
        assert error.reason and error.remedy
    else:
        assert all(isinstance(cell, str) for table in tables for row in table.rows for cell in row)


@given(st.lists(st.lists(st.text("ab", max_size=2), max_size=5), max_size=12), st.integers(1, 4))
def test_rows_are_turned_a_few_at_a_time(rows: list[list[str]], at_once: int) -> None:
    """However many at a time, and however short some rows are, the columns are those of all rows together."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("pipeline.tables.tables.ROWS_AT_ONCE", at_once)
        assert by_column(rows) == [list(column) for column in zip_longest(*rows, fillvalue="")]
