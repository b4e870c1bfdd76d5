"""Kleene's three-valued logic over arrays.

A truth is an int8: FALSE 0, UNKNOWN 1, TRUE 2. *And* is the least, *or* the greatest, *not* the
mirror image, so an unknown fact decides nothing unless the known ones already have.
"""

from __future__ import annotations

from functools import reduce
from typing import Any

import numpy as np

FALSE, UNKNOWN, TRUE = 0, 1, 2
WORDS = {FALSE: "not met", UNKNOWN: "cannot tell", TRUE: "met"}


def truths(values: Any) -> np.ndarray:
    """Truths from booleans where None or NA is unknown; shape kept, dtype int8."""
    given = np.asarray(values, dtype=object)
    flat = [UNKNOWN if v is None or str(v) in ("<NA>", "nan") else TRUE if v else FALSE for v in given.ravel()]
    return np.array(flat, dtype=np.int8).reshape(given.shape)


def both(*parts: np.ndarray) -> np.ndarray:
    """Conjunction, element by element."""
    return reduce(np.minimum, parts)


def either(*parts: np.ndarray) -> np.ndarray:
    """Disjunction, element by element."""
    return reduce(np.maximum, parts)


def negate(part: np.ndarray) -> np.ndarray:
    """Negation, element by element."""
    return (2 - part).astype(np.int8)


def every(part: np.ndarray, starts: np.ndarray) -> np.ndarray:
    """Conjunction within each group of consecutive rows.

    ``starts`` has one more entry than there are groups: group i is ``starts[i]:starts[i+1]``. A
    group without rows is UNKNOWN: nothing is shown by nothing.
    """
    return _within_groups(np.minimum, part, starts)


def some(part: np.ndarray, starts: np.ndarray) -> np.ndarray:
    """Disjunction within each group, as ``every``."""
    return _within_groups(np.maximum, part, starts)


def _within_groups(operation: Any, part: np.ndarray, starts: np.ndarray) -> np.ndarray:
    result = np.full(len(starts) - 1, UNKNOWN, dtype=np.int8)
    filled = starts[1:] > starts[:-1]
    if filled.any():
        result[filled] = operation.reduceat(part, starts[:-1][filled])
    return result


def compare(
    ordering: str, low: np.ndarray, high: np.ndarray, limit_low: Any, limit_high: Any, slack: float = 0.0
) -> np.ndarray:
    """Whether a number known to lie in [low, high] keeps to a limit known to lie in [limit_low, limit_high].

    ``slack`` absorbs the last digits of floating-point arithmetic, in the number's own unit, and is
    no tolerance of law. NaN is unknown.
    """
    if ordering in ("at_most", "less_than"):
        return compare(
            "at_least" if ordering == "at_most" else "more_than",
            -np.asarray(high), -np.asarray(low), -np.asarray(limit_high), -np.asarray(limit_low), slack,
        )  # fmt: skip
    edge = -slack if ordering == "at_least" else slack
    with np.errstate(invalid="ignore"):
        if ordering == "at_least":
            sure, out = low >= limit_high + edge, high < limit_low + edge
        else:
            sure, out = low > limit_high + edge, high <= limit_low + edge
    return settle(sure, out)


def near(low: np.ndarray, high: np.ndarray, centre: Any, reach: float, slack: float = 0.0) -> np.ndarray:
    """Whether a number in [low, high] lies within ``reach`` of ``centre``, both ends included."""
    with np.errstate(invalid="ignore"):
        nearest = np.maximum(np.maximum(low - centre, centre - high), 0.0)
        furthest = np.maximum(np.abs(low - centre), np.abs(high - centre))
        return settle(furthest <= reach + slack, nearest > reach + slack)


def settle(sure: Any, out: Any) -> np.ndarray:
    """TRUE where sure, FALSE where out, else UNKNOWN."""
    result = np.full(np.broadcast(sure, out).shape, UNKNOWN, dtype=np.int8)
    result[np.broadcast_to(sure, result.shape)] = TRUE
    result[np.broadcast_to(out, result.shape)] = FALSE
    return result
