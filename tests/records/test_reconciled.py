"""Figures as measured and as reconciled, on the record's page and in its workbook."""

from __future__ import annotations

from io import BytesIO
from typing import Any

import pytest
from openpyxl import load_workbook

from plugins.records import reports
from plugins.records.record import reconciled_figures
from plugins.records.record.reconciled_figures import MOST_DRAWS, _chance, moved, view
from tests.records.fake import World, world
from tests.records.test_pages import Tags

BATCH = "B-26-01"


def figure(component: str, side: str, quantity: str = "mass", **more: Any) -> dict[str, Any]:
    """A figure that was measured as 100 ± 0.5 and reconciled to 99 ± 0.4."""
    unit = "proof" if quantity == "strength" else "kg"
    base = {"component": component, "drawn_at": None, "line": None, "side": side, "quantity": quantity, "unit": unit}
    seen = {"measured": 100.0, "uncertainty": 0.5, "reconciled": 99.0, "reconciled_uncertainty": 0.4}
    return {**base, **seen, "score": -2.5, "beyond_chance": False, "smallest_visible": 1.6, **more}


def found(*figures: dict[str, Any], **more: Any) -> dict[str, Any]:
    test = {"chi_square": 3.21, "degrees": 2, "p_value": 0.2, "closes": True}
    return {"balance": {"reconciled": {**test, **more, "figures": list(figures)}}}


@pytest.fixture
def made() -> World:
    return world()


def with_figures(made: World) -> dict[str, Any]:
    records = made.records()
    lost = figure("process", "lost", measured=None, score=None, beyond_chance=None, smallest_visible=None)
    vat = figure("VAT <1>", "gauged", "strength", beyond_chance=True)
    records[BATCH]["balance"]["reconciled"] = found(figure("C-1", "drawn", line="1"), vat, lost)["balance"][
        "reconciled"
    ]
    return records


def test_a_figure_moves_in_its_own_standard_uncertainties() -> None:
    """One kilogram less at 0.5 is two; of a loss or an exact figure there is nothing to count in."""
    assert moved(figure("C-1", "drawn")) == -2.0
    assert moved(figure("process", "lost", measured=None)) is None
    assert moved(figure("water", "drawn", "strength", uncertainty=0.0)) is None


def test_the_vat_and_losses_come_first_and_exact_figures_stay_away() -> None:
    """The strength of water is nothing to reconcile; a minus is a minus, and a loss has no measured figure."""
    exact = figure("water", "drawn", "strength", uncertainty=0.0)
    shown = view(found(figure("C-1", "drawn"), exact, figure("V", "gauged"), figure("dump", "lost", measured=None)))
    assert shown is not None
    assert [line["component"] for line in shown["lines"]] == ["V", "At the dump", "C-1"]
    assert shown["lines"][2]["moved"] == "\u22122.0" and shown["lines"][1]["measured"] == "–"
    assert "The account closes: its 2 balances together" in shown["says"] and "20 of 100" in shown["says"]


def test_of_many_draws_those_that_move_most_are_shown() -> None:
    """The page keeps the order of the draws and says how many it leaves to the workbook."""
    draws = [figure(f"C-{place:03d}", "drawn", reconciled=100.0 - place / 100.0) for place in range(100)]
    shown = view(found(*draws))
    assert shown is not None and shown["hidden"] == 100 - MOST_DRAWS
    names = [line["component"] for line in shown["lines"]]
    assert names == sorted(names) and names[0] == f"C-{100 - MOST_DRAWS:03d}"


def test_an_open_account_says_that_a_slip_spreads() -> None:
    """What is reconciled of an account that does not close is no better than its worst figure."""
    shown = view(found(figure("C-1", "drawn"), closes=False, p_value=1e-30))
    assert shown is not None and "does not close" in shown["says"]
    assert "less than 0.01 of 100" in shown["says"] and reconciled_figures.SPREADS in shown["says"]


def test_page_and_workbook_show_them(made: World) -> None:
    """Each figure with measured, reconciled, both uncertainties, how far it moved and the smallest error seen."""
    records = with_figures(made)
    page = made.call(reports.record_html, BATCH, record=records).decode("utf-8")
    assert not Tags(page).open and "VAT &lt;1&gt;" in page and "beyond chance for this figure alone" in page
    assert "100.00 ± 0.50 proof" in page and "99.00 ± 0.40 proof" in page and "\u22122.0" in page
    book = load_workbook(BytesIO(made.call(reports.record_xlsx, BATCH, record=records)))
    rows = [[cell.value for cell in row] for row in book["Reconciled"].iter_rows()]
    vat = next(row for row in rows if row[0] == "VAT <1>")
    assert vat[4:13] == ["proof", 100.0, 0.5, 99.0, 0.4, -2.0, -2.5, "yes", 1.6]


def test_without_a_gauge_there_is_no_such_part(made: World) -> None:
    """Nothing was reconciled: no heading, no sheet."""
    page = made.call(reports.record_html, BATCH, record=made.records()).decode("utf-8")
    assert "As measured and as reconciled" not in page
    assert view({"balance": {"reconciled": None}}) is None


@pytest.mark.parametrize(("in_100", "told"), [(99.7, "100"), (100.0, "100"), (42.4, "42"), (9.6, "10"), (1.23, "1.2")])
def test_chance_is_told_without_powers_of_ten(in_100: float, told: str) -> None:
    """Of 100 batches nearly all is 100, not 1e+02."""
    assert _chance(in_100) == told
