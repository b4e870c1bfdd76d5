"""Levels of tests: chi-square, several looks at once, the smallest error that can be seen.

Only ``scipy.special`` is used, loaded when a test is made.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


def log_chance(squares: ArrayLike, degrees: int) -> Array:
    """Log of the chance that chi-square of so many degrees is larger; finite however large it is."""
    from scipy.special import gammaincc, gammaln

    half, shape = np.asarray(squares, dtype=np.float64) / 2.0, degrees / 2.0
    with np.errstate(divide="ignore", invalid="ignore"):
        exact = np.log(gammaincc(shape, half))
        far = -half + (shape - 1.0) * np.log(half) - gammaln(shape)
    return np.where(half > 300.0, far, exact)


def as_score(log_p: ArrayLike) -> Array:
    """The standard normal score that is as unlikely, both sides together."""
    from scipy.special import ndtri_exp

    return -ndtri_exp(np.minimum(np.asarray(log_p, dtype=np.float64) - np.log(2.0), -np.log(2.0)))


def critical_squares(level: float, degrees: int) -> float:
    """Chi-square of so many degrees that chance passes in the share ``level`` of cases."""
    from scipy.special import chdtri

    return float(chdtri(degrees, level))


def critical_score(level: float, looks: int, degrees: int) -> float:
    """The score that the largest of ``looks`` scores passes by chance in at most the share ``level`` of cases.

    Scores of many figures rest on a few balances. The lesser of two bounds holds whatever they have in
    common: Šidák's for so many looks (1967, from memory), and Scheffé's for any sum of balances (1953, from memory).
    """
    return min(two_sided_score(level, looks), float(np.sqrt(critical_squares(level, degrees))))


def two_sided_score(level: float, looks: int) -> float:
    """The score that the largest of ``looks`` independent scores, either side, passes in this share of cases."""
    from scipy.special import ndtri

    return -float(ndtri((1.0 - (1.0 - level) ** (1.0 / max(looks, 1))) / 2.0))


def log_chance_of_largest(largest: ArrayLike, looks: int) -> Array:
    """Log of the chance that the largest of ``looks`` independent normal scores, either side, is as large: Šidák's."""
    from scipy.special import log_ndtr

    with np.errstate(divide="ignore"):
        one = np.log(2.0) + log_ndtr(-np.asarray(largest, dtype=np.float64))
        # where the chance of one is far below what 1 - (1 - p) can hold, many looks multiply it
        return np.where(one < -30.0, one + np.log(looks), np.log(-np.expm1(looks * np.log1p(-np.exp(one)))))


def of_the_less_likely(one: ArrayLike, other: ArrayLike) -> Array:
    """Log of the chance that the less likely of two independent tests is as unlikely as the less likely of these."""
    least = np.minimum(one, other)
    with np.errstate(divide="ignore"):
        return np.where(least < -30.0, least + np.log(2.0), np.log(-np.expm1(2.0 * np.log1p(-np.exp(least)))))


def of_one_test(level: float) -> float:
    """The level of each of two independent tests that together have this one."""
    return float(1.0 - np.sqrt(1.0 - level))


def one_sided_score(level: float, looks: int) -> float:
    """The score that the largest of ``looks`` independent scores passes on one side in the share ``level`` of cases."""
    from scipy.special import ndtri

    return -float(ndtri(1.0 - (1.0 - level) ** (1.0 / max(looks, 1))))


def power(distance: ArrayLike, level: float, degrees: int) -> Array:
    """Share of errors of so many standard uncertainties of the balances that are found: noncentral chi-square."""
    from scipy.special import chndtr

    return 1.0 - np.asarray(chndtr(critical_squares(level, degrees), degrees, np.square(distance)))


def seen_in_half(level: float, degrees: int) -> float:
    """The error, in standard uncertainties of the balances, that is found in half of the cases."""
    from scipy.special import chndtrinc

    return float(np.sqrt(chndtrinc(critical_squares(level, degrees), degrees, 0.5)))
