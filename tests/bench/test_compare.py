"""Paired comparisons: published tables of exact tests, intervals, and what few tasters can show."""

from __future__ import annotations

import numpy as np
import pytest

from plugins.bench.answers.compare import (
    compare,
    holm,
    least_shown,
    share_interval,
    sign_flips,
    tail,
    to_settle,
    two_sided,
)

# exact binomial (definition; project list of checks, rows BINOM): preferred, of, one-sided
ONE_SIDED = [
    (3, 3, 0.125), (4, 4, 0.0625), (5, 5, 0.03125), (4, 5, 0.1875), (6, 6, 0.015625), (5, 6, 0.109375),
    (7, 7, 0.0078125), (6, 7, 0.0625), (8, 9, 0.01953), (9, 10, 0.01074), (8, 10, 0.05469), (10, 12, 0.01929),
]  # fmt: skip
# sign test, fewer signs at two-sided 1, 2, 5, 10 % (Elementary Statistics, table A-7): n, counts, None where none
SIGN = [
    (12, 1, 1, 2, 2), (14, 1, 2, 2, 3), (15, 2, 2, 3, 3), (16, 2, 2, 3, 4), (17, 2, 3, 4, 4), (18, 3, 3, 4, 5),
    (20, 3, 4, 5, 5), (21, 4, 4, 5, 6), (22, 4, 5, 5, 6), (23, 4, 5, 6, 7),
]  # fmt: skip
# paired preference, two-sided 5 % (public teaching note on ISO 5495): n, least who must prefer one
PREFERENCE = [
    (20, 15),
    (30, 21),
    (40, 27),
    (50, 33),
    (60, 39),
    (6, 6),
    (7, 7),
    (8, 8),
    (9, 8),
    (10, 9),
    (12, 10),
    (15, 12),
]


@pytest.mark.parametrize(("more", "of", "p"), ONE_SIDED)
def test_exact_binomial(more: int, of: int, p: float) -> None:
    """The exact probabilities of the list of checks, one-sided and doubled."""
    assert tail(more, of) == pytest.approx(p, abs=6e-6)
    assert two_sided(more, of) == pytest.approx(2 * p, abs=1.2e-5)


def test_a_page_that_prints_another_figure() -> None:
    """7 of 8: 0.0352 one-sided as printed (hyperstat B168076); two-sided 0.0703, where that page prints 0.0732."""
    assert round(tail(7, 8), 4) == 0.0352 and round(two_sided(7, 8), 4) == 0.0703


@pytest.mark.parametrize(("n", "one", "two", "five", "ten"), SIGN)
def test_sign_table(n: int, one: int, two: int, five: int, ten: int) -> None:
    """The printed critical values of the sign test are the exact ones."""
    for risk, fewer in ((0.01, one), (0.02, two), (0.05, five), (0.10, ten)):
        assert least_shown(n, risk) == n - fewer


@pytest.mark.parametrize(("n", "least"), PREFERENCE)
def test_preference_table(n: int, least: int) -> None:
    """The printed counts for a preference at 5 %, two-sided."""
    assert least_shown(n) == least


@pytest.mark.parametrize("n", [1, 2, 3, 4, 5])
def test_five_tasters_cannot_show_a_preference(n: int) -> None:
    """Up to five tasters, even all of them, never show a preference at 5 % two-sided."""
    assert least_shown(n) is None and compare(np.ones(n)).p > 0.05


def test_interval_of_a_share() -> None:
    """Clopper and Pearson: of 5 of 5 the lower end is 0.025^(1/5); of 0 of 5 the mirror image; of none everything."""
    assert share_interval(5, 5) == (pytest.approx(0.025**0.2), 1.0)
    assert share_interval(0, 5) == (0.0, pytest.approx(1 - 0.025**0.2))
    assert share_interval(0, 0) == (0.0, 1.0)


def test_interval_covers() -> None:
    """Over all outcomes of 7 tasters the interval holds the true share at least 95 times in 100."""
    for true in (0.5, 0.7, 0.9):
        inside = [low <= true <= high for low, high in (share_interval(k, 7) for k in range(8))]
        chance = [tail(k, 7, true) - tail(k + 1, 7, true) for k in range(8)]
        assert sum(c for c, held in zip(chance, inside, strict=True) if held) >= 0.95


def test_ties_prefer_neither() -> None:
    """Who puts both alike is counted as a tie and not as a preference."""
    made = compare(np.array([1.0, 0.0, -1.0, 1.0]))
    assert (made.preferred, made.of, made.ties) == (2, 3, 1)


def test_all_signs() -> None:
    """Five differences all one way: 2 of 32 arrangements are as far; a mean of nought: all are."""
    assert sign_flips(np.array([1.0, 2.0, 0.5, 3.0, 1.0])) == 2 / 32
    assert sign_flips(np.array([1.0, -1.0])) == 1.0


def test_no_false_alarm() -> None:
    """Where tasters choose by lot, no more than one comparison in twenty shows a preference."""
    rng = np.random.default_rng(3)
    shown = [compare(rng.choice([-1.0, 1.0], 9)).p <= 0.05 for _ in range(2000)]
    assert np.mean(shown) <= 0.05


def test_tasters_to_settle() -> None:
    """At 0.8 the power of 20 two-sided is 0.80: 20 settle it; halves cannot be settled; all of one mind need 6."""
    assert to_settle(1.0) == 6 and to_settle(0.5) is None and to_settle(0.2) == to_settle(0.8)
    found = to_settle(0.8)
    assert found is not None
    for n in range(found, found + 40):
        least = least_shown(n)
        assert least is not None and tail(least, n, 0.8) >= 0.8
    before = least_shown(found - 1)
    assert before is None or tail(before, found - 1, 0.8) < 0.8


def test_holm_is_for_all_together() -> None:
    """Holm's steps: the least times their number, and never falling."""
    assert holm([0.01, 0.04, 0.03]) == [pytest.approx(0.03), pytest.approx(0.06), pytest.approx(0.06)]
