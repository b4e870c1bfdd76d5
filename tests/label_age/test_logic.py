"""Kleene's strong three-valued logic, cell by cell."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from plugins.label_age.facts.logic import (
    FALSE,
    TRUE,
    UNKNOWN,
    both,
    compare,
    either,
    every,
    near,
    negate,
    some,
    truths,
)

F, U, T = FALSE, UNKNOWN, TRUE
AND = {(F, F): F, (F, U): F, (F, T): F, (U, U): U, (U, T): U, (T, T): T}
OR = {(F, F): F, (F, U): U, (F, T): T, (U, U): U, (U, T): T, (T, T): T}


def cell(*values: int) -> np.ndarray:
    return np.array(values, dtype=np.int8)


@pytest.mark.parametrize(("a", "b"), list(itertools.product((F, U, T), repeat=2)))
def test_truth_tables(a: int, b: int) -> None:
    """And, or, and De Morgan's law hold in all nine cells."""
    key = (min(a, b), max(a, b))
    assert both(cell(a), cell(b))[0] == AND[key]
    assert either(cell(a), cell(b))[0] == OR[key]
    assert negate(both(cell(a), cell(b)))[0] == either(negate(cell(a)), negate(cell(b)))[0]


@pytest.mark.parametrize(("a", "b"), [(F, T), (U, U), (T, F)])
def test_negation(a: int, b: int) -> None:
    """Not turns true and false about and leaves unknown."""
    assert negate(cell(a))[0] == b


@pytest.mark.parametrize("members", list(itertools.product((F, U, T), repeat=3)))
def test_quantifiers(members: tuple[int, ...]) -> None:
    """Every is the conjunction of its group and some the disjunction, beside other groups and an empty one."""
    part, starts = cell(T, *members, F), np.array([0, 1, 4, 4, 5])
    assert list(every(part, starts)) == [T, min(members), U, F]
    assert list(some(part, starts)) == [T, max(members), U, F]


def test_truths_of_flags() -> None:
    """True, false and every way to be missing."""
    assert list(truths([True, False, None, float("nan")])) == [T, F, U, U]


@pytest.mark.parametrize(
    ("ordering", "low", "high", "limit", "truth"),
    [
        ("at_least", 3, 3, 3, T), ("at_least", 2.9, 2.9, 3, F), ("at_least", 2.9, 3.1, 3, U), ("at_least", 3, 4, 3, T),
        ("more_than", 3, 3, 3, F), ("more_than", 3.1, 3.1, 3, T), ("more_than", 3, 4, 3, U),
        ("at_most", 3, 3, 3, T), ("at_most", 3.1, 3.1, 3, F), ("at_most", 2, 4, 3, U), ("at_most", 2, 3, 3, T),
        ("less_than", 3, 3, 3, F), ("less_than", 2.9, 2.9, 3, T), ("less_than", 2, 3, 3, U),
        ("at_least", np.nan, np.nan, 3, U), ("at_most", 1, 1, np.nan, U),
    ],
)  # fmt: skip
def test_comparisons_of_bounds(ordering: str, low: float, high: float, limit: float, truth: int) -> None:
    """A number known between bounds is decided only where all of it lies on one side."""
    bound = np.array([limit], dtype=float)
    assert compare(ordering, np.array([low]), np.array([high]), bound, bound)[0] == truth


@pytest.mark.parametrize(
    ("low", "high", "truth"),
    [(39.7, 39.7, T), (40.3, 40.3, T), (39.69, 39.69, F), (40.31, 40.31, F), (39.6, 39.8, U), (39.8, 40.2, T),
     (41, 42, F), (np.nan, np.nan, U)],
)  # fmt: skip
def test_near_includes_both_ends(low: float, high: float, truth: int) -> None:
    """Within 0.3 of 40 takes 39.7 and 40.3 (27 CFR 19.356(d))."""
    assert near(np.array([low]), np.array([high]), 40.0, 0.3, 1e-6)[0] == truth
