"""A row counts whole, or it is a finding with its cell; the rest of the file counts."""

from __future__ import annotations

from datetime import date, datetime

import pytest
from hypothesis import HealthCheck, given
from hypothesis import strategies as st

from pipeline.sheets.keys import natural_keys
from pipeline.site.house import House
from tests.pipeline.kit import HEADER, ROWS, codes, column, csv, judged, said, toy_house, xlsx
from tests.pipeline.toy_plugin import GAUGES, STOCK
from tests.sets import search

HEAD = ["Cask", "Date", "Reading", "Temp (°C)"]


def test_good_rows_count_beside_bad_ones(house: House) -> None:
    """Each row that cannot be used is one finding with cell, subject and remedy; the others count."""
    rows = [
        "C-1,2026-03-02,120,20,B-1",
        "C-2,2026-03-02,abc,20,B-1",
        "C-3,2026-02-30,120,20,B-1",
        ",2026-03-02,120,20,B-1",
        "C-5,2026-03-02,120,,B-1",
        "C-6,2026-03-02,-4,20,B-1",
        "C-7,2026-03-02,201,20,B-1",
        "C-8,2026-03-02,120,-60,B-1",
        "C-9,2026-03-02,120,400,B-1",
        "C-10,2026-03-02,nan,20,B-1",
        "C-11,2026-03-02,inf,20,B-1",
        "C-12,03/04/2026,120,20,B-1",
        "C-13,2026-03-02,120,20,B-1",
    ]
    item = judged(house, "a.csv", csv(*rows))
    assert column(item, "vessel") == ["C-1", "C-13"]
    faults = [f for f in said(item) if f.code == "sheet.unusable-row"]
    assert [f.place.cell for f in faults] == [
        "C3", "B4", "A5", "D6", "C7", "C8", "D9", "D10", "C11", "C12", "B13",
    ]  # fmt: skip
    assert all(f.severity == "review" and f.remedy and f.place.file == "a.csv" for f in faults)
    assert faults[0].subject == "C-2" and faults[0].observed == "abc" and faults[0].column == "reading"
    assert "day/month" in faults[-1].message


def test_a_file_of_which_no_row_can_be_used_is_returned_with_its_findings(house: House) -> None:
    """Nothing of it counts, so it goes back to be mended; each row is a finding all the same."""
    item = judged(house, "a.csv", csv("C-1,soon,120,20,", "C-2,2026-03-02,abc,20,"))
    assert item.returned and item.sheets == []
    assert "B2" in item.reason and "C3" in item.reason and item.remedy
    assert [f.place.cell for f in item.findings if f.code == "sheet.unusable-row"] == ["B2", "C3"]


def test_one_finding_names_every_bad_cell_of_a_row(house: House) -> None:
    """A row with two bad cells is one finding that names both."""
    item = judged(house, "a.csv", csv("C-1,2026-03-02,abc,hot,B-1", ROWS[1]))
    (fault,) = said(item)
    assert "C2" in fault.message and "D2" in fault.message and fault.place.cell == "C2"


def test_a_day_after_the_day_of_taking_plus_one_is_impossible(house: House) -> None:
    """A reading of tomorrow may be a time zone; one of the day after cannot be."""
    rows = ["C-1,2026-06-01,120,20,", "C-2,2026-06-02 23:59,120,20,", "C-3,2026-06-03,120,20,"]
    item = judged(house, "a.csv", csv(*rows), date(2026, 6, 1))
    assert column(item, "vessel") == ["C-1", "C-2"]
    (fault,) = said(item)
    assert "2026-06-03" in fault.message and "2026-06-01" in fault.message


@pytest.mark.parametrize("word", ["Total", "TOTALS", "Grand total", "Sub-total:", "Sum", "Average"])
def test_a_total_row_is_a_note(house: House, word: str) -> None:
    """A stray total row is set aside and said; it is no row and wants no person."""
    item = judged(house, "a.csv", csv(*ROWS, f"{word},,348,60,"))
    assert column(item, "vessel") == ["C-1", "C-2", "C-3"]
    assert codes(said(item)) == ["sheet.total-row"] and said(item)[0].severity == "note"


