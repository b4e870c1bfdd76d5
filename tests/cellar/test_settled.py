"""One gauge moves one cask: what the house shares is settled on the first day of the book date's month."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from typing import Any

import pandas as pd
import pytest

from plugins.cellar.declared.frames import HISTORIES
from plugins.cellar.declared.frames_stock import CHECKS, LINEAGES
from plugins.cellar.pages import cask_course as course
from plugins.cellar.pages import casks_beside as beside
from plugins.cellar.pages import overview
from plugins.cellar.pages.words import settled
from plugins.cellar.rates import forecasts
from plugins.cellar.stock.stock_tables import tabulate_stock
from tests.cellar.house import Truth, curves_of, rates_of, simulate
from tests.support import document_of, site_with

SITE = site_with({}, book_date=date(2026, 1, 20), markets=("US",))
GAUGED = "C-00007"


def gauged(made: Truth, on: str) -> Truth:
    """The stock with one more gauge of one cask, in its place among the others."""
    at = int(made.histories.index[made.histories["cask"] == GAUGED][-1]) + 1
    row = {**made.histories.iloc[at - 1].to_dict(), "number": at, "at": pd.Timestamp(on), "kind": "gauged"}
    row |= {"volume_20C_L": 120.0, "volume_uncertainty_L": 0.5, "proof_apparent_60F": 111.0, "facts": (999_999,)}
    parts = [made.histories.iloc[:at], pd.DataFrame([row]), made.histories.iloc[at:]]
    rows = pd.concat(parts, ignore_index=True)
    return replace(made, histories=HISTORIES.build({name: rows[name] for name in HISTORIES.names}, rows["facts"]))


def rates(made: Truth, site: Any = SITE) -> pd.DataFrame:
    return rates_of(made.histories, made.fillings, site)[0].drop(columns="facts").set_index("cask")


def frames(made: Truth, site: Any = SITE) -> dict[str, Any]:
    """What the document of casks is made of."""
    found, _ = rates_of(made.histories, made.fillings, site)
    given = (found, made.fillings, made.histories, site)
    return {
        "cask_rates": found,
        "fillings_of_casks": made.fillings,
        "cask_histories": made.histories,
        "cask_forecasts": forecasts.forecast_casks(*given),
        "cask_outlooks": forecasts.look_out(*given),
        "stock_checks": CHECKS.empty(),
        "lineages": LINEAGES.empty(),
        "casks_beside": beside.order_casks(made.fillings),
        "site": site,
    }


def documents(made: Truth, site: Any = SITE) -> dict[str, Any]:
    """What the page of every cask of a stock shows."""
    shown: dict[str, Any] = document_of(course.follow_casks, frames(made, site))
    return shown


def changed(one: dict[str, Any], other: dict[str, Any]) -> set[str]:
    return {name for name in one | other if one.get(name) != other.get(name)}


@pytest.fixture(scope="module")
def stock() -> Truth:
    return simulate(11, casks=150)


def test_a_gauge_of_this_month_moves_its_own_cask_alone(stock: Truth) -> None:
    """Of 150 casks one page is another, and no other cask's rate differs in a single bit."""
    more = gauged(stock, "2026-01-15")
    assert changed(documents(stock), documents(more)) == {GAUGED}
    before, after = rates(stock), rates(more)
    assert before.drop(GAUGED).equals(after.drop(GAUGED))
    assert after.at[GAUGED, "loss_percent_per_year"] > before.at[GAUGED, "loss_percent_per_year"] + 0.05
    assert after.at[GAUGED, "volume_gauges"] == before.at[GAUGED, "volume_gauges"] + 1
    pooled = [curves_of(one.histories, one.fillings, SITE) for one in (stock, more)]
    assert pooled[0].equals(pooled[1])
    assert set(pooled[0]["settled_on"]) == {pd.Timestamp(2026, 1, 1)}


