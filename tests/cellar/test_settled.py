"""One gauge moves one cask: what the house shares is settled on the first day of the book date's month."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from typing import Any

import pandas as pd
import pytest

from pipeline.testing import site_with
from plugins.cellar.declared.frames import HISTORIES
from plugins.cellar.declared.frames_stock import CHECKS, LINEAGES
from plugins.cellar.pages import cask_course as course
from plugins.cellar.pages import casks_beside as beside
from plugins.cellar.pages import overview
from plugins.cellar.pages.words import settled
from plugins.cellar.rates import forecasts
from plugins.cellar.rates.curves import rung
from plugins.cellar.stock.stock_tables import tabulate_stock
from tests.cellar.house import Truth, curves_of, rates_of, simulate
from tests.support import document_of

SITE = site_with({}, book_date=date(2026, 1, 20), markets=("US",))
GAUGED = "C-00007"


def gauged(made: Truth, on: str, fact: int = 999_999, litres: float = 120.0) -> Truth:
    """The stock with one more gauge of one cask, in its place among the others."""
    at = int(made.histories.index[made.histories["cask"] == GAUGED][-1]) + 1
    row = {**made.histories.iloc[at - 1].to_dict(), "number": at, "at": pd.Timestamp(on), "kind": "gauged"}
    row |= {"volume_20C_L": litres, "volume_uncertainty_L": 0.5, "proof_apparent_60F": 111.0, "facts": (fact,)}
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


@pytest.mark.long
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


@pytest.mark.long
def test_a_late_gauge_waits_for_the_next_rung(stock: Truth) -> None:
    """A gauge from before the month that comes late moves its own cask alone; once the book has a tenth more gauges
    it is part of what was settled, and most casks' rates move."""
    usual = float(stock.histories.loc[stock.histories["cask"] == GAUGED, "volume_20C_L"].iloc[-1]) * 0.97
    more = gauged(stock, "2025-11-15", fact=998_000, litres=usual)
    count = int((more.histories["kind"] == "gauged").sum())
    assert rung(count) == rung(count + 1) == count
    before, late = rates(more), rates(gauged(more, "2025-12-15"))
    assert before.drop(GAUGED).equals(late.drop(GAUGED)) and not before.equals(late)
    for place in range(count // 10 + 1):
        more = gauged(more, f"2025-{place % 11 + 1:02d}-15", fact=999_000 + place, litres=usual)
    after = rates(more).drop(GAUGED)
    assert (before.drop(GAUGED)["neighbours_percent_per_year"] != after["neighbours_percent_per_year"]).mean() > 0.9


def test_rungs_lie_a_tenth_apart() -> None:
    """Few gauges all count; then at least ten elevenths of them do, and as many for some time."""
    assert [rung(count) for count in (0, 1, 19, 20, 21, 22, 23, 24)] == [0, 1, 19, 20, 20, 22, 22, 24]
    found = [rung(count) for count in range(20, 100_000)]
    assert all(one <= count < one * 1.1 + 1 for one, count in zip(found, range(20, 100_000), strict=True))
    assert found == sorted(found) and len(set(found)) < 100


def test_a_new_month_settles_anew(stock: Truth) -> None:
    """What was measured in a month is part of what the next one settles."""
    later = site_with({}, book_date=date(2026, 2, 1), markets=("US",))
    moved = rates(gauged(stock, "2026-01-15", fact=1), later)
    assert (rates(stock)["neighbours_percent_per_year"] != moved["neighbours_percent_per_year"]).mean() > 0.9
    assert set(moved["loss_settled_on"]) == {pd.Timestamp(2026, 2, 1)}


@pytest.mark.long
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
