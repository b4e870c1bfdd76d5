"""Density and its inverse over the whole range of the formula."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from plugins.proof import T_20C, T_60F, density, mass_fraction_from_density
from plugins.proof.alcoholometry.formula import BLOCK, slope_by_fraction, slope_by_temperature
from plugins.proof.alcoholometry.oiml_r22 import A, B, C

fractions = st.floats(0.0, 1.0)
temperatures = st.floats(-20.0, 40.0)


def written_out(p: float, t: float) -> float:
    """The formula as OIML R 22 writes it, term by term."""
    total = sum(a * p**k for k, a in enumerate(A)) + sum(b * (t - 20) ** k for k, b in enumerate(B, start=1))
    for i, row in enumerate(C, start=1):
        total += sum(c * p**k * (t - 20) ** i for k, c in enumerate(row, start=1))
    return total


def test_there_are_54_coefficients() -> None:
    """12 of A, 6 of B and 11, 10, 9, 4 and 2 of C."""
    assert (len(A), len(B), [len(row) for row in C]) == (12, 6, [11, 10, 9, 4, 2])


@pytest.mark.parametrize(
    ("p", "t", "expected"),
    [(0.0, 20.0, 998.20123), (1.0, 20.0, 789.2391), (0.0, T_60F, 999.0102), (1.0, T_60F, 793.0325)],
)
def test_reference_values(p: float, t: float, expected: float) -> None:
    """Water and ethanol at 20 °C and 60 °F as computed apart when the coefficients were collected."""
    assert density(p, t) == pytest.approx(expected, abs=1e-4)


@given(fractions, temperatures)
def test_is_the_written_formula(p: float, t: float) -> None:
    """Horner's scheme in blocks gives what the formula gives term by term."""
    assert density(p, t) == pytest.approx(written_out(p, t), abs=1e-8)


@pytest.mark.parametrize("t", [-20.0, 0.0, T_60F, T_20C, 40.0])
def test_ends(t: float) -> None:
    """Water and ethanol are found exactly; what is denser or lighter fits nothing."""
    water, ethanol = density(0.0, t), density(1.0, t)
    assert mass_fraction_from_density(water, t) == pytest.approx(0.0, abs=1e-11)
    assert mass_fraction_from_density(ethanol, t) == pytest.approx(1.0, abs=1e-11)
    assert np.isnan(mass_fraction_from_density([water + 1e-3, ethanol - 1e-3], t)).all()


@pytest.mark.parametrize(("p", "t"), [(-1e-9, 20), (1.0000001, 20), (0.5, -20.001), (0.5, 40.001)])
def test_outside_the_range_is_nan(p: float, t: float) -> None:
    """Strengths and temperatures outside the formula's range give NaN."""
    assert np.isnan(density(p, t))


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf, 0.0, -900.0, 1e300])
def test_bad_densities_are_nan(bad: float) -> None:
    """No figure raises: what is no density gives NaN, and leaves its neighbours alone."""
    found = mass_fraction_from_density([bad, 930.0], [20.0, 20.0])
    assert np.isnan(found[0]) and 0.42 < found[1] < 0.43
    assert np.isnan(mass_fraction_from_density(930.0, bad)) or bad == 0.0


def test_shapes() -> None:
    """Scalars give a scalar, arrays broadcast, nothing gives nothing, and inputs stay as they were."""
    assert np.ndim(density(0.5, 20.0)) == 0
    assert density(np.full((2, 1), 0.5), np.full(3, 20.0)).shape == (2, 3)
    assert mass_fraction_from_density(np.empty(0), 20.0).shape == (0,)
    given_density = np.array([930.0, 1200.0])
    mass_fraction_from_density(given_density, 20.0)
    assert given_density.tolist() == [930.0, 1200.0]


def test_blocks_do_not_show() -> None:
    """Rows past the block size are worked out as those before."""
    p = np.linspace(0.0, 1.0, 2 * BLOCK + 7)
    t = np.linspace(-20.0, 40.0, p.size)
    whole = density(p, t)
    assert whole[[0, BLOCK, 2 * BLOCK, -1]].tolist() == [float(density(p[i], t[i])) for i in (0, BLOCK, 2 * BLOCK, -1)]


@given(st.floats(0.001, 0.999), st.floats(-19.99, 39.99))
def test_slopes_are_those_of_the_density(p: float, t: float) -> None:
    """The analytical slopes are the limits of difference quotients."""
    by_temperature = slope_by_temperature(p, t)
    assert slope_by_fraction(p, t) == pytest.approx((density(p + 1e-6, t) - density(p - 1e-6, t)) / 2e-6, abs=1e-2)
    assert by_temperature == pytest.approx((density(p, t + 1e-4) - density(p, t - 1e-4)) / 2e-4, abs=1e-4)


def test_needs_numpy_only() -> None:
    """The public functions load neither pandas nor scipy nor pint."""
    script = "import sys, plugins.proof; print([m for m in ('pandas', 'scipy', 'pint') if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
