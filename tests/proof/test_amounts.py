"""Weights in air, quantities, mixing and the rounding of law."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from plugins.proof import (
    LITRES_PER_GALLON,
    T_20C,
    T_60F,
    density,
    mass_fraction_from_abv,
    mass_fraction_from_proof,
    mass_from_volume,
    mass_from_weight,
    mix,
    official_proof,
    official_proof_gallons,
    official_tenth,
    proof_from_mass_fraction,
    quantities,
    read_strength,
    volume_L,
    water_to_reach,
    weight_from_mass,
)

fractions = st.floats(0.0, 1.0)
masses = st.floats(0.001, 1e5)
temperatures = st.floats(-20.0, 40.0)


@given(masses, st.floats(700.0, 1100.0))
def test_weight_there_and_back(mass: float, rho: float) -> None:
    """Mass → weight in air → mass returns, and the scale shows less than the mass."""
    weight = weight_from_mass(mass, rho)
    assert mass_from_weight(weight, rho) == pytest.approx(mass, rel=1e-14)
    assert weight < mass


def test_weight_is_mass_at_the_density_of_the_weights() -> None:
    """What is as dense as the scale's weights is shown as it is; no liquid is lighter than air."""
    assert weight_from_mass(3.0, 8000.0) == 3.0
    assert np.isnan(mass_from_weight(1.0, [0.0, -5.0, np.nan, 1.2])).all()


@given(masses, fractions, temperatures)
def test_volume_there_and_back(mass: float, w: float, t: float) -> None:
    """Mass → volume → mass returns."""
    assert mass_from_volume(volume_L(mass, w, t), w, t) == pytest.approx(mass, rel=1e-13)


@given(masses, st.floats(0.001, 1.0))
def test_quantities_agree_with_each_other(mass: float, w: float) -> None:
    """Litres of alcohol are volume times % vol, proof gallons are gallons times proof, and both hold the ethanol."""
    made = quantities(mass, w)
    assert made["lpa"] == pytest.approx(made["volume_20C_L"] * made["abv_20C"] / 100, rel=1e-12)
    assert made["proof_gallons"] == pytest.approx(made["volume_60F_gal"] * made["proof_60F"] / 100, rel=1e-12)
    assert made["ethanol_kg"] == pytest.approx(made["lpa"] * density(1.0, T_20C) / 1000, rel=1e-12)


def test_quantities_of_water_and_of_nothing() -> None:
    """Water has a volume and no strength; an unknown strength has no quantities."""
    made = quantities([1000.0, 1.0], [0.0, np.nan])
    assert made["proof_gallons"][0] == 0.0 and made["volume_60F_gal"][0] > 264
    assert all(np.isnan(values[1]) for values in made.values())


@given(st.lists(st.tuples(masses, fractions), min_size=1, max_size=30))
def test_mixing_conserves_mass_and_ethanol(parts: list[tuple[float, float]]) -> None:
    """Total mass and ethanol of the blend are the sums of the parts."""
    mass, w = np.array(parts).T
    total, fraction = mix(mass, w)
    assert total == pytest.approx(mass.sum(), rel=1e-12)
    assert total * fraction == pytest.approx((mass * w).sum(), rel=1e-12, abs=1e-12)


@given(st.lists(st.tuples(masses, fractions, st.sampled_from("abc")), min_size=1, max_size=30))
def test_mixing_by_group_is_mixing_each(parts: list[tuple[float, float, str]]) -> None:
    """With ``by`` each group is mixed apart, in the order of numpy.unique."""
    mass, w, group = (np.array(values) for values in zip(*parts, strict=True))
    total, fraction = mix(mass, w, by=group)
    for place, name in enumerate(np.unique(group)):
        alone = mix(mass[group == name], w[group == name])
        assert (total[place], fraction[place]) == (pytest.approx(alone[0]), pytest.approx(alone[1]))


def test_mixing_contracts() -> None:
    """100 L of 65 % with water to 40 % takes 64.4 L, not the 62.5 that adding volumes would say (trade notes 2.20)."""
    high, low = mass_fraction_from_abv([65.0, 40.0])
    water = water_to_reach(mass_from_volume(100.0, high, T_20C), high, low)
    assert volume_L(water, 0.0, T_20C) == pytest.approx(64.4, abs=0.05)
    mass, w = mix([mass_from_volume(100.0, high, T_20C), water], [high, 0.0])
    assert w == pytest.approx(low, rel=1e-13)
    assert volume_L(mass, w, T_20C) == pytest.approx(100 * 65 / 40, rel=1e-12)


def test_mixing_nothing() -> None:
    """Nothing has no strength, and an unknown part makes the blend unknown."""
    assert mix([], [])[0] == 0.0 and np.isnan(mix([], [])[1])
    assert np.isnan(mix([1.0, np.nan], [0.5, 0.5])).all()


@given(masses, st.floats(0.01, 1.0), st.floats(0.01, 1.0))
def test_water_reaches_the_target(mass: float, w: float, target: float) -> None:
    """The water found brings the spirit to its target; above its strength, but for rounding, there is none."""
    water = water_to_reach(mass, w, target)
    if target > w * (1 + 1e-12):
        assert np.isnan(water)
    else:
        assert water >= 0
        assert mix([mass, water], [w, 0.0])[1] == pytest.approx(target, rel=2e-12)


@pytest.mark.parametrize("target", [0.0, -0.1, np.nan])
def test_no_water_makes_water(target: float) -> None:
    """A target of nothing cannot be reached."""
    assert np.isnan(water_to_reach(1.0, 0.5, target))


@pytest.mark.parametrize(
    ("value", "tenth"),
    [(189.972, 190.0), (3721.06392, 3721.1), (35.05, 35.1), (0.05, 0.1), (0.15, 0.2), (0.25, 0.3), (124.55, 124.6),
     (124.5499, 124.5), (99.949999, 99.9), (0.0, 0.0), (200.0, 200.0)],
)  # fmt: skip
def test_tenth_half_up(value: float, tenth: float) -> None:
    """Hundredths of five and more raise the tenth, less are dropped (27 CFR 30.23)."""
    assert official_tenth(value) == tenth
    assert official_proof(value) == tenth


@given(st.integers(0, 200_000))
def test_tenth_of_every_written_figure(thousandths: int) -> None:
    """Every figure of three decimals is rounded as it reads in decimal, whatever binary makes of it."""
    expected = (thousandths + 50) // 100 / 10
    assert official_tenth(thousandths / 1000) == expected


def test_gallon() -> None:
    """A US gallon is 231 cubic inches of 2.54 cm."""
    assert pytest.approx(231 * 2.54**3 / 1000, rel=1e-15) == LITRES_PER_GALLON
    assert np.isnan(official_tenth(np.nan)) and np.isnan(mass_fraction_from_proof(np.nan))


def test_every_tie_that_a_reading_can_state_goes_up() -> None:
    """Of all readings at 60 °F that end in five hundredths, each is rounded up as its digits say (27 CFR 30.23)."""
    hundredths = np.arange(5, 20000, 10)
    found = official_proof(proof_from_mass_fraction(read_strength(hundredths / 100, "proof", T_60F)))
    assert (np.round(found * 10) == (hundredths + 5) // 10).all()


def test_official_proof_gallons() -> None:
    """The proof to a tenth first, then the product to a tenth: 100.04 proof counts as 100.0."""
    assert official_proof_gallons([100.0, 1234.5, np.nan], [100.04, 86.85, 90.0]).tolist() == [
        100.0,
        pytest.approx(1072.8),
        pytest.approx(np.nan, nan_ok=True),
    ]
