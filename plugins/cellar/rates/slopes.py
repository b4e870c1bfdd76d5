"""A weighted straight line through each filling's points: all lines at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

Array = np.ndarray
DAYS_PER_YEAR = 365.25
SHORTEST = 1e-3
"""Spread of the days below which the points of a filling count as one. [year]"""


@dataclass(frozen=True)
class Lines:
    """Per filling (n,): ``count`` of points, ``centre`` (weighted mean day, years), ``level`` there with its
    ``level_variance``, ``slope`` per year with its ``variance`` (NaN with one point or one day), and the chi-square
    ``misfit`` with ``freedom``. ``spread_of_days`` is the sum of weight times squared days."""

    count: Array
    centre: Array
    level: Array
    level_variance: Array
    slope: Array
    variance: Array
    misfit: Array
    freedom: Array
    spread_of_days: Array


def lines(place: Array, years: Array, y: Array, spread: Array, fillings: int) -> Lines:
    """Fit points (place of the filling, years, value, standard uncertainty) by weighted least squares."""
    weight = 1.0 / spread**2

    def total(values: Array) -> Array:
        return np.bincount(place, values, fillings)

    count = np.bincount(place, minlength=fillings)
    with np.errstate(invalid="ignore", divide="ignore"):
        sure = total(weight)
        centre, level, doubt = total(weight * years) / sure, total(weight * y) / sure, 1.0 / sure
        days, off = years - centre[place], y - level[place]
        wide = total(weight * days**2)
        enough = (count > 1) & (wide / sure > SHORTEST**2)
        slope = np.where(enough, total(weight * days * off) / wide, np.nan)
        variance = np.where(enough, 1.0 / wide, np.nan)
        left = off - np.nan_to_num(slope)[place] * days
        misfit = total(weight * left**2)
    freedom = np.where(enough, count - 2, np.maximum(count - 1, 0))
    return Lines(count, centre, level, doubt, slope, variance, misfit, freedom, wide)


def excess(found: Lines) -> float:
    """By how much points scatter more than their uncertainties say: chi-square over its freedom, at least 1.

    Over the fillings with three points and more; the largest hundredth is left out, for a leak is no scatter.
    """
    enough = found.freedom > 0
    if enough.sum() < 10:
        return 1.0
    ratio = found.misfit[enough] / found.freedom[enough]
    keep = ratio <= np.quantile(ratio, 0.99)
    return max(1.0, float(found.misfit[enough][keep].sum() / found.freedom[enough][keep].sum()))


def shared_variance(
    place: Array, years: Array, by_instrument: Array, instrument: Array, weight: Array, found: Lines, pull: Array
) -> float:
    """Variance that instruments shared by many casks leave in the mean slope of them all.

    ``by_instrument`` is what a deviation of the instrument by one standard uncertainty does to each point;
    ``pull`` (per filling) are the weights with which the slopes make up the mean, summing to 1.
    """
    known = np.isfinite(found.slope)[place] & (instrument >= 0)
    if not known.any():
        return 0.0
    at = place[known]
    share = weight[known] * (years[known] - found.centre[at]) / found.spread_of_days[at]
    loads = np.bincount(instrument[known], pull[at] * share * by_instrument[known])
    return float((loads**2).sum())
