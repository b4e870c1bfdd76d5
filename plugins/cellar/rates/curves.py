"""The house curve: what gauges tell of all casks alike, settled so that one gauge moves one cask; and its frame.

It is fitted on what was measured before the first day of the book date's month, and of the gauges on those that the
book had when it was last a tenth smaller: a sheet that comes late waits until the house has grown by that much.
"""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from plugins.cellar.rates.pooled import Pooled, Prior, fit
from plugins.cellar.rates.rates import (
    FACTORS,
    REFERENCE_AGE,
    Z95,
    Array,
    Points,
    Settled,
    ages,
    designed,
    levels_of,
    years,
)
from plugins.cellar.rates.slopes import excess, shared_variance

FEW = 20
"""Up to so many gauges all of them count."""
FIGURES = 9
"""The curve is rounded to so many significant figures, so that the order of a sum moves nothing."""


def rung(gauges: int) -> int:
    """So many of the gauges count: the last number on a ladder whose steps are a tenth."""
    if gauges < FEW:
        return gauges
    at = FEW
    while at + at // 10 <= gauges:
        at += at // 10
    return at


def settle(points: Points, fillings: pd.DataFrame, expected: Prior, on: date | None) -> Settled:
    """What the points before a day tell of all fillings; while they give no slope, what all points tell."""
    told = points
    if on is not None:
        told = points.where(points.years < years([on])[0])
        facts = np.sort(told.gauge[told.gauge >= 0])
        told = told.where(told.gauge <= facts[rung(len(facts)) - 1]) if len(facts) else told
    own = told.lines(len(fillings))
    age, known = ages(own, fillings), np.isfinite(own.slope)
    if on is not None and not known.any():
        return settle(points, fillings, expected, None)
    low, high = np.quantile(age[known], (0.05, 0.95)) if known.any() else (REFERENCE_AGE, REFERENCE_AGE)
    scatter = excess(own)
    error, levels = own.variance * scatter, levels_of(fillings)
    fitted = fit(own.slope, error, designed(fillings, np.clip(age, low, high), levels), expected)
    pull = np.where(fitted.used, 1.0 / (np.nan_to_num(error, nan=1.0) + fitted.own**2), 0.0)
    shared = 0.0
    if pull.sum() > 0:
        weight = 1.0 / told.spread**2
        shared = shared_variance(
            told.place, told.years, told.by_instrument, told.instrument, weight, own, pull / pull.sum()
        )
    return Settled(pd.NaT if on is None else pd.Timestamp(on), fitted, levels, scatter, shared, float(low), float(high))


def curve_rows(settled: Settled, fillings: pd.DataFrame, quantity: str, sign: float) -> dict[str, list[Any]]:
    """The rows of ``evaporation``: the house's rate at three years of age, and each level's, with 95 % intervals.

    ``sign``: what a slope is multiplied by to be told (a loss in % is -100 times the slope).
    """
    fitted = settled.fitted
    design = designed(fillings, np.zeros(len(fillings)), settled.levels)
    factors, names = ["house", "age"], ["all", "each year more"]
    casks, between = [int(fitted.used.sum())] * 2, [np.nan, np.nan]
    for factor, levels, code, deviation in zip(FACTORS, settled.levels, design.codes, fitted.between, strict=True):
        factors += [factor] * len(levels)
        names += [str(level) for level in levels]
        casks += np.bincount(code[fitted.used], minlength=len(levels)).tolist()
        between += [float(deviation)] * len(levels)
    told = [_told(settled, at, sign) for at in range(len(factors))]
    count = len(factors)
    return {
        "quantity": [quantity] * count,
        "factor": factors,
        "level": names,
        "casks": casks,
        **{name: [row[at] for row in told] for at, name in enumerate(("rate", "low", "high"))},
        "spread": [value * abs(sign) for value in between],
        "settled_on": [settled.on] * count,
        "term": list(range(1, count + 1)),
        "effect": rounded(fitted.effects).tolist(),
        "covariances": [" ".join(map(repr, rounded(fitted.covariance[at, : at + 1]).tolist())) for at in range(count)],
        "between": rounded(np.array(between)).tolist(),
        **{
            name: [float(rounded(np.array([value]))[0])] * count
            for name, value in (
                ("of_a_cask", fitted.own),
                ("scatter", settled.scatter),
                ("shared", settled.shared),
                ("youngest", settled.youngest),
                ("oldest", settled.oldest),
            )
        },
    }


def rounded(values: Array) -> Array:
    """Values with FIGURES significant figures, half to even."""
    return np.array([float(f"{value:.{FIGURES - 1}e}") for value in values.tolist()])


def _told(settled: Settled, at: int, sign: float) -> tuple[float, float, float]:
    """The rate of one row with the ends of its interval: of a level that of the house with its effect added."""
    fitted = settled.fitted
    places = np.array([at] if at < 2 else [0, at])
    rate = float(fitted.effects[places].sum()) * sign
    own = 0.0 if at == 1 else settled.shared
    half = Z95 * abs(sign) * float(np.sqrt(fitted.covariance[np.ix_(places, places)].sum() + own))
    return rate, rate - half, rate + half


def settled_of(evaporation: pd.DataFrame, quantity: str) -> Settled:
    """The house curve of a quantity (volume or strength) from the frame ``evaporation``."""
    rows = evaporation[evaporation["quantity"] == quantity].sort_values("term")
    lower = [np.array(text.split(), dtype=float) for text in rows["covariances"]]
    covariance = np.zeros((len(rows), len(rows)))
    for at, values in enumerate(lower):
        covariance[at, : at + 1] = covariance[: at + 1, at] = values
    of_factor = [rows[rows["factor"] == factor] for factor in FACTORS]
    between = np.array([part["between"].iloc[0] for part in of_factor])
    one: dict[str, float] = {
        name: float(rows[name].iloc[0]) for name in ("of_a_cask", "scatter", "shared", "youngest", "oldest")
    }
    fitted = Pooled(rows["effect"].to_numpy(float), covariance, between, one.pop("of_a_cask"), np.zeros(0, bool))
    levels = [pd.Index(part["level"].astype(object)) for part in of_factor]
    return Settled(rows["settled_on"].iloc[0], fitted, levels, **one)
