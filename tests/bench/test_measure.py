"""Millilitres that a bench can measure: steps, bases, alcohol shares, water with contraction."""

from __future__ import annotations

import numpy as np
import pytest

from plugins import proof
from plugins.bench.cards.measure import (
    Bench,
    CannotMake,
    blend_abv,
    glass,
    measured,
    premix,
    share_spread,
    too_small,
    water_for,
)


def test_parts_are_whole_steps_and_hold_the_shares_of_alcohol() -> None:
    """On 300 random blends: whole steps, base of 20 ml or more, shares within a twentieth, or half a step."""
    random = np.random.default_rng(2)
    for _ in range(300):
        q = int(random.integers(2, 9))
        shares, strengths = random.dirichlet(np.ones(q) * 2.0) * 0.9 + 0.1 / q, random.uniform(43.0, 66.0, q)
        bench = Bench(step_ml=float(random.choice([0.05, 0.1, 0.5])))
        ml = measured(shares, strengths, bench)
        assert np.allclose(ml / bench.step_ml, np.round(ml / bench.step_ml), atol=1e-6)
        assert ml.max() >= 20.0 - 1e-9
        made = ml * strengths / (ml * strengths).sum()
        assert (np.abs(made / shares - 1.0) <= 0.05 + 0.5 * bench.step_ml / ml).all()


def test_samples_of_unlike_strength_are_not_poured_in_equal_volumes() -> None:
    """Equal shares of alcohol at 50 and 65 % vol are 1.3 to 1 in millilitres (trade notes: bulk 30 % apart)."""
    ml = measured(np.array([0.5, 0.5]), np.array([50.0, 65.0]), Bench())
    assert ml[0] / ml[1] == pytest.approx(1.3, rel=0.01)


def test_parts_under_ten_steps_are_flagged_and_how_to_measure_them_is_right() -> None:
    """Ten steps are enough, nine are not; the stock of one in ten leaves each part as it was asked."""
    assert too_small(np.array([20.0, 1.0, 0.9]), 0.1).tolist() == [False, False, True]
    part, rest = premix(0.4, 0.1)
    assert rest == pytest.approx(9.0 * part) and part >= 1.0 - 1e-9 and part + rest >= 10.0 * 0.4
    # 4 ml of the stock bring 0.4 ml of the part and 3.6 ml of the base
    assert 10.0 * 0.4 * part / (part + rest) == pytest.approx(0.4)


def test_what_cannot_be_measured_is_refused() -> None:
    """A part below one step, a missing strength and a share of nought are said in words."""
    with pytest.raises(CannotMake, match="below the step of 5 ml"):
        measured(np.array([0.995, 0.005]), np.array([60.0, 60.0]), Bench(step_ml=5.0, most_ml=100.0))
    with pytest.raises(CannotMake, match="strength of every sample"):
        measured(np.array([0.5, 0.5]), np.array([60.0, np.nan]), Bench())
    with pytest.raises(CannotMake, match="above nought"):
        measured(np.array([1.0, 0.0]), np.array([60.0, 60.0]), Bench())


def test_errors_of_the_measuring_step_are_those_of_a_simulation() -> None:
    """The spread of shares is that of 20,000 pours each off by up to half a step."""
    ml, strengths = np.array([24.0, 6.0, 1.0]), np.array([62.0, 55.0, 58.0])
    random = np.random.default_rng(5)
    poured = (ml + random.uniform(-0.05, 0.05, (20_000, 3))) * strengths
    shares = poured / poured.sum(axis=1, keepdims=True)
    assert share_spread(ml, strengths, 0.1) == pytest.approx(shares.std(axis=0), rel=0.03)


def test_water_brings_a_glass_to_its_strength() -> None:
    """Spirit and water of a glass, mixed by mass, stand at the nosing strength; contraction takes a little volume."""
    spirit, water = glass(60.0, 20.0, 20.0)
    mass = np.array([
        float(proof.mass_from_volume(spirit / 1000.0, proof.mass_fraction_from_abv(60.0), proof.T_20C)),
        float(proof.mass_from_volume(water / 1000.0, 0.0, proof.T_20C)),
    ])  # fmt: skip
    total, w = proof.mix(mass, np.array([float(proof.mass_fraction_from_abv(60.0)), 0.0]))
    assert float(proof.abv_from_mass_fraction(w)) == pytest.approx(20.0, abs=1e-6)
    assert 1000.0 * float(proof.volume_L(total, w, proof.T_20C)) == pytest.approx(20.0, abs=1e-6)
    assert spirit + water > 20.0
    assert glass(18.0, 20.0, 20.0) == (20.0, 0.0) and water_for(30.0, 40.0, 46.0) == 0.0


def test_a_blend_stands_between_its_samples() -> None:
    """Equal volumes of 50 and 60 % vol stand near 55, a little off by contraction."""
    assert blend_abv(np.array([50.0, 50.0]), np.array([50.0, 60.0])) == pytest.approx(55.0, abs=0.1)
