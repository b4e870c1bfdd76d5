"""Cells that lie, and rows that are none: a fault with its cell, never another value and never silence."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from typing import Any

import pytest

from tests.bad_input.kit import MARCH, codes, column, csv, judged, said, xlsx

HEADER = "Cask;Date;Observed Proof;Temp (°F);Volume (gal);Dip (in)"


def one(volume: str = "53", dip: str = "12", day: str = "2026-03-02", proof: str = "120.5", temp: str = "68") -> Any:
    """A reading with one odd cell, beside a good reading whose decimals are points."""
    rows = [f"C-1;{day};{proof};{temp};{volume};{dip}", "C-2;2026-03-02;120.5;68;50.5;12"]
    return judged("a.csv", csv(*rows, header=HEADER))


@pytest.mark.parametrize(
    "text",
    "~53|53?|(53)|5 1/2|53-54|NaN|inf|-5|12'3|1.234,5|53,|#N/A|=A1+B1|5.3.1|53 gal (60F)|1E400|1e300|0x10|TRUE".split(
        "|"
    ),
)
def test_a_volume_that_is_no_plain_number(text: str) -> None:
    """Whatever else it may mean, the row is a finding at its cell and the other row counts."""
    made = one(volume=text)
    assert column(made, "vessel") == ["C-2"]
    (fault,) = said(made)
    assert fault.code == "sheet.unusable-row" and fault.place.cell == "E2" and fault.remedy.endswith(".")


@pytest.mark.parametrize("text", ["6'2", "6' 14\"", "12 1/5", "12 5/4", "12 1/4 cm", "1/4/2"])
def test_feet_and_inches_are_not_sixty_two_inches(text: str) -> None:
    """A dip that no rule shows, or six feet two without the mark of its inches, is refused."""
    assert [fault.place.cell for fault in said(one(dip=text))] == ["F2"]


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        *(("12 1/4", 12.25), ('12-1/4"', 12.25), ("12½", 12.5), ("12 ¾ in", 12.75), ("3/8", 0.375)),
        *(("1' 0 1/4\"", 12.25), ("6'2\"", 74.0), ("6' 2\"", 74.0), ("6′-2″", 74.0), ("5'", 60.0), ("1 ft 3 in", 15.0)),
        *(("1'-0 1/4\"", 12.25), ("12 in", 12.0), ("1,234.5", 1234.5)),
    ],
)
def test_dips_as_a_rule_shows_them(text: str, inches: float) -> None:
    """Feet, inches and fractions are the length that a person reads off the stick."""
    made = one(dip=text)
    assert column(made, "depth_cm") == pytest.approx([inches * 2.54, 12 * 2.54]) and said(made) == []


def test_a_fraction_of_a_centimetre_is_asked_about() -> None:
    """Where a house measures in cm, a bare fraction is perhaps of an inch; with its mark it is one."""
    head = "Tank;Dip;Volume (L)"
    bare, marked = (
        judged("a.csv", csv(f"T-1;{dip};10", header=head), 'markets = ["EU"]\n') for dip in ("12 1/4", '12 1/4 "')
    )
    assert bare.returned and "fraction" in bare.reason and "in cm" in bare.reason
    assert column(marked, "depth_cm") == pytest.approx([12.25 * 2.54])


@pytest.mark.parametrize(
    "text", ["1 234.5", "1\u2009234.5", "1\u202f234.5", "1\u00a0234.5", "1'234.5", "1’234.5", "1,234.5"]
)
def test_thousands_by_space_and_apostrophe(text: str) -> None:
    """Whatever parts the thousands, 1,234.5 is meant."""
    assert column(one(volume=text), "volume_L") == pytest.approx([1234.5 * 3.785411784, 50.5 * 3.785411784])


@pytest.mark.parametrize("text", ["1 23", "12 3456", "1 234'567", "1234 567", "1 234 56", "120 / 130"])
def test_spaces_that_part_no_thousands(text: str) -> None:
    """Two figures in one cell are no number."""
    assert [fault.place.cell for fault in said(one(volume=text))] == ["E2"]


@pytest.mark.parametrize("temp", ["-60", "400", "-60 °F", "200 °C"])
def test_temperatures_that_cannot_be(temp: str) -> None:
    """Beyond -30 and 60 °C is a fault that names the bound."""
    (fault,) = said(one(temp=temp))
    assert fault.place.cell == "D2" and "not possible" in fault.message


@pytest.mark.parametrize(
    ("day", "words"),
    [
        ("03/04/2026", "day/month or month/day"),
        ("2.3.2026", "day/month or month/day"),
        ("3/4/26", "two digits"),
        ("44800", "no date for certain"),
        ("20261302", "calendar"),
        ("March 2026", "no date"),
        ("2026-02-30", "calendar"),
        ("0206-03-14", "year 206"),
        ("1066-10-14", "year 1066"),
        ("2062-03-14", "later than the day"),
        ("9999-12-31T23:59-12:00", "year 9999"),
        ("0001-01-01T00:00+14:00", "year 1"),
        ("2026-03-02T10:00+99:99", "offset"),
        ("2026-03-02 25:00", "time of day"),
        ("yesterday", "no date"),
    ],
)
def test_days_that_are_ambiguous_or_none(day: str, words: str) -> None:
    """A day that reads two ways, is none or cannot be meant is a finding that says which; never a guess."""
    made = one(day=day)
    assert column(made, "vessel") == ["C-2"]
    assert said(made)[0].place.cell == "B2" and words in said(made)[0].message


@pytest.mark.parametrize("text", ["13/04/2026", "04/13/2026", "31.03.2026"])
def test_dates_that_the_spreadsheet_took_the_other_way_round(text: str) -> None:
    """A date that stayed text tells that its neighbours, none after the 12th, had day and month swapped."""
    rows = [["Cask", "Date", "Obs Proof", "Temp (F)"], ["C-1", MARCH, 120, 68], ["C-2", text, 120, 68]]
    made = judged("a.xlsx", xlsx(rows))
    assert column(made, "vessel") == ["C-2"]
    assert said(made)[0].place.cell == "B2" and "swapped" in said(made)[0].message
    rows.append(["C-3", datetime(2026, 3, 27), 120, 68])
    assert column(judged("a.xlsx", xlsx(rows)), "vessel") == ["C-1", "C-2", "C-3"]


def test_names_that_a_spreadsheet_turned_into_dates() -> None:
    """A cask called 1-2 that came out as 2 January, or a time, is a finding, not a cask of that name."""
    wrong = [datetime(2026, 1, 2), time(1, 2), timedelta(hours=30), True]
    rows = [["Cask", "Date", "Obs Proof", "Temp (F)"], *([name, MARCH, 120, 68] for name in [*wrong, 101, "0101"])]
    made = judged("a.xlsx", xlsx(rows))
    assert column(made, "vessel") == ["101", "0101"]
    assert [fault.place.cell for fault in said(made)] == ["A2", "A3", "A4", "A5"]


def test_a_session_may_be_called_by_its_day() -> None:
    """Where a name is optional a date is as good a name as any."""
    rows = [["Sample", "Taster", "Date", "Session", "Nose"], ["C-1", "Ann", MARCH, MARCH, "oak"]]
    assert column(judged("a.xlsx", xlsx(rows)), "session") == ["2026-03-02"]


@pytest.mark.parametrize("name", ["=HYPERLINK(1)", "=1+1", "#REF!", "n/a", "-", "—", ""])
def test_what_is_no_name(name: str) -> None:
    """A formula, an error and a dash are no casks."""
    made = judged("a.csv", csv(f'"{name}",2026-03-02,120,68', "C-2,2026-03-02,120,68"))
    assert column(made, "vessel") == ["C-2"] and said(made)[0].place.cell == "A2"


TOTALS = ["TOTAL", "Total drawn", "Sub-total", "Grand total:", "Total casks: 2", "Sum", "Average", "Gesamt"]


@pytest.mark.parametrize("word", TOTALS)
def test_a_total_in_the_column_of_names_is_not_drawn_a_second_time(word: str) -> None:
    """A total row that repeats the batch is no component: the batch would hold everything twice."""
    rows = ["B-1,C-1,50", "B-1,C-2,40", f"B-1,{word},90"]
    made = judged("a.csv", csv(*rows, header="Batch,Cask,Drawn WG"))
    assert column(made, "component") == ["C-1", "C-2"]
    (fault,) = said(made)
    assert fault.severity == "review" and fault.place.cell == "B4" and "total" in fault.message


def test_a_cask_whose_name_begins_like_a_total() -> None:
    """With all that its kind needs, Total 7 is a cask of an inventory."""
    made = judged("a.csv", csv("Total 7,2020-01-01,me", "Total,,53", header="Cask,Filled,Owner"))
    assert column(made, "cask") == ["Total 7"] and codes(made) == ["sheet.total-row"]


def test_what_stands_under_the_table() -> None:
    """Totals, averages, blank rows, footnotes and signature lines: notes or findings, and no row of them."""
    under = [[], ["Average", None, 121, 68], ["TOTAL"], ["* observed, not corrected"], ["Signed:", None, None, "J."]]
    rows = [["Cask", "Date", "Obs Proof", "Temp (F)"], ["C-1", MARCH, 120, 68], ["C-2", MARCH, 122, 68], *under]
    made = judged("a.xlsx", xlsx(rows))
    assert column(made, "vessel") == ["C-1", "C-2"]
    assert codes(made) == ["sheet.total-row"] * 2 + ["sheet.unfilled-row", "sheet.unusable-row"]


@pytest.mark.parametrize("kept", ["0124.6", " 124.6\u00a0", "124.6", "124,6"])
def test_numbers_kept_as_text(kept: str) -> None:
    """A number that a workbook keeps as text is that number."""
    made = judged("a.xlsx", xlsx([["Cask", "Date", "Obs Proof", "Temp (F)"], ["C-1", MARCH, kept, 68]]))
    assert column(made, "reading") == [124.6]


def test_a_file_of_which_no_row_can_be_used_goes_back() -> None:
    """Nothing of it counts, and the reason names a cell."""
    made = judged("a.csv", csv("C-1,soon,120,68", "C-2,2026-03-02,high,68"))
    assert made.returned and "B2" in made.reason and made.remedy


@pytest.mark.parametrize(
    ("day", "moment"),
    [
        ("5.3.2026 14:30 Uhr", "2026-03-05T14:30:00"),
        ("5.3.26 14.30 Uhr", "2026-03-05T14:30:00"),
        ("Do, 5. März 2026, 14 Uhr", "2026-03-05T14:00:00"),
        ("Donnerstag, 5. März 2026 um 14:30 Uhr", "2026-03-05T14:30:00"),
        ("Mar 5, 2026 at 2:30 PM", "2026-03-05T14:30:00"),
        ("Thursday, March 5, 2026 at 2:30 p.m.", "2026-03-05T14:30:00"),
        ("Thu 5 Mar 2026 2:30\u202fPM", "2026-03-05T14:30:00"),
        ("jeudi 5 mars 2026 à 14h30", "2026-03-05T14:30:00"),
        ("1er août 2026", "2026-08-01"),
        ("5 de marzo de 2026", "2026-03-05"),
        ("5 dic. 2025", "2025-12-05"),
        ("15. Mai 2026", "2026-05-15"),
        ("2026年3月5日", "2026-03-05"),
        ("2026年3月5日(木) 14時30分", "2026-03-05T14:30:00"),
        ("2026年3月5日 14:30", "2026-03-05T14:30:00"),
        ("20260305", "2026-03-05"),
        ("46086", "2026-03-05"),
        ("46086,5", "2026-03-05T12:00:00"),
    ],
)
def test_days_as_phones_forms_and_other_languages_write_them(day: str, moment: str) -> None:
    """What reads in one way only is taken as it is meant."""
    assert column(one(day=day), "taken_at") == [moment, "2026-03-02"]


@pytest.mark.parametrize(
    "day", ["5. Mond 2026", "mar 5 mars", "5 de 2026", "2026年13月5日", "2026年3月", "14 Uhr", "46086 14:30"]
)
def test_days_that_are_nearly_such(day: str) -> None:
    """A month that is none, half a date or a number with something behind it is refused."""
    assert [fault.place.cell for fault in said(one(day=day))] == ["B2"]


def test_a_german_time_beside_the_american_order_is_asked_about() -> None:
    """Where the site says that the month stands first, a German cell that could be both is refused."""
    rows = csv("C-1;5.3.2026 14:30 Uhr;120;68;50;12", "C-2;15.3.2026 14:30 Uhr;120;68;50;12", header=HEADER)
    made = judged("a.csv", rows, 'date_order = "mdy"\n')
    assert [fault.place.cell for fault in said(made)] == ["B2"]
    assert column(made, "taken_at") == ["2026-03-15T14:30:00"]