def test_a_cask_called_total_is_a_cask(house: House) -> None:
    """A row with a key is a row, whatever it begins with."""
    item = judged(house, "a.csv", csv("Total 1,2026-03-02,120,20,", "Summer Cask,2026-03-02,120,20,"))
    assert column(item, "vessel") == ["Total 1", "Summer Cask"]


def test_a_row_with_a_cell_too_many_is_a_finding(house: House) -> None:
    """A decimal comma between commas shifts cells; such a row is not taken."""
    item = judged(house, "a.csv", csv(ROWS[0], "C-2,2026-03-02,124,6,20,B-1", ROWS[2]))
    assert column(item, "vessel") == ["C-1", "C-3"]
    (fault,) = said(item)
    assert fault.place.cell == "A3" and "6 cells under a header of 5" in fault.message


def test_blank_cells_too_many_and_short_rows(house: House) -> None:
    """Trailing delimiters do no harm; a short row lacks what it lacks."""
    item = judged(house, "a.csv", csv("C-1,2026-03-02,120,20,B-1,,,", "C-2,2026-03-02,120,20", "C-3,2026-03-02,120"))
    assert column(item, "vessel") == ["C-1", "C-2"]
    assert column(item, "batch") == ["B-1", None]
    assert [f.place.cell for f in said(item)] == ["D4"]


def test_blank_rows_are_no_rows(house: House) -> None:
    """Blank lines and lines of delimiters or dashes between rows are passed over, addresses stay true."""
    item = judged(house, "a.csv", csv(ROWS[0], "", ",,,,", "-,-,-,-,-", ROWS[1]))
    assert item.sheets[0].rows == [2, 6] and said(item) == []


# --- units ------------------------------------------------------------------------------------------


def test_the_default_unit_is_taken_with_one_note(house: House) -> None:
    """A column without a unit takes the default and says so once, however many rows."""
    rows = [f"C-{n},2026-03-02,120,68,B-1" for n in range(20)]
    item = judged(house, "a.csv", csv(*rows, header="Cask,Date,Reading,Temp,Batch"))
    assert column(item, "temperature_degC") == pytest.approx([20.0] * 20)
    (note,) = said(item)
    assert note.code == "sheet.unit-assumed" and note.severity == "note"
    assert "degF" in note.message and note.place.cell == "D1" and "[units]" in note.remedy


@pytest.mark.parametrize(
    ("site", "value"),
    [
        ('[units]\ntemperature = "degC"\n', 20.0),
        ('[units]\ntemperature = "°C"\n', 20.0),
        ('[units]\nvolume = "L"\n', -20 / 3),
        ('markets = ["EU"]\n', 20.0),
        ('markets = ["EU", "US"]\n', -20 / 3),
    ],
)
def test_the_site_states_the_default_unit(monkeypatch: pytest.MonkeyPatch, site: str, value: float) -> None:
    """The site's table first, else what its markets use: 20 is 20 °C, or 20 °F."""
    house = toy_house(monkeypatch, site)
    item = judged(house, "a.csv", csv("C-1,2026-03-02,120,20", header="Cask,Date,Reading,Temp"))
    assert column(item, "temperature_degC") == pytest.approx([value])


def test_no_note_where_every_cell_states_its_unit(house: House) -> None:
    """Units in all cells leave nothing to assume."""
    rows = ["C-1,2026-03-02,120,68 °F", "C-2,2026-03-02,120,20 °C", "C-3,2026-03-02,120,"]
    item = judged(house, "a.csv", csv(*rows, header="Cask,Date,Reading,Temp"))
    assert column(item, "temperature_degC") == pytest.approx([20.0, 20.0])
    assert codes(said(item)) == ["sheet.unusable-row"]


def test_imperial_gallons_by_setting(monkeypatch: pytest.MonkeyPatch) -> None:
    """gal is the US gallon unless the site says imperial."""
    text = csv("C-1,2026-03-02,120,20,10", header="Cask,Date,Reading,Temp (°C),Volume (gal)")
    us = judged(toy_house(monkeypatch), "a.csv", text)
    imperial = judged(toy_house(monkeypatch, '[units]\ngal = "imperial"\n'), "a.csv", text)
    assert column(us, "volume_L") == pytest.approx([37.85411784])
    assert column(imperial, "volume_L") == pytest.approx([45.4609])


