"""Codes on glasses and the order in which each taster takes them.

Orders are a square in which every glass stands in every place, and follows every other, equally often (E. J. Williams
1949); with an odd number of glasses the square and its mirror image together. Fewer tasters get a part of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from random import Random

FIRST, LAST = 100, 999


def codes(seed: str, count: int) -> list[str]:
    """Three-digit codes, no two alike; the same seed gives the same ones. Raises ValueError beyond 900."""
    return [str(code) for code in Random(f"codes {seed}").sample(range(FIRST, LAST + 1), count)]


def balanced(glasses: int) -> list[list[int]]:
    """All orders of the square, glasses counted from 0."""
    ahead = [0, *(at // 2 + 1 if at % 2 == 0 else glasses - 1 - at // 2 for at in range(glasses - 1))]
    square = [[(place + turn) % glasses for place in ahead] for turn in range(glasses)]
    return square if glasses % 2 == 0 else [*square, *(row[::-1] for row in square)]


def servings(seed: str, glasses: Sequence[str], tasters: int) -> list[list[str]]:
    """For each taster the codes in serving order."""
    random = Random(f"orders {seed}")
    shuffled, rows = list(glasses), balanced(len(glasses))
    random.shuffle(shuffled)
    random.shuffle(rows)
    return [[shuffled[at] for at in rows[number % len(rows)]] for number in range(tasters)]
