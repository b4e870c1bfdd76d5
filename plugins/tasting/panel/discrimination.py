"""Discrimination and preference tests: exact binomial counts, and what they mean as a distance (d').

Triangle: chance of a right guess 1/3; duo-trio, paired comparison and preference: 1/2. Replicates of one
person may be pooled to claim a difference, not to claim likeness. Standards: ISO 4120 (triangle), ISO 10399
(duo-trio), ISO 5495 (paired comparison); the tests compare with published tables.
"""

from __future__ import annotations

from math import comb, erf, exp, pi, sqrt

TRIANGLE, PAIR = 1 / 3, 1 / 2
STEPS = 4000
FARTHEST = 12.0


def tail(right: int, of: int, chance: float) -> float:
    """Probability of ``right`` or more right answers by guessing."""
    return sum(comb(of, hits) * chance**hits * (1 - chance) ** (of - hits) for hits in range(right, of + 1))


def two_sided(more: int, of: int) -> float:
    """Probability of a split as uneven as ``more`` of ``of``, either way, where nobody prefers anything."""
    return min(1.0, 2.0 * tail(max(more, of - more), of, PAIR))


def least_right(of: int, chance: float, risk: float) -> int | None:
    """Fewest right answers that show a difference at a risk (one-sided); None where even all do not."""
    return next((right for right in range(of + 1) if tail(right, of, chance) <= risk), None)


def power(of: int, chance: float, risk: float, true_share: float) -> float:
    """Probability that ``of`` answers show a difference where the share of right answers is ``true_share``."""
    least = least_right(of, chance, risk)
    return 0.0 if least is None else tail(least, of, true_share)


def _normal(x: float) -> float:
    return 0.5 * (1.0 + erf(x / sqrt(2.0)))


def _density(x: float) -> float:
    return exp(-x * x / 2.0) / sqrt(2.0 * pi)


def _integral(function, low: float, high: float) -> float:  # type: ignore[no-untyped-def]
    """Simpson's rule."""
    step = (high - low) / STEPS
    total = function(low) + function(high)
    total += sum((4 if place % 2 else 2) * function(low + place * step) for place in range(1, STEPS))
    return float(total * step / 3.0)


def share_right(method: str, distance: float) -> float:
    """Share of right answers at a distance d' between two samples: pair, duo-trio, triangle or three (3-AFC)."""
    if method == "pair":
        return _normal(distance / sqrt(2.0))
    if method == "duo-trio":
        a, b = _normal(distance / sqrt(2.0)), _normal(distance / sqrt(6.0))
        return 1.0 - a - b + 2.0 * a * b
    if method == "three":
        return _integral(lambda x: _normal(x) ** 2 * _density(x - distance), -8.0, 8.0 + distance)
    if method == "triangle":

        def odd_one(z: float) -> float:
            root = sqrt(2.0 / 3.0) * distance
            return 2.0 * (_normal(-z * sqrt(3.0) + root) + _normal(-z * sqrt(3.0) - root)) * _density(z)

        return _integral(odd_one, 0.0, 8.0)
    raise ValueError(f"no method {method!r}; known are pair, duo-trio, triangle, three")


def distance(method: str, share: float) -> float:
    """d' at which a share of answers is right; 0 where the share is no more than chance."""
    low, high = 0.0, FARTHEST
    if share <= share_right(method, 0.0):
        return 0.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if share_right(method, middle) < share else (low, middle)
    return 0.5 * (low + high)