# --- decimal signs and date orders --------------------------------------------------------------------


def test_the_decimal_sign_is_told_from_the_file(house: House) -> None:
    """One 124,6 says what 1,234 is in the same file."""
    rows = ["C-1;2026-03-02;124,6;20;B", "C-2;2026-03-02;1,234;20;B"]
    item = judged(house, "a.csv", csv(*rows, header=HEADER.replace(",", ";")))
    assert column(item, "reading") == [124.6, 1.234]


@pytest.mark.parametrize("text", ["1,234", "1.234"])
@pytest.mark.parametrize("mark", [";", "\t"])
def test_an_ambiguous_number_is_a_finding(house: House, text: str, mark: str) -> None:
    """1,234 or 1.234 without a witness is a finding that names the setting; never 1234 or 1.234."""
    rows = [mark.join(["C-1", "2026-03-02", text, "20", "B"]), mark.join(["C-2", "2026-03-02", "120", "20", "B"])]
    item = judged(house, "a.csv", csv(*rows, header=HEADER.replace(",", mark)))
    assert column(item, "vessel") == ["C-2"]
    (fault,) = said(item)
    assert fault.place.cell == "C2" and "site.toml" in fault.message and text in fault.message


@pytest.mark.parametrize("text", ["1,234", "1.234"])
def test_an_ambiguous_text_in_a_workbook_is_a_finding(house: House, text: str) -> None:
    """Numbers kept as text in a workbook are held to the same."""
    item = judged(house, "a.xlsx", xlsx({"S": [HEAD, ["C-1", datetime(2026, 3, 2), text, 20]]}))
    assert [f.place.cell for f in said(item)] == ["C2"]


@pytest.mark.parametrize(("sign", "value"), [(",", 1.234), (".", 1234.0)])
def test_the_site_states_the_decimal_sign(monkeypatch: pytest.MonkeyPatch, sign: str, value: float) -> None:
    """With a stated sign nothing is ambiguous, and what is against it is a finding."""
    house = toy_house(monkeypatch, f'decimal = "{sign}"\n')
    rows = ["C-1;2026-03-02;1,234;20;B", f"C-2;2026-03-02;40{'.' if sign == ',' else ','}1;20;B"]
    item = judged(house, "a.csv", csv(*rows, header=HEADER.replace(",", ";")))
    if value <= 200:
        assert column(item, "reading") == [value]
    assert "C3" in [f.place.cell for f in said(item)]


def test_the_site_states_the_date_order(monkeypatch: pytest.MonkeyPatch) -> None:
    """03/04/2026 is the fourth of March for one site and the third of April for another."""
    for order, day in (("mdy", "2026-03-04"), ("dmy", "2026-04-03")):
        item = judged(toy_house(monkeypatch, f'date_order = "{order}"\n'), "a.csv", csv("C-1,03/04/2026,120,20,"))
        assert column(item, "taken_at") == [day]


# --- moments ------------------------------------------------------------------------------------------


def test_moments_keep_whether_they_have_a_time_and_their_utc(monkeypatch: pytest.MonkeyPatch) -> None:
    """Wall clock as written, whether timed, and UTC by the site's zone, over the change of clocks."""
    house = toy_house(monkeypatch, 'timezone = "America/New_York"\n')
    rows = ["C-1,2026-01-05 09:40,1,20,", "C-2,2026-05-05 09:40,1,20,", "C-3,2026-05-05,1,20,"]
    rows += ["C-4,2026-03-08 02:30,1,20,", "C-5,2026-05-05T12:00Z,1,20,"]
    item = judged(house, "a.csv", csv(*rows))
    assert column(item, "taken_at") == [
        "2026-01-05T09:40:00",
        "2026-05-05T09:40:00",
        "2026-05-05",
        "2026-03-08T02:30:00",
        "2026-05-05T08:00:00",
    ]
    assert column(item, "taken_at_timed") == [True, True, False, True, True]
    assert column(item, "taken_at_utc") == [
        "2026-01-05T14:40:00",
        "2026-05-05T13:40:00",
        None,
        "2026-03-08T07:00:00",
        "2026-05-05T12:00:00",
    ]


