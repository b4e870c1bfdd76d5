"""A brief and its stock as numbers, and what a choice of draws is worth.

A draw y lies between 0 (the cask is left) and 1 (it is emptied). With a_i the alcohol of cask i as a share
of what the batch wants, everything that the law of taste, strength and account asks is linear in y:

- alcohol       low <= sum a_i y_i <= high
- strength      sum a_i surplus_i y_i >= 0, where surplus is kg of water that a kg of the cask's ethanol can
                take before it falls below bottling strength (negative for a cask that is weaker)
- taste         band x_low_f .. x_high_f of family f, on the actual volume: sum a_i y_i (x_if - x_high_f) <= over_f
- groups        only casks of one group (distilling season, distillery) for each claim that wants it
- casks         at most so many; whole casks: y is 0 or 1; else a draw is at least ``least_i``

The objective counts, in points of the 0..10 scale: the weighted mean of what goes beyond the band (one
point beyond it counts one; between, along the chord of the law), and small prices for casks, scarce stock
and cost, which decide between choices that taste alike.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from plugins.proposals.taste import Array, to_intensity, to_x

Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Prices:
    """What counts beside deviation, in points: one cask more, a batch all of scarce stock, of twice the mean cost."""

    deviation: float = 1.0
    cask: float = 0.0
    scarce: float = 0.0
    cost: float = 0.0


@dataclass(frozen=True)
class Problem:
    """Arrays over n casks and F families; see the module. ``x_over`` and ``x_under`` are the casks' x as the upper

    and the lower edge of the band see it (the same, unless a choice shall hold at the ends of the intervals).
    ``group`` (claims, n) numbers the casks' groups; -1 where a claim knows none.
    """

    names: tuple[str, ...]
    alcohol: Array
    surplus: Array
    x_over: Array
    x_under: Array
    band_low: Array
    band_high: Array
    n: Array
    weight: Array
    scarce: Array
    cost: Array
    least: Array
    group: Ints
    low: float
    high: float
    max_casks: int
    whole: bool
    prices: Prices
    most_deviation: float = np.inf

    @property
    def size(self) -> int:
        return len(self.names)

    @property
    def edges(self) -> tuple[Array, Array]:
        """x of the band's lower and upper edge."""
        return to_x(self.band_low, self.n), to_x(self.band_high, self.n)

    @property
    def per_point(self) -> tuple[Array, Array]:
        """Points per unit of x below and above the band: the chord over one point beyond the edge."""
        low, high = self.edges
        below = np.maximum(self.band_low - 1.0, 0.0)
        under = low - to_x(below, self.n)
        above = to_x(self.band_high + 1.0, self.n) - high
        return np.where(under > 0, (self.band_low - below) / np.where(under > 0, under, 1.0), 0.0), 1.0 / above

    @property
    def draw_price(self) -> Array:
        """What drawing each cask whole counts, beside the price of a cask."""
        return self.alcohol * (self.prices.scarce * self.scarce + self.prices.cost * self.cost)

    @property
    def slopes(self) -> tuple[Array, Array]:
        """(n, F) what drawing each cask whole adds to 'above the band' and 'below the band', in weighted points."""
        low, high = self.edges
        under, over = self.per_point
        share = self.weight / self.weight.sum()
        up = self.alcohol[:, None] * (self.x_over - high) * over * share
        down = self.alcohol[:, None] * (low - self.x_under) * under * share
        return up, down

    def only(self, keep: Array) -> Problem:
        """The same with fewer casks; ``keep`` are their places."""
        parts = ("alcohol", "surplus", "x_over", "x_under", "scarce", "cost", "least")
        fewer = {name: getattr(self, name)[keep] for name in parts}
        names = tuple(self.names[place] for place in keep)
        return replace(self, names=names, group=self.group[:, keep], **fewer)


def deviation(problem: Problem, draws: Array) -> float:
    """Weighted mean of what goes beyond the band, in points along the chord."""
    up, down = problem.slopes
    return float(np.maximum(draws @ up, 0.0).sum() + np.maximum(draws @ down, 0.0).sum())


def worth(problem: Problem, draws: Array) -> float:
    """The objective of a choice; it says nothing of whether the choice is allowed."""
    prices = problem.prices
    casks = int((draws > 1e-9).sum())
    return float(prices.deviation * deviation(problem, draws) + prices.cask * casks + float(draws @ problem.draw_price))


def allowed(problem: Problem, draws: Array, slack: float = 1e-6) -> bool:
    """Whether a choice keeps every demand."""
    used = draws > 1e-9
    alcohol = float(draws @ problem.alcohol)
    if not problem.low - slack <= alcohol <= problem.high + slack:
        return False
    if float(draws @ (problem.alcohol * problem.surplus)) < -slack or used.sum() > problem.max_casks:
        return False
    if problem.whole and (np.abs(draws[used] - 1.0) > slack).any():
        return False
    if (draws[used] < problem.least[used] - slack).any() or (draws > 1.0 + slack).any():
        return False
    if any(len(set(groups[used])) > 1 for groups in problem.group):
        return False
    return deviation(problem, draws) <= problem.most_deviation + slack


def intensities(problem: Problem, x: Array, draws: Array) -> Array:
    """What a choice tastes of by family, from the casks' x (n, F)."""
    share = draws * problem.alcohol
    return to_intensity(share @ x / max(float(share.sum()), 1e-12), problem.n)
