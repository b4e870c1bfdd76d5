"""The law of taste against computed check values, and what it must never do."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from plugins.proposals.taste.taste import SCALES, Exponent, exponent, interval, masked, mixed, to_intensity, to_x

# the project's list of checks, rows PL-0.3 to PL-1.3: I = (sum x I^(1/n))^n, computed there
CHECKS = (
    (0.3, 3.0071, 4.9107),
    (0.5, 1.8974, 4.4721),
    (0.8, 0.9509, 4.1282),
    (1.0, 0.6, 4.0),
    (1.3, 0.3007, 3.8776),
)


@pytest.mark.parametrize(("n", "tenth", "half"), CHECKS)
def test_listed_blends_come_out(n: float, tenth: float, half: float) -> None:
    """6 at a tenth in nothing, and 6 with 2 half and half, for each listed exponent."""
    assert mixed([0.1, 0.9], [[6.0], [0.0]], n)[0] == pytest.approx(tenth, abs=5e-5)
    assert mixed([0.5, 0.5], [[6.0], [2.0]], n)[0] == pytest.approx(half, abs=5e-5)


def test_a_tenth_of_a_smoky_cask_is_no_tenth_of_its_smoke() -> None:
    """With the proposed exponent for smoke 6 at 10 % tastes of 1.9, not of 0.6."""
    assert mixed([0.1, 0.9], [[6.0], [0.0]], exponent("smoke_peat").n)[0] == pytest.approx(1.9, abs=0.01)


def test_exponents_are_said_to_be_proposals() -> None:
    """Every family has its exponent inside its range, marked as not measured; the scales blend in proportion."""
    for family in ("smoke_peat", "off_notes", "citrus", *SCALES):
        made = exponent(family)
        assert made.low < made.n < made.high and "not measured" in made.source
    assert {exponent(scale).n for scale in SCALES} == {1.0}


values = st.floats(0.0, 10.0)


@given(st.lists(values, min_size=2, max_size=6), st.floats(0.2, 1.5), st.integers(0, 1000))
def test_a_blend_lies_between_its_casks(parts: list[float], n: float, seed: int) -> None:
    """No blend tastes stronger than its strongest cask or weaker than its weakest; one cask alone as itself."""
    share = np.random.default_rng(seed).dirichlet(np.ones(len(parts)))
    made = mixed(share, np.array(parts)[:, None], n)[0]
    assert min(parts) - 1e-9 <= made <= max(parts) + 1e-9
    assert mixed([1.0], [[parts[0]]], n)[0] == pytest.approx(parts[0], abs=1e-9)


@given(st.lists(values, min_size=2, max_size=5), st.integers(0, 1000))
def test_the_interval_holds_the_prediction(parts: list[float], seed: int) -> None:
    """low <= mean <= high, within 0 and 10, and exact profiles with an exact exponent leave none."""
    share = np.random.default_rng(seed).dirichlet(np.ones(len(parts)))
    mean = np.array(parts)[:, None]
    low, high = interval(share, mean, np.maximum(mean - 1, 0), np.minimum(mean + 1, 10), [exponent("citrus")])
    middle = mixed(share, mean, np.array([exponent("citrus").n]))
    assert 0 <= low[0] <= middle[0] + 1e-9 and middle[0] - 1e-9 <= high[0] <= 10
    sure = Exponent(0.6, 0.6, 0.6)
    low, high = interval(share, mean, mean, mean, [sure])
    assert high[0] - low[0] == pytest.approx(0.0, abs=1e-9)


def test_x_and_intensity_are_inverse() -> None:
    """To x and back is the same intensity; what is missing stays missing."""
    made = to_intensity(to_x([0.0, 2.5, 10.0, np.nan], 0.6), 0.6)
    assert made[:3] == pytest.approx([0.0, 2.5, 10.0]) and np.isnan(made[3])


def test_what_a_strong_neighbour_masks_is_named() -> None:
    """Beyond the four strongest aromas those that are there count as masked; scales mask nothing."""
    families = ["smoke_peat", "citrus", "spice", "oak_wood", "honey_wax", "floral_leafy", "body"]
    assert masked(families, np.array([6.0, 4.0, 3.5, 3.0, 2.0, 0.4, 9.0])) == ["honey_wax"]
