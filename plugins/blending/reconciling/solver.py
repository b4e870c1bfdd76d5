"""Reconciling measured figures with balances that must close: weighted least squares, by successive linearisation.

A figure is measured with an error of its own and with errors that it shares with others, so that the
covariance of all figures is diag(own²) + shared · sharedᵀ, which is never written out. A balance is a
sum of figures and of products of two figures (a mass times a strength) that must be nought. A loss is
a figure that nobody measured: its prior lies on one side of nought.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Places = NDArray[np.intp]
MOST_STEPS = 100
SETTLED, SETTLED_BACK = 1e-12, 0.25
# Of the balances' mean variance: keeps balances of figures that are all exact from being divided by nought.
RIDGE = 1e-14
# From so many balances on, of which each knows few figures, most products are with nought.
MANY = 40


class DoesNotSettle(ArithmeticError):
    """Successive linearisation found no figures that close the balances."""


@dataclass(frozen=True)
class Figures:
    """Measured figures, one entry each.

    Attributes: ``value``; ``own``, the standard uncertainty that it shares with nothing; ``shared``, a
    row per figure and a column per effect, what one standard uncertainty of the effect does to it;
    ``losses``, places of figures that are losses, whose prior is half-normal: ``value`` 0 and ``own``
    its scale.
    """

    value: Array
    own: Array
    shared: Array
    losses: Places

    def covariance_with(self, slopes: Array, own: Array | None = None) -> Array:
        """Covariance of the figures with sums of them; ``slopes`` has a row per sum. (figures × sums)"""
        alone = self.own if own is None else own
        across = slopes.T
        return np.asarray(np.square(alone)[:, None] * across + self.shared @ (self.shared.T @ across))

    def variance_of(self, slopes: Array, own: Array) -> Array:
        """Covariance of sums of the figures; ``slopes`` has a row per sum. (sums × sums)"""
        alone, shared = slopes * own, slopes @ self.shared
        if slopes.shape[0] < MANY:
            return np.asarray(alone @ alone.T + shared @ shared.T)
        from scipy.sparse import csr_array

        few = csr_array(alone)
        return np.asarray((few @ few.T).toarray() + shared @ shared.T)


@dataclass(frozen=True)
class Balances:
    """Sums that must be nought: in balance ``row``, ``sign`` times figure ``first``, times ``second`` unless −1."""

    count: int
    row: Places
    sign: Array
    first: Places
    second: Places

    def misfit(self, value: Array) -> Array:
        """By how much each balance misses."""
        other = np.where(self.second < 0, 1.0, value[self.second])
        return np.asarray(np.bincount(self.row, self.sign * value[self.first] * other, self.count), dtype=np.float64)

    def slopes(self, value: Array) -> Array:
        """Change of each balance with each figure. (balances × figures)"""
        made = np.zeros((self.count, value.size))
        other = np.where(self.second < 0, 1.0, value[self.second])
        np.add.at(made, (self.row, self.first), self.sign * other)
        two = self.second >= 0
        np.add.at(made, (self.row[two], self.second[two]), self.sign[two] * value[self.first[two]])
        return made


@dataclass(frozen=True)
class Reconciled:
    """What least squares makes of figures and balances.

    Attributes: ``value`` and ``uncertainty`` of each figure; ``squares``, the weighted sum of squares,
    chi-square of as many degrees as there are balances where there are no losses; ``slopes`` of the
    balances at the solution; ``steps`` taken.
    """

    value: Array
    uncertainty: Array
    squares: float
    slopes: Array
    steps: int


def reconcile(figures: Figures, balances: Balances) -> Reconciled:
    """The figures nearest to the measured ones that close every balance, no loss being negative.

    Nearest by (x − y)ᵀ S⁻¹ (x − y), S the covariance, a loss counting as (loss / scale)². A loss that would
    come out negative is held at nought, the largest first. Uncertainties are first order at the solution;
    losses enter them with the scale of their prior, without its side. Raises ``DoesNotSettle``.
    """
    held = np.zeros(figures.value.size, dtype=bool)
    for _ in range(figures.losses.size + 1):
        made = _closed(figures, balances, np.where(held, 0.0, figures.own))
        negative = figures.losses[made.value[figures.losses] < 0.0]
        if not negative.size:
            break
        held[negative[np.argmin(made.value[negative] / figures.own[negative])]] = True
    return replace(made, uncertainty=_spread(figures, made.slopes))


def _closed(figures: Figures, balances: Balances, own: Array) -> Reconciled:
    """The solution where every loss may have either sign and those with ``own`` 0 stay as they are."""
    measured = figures.value
    value = measured.copy()
    size = np.abs(measured).max(initial=1.0)
    last = np.zeros(measured.size)
    for step in range(1, MOST_STEPS + 1):
        slopes = balances.slopes(value)
        short = balances.misfit(value) + slopes @ (measured - value)
        weight = np.linalg.solve(ridged(figures.variance_of(slopes, own)), short)
        change = measured - figures.covariance_with((weight @ slopes)[None, :], own)[:, 0] - value
        # where a step turns back on the one before, as products of two large errors do, half of it settles sooner
        back = float(change @ last) < -SETTLED_BACK * float(last @ last)
        last = change
        value = value + (0.5 * change if back else change)
        if np.abs(change).max(initial=0.0) <= SETTLED * size:
            return Reconciled(value, np.zeros(value.size), float(short @ weight), balances.slopes(value), step)
    raise DoesNotSettle(f"no figures close the balances after {MOST_STEPS} steps")


def _spread(figures: Figures, slopes: Array) -> Array:
    """Standard uncertainty of reconciled figures: what the balances take off the measured ones."""
    across = figures.covariance_with(slopes)
    less = (across * np.linalg.solve(ridged(slopes @ across), across.T).T).sum(axis=1)
    variance = np.square(figures.own) + np.square(figures.shared).sum(axis=1)
    return np.asarray(np.sqrt(np.maximum(variance - less, 0.0)))


def ridged(variance: Array) -> Array:
    """A covariance of balances that can be divided by."""
    diagonal = np.diag(variance)
    return variance + np.diag(RIDGE * np.maximum(diagonal, diagonal.mean()) + np.finfo(float).tiny)
