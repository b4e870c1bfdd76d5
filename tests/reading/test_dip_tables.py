"""Dip tables as people lay them out, and dips as they read them: what each comes to, or why it goes back."""

from __future__ import annotations

import io

import pytest
from openpyxl import Workbook

from pipeline.sheets.judged import Judged
from tests.bad_input.kit import column, csv, judged, said

INCH, GALLON = 2.54, 3.785411784


def points(made: Judged) -> list[tuple[float, float]]:
    """The table as the book holds it: depth [cm] and volume [L], by depth."""
    assert set(column(made, "vessel")) == {"V-3"}, made
    pairs = zip(column(made, "depth_cm"), column(made, "volume_at_depth_L"), strict=True)
    return sorted((round(depth, 6), round(volume, 6)) for depth, volume in pairs)


def in_inches(*pairs: tuple[float, float]) -> list[tuple[float, float]]:
    """What points in inches and US gallons are in cm and litres."""
    return [(round(depth * INCH, 6), round(volume * GALLON, 6)) for depth, volume in pairs]


QUARTERS = in_inches(*[(0.25 * at, 2.5 * at) for at in range(12)])


def test_a_grid_of_quarter_inches_is_one_table() -> None:
    rows = "\n".join(f"{inch},{10 * inch},{10 * inch + 2.5},{10 * inch + 5},{10 * inch + 7.5}" for inch in range(3))
    made = judged("v3.csv", f"Tank: V-3\nVolumes in gallons\n\nInches,0,1/4,1/2,3/4\n{rows}\n")
    assert points(made) == QUARTERS


def test_a_grid_in_a_workbook_with_letters_for_fractions() -> None:
    book = Workbook()
    sheet = book.worksheets[0]
    for row in [["Dip table of tank V-3"], ["Contents in gallons"], ["Inches", 0, "¼", "½", "¾"]]:
        sheet.append(row)
    for inch in range(3):
        sheet.append([inch, *(10 * inch + 2.5 * at for at in range(4))])
    raw = io.BytesIO()
    book.save(raw)
    assert points(judged("v3.xlsx", raw.getvalue())) == QUARTERS


def test_a_row_of_noughts_is_a_row() -> None:
    """An empty tank holds nothing at no depth: of all rows the one that a table cannot do without."""
    book = Workbook()
    for row in [["Tank V-3"], ["Dip (cm)", "Volume (L)"], [0, 0], [10, 200]]:
        book.worksheets[0].append(row)
    raw = io.BytesIO()
    book.save(raw)
    assert points(judged("v3.xlsx", raw.getvalue())) == [(0.0, 0.0), (10.0, 200.0)]


def test_a_grid_of_centimetres_by_tens() -> None:
    across = ",".join(map(str, range(10)))
    rows = "\n".join(f"{ten}," + ",".join(str(20 * (ten + one)) for one in range(10)) for ten in (0, 10, 20))
    made = judged("v3.csv", f"Tank V-3\nVolume in litres\ncm,{across}\n{rows}\n")
    assert points(made) == [(float(depth), 20.0 * depth) for depth in range(30)]


@pytest.mark.parametrize(
    "heads", ["0,1/4,1/2", "0,1,2,3", "1/4,1/2,3/4", "0,1/2,1/4,3/4", "0,1/4,1/4,1/2"], ids=lambda heads: f"[{heads}]"
)
def test_a_grid_whose_columns_do_not_divide_its_rows_goes_back(heads: str) -> None:
    rows = "\n".join(f"{inch}" + ",5" * len(heads.split(",")) for inch in range(3))
    assert judged("v3.csv", f"Tank: V-3\nVolumes in gallons\nInches,{heads}\n{rows}\n").returned


def test_a_grid_that_states_no_unit_is_asked_for_it() -> None:
    made = judged("v3.csv", "Tank: V-3\nInches,0,1/2\n0,0,5\n1,10,15\n")
    assert made.returned and "in which unit" in made.reason and "volume in litres" in made.remedy


def test_a_gap_in_a_grid_is_no_point() -> None:
    made = judged("v3.csv", "Tank: V-3\nVolumes in gallons\nInches,0,1/2\n0,,5\n1,10,\n")
    assert points(made) == in_inches((0.5, 5), (1, 10))


FEET = "Vessel,Feet,Inches,Gallons\nV-3,1,0 1/4,10\nV-3,1,1,20.5\n"


def test_feet_and_inches_in_two_columns_are_one_dip() -> None:
    assert points(judged("v3.csv", FEET)) == in_inches((12.25, 10), (13, 20.5))


def test_feet_beside_all_inches_are_one_dip_said_twice() -> None:
    made = judged("v3.csv", "Vessel,Dip (ft),Dip (in),Gallons\nV-3,1,12,10\nV-3,2,24,20.5\n")
    assert points(made) == in_inches((12, 10), (24, 20.5))


def test_feet_that_neither_add_up_nor_say_the_same_are_asked_about() -> None:
    made = judged("v3.csv", "Vessel,Feet,Inches,Gallons\nV-3,1,14,10\nV-3,1,1,20.5\n")
    assert made.returned or any(finding.severity == "review" for finding in said(made))


def test_ullage_is_taken_from_the_height() -> None:
    stated = csv("V-3,96,95,10", "V-3,96,94,20.5", header="Vessel,Tank height (in),Ullage (in),Volume (gal)")
    above = "Tank V-3\nReference height: 96 in\nUllage (in),Volume (gal)\n95,10\n94,20.5\n"
    for text in (stated, above):
        assert points(judged("v3.csv", text)) == in_inches((1, 10), (2, 20.5))


@pytest.mark.parametrize(
    ("row", "wrong"),
    [
        ("V-3,,,95,10", "ullage (D2) holds '95' and needs a depth"),
        ("V-3,96,,97,10", "is more than the height"),
        ("V-3,96,3,95,10", "do not add up to the height"),
    ],
)
def test_ullage_that_gives_no_dip_goes_back(row: str, wrong: str) -> None:
    made = judged("v3.csv", csv(row, header="Vessel,Height (in),Dip (in),Ullage (in),Volume (gal)"))
    assert made.returned and wrong in made.reason


def test_a_name_with_nothing_under_any_day_is_told() -> None:
    """In a sheet with days across, as in any other."""
    made = judged(
        "a.csv", "Vessel,2026-03-02,,2026-03-03,\n,Proof,Temp (°F),Proof,Temp (°F)\nT-1,120,68,120,68\nT-2,,,,\n"
    )
    assert column(made, "vessel") == ["T-1", "T-1"]
    told = [finding.message for finding in said(made) if finding.code == "sheet.unfilled-row"]
    assert told == ["Row 4 has a name and nothing under any day: nothing was written on it."]
