"""What must hold of every strength, temperature, amount and unit, on examples that a machine makes up."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from plugins.proof import (
    LITRES_PER_GALLON,
    T_20C,
    T_60F,
    abv_from_mass_fraction,
    density,
    mass_fraction_from_abv,
    mass_fraction_from_proof,
    mass_fraction_from_strength,
    mass_from_volume,
    mass_from_weight,
    mix,
    proof_from_mass_fraction,
    quantities,
    read_strength,
    volume_L,
    water_to_reach,
    weight_from_mass,
)
from plugins.proof.alcoholometry.official import KG_PER_LB, celsius

fractions = st.floats(0.0, 1.0)
spirits = st.floats(0.001, 1.0)
temperatures = st.floats(-20.0, 40.0)
masses = st.floats(0.01, 1e6)
proofs = st.floats(0.0, 200.0)


# --- round trips ----------------------------------------------------------------------------------------


@given(fractions)
def test_strengths_return(w: float) -> None:
    """Mass fraction → proof, % vol, % mass, density, gravity → mass fraction, within 1e-10."""
    water = density(0.0, T_60F)
    stated = {
        "proof": proof_from_mass_fraction(w),
        "%vol": abv_from_mass_fraction(w),
        "%mass": 100 * w,
        "kg/m3": density(w, T_20C),
        "g/cm3": density(w, T_20C) / 1000,
        "sg60": density(w, T_60F) / water,
    }
    found = mass_fraction_from_strength(list(stated.values()), list(stated))
    assert np.abs(found - w).max() < 1e-10


@given(proofs)
def test_proof_and_abv_return(proof: float) -> None:
    """Proof → mass fraction → % vol → mass fraction → proof, within 1e-9 proof."""
    abv = abv_from_mass_fraction(mass_fraction_from_proof(proof))
    assert proof_from_mass_fraction(mass_fraction_from_abv(abv)) == pytest.approx(proof, abs=1e-9)


@given(masses, fractions, temperatures)
def test_amounts_return(mass: float, w: float, t: float) -> None:
    """Mass → volume → mass and mass → weight → mass."""
    assert mass_from_volume(volume_L(mass, w, t), w, t) == pytest.approx(mass, rel=1e-12)
    rho = density(w, t)
    assert mass_from_weight(weight_from_mass(mass, rho), rho) == pytest.approx(mass, rel=1e-12)
    assert weight_from_mass(mass, rho) < mass


# --- monotone where the physics is -----------------------------------------------------------------------


@given(st.floats(0.0, 0.9999), temperatures, st.floats(1e-4, 0.1))
def test_more_alcohol_is_lighter_and_stronger(w: float, t: float, more: float) -> None:
    """Density falls, proof and % vol rise with the mass fraction."""
    high = min(1.0, w + more)
    assert density(high, t) < density(w, t)
    assert proof_from_mass_fraction(high) > proof_from_mass_fraction(w)
    assert abv_from_mass_fraction(high) > abv_from_mass_fraction(w)


@given(st.floats(1.0, 199.0), st.floats(-19.0, 39.0), st.floats(0.01, 1.0))
def test_a_warmer_jar_means_weaker_spirit(reading: float, t: float, warmer: float) -> None:
    """For one reading the true strength falls as the jar is warmer, but in weak spirit below 40 proof near freezing."""
    cool, warm = (proof_from_mass_fraction(read_strength(reading, "proof", at)) for at in (t, min(40.0, t + warmer)))
    if reading > 40.0:
        assert np.isnan(warm) or np.isnan(cool) or warm < cool


@given(st.floats(0.2, 1.0), st.floats(0.0, 39.0), st.floats(0.01, 1.0))
def test_spirit_swells_as_it_warms(w: float, t: float, warmer: float) -> None:
    """The same mass takes more room when warmer."""
    assert volume_L(1.0, w, min(40.0, t + warmer)) > volume_L(1.0, w, t)


# --- conservation ---------------------------------------------------------------------------------------


@given(st.lists(st.tuples(masses, fractions), min_size=1, max_size=12))
def test_mixing_conserves(parts: list[tuple[float, float]]) -> None:
    """Mass and ethanol come out as they went in; the strength lies between the weakest and the strongest."""
    mass, w = (np.array(column) for column in zip(*parts, strict=True))
    total, fraction = mix(mass, w)
    assert total == pytest.approx(mass.sum(), rel=1e-12)
    assert total * fraction == pytest.approx((mass * w).sum(), rel=1e-12)
    assert w.min() - 1e-12 <= fraction <= w.max() + 1e-12


@given(st.lists(st.tuples(masses, fractions), min_size=2, max_size=8))
def test_the_order_of_mixing_does_not_matter(parts: list[tuple[float, float]]) -> None:
    """Two and two, or all at once."""
    mass, w = (np.array(column) for column in zip(*parts, strict=True))
    first, second = mix(mass[:1], w[:1]), mix(mass[1:], w[1:])
    joined = mix([first[0], second[0]], [first[1], second[1]])
    assert joined[1] == pytest.approx(mix(mass, w)[1], rel=1e-9, abs=1e-15)


@given(masses, spirits, st.floats(0.01, 1.0))
def test_reduction_conserves_alcohol(mass: float, w: float, share: float) -> None:
    """The water leads to the target; proof gallons and litres of alcohol stay."""
    target = w * share
    water = water_to_reach(mass, w, target)
    before, after = quantities(mass, w), quantities(mass + water, target)
    for name in ("ethanol_kg", "proof_gallons", "lpa"):
        assert after[name] == pytest.approx(before[name], rel=1e-9)


# --- units ----------------------------------------------------------------------------------------------


@given(proofs, temperatures)
def test_a_reading_in_either_degrees(reading: float, t: float) -> None:
    """°F or °C, the strength is the same."""
    fahrenheit = t * 1.8 + 32.0
    one, other = (read_strength(reading, "proof", at) for at in (t, float(np.clip(celsius(fahrenheit), -20.0, 40.0))))
    assert np.isclose(one, other, rtol=0, atol=1e-9, equal_nan=True)


@given(masses, fractions)
def test_gallons_or_litres_pounds_or_kilograms(mass: float, w: float) -> None:
    """An amount by gallons at 60 °F, by litres at 60 °F, by pounds or by kilograms is one amount."""
    gallons = quantities(mass, w)["volume_60F_gal"]
    assert mass_from_volume(gallons * LITRES_PER_GALLON, w, T_60F) == pytest.approx(mass, rel=1e-12)
    rho = density(w, T_20C)
    pounds = weight_from_mass(mass, rho) / KG_PER_LB
    assert mass_from_weight(pounds * KG_PER_LB, rho) == pytest.approx(mass, rel=1e-12)


@given(st.floats(790.0, 998.0), temperatures)
def test_density_in_any_unit(rho: float, t: float) -> None:
    """kg/m3, g/cm3 and specific gravity of a meter give one strength."""
    found = read_strength([rho, rho / 1000], ["kg/m3", "g/cm3"], t, "density meter")
    assert np.isclose(*found, rtol=0, atol=1e-12, equal_nan=True)


@given(masses, st.floats(0.5, 2.0), fractions)
def test_quantities_scale_with_mass(mass: float, factor: float, w: float) -> None:
    """Twice the mass is twice everything but the strength."""
    one, other = quantities(mass, w), quantities(mass * factor, w)
    for name, value in one.items():
        grows = name not in ("proof_60F", "abv_20C")
        assert other[name] == pytest.approx(value * (factor if grows else 1.0), rel=1e-12)
