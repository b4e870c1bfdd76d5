"""Designs against their definitions, and the exchange for D-optimal ones against trying every choice."""

from __future__ import annotations

from itertools import combinations_with_replacement, permutations
from math import comb

import numpy as np
import pytest

from plugins.bench.cards import designs
from plugins.bench.cards.designs import CannotDesign
from plugins.bench.cards.optimal import d_optimal, information, terms


@pytest.mark.parametrize(("q", "m"), [(2, 1), (3, 2), (3, 3), (4, 2), (5, 3)])
def test_a_lattice_is_every_mixture_of_equal_steps(q: int, m: int) -> None:
    """{q, m} has C(q+m-1, m) points, each once, of shares 0, 1/m, … 1 that add up to 1 (Scheffé 1958, from memory)."""
    made = designs.simplex_lattice(q, m)
    assert made.shape == (comb(q + m - 1, m), q)
    assert np.allclose(made.sum(axis=1), 1.0) and np.allclose(made * m, np.round(made * m))
    assert len({tuple(row) for row in np.round(made * m).astype(int)}) == len(made)


@pytest.mark.parametrize(("q", "runs"), [(3, 7), (4, 15)])
def test_a_centroid_design_has_as_many_points_as_printed(q: int, runs: int) -> None:
    """NIST/SEMATECH handbook 5.5.4.3: 7 points for q = 3, 15 for q = 4: equal shares of each subset."""
    made = designs.simplex_centroid(q)
    assert len(made) == runs == 2**q - 1
    subsets = {frozenset(np.flatnonzero(row)) for row in made}
    assert len(subsets) == runs
    for row in made:
        assert np.allclose(row[row > 0.0], 1.0 / (row > 0.0).sum())


def test_the_determinant_of_the_3_2_lattice_is_the_one_worked_out() -> None:
    """det(X'X) of the {3, 2} lattice under the quadratic model is 1/4096 (checks file, DOPT-32)."""
    assert information(designs.simplex_lattice(3, 2), "quadratic") == pytest.approx(1.0 / 4096.0, rel=1e-12)


def test_of_many_mixtures_the_lattice_is_chosen() -> None:
    """For the quadratic model of three components the best six of a fine lattice are the {3, 2} lattice."""
    fine = designs.simplex_lattice(3, 4)
    chosen = fine[d_optimal(fine, 6, "quadratic")]
    assert {tuple(row) for row in chosen} == {tuple(row) for row in designs.simplex_lattice(3, 2)}


def test_a_cox_direction_keeps_the_others_ratio() -> None:
    """s = (.5, .3, .2), first one up by .1 → (.6, .24, .16) (checks file, YARN-COX)."""
    made = designs.cox_direction([0.5, 0.3, 0.2], 0, [0.1, -0.5])
    assert np.allclose(made[0], [0.6, 0.24, 0.16])
    assert np.allclose(made[1], [0.0, 0.6, 0.4])
    with pytest.raises(CannotDesign, match="cannot change by that"):
        designs.cox_direction([0.5, 0.3, 0.2], 2, -0.3)
    with pytest.raises(CannotDesign, match="others to give way"):
        designs.cox_direction([1.0, 0.0], 0, -0.1)


def test_cox_directions_add_up_on_random_blends() -> None:
    """Along every direction the shares add up to 1, stay within 0..1, and the others keep their ratios."""
    random = np.random.default_rng(4)
    for _ in range(300):
        start = random.dirichlet(np.ones(int(random.integers(2, 7))))
        at = int(random.integers(len(start)))
        row = designs.cox_direction(start, at, random.uniform(-start[at], 1.0 - start[at]))[0]
        others = [i for i in range(len(start)) if i != at]
        assert row.sum() == pytest.approx(1.0) and (row >= 0.0).all()
        assert np.allclose(row[others] * start[others].sum(), start[others] * row[others].sum(), atol=1e-12)


