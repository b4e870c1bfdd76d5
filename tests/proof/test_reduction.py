"""Reduction in steps, the trim after the gauge, and filling a volume."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from plugins.proof import T_60F, mass_fraction_from_proof, mix, proof_from_mass_fraction, volume_L, water_to_reach
from plugins.proof.alcoholometry.mixing import ROUNDING
from plugins.proof.alcoholometry.reduction import reduction_steps, to_fill, trim

HIGH, LOW = mass_fraction_from_proof(124.0), mass_fraction_from_proof(100.0)
masses = st.floats(1.0, 1e5)
proofs = st.floats(1.0, 200.0)


@given(masses, proofs, st.floats(0.01, 1.0), st.integers(1, 8), st.floats(0.0, 0.5))
@example(1.0, 131.75, 0.9999999999999999, 1, 0.0)  # found at random: the target's fraction came out a rounding higher
def test_steps_add_up(mass: float, proof: float, share: float, count: int, held: float) -> None:
    """All water together is what one step would take; ethanol stays; the last step is at the target."""
    w = mass_fraction_from_proof(proof)
    target = mass_fraction_from_proof(proof * share)
    made = reduction_steps(mass, w, target, count, held)
    assert made.water_kg.sum() == pytest.approx(water_to_reach(mass, w, target), rel=1e-9, abs=1e-9)
    assert made.mass_kg * made.mass_fraction == pytest.approx(mass * w)
    assert made.mass_fraction[-1] == pytest.approx(target)
    assert (np.diff(made.proof_60F) <= 1e-9).all()
    assert made.water_kg.size == count + (held > 0)


def test_what_cannot_be_reduced() -> None:
    """Up, or to nothing: NaN throughout; no step, or all held back: an error in words."""
    assert np.isnan(reduction_steps(100.0, LOW, HIGH).water_kg).all()
    assert np.isnan(reduction_steps(100.0, HIGH, 0.0).proof_60F).all()
    for steps, held in ((0, 0.05), (1, 1.0), (1, -0.1)):
        with pytest.raises(ValueError, match="at least one step"):
            reduction_steps(100.0, HIGH, LOW, steps, held)


def test_trim_with_water_or_with_spirit() -> None:
    """Too strong: water to the target. Too weak: no water, but spirit of those at hand, if any is stronger."""
    strong, weak = mass_fraction_from_proof(100.6), mass_fraction_from_proof(99.4)
    water, spirit = trim(1000.0, [strong, weak, weak, LOW], LOW, [HIGH, HIGH, weak, np.nan])
    assert spirit[[0, 3]].tolist() == [0.0, 0.0] and water[[1, 2]].tolist() == [0.0, 0.0] and water[3] == 0.0
    assert mix([1000.0, water[0]], [strong, 0.0])[1] == pytest.approx(LOW)
    assert mix([1000.0, spirit[1]], [weak, HIGH])[1] == pytest.approx(LOW)
    assert math.isnan(spirit[2])
    assert np.isnan(trim(1000.0, np.nan, LOW, HIGH)).all()


@given(st.floats(1.0, 1e5), proofs, st.floats(0.01, 1.0), st.floats(-5.0, 35.0))
@example(1.0, 131.75, 0.9999999999999999, 0.0)  # found at random: the target is the strength but for rounding
def test_to_fill(litres: float, proof: float, share: float, at: float) -> None:
    """The spirit and the water that it takes to the target fill the volume at its temperature."""
    w = mass_fraction_from_proof(proof)
    target = mass_fraction_from_proof(proof * share)
    spirit = to_fill(litres, w, target, at)
    total = spirit + water_to_reach(spirit, w, target)
    assert volume_L(total, target, at) == pytest.approx(litres)
    assert math.isnan(to_fill(litres, target, w, at)) == (target * (1.0 + ROUNDING) < w)


def test_a_gauge_that_is_the_target_but_for_rounding() -> None:
    """Neither water nor spirit, though no spirit at hand is stronger; from twice the rounding on it is too weak."""
    water, spirit = trim(1000.0, [LOW * (1.0 - ROUNDING / 2), LOW * (1.0 - 2 * ROUNDING)], LOW, LOW)
    assert (water[0], spirit[0], water[1]) == (0.0, 0.0, 0.0)
    assert math.isnan(spirit[1])


def test_a_gauge_then_a_trim() -> None:
    """Nine tenths of the water, a gauge that finds 0.3 proof more than reckoned, and the trim that puts it right."""
    plan = reduction_steps(1000.0, HIGH, LOW, 1, 0.1)
    gauged = mass_fraction_from_proof(plan.proof_60F[0] + 0.3)
    water, _ = trim(plan.mass_kg[0], gauged, LOW)
    assert water > plan.water_kg[1]
    assert proof_from_mass_fraction(mix([plan.mass_kg[0], water], [gauged, 0.0])[1]) == pytest.approx(100.0)
    assert volume_L(1.0, LOW, T_60F) > 1.0
