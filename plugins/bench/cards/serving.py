"""Codes on glasses and the order in which each taster takes them.

Orders are a square in which every glass stands in every place, and follows every other, equally often (E. J. Williams
1949); with an odd number of glasses the square and its mirror image together. Fewer tasters get a part of it.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from random import Random

FIRST, LAST = 100, 999


def codes(seed: str, count: int, taken: Collection[str] = ()) -> list[str]:
    """Three-digit codes, no two alike and none a name that is ``taken``; the same seed gives the same ones.

    Raises ValueError where so many are not left.
    """
    random, every = Random(f"codes {seed}"), range(FIRST, LAST + 1)
    first = random.sample(every, count)
    others = [code for code in random.sample(every, len(every)) if code not in first]
    free = [str(code) for code in [*first, *others] if str(code) not in taken]
    if len(free) < count:
        raise ValueError(f"{count} codes are wanted and {len(free)} are left")
    return free[:count]


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
