"""Strengths in their several units, from and to the mass fraction."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from plugins.proof import (
    T_20C,
    T_60F,
    abv_from_mass_fraction,
    density,
    mass_fraction_from_abv,
    mass_fraction_from_proof,
    mass_fraction_from_strength,
    proof_from_mass_fraction,
)
from plugins.proof.alcoholometry.strength import strength_at, volume_fraction

proofs = st.floats(0.0, 200.0)
UNITS = ["proof", "%vol", "%mass", "kg/m3", "g/cm3", "sg60"]


@given(proofs)
def test_proof_there_and_back(proof: float) -> None:
    """Proof → mass fraction → proof returns within 1e-9 proof."""
    assert proof_from_mass_fraction(mass_fraction_from_proof(proof)) == pytest.approx(proof, abs=1e-9)


@given(st.floats(0.0, 100.0))
def test_abv_there_and_back(abv: float) -> None:
    """% vol → mass fraction → % vol returns within 1e-9 % vol."""
    assert abv_from_mass_fraction(mass_fraction_from_abv(abv)) == pytest.approx(abv, abs=1e-9)


@given(proofs, proofs)
def test_more_proof_is_more_ethanol(one: float, other: float) -> None:
    """Mass fraction and % vol at 20 °C rise strictly with proof."""
    low, high = sorted((one, other))
    if high - low > 1e-6:
        assert mass_fraction_from_proof(low) < mass_fraction_from_proof(high)
        abv = abv_from_mass_fraction(mass_fraction_from_proof([low, high]))
        assert abv[0] < abv[1]


def test_definition_of_proof() -> None:
    """Proof is 200 w rho(w, 60 °F) / rho(1, 60 °F)."""
    w = np.linspace(0.0, 1.0, 11)
    assert proof_from_mass_fraction(w) == pytest.approx(200 * w * density(w, T_60F) / density(1.0, T_60F), abs=1e-12)


def test_40_percent_at_20C_is_not_80_proof() -> None:
    """40 % vol at 20 °C is 79.86 proof: each market's strength is at its own temperature (trade notes 2.1)."""
    assert proof_from_mass_fraction(mass_fraction_from_abv(40.0)) == pytest.approx(79.86, abs=0.005)


@pytest.mark.parametrize("w", [0.0, 0.1, 0.4251, 0.7, 1.0])
def test_every_unit_means_the_same_spirit(w: float) -> None:
    """One spirit stated in six units is one mass fraction."""
    stated = [
        proof_from_mass_fraction(w),
        abv_from_mass_fraction(w),
        100 * w,
        density(w, T_20C),
        density(w, T_20C) / 1000,
        density(w, T_60F) / density(0.0, T_60F),
    ]
    assert mass_fraction_from_strength(stated, UNITS) == pytest.approx(np.full(6, w), abs=1e-9)


@pytest.mark.parametrize("missing", [None, np.nan, ""])
def test_missing_unit_is_proof(missing: object) -> None:
    """A strength without a unit is a proof."""
    assert mass_fraction_from_strength(100.0, missing) == mass_fraction_from_proof(100.0)


def test_unknown_unit_is_named() -> None:
    """Another unit is refused, with the units that are known."""
    with pytest.raises(ValueError, match=r"'sikes' is not one of proof, %vol"):
        mass_fraction_from_strength([100.0], ["sikes"])


@pytest.mark.parametrize(
    ("value", "unit"),
    [
        (-0.01, "proof"),
        (200.01, "proof"),
        (100.01, "%vol"),
        (-1, "%mass"),
        (101, "%mass"),
        (1100, "kg/m3"),
        (1.2, "sg60"),
    ],
)
def test_outside_a_scale_is_nan(value: float, unit: str) -> None:
    """A figure beyond its scale is no strength."""
    assert np.isnan(mass_fraction_from_strength(value, unit))


def test_ends_of_the_scales() -> None:
    """0 and 200 proof, and 200 proof with the dust of a computation, are water and ethanol."""
    assert mass_fraction_from_proof([0.0, 200.0, 200.0 + 1e-8]) == pytest.approx([0.0, 1.0, 1.0], abs=1e-12)


def test_abv_at_another_base() -> None:
    """% vol on a scale made for 60 °F is half the proof."""
    assert strength_at(40.0, "%vol", T_60F) == pytest.approx(mass_fraction_from_proof(80.0), abs=1e-14)
    w = strength_at([40.0, 40.0], "%vol", [15.0, 20.0])
    assert volume_fraction(w[0], 15.0) == pytest.approx(0.4, abs=1e-14)
    assert w[1] == mass_fraction_from_abv(40.0)