def test_a_dominant_base_takes_its_additions_in_steps() -> None:
    """The base alone, then each other component in each step; the base gives way."""
    made = designs.dominant_base(3, [0.05, 0.10])
    expected = np.array([[100, 0, 0], [95, 5, 0], [90, 10, 0], [95, 0, 5], [90, 0, 10]])
    assert np.allclose(100.0 * made, expected)


def test_corners_of_a_bounded_region_are_those_published() -> None:
    """McLean and Anderson (1966), flares: .4-.6, .1-.5, .1-.5, .03-.08 has 8 corners and 6 faces (from memory)."""
    made = designs.extreme_vertices([0.40, 0.10, 0.10, 0.03], [0.60, 0.50, 0.50, 0.08])
    expected = {
        (0.40, 0.10, 0.47, 0.03), (0.40, 0.10, 0.42, 0.08), (0.60, 0.10, 0.27, 0.03), (0.60, 0.10, 0.22, 0.08),
        (0.40, 0.47, 0.10, 0.03), (0.40, 0.42, 0.10, 0.08), (0.60, 0.27, 0.10, 0.03), (0.60, 0.22, 0.10, 0.08),
    }  # fmt: skip
    assert {tuple(float(x) for x in np.round(row, 9)) for row in made} == expected
    mixtures = designs.within_bounds([0.40, 0.10, 0.10, 0.03], [0.60, 0.50, 0.50, 0.08])
    assert np.allclose(mixtures.sum(axis=1), 1.0)
    assert (mixtures >= np.array([0.40, 0.10, 0.10, 0.03]) - 1e-12).all()
    with pytest.raises(CannotDesign, match="No mixture keeps these bounds"):
        designs.extreme_vertices([0.5, 0.6], [0.7, 0.9])


@pytest.mark.long
def test_exchanges_find_what_trying_every_choice_finds() -> None:
    """On 200 small sets of mixtures the determinant is that of the best choice of all."""
    random = np.random.default_rng(11)
    tried = 0
    while tried < 200:
        model = ("linear", "quadratic")[tried % 2]
        mixtures = random.dirichlet(np.ones(int(random.integers(2, 5))), int(random.integers(5, 9)))
        needed = terms(mixtures, model).shape[1]
        runs = needed + int(random.integers(0, 2))
        if needed > len(mixtures) or runs > 6:
            continue
        tried += 1
        every = combinations_with_replacement(range(len(mixtures)), runs)
        best = max(information(mixtures[list(some)], model) for some in every)
        assert information(mixtures[d_optimal(mixtures, runs, model)], model) == pytest.approx(best, rel=1e-6)


def test_what_cannot_tell_components_apart_is_refused() -> None:
    """Too few trials for the model, or bounds so tight that nothing varies, are said in words."""
    with pytest.raises(CannotDesign, match="3 trials cannot tell the 6 terms"):
        d_optimal(designs.simplex_lattice(3, 2), 3, "quadratic")
    with pytest.raises(CannotDesign, match="too little room"):
        d_optimal(np.array([[0.5, 0.3, 0.2], [0.5, 0.2, 0.3]]), 4)
    with pytest.raises(CannotDesign, match="too many trials"):
        designs.simplex_centroid(9)


def test_a_ladder_goes_down_in_equal_steps() -> None:
    """3 to 5 strengths, the highest first."""
    assert np.allclose(designs.strength_ladder(52.0, 43.0, 4), [52, 49, 46, 43])
    for wrong in ((40.0, 50.0, 4), (50.0, 40.0, 6)):
        with pytest.raises(CannotDesign):
            designs.strength_ladder(*wrong)


def test_every_order_of_components_is_the_same_design() -> None:
    """Leaving out and equal parts do not hang on which component comes first."""
    start = np.array([0.5, 0.3, 0.2])
    rows = {tuple(np.round(row, 12)) for row in designs.leave_out(start)}
    for order in permutations(range(3)):
        turned = designs.leave_out(start[list(order)])
        back = turned[:, np.argsort(order)]
        assert {tuple(np.round(row, 12)) for row in back} == rows
