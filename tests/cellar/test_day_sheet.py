"""The lab's day sheet: what it prints, and what comes back of it."""

from __future__ import annotations

import io
from typing import Any

import pandas as pd
import pytest
from openpyxl import load_workbook

from pipeline.testing import site_with
from plugins.cellar.pages.day_sheet import MOST, day_sheet
from tests.bad_input.kit import column, judged, said

VESSELS = pd.DataFrame({"vessel": ["T-2", "T-10", "VAT-1"]})
BRIEFS = pd.DataFrame({"batch": ["B-1", "B-2"], "vessel": ["VAT-1", "VAT-9"]})
WINDOWS = pd.DataFrame({"batch": ["B-1", "B-2"], "until": pd.to_datetime([None, "2026-02-01"])})
PROOFS = pd.DataFrame(
    {
        "vessel": ["t-2", "T-2", "VAT-1", "C-0101"],
        "taken_at": pd.to_datetime(["2026-01-02", "2026-03-04", "2026-03-01", "2026-03-01"]),
        "proof_60F": [118.0, 117.25, 92.0, 120.0],
        "abv_20C": [59.0, 58.6, 46.0, 60.0],
    }
)


def book(markets: tuple[str, ...] = ("US",), vessels: pd.DataFrame = VESSELS) -> Any:
    made = day_sheet(PROOFS, vessels, BRIEFS, WINDOWS, site_with(markets=markets))
    assert made is not None
    return load_workbook(io.BytesIO(made))


def test_open_vats_come_first_then_what_was_read_last() -> None:
    """The vat of a batch that has left it is not expected; casks stand on other sheets."""
    sheet = book()["Day sheet"]
    rows = [(row[0], row[1]) for row in sheet.iter_rows(min_row=6, max_row=8, values_only=True)]
    assert rows == [
        ("VAT-1", "92.0 proof on 1 Mar 2026; B-1"),
        ("T-2", "117.2 proof on 4 Mar 2026"),
        ("T-10", None),
    ]
    assert all(sheet.row_dimensions[row].height >= 24 for row in range(6, 12))


@pytest.mark.parametrize(
    ("markets", "paper", "strength"), [(("US",), 1, "Observed Proof"), (("UK", "EU"), 9, "Observed ABV (% vol)")]
)
def test_paper_and_units_are_those_of_the_markets(markets: tuple[str, ...], paper: int, strength: str) -> None:
    sheet = book(markets)["Day sheet"]
    assert int(sheet.page_setup.paperSize) == paper and sheet["C5"].value == strength
    assert int(sheet.page_setup.fitToHeight) == 1


@pytest.mark.parametrize("market", ["US", "EU"])
def test_what_was_written_comes_back_and_the_rest_is_none(market: str) -> None:
    """Two of three vessels were read: two readings with the day written once, a note, and nothing for a person."""
    filled = book((market,))
    sheet = filled["Day sheet"]
    sheet["B4"] = pd.Timestamp("2026-03-05").to_pydatetime()
    for row in (6, 7):
        sheet.cell(row, 3, 91.5 if market == "US" else 45.6)
        sheet.cell(row, 4, 64.0 if market == "US" else 18.0)
    raw = io.BytesIO()
    filled.save(raw)
    made = judged("day_sheet.xlsx", raw.getvalue(), f'markets = ["{market}"]\n')
    assert column(made, "vessel") == ["VAT-1", "T-2"] and column(made, "taken_at") == ["2026-03-05"] * 2
    assert column(made, "reading_unit") == [("proof" if market == "US" else "%vol")] * 2
    assert [(finding.code, finding.severity) for finding in said(made)] == [("sheet.unfilled-row", "note")]


def test_a_day_that_was_not_written_is_asked_for() -> None:
    filled = book()
    filled["Day sheet"].cell(6, 3, 91.5)
    filled["Day sheet"].cell(6, 4, 64.0)
    raw = io.BytesIO()
    filled.save(raw)
    made = judged("day_sheet.xlsx", raw.getvalue())
    assert made.returned and "taken_at" in made.reason


def test_more_vessels_than_a_page_holds_are_named() -> None:
    many = pd.DataFrame({"vessel": [f"T-{place}" for place in range(1, MOST + 4)]})
    sheet = book(vessels=many)["Day sheet"]
    below = [row[0] for row in sheet.iter_rows(values_only=True) if str(row[0]).startswith("Not on this page")]
    assert below == [f"Not on this page: {', '.join(f'T-{place}' for place in range(MOST, MOST + 4))}."]


def test_a_vessel_with_something_in_an_unknown_column_is_no_empty_row() -> None:
    """Only what is blank but for the name is left aside: a figure under a header that nobody knows is asked about."""
    made = judged("a.csv", "Vessel,Date,Observed Proof,Temp (°F),Reeding\nT-2,2026-03-05,91.5,64,\nT-3,,,,92.0\n")
    assert [finding.code for finding in said(made) if finding.severity == "review"] == ["sheet.unusable-row"]
