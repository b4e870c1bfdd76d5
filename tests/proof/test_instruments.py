"""Readings of hydrometers and density meters, as read and already corrected."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from plugins.proof import (
    T_20C,
    T_60F,
    abv_from_mass_fraction,
    density,
    density_from_air,
    density_in_air,
    mass_fraction_from_abv,
    mass_fraction_from_proof,
    mass_fraction_from_strength,
    proof_from_mass_fraction,
    read_strength,
)
from plugins.proof.alcoholometry.instruments import GLASS_PER_K
from plugins.proof.alcoholometry.strength import SCALES, strength_at

strengths = st.floats(0.05, 0.95)
jars = st.floats(-5.0, 38.0)
BASES = {"proof": T_60F, "%vol": T_20C, "%mass": T_20C, "kg/m3": T_20C, "g/cm3": T_20C, "sg60": T_60F}


def shown(w: float, scale: str, jar: float, base: float, glass: float) -> float:
    """What an instrument of this scale shows in a spirit at a temperature: the correction's inverse, written apart."""
    mark = density(w, jar) * (1 + glass * (jar - base))
    if scale in ("kg/m3", "g/cm3", "sg60"):
        return float(mark / {"kg/m3": 1.0, "g/cm3": 1000.0, "sg60": density(0.0, T_60F)}[scale])
    low, high = 0.0, 1.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if density(middle, base) > mark else (low, middle)
    full, at = {"proof": (200.0, T_60F), "%vol": (100.0, base), "%mass": (100.0, None)}[scale]
    return low * full if at is None else float(full * low * density(low, at) / density(1.0, at))


@pytest.mark.long
@pytest.mark.parametrize("scale", SCALES)
@given(w=strengths, jar=jars)
def test_hydrometer_there_and_back(scale: str, w: float, jar: float) -> None:
    """What a hydrometer of any scale would show is corrected to the spirit it floats in."""
    reading = shown(w, scale, jar, BASES[scale], GLASS_PER_K)
    assume(scale in ("kg/m3", "g/cm3", "sg60") or 0.001 < reading < 99.9 * (2 if scale == "proof" else 1))
    assert read_strength(reading, scale, jar) == pytest.approx(w, abs=1e-9)


@given(w=strengths, jar=jars, base=st.sampled_from([15.0, T_60F, 20.0]), glass=st.floats(0.0, 60e-6))
def test_hydrometer_of_another_make(w: float, jar: float, base: float, glass: float) -> None:
    """Base temperature and expansion of the glass are those of the instrument."""
    reading = shown(w, "%vol", jar, base, glass)
    assume(0.001 < reading < 99.9)
    found = read_strength(reading, "%vol", jar, base_temperature_degC=base, glass_expansion_per_K=glass)
    assert found == pytest.approx(w, abs=1e-9)


@given(st.floats(60.0, 199.5), st.floats(-15.0, 35.0))
def test_strength_falls_as_the_jar_warms(reading: float, jar: float) -> None:
    """For one reading the spirit is weaker the warmer the jar is, and the stronger the higher the reading.

    From 60 proof up: nearly pure water is densest near 4 °C, so that weaker spirit does not follow.
    """
    here, warmer, higher = proof_from_mass_fraction(
        read_strength([reading, reading, reading + 0.5], "proof", [jar, jar + 1, jar])
    )
    assert np.isnan(here) or np.isnan(warmer) or warmer < here
    assert np.isnan(here) or np.isnan(higher) or higher > here


@given(st.floats(1.0, 199.0), st.floats(0.0, 100.0))
def test_fahrenheit_and_celsius_agree(reading: float, jar_F: float) -> None:
    """A temperature converted from either scale gives one strength."""
    direct = read_strength(reading, "proof", (jar_F - 32) / 1.8)
    by_kelvin = read_strength(reading, "proof", (jar_F + 459.67) * 5 / 9 - 273.15)
    assert np.isnan(direct) == np.isnan(by_kelvin)
    assert np.isnan(direct) or direct == pytest.approx(by_kelvin, abs=1e-11)


@pytest.mark.parametrize("scale", ["proof", "%vol", "%mass"])
def test_at_its_base_a_scale_shows_the_strength(scale: str) -> None:
    """At the base temperature nothing is corrected, from one end of the scale to the other."""
    readings = np.linspace(0.0, 200.0 if scale == "proof" else 100.0, 41)
    assert read_strength(readings, scale, BASES[scale]) == pytest.approx(
        mass_fraction_from_strength(readings, scale), abs=1e-9
    )


@pytest.mark.parametrize("state", ["at 60 °F", "at 20 °C", "corrected"])
@pytest.mark.parametrize("scale", SCALES)
def test_corrected_readings_need_no_temperature(scale: str, state: str) -> None:
    """What was corrected already is not corrected again, whatever temperature stands beside it."""
    value = {"proof": 120.0, "%vol": 60.0, "%mass": 52.0, "kg/m3": 910.0, "g/cm3": 0.91, "sg60": 0.91}[scale]
    found = read_strength(value, scale, [np.nan, 5.0, 35.0], state=state)
    at = T_60F if state == "at 60 °F" or (state == "corrected" and scale in ("proof", "sg60")) else T_20C
    assert found == pytest.approx(np.full(3, strength_at(value, scale, at)), abs=1e-12)


def test_abv_corrected_to_60F_is_half_the_proof() -> None:
    """% vol at 60 °F and % vol at 20 °C are two strengths."""
    assert read_strength(60.0, "%vol", np.nan, state="at 60 °F") == pytest.approx(mass_fraction_from_proof(120.0))
    assert read_strength(60.0, "%vol", np.nan, state="at 20 °C") == pytest.approx(mass_fraction_from_abv(60.0))


