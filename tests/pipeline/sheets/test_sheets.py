"""Which kind a table is, where its header stands, and which column is which."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given
from hypothesis import strategies as st

from pipeline.contract.kinds import SheetColumn, SheetKind, plain
from pipeline.sheets.found import NotRecognised
from pipeline.sheets.headers import doubled_words
from pipeline.sheets.recognise import recognise
from pipeline.site.house import House, build_house
from pipeline.tables.tables import Table
from tests.pipeline.kit import ROWS, codes, column, csv, judged, said, xlsx
from tests.pipeline.toy_plugin import GAUGES, KIND_HEADERS
from tests.sets import search

SLOW = search(80, HealthCheck.function_scoped_fixture)


def test_the_kind_is_told_from_the_headers_whatever_the_file_is_called(house: House) -> None:
    """A file called stock that holds readings is readings."""
    item = judged(house, "stock list.csv", csv(*ROWS))
    assert [rows.kind.name for rows in item.sheets] == ["gauges"]


@pytest.mark.parametrize("header", ["Cask", "Cask No.", "BARREL", "vessel", "  Cask   no ", "cask_no"])
def test_trade_words_for_a_column(house: House, header: str) -> None:
    """A column goes by its name and by each of the trade's words for it."""
    item = judged(house, "a.csv", csv("C-1,2026-03-02,120,20", header=f"{header},Date,Reading,Temp (°C)"))
    assert column(item, "vessel") == ["C-1"]


@given(st.data())
@SLOW
def test_headers_in_any_case_and_punctuation(house: House, data: st.DataObject) -> None:
    """Case, spaces and punctuation between the letters of a header never matter."""
    words = []
    for name, known in KIND_HEADERS.items():
        header = data.draw(st.sampled_from(known), label=name)
        noise = st.sampled_from(["", " ", ".", "-", "_", "'", "  ", "?"])
        made = "".join(data.draw(noise) + data.draw(st.sampled_from([c.upper(), c.lower()])) for c in header)
        words.append(made + data.draw(noise))
    row = ["C-1", "2026-03-02", "120", "20 °C"]
    item = judged(house, "a.csv", (";".join(words) + "\n" + ";".join(row) + "\n").encode())
    assert not item.returned, item.reason
    assert column(item, "vessel") == ["C-1"] and column(item, "temperature_degC") == [20.0]


@given(st.permutations(range(4)))
@SLOW
def test_the_order_of_columns_never_matters(house: House, order: list[int]) -> None:
    """Columns are found by their words, wherever they stand."""
    head, row = ["Cask", "Date", "Reading", "Temp (°C)"], ["C-1", "2026-03-02", "120", "20"]
    text = ",".join(head[i] for i in order) + "\n" + ",".join(row[i] for i in order) + "\n"
    item = judged(house, "a.csv", text.encode())
    assert column(item, "vessel") == ["C-1"] and column(item, "reading") == [120.0]


@pytest.mark.parametrize(
    "header",
    [
        "Temp (°F)",
        "Temp [degF]",
        "Temp, °F",
        "Temp °F",
        "Temp in °F",
        "temp_F",
        "Temp./°F",
        "Temp (deg F)",
        "Fahrenheit reading",
        "TEMPERATURE: F",
    ],
)
def test_a_unit_in_the_header(house: House, header: str) -> None:
    """A unit in brackets, after a comma, a space or an underscore, or in the words themselves."""
    item = judged(house, "a.csv", csv("C-1;2026-03-02;120;68", header=f"Cask;Date;Reading;{header}"))
    assert column(item, "temperature_degC") == pytest.approx([20.0])
    assert column(item, "temperature_unit") == ["degF"]
    assert said(item) == []


def test_an_unknown_unit_in_the_header_returns_the_file(house: House) -> None:
    """A column whose unit nobody knows is in doubt: it is not taken for the default."""
    item = judged(house, "a.csv", csv("C-1,2026-03-02,120,68", header="Cask,Date,Reading,Temp (Rankine)"))
    assert item.returned and "'Rankine'" in item.reason and "temperature" in item.reason


