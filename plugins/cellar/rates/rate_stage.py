"""The stages ``evaporation`` and ``cask_rates``."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from pipeline import Finding, stage, unite
from pipeline.common.names import folded
from plugins.cellar.casks.names import compiled
from plugins.cellar.declared.frames import EVAPORATION, RATES
from plugins.cellar.rates.curves import curve_rows, settle, settled_of
from plugins.cellar.rates.neighbours import flagged, gained, intervals, told
from plugins.cellar.rates.pooled import Prior
from plugins.cellar.rates.rates import FACTORS, Z95, Course, Points, course, moment, strengths, volumes, years

OWN, HOUSE = "own gauges and casks like it", "house curve: no two gauges of its own"


def places_of(histories: pd.DataFrame, fillings: pd.DataFrame) -> np.ndarray:
    """The row of ``fillings_of_casks`` of each row of another frame."""
    known = pd.Index(folded(fillings["cask"]) + "\x1f" + folded(fillings["filling"]))
    return known.get_indexer(pd.Index(folded(histories["cask"]) + "\x1f" + folded(histories["filling"])))


def loss_points(histories: pd.DataFrame, place: np.ndarray, site: Any) -> tuple[Points, np.ndarray]:
    """The volumes that count, and the history rows that they are; ``place`` is that of ``places_of``."""
    return volumes(histories, place, float(site["plugins.cellar.season_percent"]) / 100.0)


def strength_points(histories: pd.DataFrame, place: np.ndarray, site: Any) -> Points:
    """The strengths that count."""
    return strengths(histories, place, float(site["plugins.cellar.season_proof"]))


def expectation(mean: float, spread: float) -> Prior:
    """The slope expected before any cask told it; a year of age is expected to change it by a fifth of its spread."""
    return Prior(np.array([mean, 0.0]), np.array([spread, spread / 5.0]), scale=spread / 2.0)


@stage(gives=EVAPORATION)
def pool_evaporation(
    cask_histories: pd.DataFrame, fillings_of_casks: pd.DataFrame, site: Any
) -> tuple[pd.DataFrame, list[Finding]]:
    """Histories → the house's yearly loss and change of strength by warehouse, floor, wood and age."""
    findings = _pattern(fillings_of_casks, site)
    if not len(fillings_of_casks):
        return EVAPORATION.empty(), findings
    place = places_of(cask_histories, fillings_of_casks)
    points, _ = loss_points(cask_histories, place, site)
    expected = [
        float(site[f"plugins.cellar.{name}"])
        for name in ("loss_percent_per_year", "loss_spread_percent", "strength_per_year", "strength_spread")
    ]
    by_loss = expectation(-expected[0] / 100.0, max(expected[1] / 100.0, 1e-4))
    loss = settle(points, fillings_of_casks, by_loss, site.book_month)
    points = strength_points(cask_histories, place, site)
    strength = settle(points, fillings_of_casks, expectation(expected[2], max(expected[3], 1e-2)), site.book_month)
    parts = [
        curve_rows(loss, fillings_of_casks, "volume", -100.0),
        curve_rows(strength, fillings_of_casks, "strength", 1.0),
    ]
    columns = {name: parts[0][name] + parts[1][name] for name in EVAPORATION.names}
    groups = _facts_by_level(cask_histories, fillings_of_casks)
    named = zip(columns["factor"], columns["level"], strict=True)
    facts = [groups[pair] if pair[0] in FACTORS else groups["all"] for pair in named]
    return EVAPORATION.build(columns, facts), findings


def _facts_by_level(histories: pd.DataFrame, fillings: pd.DataFrame) -> dict[Any, tuple[int, ...]]:
    """The facts of a level's fillings, by factor and level."""
    made: dict[Any, tuple[int, ...]] = {}
    own = fillings["facts"]
    for factor in FACTORS:
        united = unite(own, by=fillings[factor].astype(object))
        made |= {(factor, str(level)): facts for level, facts in united.items()}
    made["all"] = tuple(sorted({fact for facts in own for fact in facts}))
    return made


@stage(gives=RATES, per="cask")
def fit_rates(
    cask_histories: pd.DataFrame, fillings_of_casks: pd.DataFrame, evaporation: pd.DataFrame, site: Any
) -> tuple[pd.DataFrame, list[Finding]]:
    """Histories and the house curve → each filling's loss and change of strength; losses unlike the neighbours', and
    gains, are told."""
    fillings = fillings_of_casks
    if not len(fillings):
        return RATES.empty(), []
    place = places_of(cask_histories, fillings)
    points, rows = loss_points(cask_histories, place, site)
    loss = course(points, fillings, settled_of(evaporation, "volume"))
    litres = cask_histories["volume_20C_L"].to_numpy(float)[rows]
    parts = intervals(loss)
    spreads, percent = (float(site[f"plugins.cellar.{name}"]) for name in ("apart_spreads", "apart_percent"))
    losses = flagged(parts, loss, spreads, percent)
    gains = gained(parts, spreads, float(site["tolerances.gain_percent"]))
    findings = told(parts, losses, gains, rows, cask_histories, fillings, litres)
    strength = course(strength_points(cask_histories, place, site), fillings, settled_of(evaporation, "strength"))
    columns: dict[str, Any] = {"cask": fillings["cask"], "filling": fillings["filling"]}
    columns |= _loss_columns(loss, _since(loss, parts, losses))
    columns |= _strength_columns(strength)
    worst = np.full(len(fillings), np.nan)
    np.fmax.at(worst, parts.place, parts.apart)
    beyond = np.full(len(fillings), np.nan)
    beyond[parts.place[losses]] = litres[parts.first[losses]] * (parts.lost - parts.expected)[losses]
    columns |= {"apart": worst, "apart_L": beyond}
    columns |= _start_of_estimates(cask_histories, place, columns)
    return RATES.build(columns, _facts(cask_histories, fillings, place)), findings


