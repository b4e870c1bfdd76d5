"""The uncertainty of a proof: its slopes, and what goes into it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from plugins.proof import proof_from_mass_fraction
from plugins.proof.alcoholometry.instruments import METHODS, STATES, sense
from plugins.proof.alcoholometry.strength import SCALES
from plugins.proof.alcoholometry.uncertainty import combined, proof_slopes
from tests.proof.sheets import corrected, instruments, readings

STEP = 1e-4
CASES = [
    ("proof", 124.0, 25.0, "hydrometer"),
    ("proof", 30.0, 2.0, "hydrometer"),
    ("%vol", 62.0, 28.0, "hydrometer"),
    ("%mass", 54.0, 12.0, "hydrometer"),
    ("kg/m3", 900.0, 25.0, "hydrometer"),
    ("g/cm3", 0.9, 25.0, "density meter"),
    ("sg60", 0.9, 10.0, "hydrometer"),
    ("%vol", 62.0, 20.0, "density meter"),
]


def sensed(scale: str, reading: float, jar: float, method: str) -> Any:
    codes = (np.array([SCALES.index(scale)], np.int8), np.array([METHODS.index(method)], np.int8))
    state = np.array([STATES.index("as read")], np.int8)
    nothing = np.array([np.nan])
    return sense(np.array([reading]), codes[0], np.array([jar]), codes[1], state, nothing, nothing)


def proof_of(*reading: Any) -> float:
    return float(proof_from_mass_fraction(sensed(*reading).mass_fraction)[0])


@pytest.mark.parametrize(("scale", "reading", "jar", "method"), CASES)
def test_slopes_are_those_of_the_correction(scale: str, reading: float, jar: float, method: str) -> None:
    """Analytical slopes by reading and by temperature are the limits of difference quotients."""
    found = sensed(scale, reading, jar, method)
    slopes = proof_slopes(found, found.mass_fraction)
    step = STEP * (0.001 if scale in ("g/cm3", "sg60") else 1.0)
    by_reading = (
        (proof_of(scale, reading + step, jar, method) - proof_of(scale, reading - step, jar, method)) / 2 / step
    )
    assert slopes.by_reading[0] == pytest.approx(by_reading, rel=1e-5)
    if (scale, method) != ("%vol", "density meter"):
        warm, cold = (proof_of(scale, reading, jar + d, method) for d in (STEP, -STEP))
        assert slopes.by_temperature[0] == pytest.approx((warm - cold) / 2 / STEP, rel=1e-5)


def test_a_degree_at_120_proof() -> None:
    """About 0.39 proof per °F at 120 proof (trade notes 5.1)."""
    found = sensed("proof", 120.0, 20.0, "hydrometer")
    assert proof_slopes(found, found.mass_fraction).by_temperature[0] / 1.8 == pytest.approx(-0.39, abs=0.015)


def test_combined_leaves_out_what_is_unknown() -> None:
    """Terms add as squares; a missing term counts as none."""
    assert combined(np.array([3.0, 3.0]), np.array([4.0, np.nan])).tolist() == [5.0, 3.0]


def uncertainty(row: dict[str, Any], known: Any = None, **settings: Any) -> float:
    frame, _ = corrected(
        readings({"reading": 120.0, "scale": "proof", "temperature_degC": 20.0} | row), known, **settings
    )
    return float(frame["proof_uncertainty"].item())


def test_without_certificate_by_the_site_settings() -> None:
    """Hydrometer and temperature by the settings, added as squares."""
    slope = proof_slopes(*(lambda s: (s, s.mass_fraction))(sensed("proof", 120.0, 20.0, "hydrometer"))).by_temperature[
        0
    ]
    assert uncertainty({}) == pytest.approx(np.hypot(0.1, 0.25 * slope))
    alone = uncertainty({}, uncertainty__temperature_degC=0.0, uncertainty__hydrometer_proof=0.3)
    assert alone == pytest.approx(0.3)


def test_with_certificate_by_half_its_expanded_uncertainty() -> None:
    """A certificate's k=2 counts half, interpolated between its points, and the mark's reading is added."""
    known = instruments(
        {"instrument": "H-2", "reading": 110.0, "correction": 0.0, "uncertainty": 0.1, "calibrated_on": "2026-01-01"},
        {"instrument": "H-2", "reading": 130.0, "correction": 0.0, "uncertainty": 0.3, "calibrated_on": "2026-01-01"},
    )
    slope = proof_slopes(*(lambda s: (s, s.mass_fraction))(sensed("proof", 120.0, 20.0, "hydrometer")))
    expected = np.hypot(0.1 * slope.by_reading[0], 0.05)
    assert uncertainty({}, known, uncertainty__temperature_degC=0.0) == pytest.approx(expected)


def test_solids_and_distillation_add_their_own() -> None:
    """Stated solids add 0.004 proof per mg/100 mL of their uncertainty, a distillation its own term."""
    quiet = {"uncertainty__temperature_degC": 0.0, "uncertainty__hydrometer_proof": 0.0}
    assert uncertainty({"solids_mg_100mL": 200.0}, **quiet) == pytest.approx(0.04)
    assert uncertainty({"method": "distilled"}, **quiet) == pytest.approx(0.1)


def test_a_meter_at_reference_has_no_term_of_temperature() -> None:
    """A strength by a density meter rests on its density alone."""
    here = uncertainty({"method": "density meter", "temperature_degC": 20.0}, uncertainty__cell_temperature_degC=5.0)
    found = sensed("proof", 120.0, 20.0, "density meter")
    assert here == pytest.approx(abs(proof_slopes(found, found.mass_fraction).by_density[0]) * 0.1)


def test_the_cold_makes_weak_spirit_uncertain() -> None:
    """At -15 °C a density says little of weak spirit, and the uncertainty says so."""
    cold = uncertainty({"reading": 978.0, "scale": "kg/m3", "method": "density meter", "temperature_degC": -15.0})
    warm = uncertainty({"reading": 978.0, "scale": "kg/m3", "method": "density meter", "temperature_degC": 15.0})
    assert cold > 2 * warm