@pytest.mark.parametrize("scale", ["proof", "%vol", "%mass", "sg60"])
def test_meter_shows_strength_at_reference(scale: str) -> None:
    """A density meter that shows a strength has corrected it itself (trade notes 1A.9)."""
    value = {"proof": 120.0, "%vol": 60.0, "%mass": 52.0, "sg60": 0.91}[scale]
    found = read_strength(value, scale, [29.4, np.nan], "density meter")
    assert found == pytest.approx(np.full(2, mass_fraction_from_strength(value, scale)), abs=1e-12)


def test_correcting_twice_would_cost_ten_proof() -> None:
    """120 proof at 85 °F corrected once too often loses 9.9 proof (trade notes 1A.9)."""
    jar = (85 - 32) / 1.8
    once = proof_from_mass_fraction(read_strength(120.0, "proof", jar, "density meter"))
    twice = proof_from_mass_fraction(read_strength(120.0, "proof", jar, "hydrometer"))
    assert twice - once == pytest.approx(-9.9, abs=0.05)


def test_meter_density_holds_in_its_cell() -> None:
    """A density by a meter is at the cell's temperature and has no glass; by a hydrometer it has."""
    rho, cell = density(0.5, 30.0), 30.0
    assert read_strength(rho, "kg/m3", cell, "density meter") == pytest.approx(0.5, abs=1e-11)
    by_glass = read_strength(rho, "kg/m3", cell, "hydrometer")
    assert by_glass == pytest.approx(read_strength(rho / (1 + 25e-6 * 10), "kg/m3", cell, "density meter"), abs=1e-12)
    assert by_glass != pytest.approx(0.5, abs=1e-5)


def test_distilled_is_read_by_hydrometer() -> None:
    """A restored distillate is read like any other spirit."""
    assert read_strength(120.0, "proof", 25.0, "distilled") == read_strength(120.0, "proof", 25.0, "hydrometer")


def test_mixed_rows_are_each_by_their_own_rule() -> None:
    """Scale, method and state may differ from row to row, and may be missing."""
    reading, scale = [120.0, 60.0, 910.0, 120.0], ["proof", "%vol", "kg/m3", None]
    method, state = [np.nan, "density meter", "density meter", "hydrometer"], [None, "as read", np.nan, "at 60 °F"]
    together = read_strength(reading, scale, [25.0, 25.0, 25.0, 25.0], method, state)
    alone = [
        read_strength(120.0, "proof", 25.0),
        mass_fraction_from_abv(60.0),
        read_strength(910.0, "kg/m3", 25.0, "density meter"),
        mass_fraction_from_proof(120.0),
    ]
    assert together == pytest.approx(alone, abs=1e-13)


@pytest.mark.parametrize(
    ("reading", "scale", "jar"),
    [(np.nan, "proof", 20), (120, "proof", np.nan), (120, "proof", 41), (120, "proof", -21), (-1, "proof", 20),
     (201, "proof", 20), (0.0, "proof", 30), (200, "proof", 5), (1.05, "g/cm3", 20), (np.inf, "kg/m3", 20)],
)  # fmt: skip
def test_what_fits_nothing_is_nan(reading: float, scale: str, jar: float) -> None:
    """Readings outside scale, temperature or formula give NaN, and no warning."""
    assert np.isnan(read_strength(reading, scale, jar))


@pytest.mark.parametrize(("name", "word"), [("scale", "plato"), ("method", "nose"), ("state", "warm")])
def test_unknown_words_are_named(name: str, word: str) -> None:
    """A word that is not known is refused with those that are."""
    with pytest.raises(ValueError, match=f"{name} '{word}' is not one of"):
        read_strength(**{"reading": 100.0, "scale": "proof", "temperature_degC": 20.0, name: word})


def test_two_hydrometers_agree_on_one_spirit() -> None:
    """A proof hydrometer and a % vol alcoholmeter in one jar mean one strength."""
    w, jar = mass_fraction_from_proof(124.0), 24.0
    by_proof = read_strength(shown(w, "proof", jar, T_60F, GLASS_PER_K), "proof", jar)
    by_abv = read_strength(shown(w, "%vol", jar, T_20C, GLASS_PER_K), "%vol", jar)
    assert abv_from_mass_fraction(by_proof) == pytest.approx(abv_from_mass_fraction(by_abv), abs=1e-8)


def test_densities_in_air() -> None:
    """By weight in air of 1.2 kg/m3 a density is lower by about 1.06 kg/m3, a specific gravity by its own share."""
    rho = density(0.5, 20.0)
    shown = density_in_air(rho)
    assert rho - shown == pytest.approx(1.2 - 0.00015 * rho, abs=1e-3)
    assert density_from_air(shown) == pytest.approx(rho, abs=1e-12)
    for reading, scale in ((shown, "kg/m3"), (shown / 1000, "g/cm3")):
        assert read_strength(reading, scale, 20.0, "density meter", "in air") == pytest.approx(0.5, abs=1e-12)
    water = density(0.0, T_60F)
    gravity = (density(0.5, T_60F) - 1.2) / (water - 1.2)
    assert read_strength(gravity, "sg60", T_60F, "density meter", "in air") == pytest.approx(0.5, abs=1e-12)
    assert read_strength(gravity, "sg60", T_60F, "hydrometer", "in air") == pytest.approx(0.5, abs=1e-12)
    strength = read_strength(120.0, "proof", 25.0, "hydrometer", "in air")
    assert strength == read_strength(120.0, "proof", 25.0)
    mixed = read_strength([rho, shown], "kg/m3", 20.0, "density meter", ["as read", "in air"])
    assert mixed == pytest.approx(0.5, abs=1e-12)