def _since(loss: Course, parts: Any, losses: np.ndarray) -> Points:
    """The points that count for where a filling stands: after a loss unlike the neighbours' only those since."""
    start = np.full(len(loss.slope), -np.inf)
    start[parts.place[losses]] = loss.points.years[parts.second[losses]]
    keep = loss.points.years >= start[loss.points.place]
    return loss.points.where(keep)


def _loss_columns(loss: Course, points: Points) -> dict[str, Any]:
    """``points``: those that count for where the filling stands; the rate then is the neighbours' where they are
    fewer than all."""
    standing = points.lines(len(loss.slope))
    cut = standing.count < loss.own.count
    slope = np.where(cut, loss.neighbours, loss.slope)
    spread = np.sqrt(np.where(cut, loss.neighbours_variance, loss.slope_variance))
    around = np.sqrt(loss.neighbours_variance)
    return {
        "volume_gauges": loss.own.count,
        "loss_percent_per_year": -100.0 * slope,
        "loss_percent_per_year_low": -100.0 * (slope + Z95 * spread),
        "loss_percent_per_year_high": -100.0 * (slope - Z95 * spread),
        "neighbours_percent_per_year": -100.0 * loss.neighbours,
        "neighbours_percent_per_year_low": -100.0 * (loss.neighbours + Z95 * around),
        "neighbours_percent_per_year_high": -100.0 * (loss.neighbours - Z95 * around),
        "loss_basis": np.where(np.isfinite(loss.own.slope) & ~cut, OWN, HOUSE).astype(object),
        "anchored_at": moment(standing.centre),
        "anchor_log_L": standing.level,
        "anchor_spread": np.sqrt(standing.level_variance * loss.settled.scatter),
        "loss_spread": spread,
        "loss_settled_on": [loss.settled.on] * len(spread),
    }


def _strength_columns(strength: Course) -> dict[str, Any]:
    spread = np.sqrt(strength.slope_variance)
    return {
        "strength_gauges": strength.own.count,
        "strength_per_year": strength.slope,
        "strength_per_year_low": strength.slope - Z95 * spread,
        "strength_per_year_high": strength.slope + Z95 * spread,
        "strength_basis": np.where(np.isfinite(strength.own.slope), OWN, HOUSE).astype(object),
        "strength_at": moment(strength.own.centre),
        "anchor_proof": strength.own.level,
        "anchor_proof_spread": np.sqrt(strength.own.level_variance * strength.settled.scatter),
        "strength_spread": spread,
        "strength_settled_on": [strength.settled.on] * len(spread),
    }


def _start_of_estimates(histories: pd.DataFrame, place: np.ndarray, columns: dict[str, Any]) -> dict[str, Any]:
    """Where no measured volume counts, the last estimate is where the filling stands, as wide as it is."""
    estimates = (histories["basis"] == "estimate").to_numpy() & (place >= 0)
    estimate = histories[estimates].assign(place=place[estimates])
    last = estimate.sort_values("at", kind="stable").drop_duplicates("place", keep="last").set_index("place")
    last = last.reindex(np.arange(len(columns["cask"])))
    need = ~np.isfinite(columns["anchor_log_L"])
    litres = last["volume_20C_L"].to_numpy(float)
    with np.errstate(invalid="ignore", divide="ignore"):
        level = np.log(litres) + last["log_shift"].to_numpy(float)
        wide = last["volume_uncertainty_L"].to_numpy(float) / litres
    at = moment(years(last["at"].to_numpy()))
    return {
        "anchored_at": np.where(need, at, columns["anchored_at"]),
        "anchor_log_L": np.where(need, level, columns["anchor_log_L"]),
        "anchor_spread": np.where(need, wide, columns["anchor_spread"]),
    }


def _facts(histories: pd.DataFrame, fillings: pd.DataFrame, place: np.ndarray) -> pd.Series:
    own = unite(histories["facts"], by=pd.Series(place, index=histories.index)).reindex(np.arange(len(fillings)))
    return unite(fillings["facts"].reset_index(drop=True), own)


def _pattern(fillings: pd.DataFrame, site: Any) -> list[Finding]:
    pattern = site["plugins.cellar.place_pattern"]
    if compiled(pattern) is not None:
        return []
    return [
        Finding(
            code="stock.place-pattern-unusable",
            severity="note",
            message="[plugins.cellar] place_pattern is no regular expression with a group named warehouse; the "
            "default is used.",
            observed=str(pattern),
            expected="a regular expression with (?P<warehouse>…) and, if floors are told, (?P<floor>…)",
            remedy="Correct the pattern in site.toml.",
        )
    ]