@pytest.mark.parametrize("words", ["Temp unit", "Temperature units", "temp_unit", "Unit"])
def test_a_unit_column(house: House, words: str) -> None:
    """A unit per row: in a column named after its own, or in one beside it."""
    rows = ["C-1,2026-03-02,120,68,F", "C-2,2026-03-02,120,20,°C"]
    item = judged(house, "a.csv", csv(*rows, header=f"Cask,Date,Reading,Temp,{words}"))
    assert column(item, "temperature_degC") == pytest.approx([20.0, 20.0])
    assert column(item, "temperature_unit") == ["degF", "degC"]
    assert said(item) == []


def test_an_unknown_unit_in_a_unit_column_is_a_finding_of_its_row(house: House) -> None:
    """Only the row with the unknown unit is left out."""
    rows = ["C-1,2026-03-02,120,68,F", "C-2,2026-03-02,120,20,R"]
    item = judged(house, "a.csv", csv(*rows, header="Cask,Date,Reading,Temp,Temp unit"))
    assert column(item, "vessel") == ["C-1"]
    (fault,) = said(item)
    assert fault.code == "sheet.unusable-row" and fault.place.cell == "D3" and "'R'" in fault.message


def test_a_blank_in_a_unit_column_takes_the_default_with_a_note(house: House) -> None:
    """A blank unit is the site's default, said once."""
    rows = ["C-1,2026-03-02,120,20,C", "C-2,2026-03-02,120,68,", "C-3,2026-03-02,120,68,"]
    item = judged(house, "a.csv", csv(*rows, header="Cask,Date,Reading,Temp,Temp unit"))
    assert column(item, "temperature_degC") == pytest.approx([20.0, 20.0, 20.0])
    assert codes(said(item)) == ["sheet.unit-assumed"]


def test_a_row_of_units_under_the_header(house: House) -> None:
    """A row that holds only units is read as such, in CSV and XLSX."""
    text = judged(house, "a.csv", csv(",,,°F,gal", "C-1,2026-03-02,120,68,53", header="Cask,Date,Reading,Temp,Volume"))
    rows = [["Cask", "Date", "Reading", "Temp", "Volume"], [None, None, None, "(°F)", "gal"]]
    workbook = judged(house, "a.xlsx", xlsx({"S": [*rows, ["C-1", datetime(2026, 3, 2), 120, 68, 53]]}))
    for item in (text, workbook):
        assert column(item, "temperature_degC") == pytest.approx([20.0])
        assert column(item, "volume_L") == pytest.approx([53 * 3.785411784])
        assert item.sheets[0].rows == [3] and said(item) == []


def test_a_column_called_units_that_is_not_a_unit(house: House) -> None:
    """Where a kind has the word units for a column, that column is meant."""
    item = judged(house, "a.csv", csv("C-1,2026-03-02,120,20,3", header="Cask,Date,Reading,Temp (°C),Units"))
    assert column(item, "tries") == [3.0]


def test_units_that_do_not_convert_are_kept_as_stated(house: House) -> None:
    """A strength stays as stated, with its unit beside it."""
    for header, cell, wanted in (
        ("Strength (% vol)", "62.3", "%vol"),
        ("Proof now", "124.6", "proof"),
        ("Strength", "124.6 proof", "proof"),
        ("Strength", "124.6", None),
    ):
        item = judged(
            house, "a.csv", csv(f"C-1;2026-03-02;120;20;{cell}", header=f"Cask;Date;Reading;Temp (°C);{header}")
        )
        assert column(item, "strength") == [float(cell.split()[0])]
        assert column(item, "strength_unit") == [wanted]
        assert said(item) == []


def test_a_title_block_above_the_header(house: House) -> None:
    """The header is found below titles, blank rows and a line that looks half like a header."""
    block = [
        "Lab readings,March 2026",
        "",
        "Cask,Date of printing: 2026-04-01",
        "",
        "Cask,Date,Reading,Temp (°C),Batch",
    ]
    item = judged(house, "a.csv", ("\n".join([*block, *ROWS]) + "\n").encode())
    assert item.sheets[0].header_row == 5 and item.sheets[0].rows == [6, 7, 8]


def test_a_missing_required_column_returns_the_file_with_the_nearest_kind(house: House) -> None:
    """The reason names the kind, the missing column, the columns found; the remedy its other words."""
    item = judged(house, "a.csv", csv("C-1,2026-03-02,120", header="Cask,Date,Reading"))
    assert item.sheets == []
    assert "looks like toy readings" in item.reason
    assert "no temperature column" in item.reason
    assert "columns found: Cask, Date, Reading" in item.reason
    assert "temp" in item.remedy and "jar temperature" in item.remedy