def test_a_stated_offset_decides_the_hour_that_comes_twice(monkeypatch: pytest.MonkeyPatch) -> None:
    """06:30Z on the night that clocks go back is 06:30 UTC, not 05:30."""
    house = toy_house(monkeypatch, 'timezone = "America/New_York"\n')
    item = judged(house, "a.csv", csv("C-1,2025-11-02T05:30Z,1,20,", "C-2,2025-11-02T06:30Z,1,20,"))
    assert column(item, "taken_at_utc") == ["2025-11-02T05:30:00", "2025-11-02T06:30:00"]


# --- keys and blanks ----------------------------------------------------------------------------------


def keys(*names: str) -> list[str]:
    values = {"vessel": list(names), "taken_at": ["2026-03-02"] * len(names)}
    return natural_keys(GAUGES, values, len(names))


def test_natural_keys_compare_after_nfc_trim_and_case_folding() -> None:
    """One cask written four ways has one key; leading zeros tell casks apart."""
    assert len(set(keys("Été-1", "ÉTÉ-1", "E\u0301te\u0301-1", " été-1 "))) == 1
    assert len(set(keys("007", "7", "07"))) == 3
    assert len(set(keys("straße", "STRASSE"))) == 1


def test_a_blank_part_of_a_key_is_none_and_not_a_wildcard() -> None:
    """A blank reading_no is a key part of its own."""
    values = {"vessel": ["C-1", "C-1"], "taken_at": ["2026-03-02"] * 2, "reading_no": [None, "1"]}
    assert len(set(natural_keys(GAUGES, values, 2))) == 2


@given(st.text(min_size=1, max_size=8), st.text(min_size=1, max_size=8))
@search(60, HealthCheck.function_scoped_fixture)
def test_key_parts_never_run_together(one: str, other: str) -> None:
    """(a, bc) and (ab, c) are two keys."""
    values = {"cask": [one, one + other], "filling": [other + one, one], "as_of": ["2026-01-01"] * 2}
    first, second = natural_keys(STOCK, values, 2)
    parts = first.split("\x1f")
    assert (first == second) == (parts == second.split("\x1f"))


def test_a_blank_day_is_the_day_of_taking_and_a_blank_filling_is_made(house: House) -> None:
    """as_of is the day of taking where blank or absent; filling is cask and fill date."""
    text = csv("C-1,2020-01-05,", "C-2,2020-01-06,2026-04-01", header="Cask,Fill date,Stock date")
    item = judged(house, "a.csv", text, date(2026, 6, 1))
    assert column(item, "as_of") == ["2026-06-01", "2026-04-01"]
    assert column(item, "filling") == ["C-1 2020-01-05", "C-2 2020-01-06"]
    item = judged(house, "a.csv", csv("C-1,2020-01-05", header="Cask,Fill date"), date(2026, 6, 1))
    assert column(item, "as_of") == ["2026-06-01"]


def test_void_marks_rows_to_withdraw(house: House) -> None:
    """Any kind takes a column void; yes withdraws, no and blank do not."""
    rows = ["C-1,2026-03-02,120,20,yes", "C-2,2026-03-02,120,20,no", "C-3,2026-03-02,120,20,"]
    item = judged(house, "a.csv", csv(*rows, header="Cask,Date,Reading,Temp (°C),Void"))
    assert item.sheets[0].void == [True, False, False]


def test_a_void_row_needs_only_its_key(house: House) -> None:
    """A row with the key and void = yes is enough to withdraw: other required cells may be blank."""
    item = judged(house, "a.csv", csv("C-1,2026-03-02,,,yes", header="Cask,Date,Reading,Temp (°C),Void"))
    assert item.sheets[0].void == [True] and said(item) == []


def test_leading_zeros_of_names_stay_in_csv_and_workbooks(house: House) -> None:
    """Numbers as text keep their zeros where they are names and are numbers where they are numbers."""
    text = judged(house, "a.csv", csv("0012,2026-03-02,0120,020,"))
    workbook = judged(house, "a.xlsx", xlsx({"S": [HEAD, ["0012", datetime(2026, 3, 2), "0120", "020"]]}))
    for item in (text, workbook):
        assert column(item, "vessel") == ["0012"] and column(item, "reading") == [120.0]
        assert column(item, "temperature_degC") == [20.0]
