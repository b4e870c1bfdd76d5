"""Choices against every possible choice, and the bound that is stated beside them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from plugins.proposals.choosing.plans import Clock, best
from plugins.proposals.choosing.problem import Prices, Problem, allowed, deviation, intensities, worth
from plugins.proposals.choosing.search import beginnings, exchange
from plugins.proposals.choosing.solver import Cut, solve
from tests.proposals.kit import brute, problem
from tests.sets import fifth


def check(made: Problem) -> None:
    plan, least = best(made, 2000, Clock(60.0)), brute(made)
    if plan is None:
        assert least == np.inf
        return
    assert allowed(made, plan.draws)
    assert plan.worth == pytest.approx(least, abs=1e-5)
    assert plan.bound <= least + 1e-6 and plan.proved


@pytest.mark.parametrize("seed", fifth(range(12)))
def test_whole_casks_are_the_best_of_all_subsets(seed: int) -> None:
    """The optimum over all subsets of whole casks, or rightly none."""
    check(problem(seed))


@pytest.mark.parametrize("seed", fifth(range(8)))
def test_part_draws_are_the_best_of_all_subsets(seed: int) -> None:
    """The optimum over all subsets with the best part draws of each, or rightly none."""
    check(problem(seed, n=7, whole=False, max_casks=3))


@pytest.mark.parametrize("seed", fifth(range(6)))
@pytest.mark.parametrize("whole", [True, False])
def test_groups_are_never_mixed(seed: int, whole: bool) -> None:
    """With two claims that each part the casks into groups, still the best of all allowed subsets."""
    random = np.random.default_rng(seed + 100)
    group = random.integers(0, 2, (2, 8)).astype(np.int64)
    group[:, :2] = [[0, 1], [0, 1]]
    check(problem(seed, n=8, whole=whole, group=group, max_casks=4, low=0.6, high=1.4))


@pytest.mark.parametrize("seed", fifth(range(6)))
def test_a_cap_on_deviation_is_kept(seed: int) -> None:
    """The fewest casks within a given deviation are the fewest of all subsets."""
    check(problem(seed, prices=Prices(0.05, 0.1, 0.0, 0.0), most_deviation=0.6))


def test_exchanges_find_allowed_choices() -> None:
    """The quick search gives only allowed choices, never better than the optimum, mostly equal to it."""
    equal = 0
    for seed in range(12):
        made = problem(seed)
        found = exchange(made, beginnings(made, None, 8, 1))
        least = brute(made)
        if found is not None:
            assert allowed(made, found) and worth(made, found) >= least - 1e-9
            equal += worth(made, found) < least + 1e-6
    assert equal >= 8


def test_a_cut_makes_choices_differ() -> None:
    """With a cut of two casks the next choice does without two of the first."""
    made = problem(3)
    first = solve(made, 2000).draws
    assert first is not None
    places = np.flatnonzero(first)
    second = solve(made, 2000, cuts=[Cut(places, 2)]).draws
    assert second is not None and int(second[places].sum()) <= len(places) - 2


def test_the_relaxed_value_bounds_every_choice() -> None:
    """No choice is worth less than the relaxed programme."""
    for seed in range(6):
        made = problem(seed)
        least = brute(made)
        assert solve(made, 1, relax=True).bound <= least + 1e-9


def test_within_the_band_deviation_is_none() -> None:
    """A choice whose intensities lie inside the band deviates by nothing; outside by something."""
    made = problem(0, n=4)
    draws = np.array([1.0, 1.0, 0.0, 0.0])
    tastes = intensities(made, made.x_over, draws)
    inside = bool(((tastes >= made.band_low) & (tastes <= made.band_high)).all())
    assert (deviation(made, draws) < 1e-12) == inside
    wide = problem(0, n=4, band_low=np.zeros(3), band_high=np.full(3, 10.0))
    assert deviation(wide, draws) == 0.0


@pytest.mark.parametrize("n", [30, pytest.param(60, marks=pytest.mark.long)])
def test_equal_problems_give_equal_choices(n: int) -> None:
    """Two searches of one problem, larger than a pool, give the same draws to the bit."""
    made = problem(5, n=n, families=6, low=0.97, high=1.03, alcohol=np.random.default_rng(2).uniform(0.1, 0.3, n))
    one, two = (best(made, 60, Clock(60.0)) for _ in range(2))
    assert one is not None and two is not None and np.array_equal(one.draws, two.draws)


def test_published_charge_of_a_foundry() -> None:
    """A published blending problem comes out at its published optimum.

    Bradley, Hax and Magnanti, Applied Mathematical Programming (1977), section 1.3, data and optimum from memory:
    1,000 lb of castings with 3.25 to 5.5 % silicon and at least 0.45 % manganese from three pig irons and pure
    manganese; 779 lb, 220 lb and 0.11 lb for 25.56 dollars. The two binding rows, solved by hand, agree.
    """
    made = foundry()
    plan = best(made, 2000, Clock(60.0))
    assert plan is not None
    pounds = plan.draws * 1000.0 * made.alcohol
    assert pounds == pytest.approx([779.43, 0.0, 220.46, 0.111], abs=0.01)
    assert worth(made, plan.draws) * 1000.0 == pytest.approx(25.56, abs=0.005)


def foundry() -> Problem:
    content = np.array([[4.0, 0.45], [1.0, 0.5], [0.6, 0.4], [0.0, 100.0]])
    dollars = np.array([21.0, 25.0, 15.0, 8000.0]) / 1000.0 + 0.005
    made = problem(
        0, n=4, families=2, whole=False, alcohol=np.ones(4), surplus=np.ones(4), x_over=content, x_under=content,
        band_low=np.array([3.25, 0.45]), band_high=np.array([5.5, 9.0]), weight=np.ones(2), scarce=np.zeros(4),
        cost=dollars, least=np.zeros(4), low=1.0, high=1.0, max_casks=4, prices=Prices(1000.0, 0.0, 0.0, 1.0),
    )  # fmt: skip
    return replace(made, n=np.ones(2))
