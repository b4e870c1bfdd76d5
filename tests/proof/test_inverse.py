"""The inverse of the density formula, and of hydrometer readings, against bracketed solutions; that it is but one."""

from __future__ import annotations

import importlib

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.polynomial import polynomial
from scipy.optimize import brentq

from plugins.proof import T_60F, density, mass_fraction_from_density, proof_from_mass_fraction, read_strength
from plugins.proof.alcoholometry.formula import SERIES
from plugins.proof.alcoholometry.instruments import GLASS_PER_K
from plugins.proof.alcoholometry.inverse import BEND, LAST_STEP

MODULE = importlib.import_module("plugins.proof.alcoholometry.inverse")
fractions = st.floats(0.0, 1.0)
temperatures = st.floats(-20.0, 40.0)
# Largest slope of proof by mass fraction is 253; a difference in mass fraction counts so much at most.
PROOF_PER_FRACTION = 260.0


def polynomials(temperature: float) -> np.ndarray:
    """Coefficients of the formula by powers of the mass fraction at one temperature."""
    return np.array([polynomial.polyval(temperature - 20.0, series) for series in SERIES])


def extremes(coefficients: np.ndarray) -> np.ndarray:
    """Where a polynomial can be greatest or least in 0..1: its ends and where its derivative is nought."""
    roots = polynomial.polyroots(polynomial.polyder(coefficients))
    inside = roots.real[(np.abs(roots.imag) < 1e-6) & (roots.real > 0.0) & (roots.real < 1.0)]
    return np.concatenate([inside, [0.0, 1.0]])


def test_no_density_fits_two_strengths() -> None:
    """From -20 to 40 °C the density falls strictly with strength.

    At each tenth of a degree the greatest slope over all strengths comes from the roots of the second
    derivative; it is at most -6.028 kg/m3. From one tenth to the next no slope changes by as much as
    0.6 kg/m3, so that none reaches nought between.
    """
    step = 0.1
    greatest = -np.inf
    for temperature in np.arange(-20.0, 40.0 + step / 2, step):
        slope = polynomial.polyder(polynomials(temperature))
        greatest = max(greatest, polynomial.polyval(extremes(slope), slope).max())
    assert greatest == pytest.approx(-6.0283, abs=1e-3)
    grid = np.linspace(-20.0, 40.0, 601)
    slopes = np.array([polynomial.polyval(np.linspace(0, 1, 2001), polynomial.polyder(polynomials(t))) for t in grid])
    assert np.abs(np.diff(slopes, axis=0)).max() < 0.6


@given(fractions, temperatures)
def test_inverse_undoes_density(p: float, t: float) -> None:
    """Mass fraction → density → mass fraction returns within 1e-8 proof, both ends and the cold included."""
    assert abs(mass_fraction_from_density(density(p, t), t) - p) * PROOF_PER_FRACTION < 1e-8


def test_inverse_undoes_density_on_a_grid() -> None:
    """The same for every strength at every half degree and between, in one array."""
    p, t = np.meshgrid(np.linspace(0.0, 1.0, 2001), np.linspace(-20.0, 40.0, 241))
    back = mass_fraction_from_density(density(p, t), t)
    assert np.abs(back - p).max() * PROOF_PER_FRACTION < 1e-8


def test_the_cold_weak_corner() -> None:
    """Where Newton's steps do not settle, strengths of 0 to 80 proof below -12 °C still come back within 1e-8 proof."""
    rng = np.random.default_rng(4)
    p, t = rng.uniform(0.0, 0.4, 200_000), rng.uniform(-20.0, -12.0, 200_000)
    assert np.abs(mass_fraction_from_density(density(p, t), t) - p).max() * PROOF_PER_FRACTION < 1e-8


def test_the_last_step_bounds_what_is_left() -> None:
    """BEND is the greatest of half the curvature over the slope, so that LAST_STEP leaves less than 1e-9 proof."""
    greatest = 0.0
    for temperature in np.linspace(-20.0, 40.0, 601):
        slope = polynomial.polyder(polynomials(temperature))
        w = np.linspace(0.0, 1.0, 2001)
        bend = np.abs(polynomial.polyval(w, polynomial.polyder(slope)) / polynomial.polyval(w, slope)) / 2
        greatest = max(greatest, bend.max())
    assert greatest == pytest.approx(BEND, abs=0.05)
    assert BEND * LAST_STEP**2 * PROOF_PER_FRACTION < 1e-9


def test_without_good_steps_bisection_finds_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    """With one step and none more, every row is bisected, and nothing changes."""
    p, t = np.meshgrid(np.linspace(0.0, 1.0, 101), np.linspace(-20.0, 40.0, 13))
    monkeypatch.setattr(MODULE, "STEPS", 1)
    monkeypatch.setattr(MODULE, "MORE_STEPS", 1)
    assert np.abs(mass_fraction_from_density(density(p, t), t) - p).max() < 1e-11


def bracketed(reading: float, jar: float) -> float:
    """True proof of a glass hydrometer's reading by root searches between 0 and 1; NaN where there is no root."""
    mark = brentq(lambda w: proof_from_mass_fraction(w) - reading, 0.0, 1.0, xtol=1e-14)
    target = density(mark, T_60F) / (1.0 + GLASS_PER_K * (jar - T_60F))
    if not density(1.0, jar) <= target <= density(0.0, jar):
        return np.nan
    w = brentq(lambda w: density(w, jar) - target, 0.0, 1.0, xtol=1e-14)
    return float(proof_from_mass_fraction(w))


@pytest.mark.long
def test_readings_against_bracketed_solutions() -> None:
    """Hydrometer readings, glass included, from -20 to 40 °C: within 1e-8 proof, NaN where there is no strength."""
    reading, jar = (grid.reshape(-1) for grid in np.meshgrid(np.linspace(0.0, 200.0, 41), np.linspace(-20.0, 40.0, 25)))
    expected = np.array([bracketed(*pair) for pair in zip(reading, jar, strict=True)])
    found = proof_from_mass_fraction(read_strength(reading, "proof", jar))
    # 0 proof at 60 °F is decided by rounding alone: water shows 0 there within 1e-9
    sure = ~((reading == 0.0) & (np.abs(jar - T_60F) < 1e-6))
    assert (np.isnan(found) == np.isnan(expected))[sure].all()
    both = ~np.isnan(found) & ~np.isnan(expected)
    assert both.sum() > 900 and np.isnan(expected).sum() > 5
    assert np.abs(found - expected)[both].max() < 1e-8


def test_one_strength_for_a_reading() -> None:
    """At every temperature a higher reading means a higher strength: no reading fits two."""
    reading, jar = np.meshgrid(np.linspace(0.0, 200.0, 4001), np.linspace(-20.0, 40.0, 121))
    found = proof_from_mass_fraction(read_strength(reading, "proof", jar))
    rise = np.diff(found, axis=1)
    assert rise[~np.isnan(rise)].min() > 0.0