def test_a_misspelt_required_column_is_pointed_out(house: House) -> None:
    """A header that nobody knows and that is close to the missing one is named."""
    item = judged(house, "a.csv", csv("C-1,2026-03-02,120,20", header="Cask,Date,Reading,Temprature"))
    assert item.returned and "'Temprature' is meant" in item.remedy


def test_a_sheet_that_needs_one_of_several_columns(house: House) -> None:
    """Neither of two columns: returned. One of them: taken; a row without it is a finding."""
    item = judged(house, "a.csv", csv("B-1,1", header="Fill batch,Fill line"))
    assert item.returned and "net_volume or net_weight" in item.reason
    for header, row in (("Net weight (kg)", "0.7"), ("Net volume (mL)", "700")):
        item = judged(house, "a.csv", csv(f"B-1,1,{row}", "B-1,2,", header=f"Fill batch,Fill line,{header}"))
        assert item.sheets[0].rows == [2]
        (fault,) = said(item)
        assert fault.place.cell == "C3" and "net_volume or net_weight" in fault.message


def test_duplicate_headers_return_the_file(house: House) -> None:
    """Two columns that say the same are in doubt; nobody picks one."""
    for header in ("Cask,Date,Reading,Temp (°C),Temp", "Cask,Date,Reading,Reading,Temp (°C)"):
        item = judged(house, "a.csv", csv("C-1,2026-03-02,120,20,68", header=header))
        assert item.returned and "both say" in item.reason
        assert "one column" in item.remedy


def test_the_nearer_word_wins_and_the_other_column_is_noted(house: House) -> None:
    """Of two columns with unlike words for one thing, the column's own name counts, the other is named."""
    item = judged(house, "a.csv", csv("C-1,X-1,2026-03-02,120,20", header="Vessel,Barrel,Date,Reading,Temp (°C)"))
    assert column(item, "vessel") == ["C-1"]
    (note,) = said(item)
    assert note.code == "sheet.columns-not-used" and "'Barrel'" in note.message


def test_unknown_columns_are_named_in_one_note(house: House) -> None:
    """Columns that the kind does not know do not stop the file and are not swallowed."""
    item = judged(house, "a.csv", csv("C-1,2026-03-02,120,20,dry,9", header="Cask,Date,Reading,Temp (°C),Weather,Moon"))
    (note,) = said(item)
    assert note.severity == "note" and "'Weather', 'Moon'" in note.message


def test_nothing_known_returns_the_file_with_what_was_seen(house: House) -> None:
    """A table of something else is returned with its first row."""
    item = judged(house, "a.csv", b"Alpha,Beta\n1,2\n")
    assert item.returned and "Alpha, Beta" in item.reason and item.remedy


@pytest.mark.parametrize("name", ["a.csv", "a.xlsx"])
def test_a_header_without_rows_is_returned(house: House, name: str) -> None:
    """One header only: returned, with the kind that it would have been."""
    head = ["Cask", "Date", "Reading", "Temp (°C)"]
    data = (",".join(head) + "\n").encode() if name.endswith("csv") else xlsx({"S": [head]})
    item = judged(house, name, data)
    assert item.returned and "gauges" in item.reason and "no rows" in item.reason


def test_a_file_of_blank_cells_is_returned(house: House) -> None:
    """No cells at all is a reason, not a traceback."""
    assert "no cells" in judged(house, "a.xlsx", xlsx({"S": []})).reason
    assert judged(house, "a.csv", b",,,\n,,,\n").returned
    assert judged(house, "a.csv", b"\xef\xbb\xbf").returned


def test_several_kinds_in_one_workbook(house: House) -> None:
    """Each sheet is its own kind; a sheet of something else is left aside with a note."""
    gauges = [["Cask", "Date", "Reading", "Temp (°C)"], ["C-1", datetime(2026, 3, 2), 120, 20]]
    stock: list[list[Any]] = [["Cask", "Fill date", "Owner"], ["C-1", datetime(2020, 1, 1), "the house"]]
    item = judged(house, "a.xlsx", xlsx({"Lab": gauges, "Casks": stock, "Remarks": [["be", "careful"]]}))
    assert [(rows.sheet, rows.kind.name, len(rows.rows)) for rows in item.sheets] == [
        ("Lab", "gauges", 1),
        ("Casks", "stock", 1),
    ]
    assert [f.code for f in item.findings] == ["sheet.left-aside"]
    assert "'Remarks'" in item.findings[0].message


