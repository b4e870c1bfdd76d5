"""A flight put in order: Friedman's test, and Bradley and Terry's strengths with intervals.

``places`` are (tasters, glasses), 1 the best, equal numbers a tie, NaN where a taster did not place a glass. Of one
taster's order of k glasses all pairs are counted, each as 2/k of a comparison: k glasses in order are k - 1 statements,
not k (k - 1) / 2. Strengths are drawn to each other as by a normal prior, so that a glass that won every time has one.
The tests compare with published values, where the prior is taken away.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import permutations
from math import factorial

import numpy as np

from plugins.bench.answers.compare import Array

PRIOR = 1.5  # standard deviation of log strengths: 1.5 is a preference of 82 in 100 over the average
EXACT = 60_000  # arrangements up to which all are tried
SAMPLED = 20_000
STEPS = 50


@dataclass(frozen=True)
class Order:
    """Friedman's test over the tasters who placed every glass."""

    statistic: float
    p: float
    w: float  # Kendall's coefficient of concordance
    tasters: int
    method: str  # exact, sampled or none


@dataclass(frozen=True)
class Strengths:
    """Log strengths that add up to 0 (k,), their covariance (k, k)."""

    strength: Array
    covariance: Array

    def against(self, one: int, other: int) -> tuple[float, float]:
        """Log odds that glass ``one`` is preferred to ``other``, and its standard error."""
        part = self.covariance[np.ix_([one, other], [one, other])]
        return float(self.strength[one] - self.strength[other]), float(
            np.sqrt(max(part[0, 0] + part[1, 1] - 2.0 * part[0, 1], 0.0))
        )


def ranks(places: Array) -> Array:
    """Places within each taster as ranks, ties sharing the mean; NaN stays."""
    made = np.full(places.shape, np.nan)
    for row, values in enumerate(places):
        known = np.flatnonzero(~np.isnan(values))
        below = (values[known][:, None] > values[known][None]).sum(axis=1)
        equal = (values[known][:, None] == values[known][None]).sum(axis=1)
        made[row, known] = below + (equal + 1) / 2.0
    return made


def friedman(places: Array) -> Order:
    """Whether the tasters put the glasses in an order at all, ties corrected; exact for few."""
    whole = ranks(places[~np.isnan(places).any(axis=1)])
    tasters, glasses = whole.shape
    if tasters < 2 or glasses < 2:
        return Order(float("nan"), 1.0, float("nan"), tasters, "none")
    centred = whole - (glasses + 1) / 2.0
    squares = float((centred**2).sum())
    if squares == 0.0:
        return Order(0.0, 1.0, float("nan"), tasters, "none")
    found = float((centred.sum(axis=0) ** 2).sum())
    statistic = (glasses - 1) * found / squares
    p, method = _chance(centred, found)
    return Order(statistic, p, statistic / (tasters * (glasses - 1)), tasters, method)


def _chance(centred: Array, found: float) -> tuple[float, str]:
    """Probability of so large a sum of squared column sums were each taster's order drawn at random."""
    tasters, glasses = centred.shape
    if glasses <= 8 and factorial(glasses) ** (tasters - 1) <= EXACT:
        sums = centred[:1]
        for row in centred[1:]:
            orders = np.array(list(permutations(row)))
            sums = (sums[:, None, :] + orders[None]).reshape(-1, glasses)
        return float(((sums**2).sum(axis=1) >= found - 1e-9).mean()), "exact"
    drawn = np.random.default_rng(1).permuted(np.broadcast_to(centred, (SAMPLED, tasters, glasses)), axis=2)
    beyond = int(((drawn.sum(axis=1) ** 2).sum(axis=1) >= found - 1e-9).sum())
    return (beyond + 1.0) / (SAMPLED + 1.0), "sampled"


def wins_of(places: Array) -> Array:
    """(glasses, glasses): how often the row's glass was put before the column's, a tie half for each."""
    glasses = places.shape[1]
    wins = np.zeros((glasses, glasses))
    for values in places:
        known = np.flatnonzero(~np.isnan(values))
        if len(known) < 2:
            continue
        own = values[known]
        before = (own[:, None] < own[None]) + 0.5 * (own[:, None] == own[None])
        np.fill_diagonal(before, 0.0)
        wins[np.ix_(known, known)] += before * 2.0 / len(known)
    return wins


def strengths(wins: Array, prior: float | None = PRIOR) -> Strengths:
    """Bradley and Terry's log strengths by Newton's method, adding up to 0.

    Without a prior they exist only where every glass was preferred and passed over at some time.
    """
    size = len(wins)
    held = 0.0 if prior is None else 1.0 / prior**2
    pairs = wins + wins.T
    found = np.zeros(size)
    base = np.full((size, size), 1.0 / size)  # pins the sum, along which nothing is known
    information = base
    for _ in range(STEPS):
        chance = 1.0 / (1.0 + np.exp(np.clip(found[None] - found[:, None], -30.0, 30.0)))
        slope = (wins - pairs * chance).sum(axis=1) - held * found
        weight = pairs * chance * (1.0 - chance)
        information = np.diag(weight.sum(axis=1) + held) - weight
        step = np.linalg.solve(information + base, slope)
        found = found + step
        found -= found.mean()
        if np.abs(step).max() < 1e-12:
            break
    return Strengths(found, np.linalg.inv(information + base) - base)


def one_way(wins: Array) -> bool:
    """Whether some glasses were never put behind any of the others: without a prior there are no strengths."""
    size = len(wins)
    reach = (wins > 0) | np.eye(size, dtype=bool)
    for _ in range(size):
        reach = reach | ((reach.astype(int) @ reach.astype(int)) > 0)
    return bool(not reach.all())


def apart(places: Array, one: int, other: int) -> tuple[float, float, int]:
    """How many places tasters put two glasses of the same apart: the mean, what drawing lots gives, and tasters."""
    whole = ranks(places)
    both = ~np.isnan(whole[:, one]) & ~np.isnan(whole[:, other])
    if not both.any():
        return float("nan"), float("nan"), 0
    glasses = (~np.isnan(whole[both])).sum(axis=1).mean()
    return float(np.abs(whole[both, one] - whole[both, other]).mean()), float((glasses + 1) / 3.0), int(both.sum())
