"""The example of 27 CFR 30.23 from the cells of a sheet to the gauge, instrument corrections first."""

from __future__ import annotations

import pytest

from plugins.proof import proof_from_mass_fraction, read_strength
from tests.proof.sheets import codes, corrected, instruments, readings
from tests.published.gauging_rows import published


def test_P30_23_from_sheet_to_gauge() -> None:
    """192.85 at 72.10 °F with corrections of -0.03 and +0.05 is read as 192.82 at 72.15 °F: 190.0 proof."""
    example = published()["P30-23-corr"]
    proof, temperature_F = (float(part) for part in example.expected.split(" @ "))
    sheet = readings({"reading": 192.85, "scale": "proof", "temperature_degC": (72.10 - 32) / 1.8})
    known = instruments(
        {"instrument": "H-2", "scale": "proof", "reading": 190.0, "correction": -0.03, "calibrated_on": "2026-01-05"},
        {"instrument": "T-1", "kind": "thermometer", "scale": "degF", "reading": 70.0, "correction": 0.05,
         "calibrated_on": "2026-01-05"},
    )  # fmt: skip
    gauges, findings = corrected(sheet, known, instruments__thermometer="T-1")
    expected = proof_from_mass_fraction(read_strength(proof, "proof", (temperature_F - 32) / 1.8))
    assert gauges["proof_60F"].item() == pytest.approx(expected, abs=1e-9)
    assert gauges["proof_official"].item() == published()["P30-23-final"].value
    assert gauges["reading"].item() == 192.85
    assert gauges["facts"].item() == (1, 1001, 1000)
    assert codes(findings) == []