def test_a_doubtful_sheet_beside_a_good_one_returns_the_workbook(house: House) -> None:
    """A sheet that is nearly a kind is not quietly left out."""
    gauges = [["Cask", "Date", "Reading", "Temp (°C)"], ["C-1", datetime(2026, 3, 2), 120, 20]]
    nearly = [["Cask", "Date", "Reading"], ["C-1", datetime(2026, 3, 2), 120]]
    item = judged(house, "a.xlsx", xlsx({"Lab": gauges, "Lab 2": nearly}))
    assert item.returned and item.sheets == [] and "'Lab 2'" in item.reason


SHIPPED = build_house("", Path())


@pytest.mark.parametrize("kind", SHIPPED.kinds, ids=lambda kind: kind.name)
def test_every_shipped_word_is_recognised_as_its_column(kind: SheetKind) -> None:
    """Each trade wording of each column, beside the required columns by their names, is that column of that kind."""
    wrong = []
    for wanted in kind.columns:
        for words in wanted.headers:
            header = words.partition("=")[0]
            others = [name for name in kind.required if name != wanted.name]
            others += [group[0] for group in kind.needs_one_of if wanted.name not in group]
            others += [column.name for column in kind.columns[:4] if column.name not in {*others, wanted.name}]
            table = Table("", [[header, *others], ["1"] * (len(others) + 1)], is_text=True)
            try:
                found = recognise(table, SHIPPED.kinds, SHIPPED.units)
            except NotRecognised as error:
                wrong.append(f"{wanted.name}: {header!r} {error.reason}")
                continue
            at = found.columns.get(wanted.name)
            if found.kind.name != kind.name or at is None or at.index != 0:
                wrong.append(f"{wanted.name}: {header!r} is {found.kind.name} {[n for n in found.columns]}")
    assert wrong == []


@pytest.mark.parametrize("kind", SHIPPED.kinds, ids=lambda kind: kind.name)
def test_required_columns_go_by_at_least_six_wordings(kind: SheetKind) -> None:
    """People's words for what a sheet cannot do without."""
    assert {name: len(kind.column(name).headers) for name in kind.required if len(kind.column(name).headers) < 6} == {}


def test_header_words_given_to_two_columns_are_found() -> None:
    """A kind that gives one word to two columns is a mistake of whoever declared it."""
    kind = SheetKind("k", ("a",), (SheetColumn("a", words="Item No"), SheetColumn("b", words="item-no; other")))
    assert doubled_words(kind) == ["'item-no' (a, b)"]
    assert doubled_words(GAUGES) == []


@pytest.mark.parametrize(
    ("header", "same"), [("Temp. (°F)", "temp°f"), ("% ABV", "%abv"), ("Élevage", "elevage"), ("Cask  No.", "caskno")]
)
def test_plain_words(header: str, same: str) -> None:
    """Headers compare without case, accents, spaces and punctuation."""
    assert plain(header) == same


def test_declarations_that_cannot_be_are_refused() -> None:
    """An unknown type, or a key that names no column, is an error where it is written."""
    with pytest.raises(ValueError, match="type 'decimal'"):
        SheetColumn("a", "decimal")
    with pytest.raises(ValueError, match="names b"):
        SheetKind("k", ("b",), (SheetColumn("a"),))
    with pytest.raises(ValueError, match="names c"):
        SheetKind("k", ("a",), (SheetColumn("a"),), needs_one_of=(("a", "c"),))


def test_the_frame_of_a_kind() -> None:
    """Names carry the canonical unit; a moment says whether it has a time and what it is as UTC."""
    names = GAUGES.frame().names
    for name in ("temperature_degC", "temperature_unit", "volume_L", "taken_at", "taken_at_timed", "taken_at_utc"):
        assert name in names
    assert "strength" in names and "strength_unit" in names and "temperature" not in names
