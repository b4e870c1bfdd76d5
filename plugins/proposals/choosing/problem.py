"""A brief and its stock as numbers, and what a choice of draws is worth.

A draw y lies between 0 (the cask is left) and 1 (it is emptied). With a_i the alcohol of cask i as a share
of what the batch wants, everything that the law of taste, strength and account asks is linear in y:

- alcohol       low <= sum a_i y_i <= high
- strength      sum a_i surplus_i y_i >= 0, where surplus is kg of water that a kg of the cask's ethanol can
                take before it falls below bottling strength (negative for a cask that is weaker)
- taste         band x_low_f .. x_high_f of family f, on the actual volume: sum a_i y_i (x_if - x_high_f) <= over_f
- groups        only casks of one group (distilling season, distillery) for each claim that wants it
- shares        sum ratio_i y_i >= 0 for each share that a claim asks ("at least 51 % of the alcohol")
- casks         at most so many; whole casks: y is 0 or 1; else a draw is at least ``least_i``

The objective counts, in points of the 0..10 scale: the weighted mean of what goes beyond the band (one
point beyond it counts one; between, along the chord of the law), and small prices for casks, scarce stock
and cost, which decide between choices that taste alike.

Pairs of casks that tasted trials found to bend away from the law are not linear in y. They count in
``deviation`` and ``worth``; ``law`` is the same problem without them, and ``loosened`` a linear one that is
worth no more than any choice with them, for the bound (see there).
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from plugins.proposals.taste.taste import Array, to_intensity, to_x

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
    ratios: Array = field(default_factory=lambda: np.zeros((0, 0)))
    pairs: Ints = field(default_factory=lambda: np.zeros((0, 2), dtype=np.int64))
    bend: Array = field(default_factory=lambda: np.zeros((0, 0)))
    steep: tuple[Array, Array] | None = None

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
        points = np.where(under > 0, (self.band_low - below) / np.where(under > 0, under, 1.0), 0.0), 1.0 / above
        return points if self.steep is None else self.steep

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
        place = np.full(self.size, -1, dtype=np.int64)
        place[keep] = np.arange(len(keep))
        both = (place[self.pairs] >= 0).all(axis=1) if len(self.pairs) else np.zeros(0, dtype=bool)
        ratios = self.ratios[:, keep] if len(self.ratios) else self.ratios
        pairs, bend = place[self.pairs[both]].reshape(-1, 2), self.bend[both]
        return replace(self, names=names, group=self.group[:, keep], ratios=ratios, pairs=pairs, bend=bend, **fewer)

    @property
    def law(self) -> Problem:
        """The same by the law alone, without pairs that bend."""
        return replace(self, pairs=self.pairs[:0], bend=self.bend[:0]) if len(self.pairs) else self


def deviation(problem: Problem, draws: Array) -> float:
    """Weighted mean of what goes beyond the band, in points along the chord; pairs that bend count."""
    if len(problem.pairs):
        return float(bent_deviation(problem, draws[None, :])[0])
    up, down = problem.slopes
    return float(np.maximum(draws @ up, 0.0).sum() + np.maximum(draws @ down, 0.0).sum())


def bent_deviation(problem: Problem, draws: Array) -> Array:
    """The deviation of several choices (m, n), with what pairs add to the law's intensities."""
    share = draws * problem.alcohol
    total = share.sum(axis=1)
    extra = bends(problem, draws)
    low, high = problem.edges
    under, over = problem.per_point
    weight = problem.weight / problem.weight.sum()
    mean = share / np.maximum(total, 1e-12)[:, None]
    top = to_x(to_intensity(mean @ problem.x_over, problem.n) + extra, problem.n)
    bottom = to_x(to_intensity(mean @ problem.x_under, problem.n) + extra, problem.n)
    beyond = np.maximum(top - high, 0.0) * over + np.maximum(low - bottom, 0.0) * under
    return np.asarray(total * (beyond @ weight))


def bends(problem: Problem, draws: Array) -> Array:
    """What pairs add to the intensity of several choices (m, n) by family: coefficient x share x share."""
    share = draws * problem.alcohol
    share = share / np.maximum(share.sum(axis=1), 1e-12)[:, None]
    one, other = problem.pairs.T
    return np.asarray((share[:, one] * share[:, other]) @ problem.bend)


def loosened(problem: Problem) -> Problem:
    """A problem by the law alone that is worth no more than the best choice with pairs that bend.

    Over shares that add up to 1, pair terms of at most b among m casks add at most b (m - 1) / 2m. The band is
    widened by that. With I = x^n and n <= 1, what the bent intensity goes beyond the band is convex in x, so that
    its tangent at the widened edge lies below it; a family with n above 1 does not count at all.
    """
    if not len(problem.pairs):
        return problem
    more, less = _most(problem, problem.bend), _most(problem, -problem.bend)
    under, over = problem.per_point
    low, high = problem.band_low - more, problem.band_high + less
    with np.errstate(divide="ignore", invalid="ignore"):
        power = (1.0 - problem.n) / problem.n
        flat_high = np.where(high > 0.0, (problem.band_high / np.maximum(high, 1e-12)) ** power, 0.0)
        flat_low = np.where(low > 0.0, (problem.band_low / np.where(low > 0.0, low, 1.0)) ** power, 0.0)
    bent = (more > 0.0) | (less > 0.0)
    counts = ~bent | (problem.n <= 1.0)
    steep = (
        np.where(counts, under * np.where(more > 0, flat_low, 1.0), 0.0),
        np.where(counts, over * np.where(less > 0, flat_high, 1.0), 0.0),
    )
    return replace(problem.law, band_low=np.maximum(low, 0.0), band_high=high, steep=steep)


def _most(problem: Problem, bend: Array) -> Array:
    """The most that pair terms can add to each family, over all shares."""
    most = np.zeros(bend.shape[1])
    for at in range(bend.shape[1]):
        up = bend[:, at] > 0.0
        casks = len(np.unique(problem.pairs[up]))
        most[at] = bend[up, at].max() * (casks - 1) / (2 * casks) if casks else 0.0
    return most


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
    if len(problem.ratios) and (problem.ratios @ draws < -slack).any():
        return False
    return deviation(problem, draws) <= problem.most_deviation + slack


def intensities(problem: Problem, x: Array, draws: Array) -> Array:
    """What a choice tastes of by family, from the casks' x (n, F)."""
    share = draws * problem.alcohol
    return to_intensity(share @ x / max(float(share.sum()), 1e-12), problem.n)
