"""How fast each filling loses volume and changes strength: its own gauges, and what the casks around it tell."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

import numpy as np
import pandas as pd

from plugins.cellar.rates.pooled import Design, Pooled, posterior
from plugins.cellar.rates.slopes import DAYS_PER_YEAR, Lines, lines

Array = np.ndarray
FACTORS = ("warehouse", "floor", "wood")
REFERENCE_AGE = 3.0
Z95 = 1.959963984540054  # standard normal table, two-sided 95 %
START = np.datetime64("2000-01-01", "us")


@dataclass
class Points:
    """The points of one quantity that count, in order of filling and time: place of the filling, years since
    2000, value, standard uncertainty; the instrument (-1 none) and what it does to the value; the newest fact of
    a gauge (-1: of a filling or an inventory)."""

    place: Array
    years: Array
    y: Array
    spread: Array
    instrument: Array
    by_instrument: Array
    gauge: Array

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

    ``levels``: of each factor, as the design of the fit counts them. ``on``: fitted on the points before that day;
    NaT: on all that are known."""

    on: Any
    fitted: Pooled
    levels: list[pd.Index]
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
    rows = in_order(counts, histories, place)
    relative = histories["volume_uncertainty_L"].to_numpy(float)[rows] / litres[rows]
    y = np.log(litres[rows]) + histories["log_shift"].to_numpy(float)[rows]
    none = np.full(len(rows), -1)
    spread = np.hypot(np.nan_to_num(relative, nan=0.03), season)
    at = years(histories["at"].to_numpy()[rows])
    return Points(place[rows], at, y, spread, none, np.zeros(len(rows)), gauges(histories, rows)), rows


def strengths(histories: pd.DataFrame, place: Array, season: float) -> Points:
    """Apparent strengths. [proof]"""
    proof = histories["proof_apparent_60F"].to_numpy(float)
    rows = in_order(np.isfinite(proof), histories, place)
    spread = np.hypot(np.nan_to_num(histories["proof_uncertainty"].to_numpy(float)[rows], nan=0.3), season)
    instrument = pd.factorize(histories["instrument"].iloc[rows])[0]
    by = np.nan_to_num(histories["proof_by_instrument"].to_numpy(float)[rows])
    at = years(histories["at"].to_numpy()[rows])
    return Points(place[rows], at, proof[rows], spread, instrument, by, gauges(histories, rows))


def in_order(counts: Array, histories: pd.DataFrame, place: Array) -> Array:
    """The rows that count, of known fillings, in order of filling and time."""
    rows = np.flatnonzero(counts & (place >= 0))
    return rows[np.lexsort((histories["number"].to_numpy(int)[rows], place[rows]))]


def gauges(histories: pd.DataFrame, rows: Array) -> Array:
    """The newest fact that each row rests on, of those that are gauges; -1 of the others."""
    newest = np.fromiter((max(facts) for facts in histories["facts"].iloc[rows]), np.int64, len(rows))
    return np.where((histories["kind"] == "gauged").to_numpy()[rows], newest, -1)


def course(points: Points, fillings: pd.DataFrame, settled: Settled) -> Course:
    """Each filling's rate: its own points, drawn to what the house knew when its curve was settled."""
    own = points.lines(len(fillings))
    fitted, error = settled.fitted, own.variance * settled.scatter
    age = np.clip(ages(own, fillings), settled.youngest, settled.oldest)
    design = designed(fillings, age, settled.levels)
    slope, variance = posterior(own.slope, error, design, fitted)
    neighbours, between = fitted.predict(design)
    around = between + fitted.own**2 + settled.shared
    return Course(points, own, settled, slope, variance + settled.shared, neighbours, around)


def ages(own: Lines, fillings: pd.DataFrame) -> Array:
    """Age in the middle of each filling's points [years]; the age of reference where it has none."""
    age = own.centre - years(fillings["filled_on"].to_numpy())
    return np.nan_to_num(age, nan=REFERENCE_AGE)


def levels_of(fillings: pd.DataFrame) -> list[pd.Index]:
    """The levels of each factor, in order of fillings."""
    return [pd.Index(fillings[factor].astype(object).unique()) for factor in FACTORS]


def designed(fillings: pd.DataFrame, age: Array, levels: list[pd.Index]) -> Design:
    """Intercept and age as covariates; warehouse, floor and wood as groups."""
    codes = [
        names.get_indexer(pd.Index(fillings[factor].astype(object)))
        for factor, names in zip(FACTORS, levels, strict=True)
    ]
    assert all((code >= 0).all() for code in codes), "a level that the house curve lacks"
    return Design(np.column_stack([np.ones(len(age)), age - REFERENCE_AGE]), codes, [len(names) for names in levels])
