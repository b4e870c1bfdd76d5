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
    from scipy.special import ndtri

    alone = 1.0 - (1.0 - level) ** (1.0 / max(looks, 1))
    return min(-float(ndtri(alone / 2.0)), float(np.sqrt(critical_squares(level, degrees))))


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
