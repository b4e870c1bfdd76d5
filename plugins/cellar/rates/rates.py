"""How fast each filling loses volume and changes strength: its own gauges, and what the casks around it tell."""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from plugins.cellar.rates.pooled import Design, Pooled, Prior, fit, posterior
from plugins.cellar.rates.slopes import DAYS_PER_YEAR, Lines, excess, lines, shared_variance

Array = np.ndarray
FACTORS = ("warehouse", "floor", "wood")
REFERENCE_AGE = 3.0
Z95 = 1.959963984540054  # standard normal table, two-sided 95 %
START = np.datetime64("2000-01-01", "us")


@dataclass
class Points:
    """The points of one quantity that count, in order of filling and time: place of the filling, years since
    2000, value, standard uncertainty; the instrument (-1 none) and what it does to the value."""

    place: Array
    years: Array
    y: Array
    spread: Array
    instrument: Array
    by_instrument: Array

    def where(self, keep: Array) -> Points:
        """Those points that ``keep`` marks."""
        return Points(*(getattr(self, item.name)[keep] for item in fields(self)))

    def lines(self, fillings: int) -> Lines:
        """A line through each filling's points."""
        return lines(self.place, self.years, self.y, self.spread, fillings)


@dataclass(frozen=True)
class Settled:
    """What all fillings share of one quantity: the pooled fit, by how much points ``scatter`` more than stated, the
    variance that instruments leave in all rates alike (``shared``), and the ages [years] that known slopes cover.

    ``on``: fitted on the points before that day; None: on all that are known."""

    on: date | None
    fitted: Pooled
    scatter: float
    shared: float
    youngest: float
    oldest: float


@dataclass
class Course:
    """What is known of one quantity of all fillings: own lines, what they share, and each filling's rate with its
    variance; ``neighbours`` what casks like it do (mean and variance)."""

    points: Points
    own: Lines
    settled: Settled
    design: Design
    slope: Array
    slope_variance: Array
    neighbours: Array
    neighbours_variance: Array


def years(moments: Any) -> Array:
    """Years since 2000 of a column of moments."""
    days = (np.asarray(moments, dtype="datetime64[us]") - START) / np.timedelta64(1, "D")
    return np.asarray(days, dtype=float) / DAYS_PER_YEAR


def moment(at: Array) -> Array:
    """The days (midnight) of years since 2000; NaT where NaN."""
    there = np.isfinite(at) & (np.abs(at) < 500.0)
    made = np.full(len(at), np.datetime64("NaT", "us"))
    days = np.round(at[there] * DAYS_PER_YEAR).astype(np.int64).astype("timedelta64[D]")
    made[there] = START + days
    return made


def volumes(histories: pd.DataFrame, place: Array, season: float) -> tuple[Points, Array]:
    """Logarithms of the volumes that count, and the rows of ``cask_histories`` that they are."""
    litres = histories["volume_20C_L"].to_numpy(float)
    counts = (litres > 0) & histories["comparable"].to_numpy(bool) & (histories["basis"] != "estimate").to_numpy()
    rows = np.flatnonzero(counts & (place >= 0))
    relative = histories["volume_uncertainty_L"].to_numpy(float)[rows] / litres[rows]
    y = np.log(litres[rows]) + histories["log_shift"].to_numpy(float)[rows]
    none = np.full(len(rows), -1)
    spread = np.hypot(np.nan_to_num(relative, nan=0.03), season)
    return Points(place[rows], years(histories["at"].to_numpy()[rows]), y, spread, none, np.zeros(len(rows))), rows


def strengths(histories: pd.DataFrame, place: Array, season: float) -> Points:
    """Apparent strengths. [proof]"""
    proof = histories["proof_apparent_60F"].to_numpy(float)
    rows = np.flatnonzero(np.isfinite(proof) & (place >= 0))
    spread = np.hypot(np.nan_to_num(histories["proof_uncertainty"].to_numpy(float)[rows], nan=0.3), season)
    instrument = pd.factorize(histories["instrument"].iloc[rows])[0]
    by = np.nan_to_num(histories["proof_by_instrument"].to_numpy(float)[rows])
    return Points(place[rows], years(histories["at"].to_numpy()[rows]), proof[rows], spread, instrument, by)