def test_an_earlier_gauge_moves_the_house(stock: Truth) -> None:
    """A gauge from before the month is part of what was settled: most casks' rates move; so do they when a new month
    begins in which it has become one of those."""
    before, after = rates(stock), rates(gauged(stock, "2025-12-15"))
    assert (before["neighbours_percent_per_year"] != after["neighbours_percent_per_year"]).mean() > 0.9
    later = site_with({}, book_date=date(2026, 2, 1), markets=("US",))
    moved = rates(gauged(stock, "2026-01-15"), later)
    assert (before["neighbours_percent_per_year"] != moved["neighbours_percent_per_year"]).mean() > 0.9
    assert set(moved["loss_settled_on"]) == {pd.Timestamp(2026, 2, 1)}


def test_the_day_within_the_month_moves_no_page(stock: Truth) -> None:
    """A later book date in the same month changes nothing on any cask's page; the next month changes all."""
    assert changed(documents(stock), documents(stock, replace(SITE, book_date=date(2026, 1, 31)))) == set()
    later = documents(stock, replace(SITE, book_date=date(2026, 2, 1)))
    assert changed(documents(stock), later) == set(later)


def test_until_there_is_something_to_settle_all_gauges_tell_the_curve(stock: Truth) -> None:
    """Where no cask has two gauges before the month, the curve is what all gauges tell, and says so."""
    first = site_with({}, book_date=date(2010, 5, 5), markets=("US",))
    found = rates(stock, first)
    everything = rates(stock, site_with({}, book_date=None))
    assert found.equals(everything) and found["loss_settled_on"].isna().all()
    assert "not settled yet" in settled(None, None)


def test_pages_say_when_the_curve_was_settled() -> None:
    """One day for both curves, or the one that is settled and the one that is not."""
    assert "curve was settled on 2026-01-01" in settled("2026-01-01", "2026-01-01")
    said = settled("2026-01-01", None)
    assert "curve of loss was settled on 2026-01-01" in said and "That of strength still follows" in said
    assert "curve of strength was settled on 2026-01-01" in settled(None, "2026-01-01")


def test_documents_are_plain_data(stock: Truth) -> None:
    """JSON gives back what went in, so an engine may keep it; figures have the places that the page prints."""
    shown = documents(stock)
    assert json.loads(json.dumps(shown)) == shown
    figures = [one["volume_20C_L"] for page in shown.values() for row in page["fillings"] for one in row["ahead"]]
    assert len(figures) == 150 * len(forecasts.MONTHS)
    assert all(figure == round(figure, 1) for figure in figures)
    assert {row["day"] for row in shown[GAUGED]["fillings"][0]["ahead"]} > {"2026-02-01", "2026-08-01", "2036-02-01"}


def test_one_cask_s_document_needs_no_other_cask(stock: Truth) -> None:
    """Of its own rows alone it is made as of the rows of all."""
    given = frames(stock)
    shown = document_of(course.follow_casks, given)
    for name in (GAUGED, "C-00000", "C-00149"):
        assert document_of(course.follow_casks, given, name) == {name: shown[name]}


def test_the_cellar_s_page_stands_on_the_book_date(stock: Truth) -> None:
    """Stock is judged at the book date, and the index names the day on which the curve was settled."""
    found, _ = rates_of(stock.histories, stock.fillings, SITE)
    given = (found, stock.fillings, stock.histories, SITE)
    contents, out = forecasts.reckon_contents(*given), forecasts.look_out(*given)
    curves = curves_of(stock.histories, stock.fillings, SITE)
    tables = tabulate_stock(stock.fillings, contents, SITE)
    shown = overview.look_over_cellar(stock.fillings, contents, found, out, curves, tables, CHECKS.empty(), SITE)
    assert json.loads(json.dumps(shown)) == shown
    assert shown["book_date"] == "2026-01-20" and "settled on 2026-01-01" in shown["method"]
    assert shown["whole"]["casks"] == len(shown["casks"]) == 150
    assert shown["whole"]["volume_20C_L"] == pytest.approx(contents["volume_20C_L"].sum(), abs=0.5)