def course(points: Points, fillings: pd.DataFrame, expected: Prior, on: date | None) -> Course:
    """Each filling's rate: its own points, drawn to what the house knew on the day ``on``.

    A point of one filling from that day on moves its own rate and no other.
    """
    settled = settle(points, fillings, expected, on)
    own = points.lines(len(fillings))
    fitted, error = settled.fitted, own.variance * settled.scatter
    design = designed(fillings, np.clip(ages(own, fillings), settled.youngest, settled.oldest))
    slope, variance = posterior(own.slope, error, design, fitted)
    neighbours, between = fitted.predict(design)
    around = between + fitted.own**2 + settled.shared
    return Course(points, own, settled, design, slope, variance + settled.shared, neighbours, around)


def settle(points: Points, fillings: pd.DataFrame, expected: Prior, on: date | None) -> Settled:
    """What the points before a day tell of all fillings; while they give no slope, what all points tell."""
    told = points if on is None else points.where(points.years < years([on])[0])
    own = told.lines(len(fillings))
    age, known = ages(own, fillings), np.isfinite(own.slope)
    if on is not None and not known.any():
        return settle(points, fillings, expected, None)
    low, high = np.quantile(age[known], (0.05, 0.95)) if known.any() else (REFERENCE_AGE, REFERENCE_AGE)
    scatter = excess(own)
    error = own.variance * scatter
    fitted = fit(own.slope, error, designed(fillings, np.clip(age, low, high)), expected)
    pull = np.where(fitted.used, 1.0 / (np.nan_to_num(error, nan=1.0) + fitted.own**2), 0.0)
    shared = 0.0
    if pull.sum() > 0:
        weight = 1.0 / told.spread**2
        shared = shared_variance(
            told.place, told.years, told.by_instrument, told.instrument, weight, own, pull / pull.sum()
        )
    return Settled(on, fitted, scatter, shared, float(low), float(high))


def ages(own: Lines, fillings: pd.DataFrame) -> Array:
    """Age in the middle of each filling's points [years]; the age of reference where it has none."""
    age = own.centre - years(fillings["filled_on"].to_numpy())
    return np.nan_to_num(age, nan=REFERENCE_AGE)


def designed(fillings: pd.DataFrame, age: Array) -> Design:
    """Intercept and age as covariates; warehouse, floor and wood as groups."""
    codes, levels = [], []
    for factor in FACTORS:
        code, names = pd.factorize(fillings[factor].astype(object))
        codes.append(code)
        levels.append(len(names))
    return Design(np.column_stack([np.ones(len(age)), age - REFERENCE_AGE]), codes, levels)


def house_rows(found: Course, fillings: pd.DataFrame, quantity: str, sign: float) -> list[dict[str, Any]]:
    """The rows of ``evaporation``: the house's rate at three years of age, and each level's, with 95 % intervals.

    ``sign``: what a slope is multiplied by to be told (a loss in % is -100 times the slope).
    """
    fitted, p = found.settled.fitted, found.design.x.shape[1]
    made = [_house_row(found, quantity, "house", "all", int(fitted.used.sum()), {0: 1.0}, np.nan, sign)]
    made.append(_house_row(found, quantity, "age", "each year more", int(fitted.used.sum()), {1: 1.0}, np.nan, sign))
    start = p
    for at, factor in enumerate(FACTORS):
        code, names = pd.factorize(fillings[factor].astype(object))
        casks = np.bincount(code[fitted.used], minlength=len(names))
        for level, name in enumerate(names):
            weights = {0: 1.0, start + level: 1.0}
            spread = float(fitted.between[at]) * abs(sign)
            made.append(_house_row(found, quantity, factor, str(name), int(casks[level]), weights, spread, sign))
        start += len(names)
    return made


def _house_row(
    found: Course,
    quantity: str,
    factor: str,
    level: str,
    casks: int,
    weights: dict[int, float],
    spread: float,
    sign: float,
) -> dict[str, Any]:
    at, share = np.array(list(weights)), np.array(list(weights.values()))
    fitted = found.settled.fitted
    rate = float(fitted.effects[at] @ share) * sign
    own = 0.0 if factor == "age" else found.settled.shared
    half = Z95 * abs(sign) * float(np.sqrt(share @ fitted.covariance[np.ix_(at, at)] @ share + own))
    return {
        "quantity": quantity,
        "factor": factor,
        "level": level,
        "casks": casks,
        "rate": rate,
        "low": rate - half,
        "high": rate + half,
        "spread": spread,
        "settled_on": found.settled.on,
    }
