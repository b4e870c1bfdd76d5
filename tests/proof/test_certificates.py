"""Certificates: which is in force, what it corrects, and what is said where none is."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from plugins.proof import proof_from_mass_fraction, read_strength
from plugins.proof.gauging.certificates import certificates_of
from tests.proof.sheets import codes, corrected, instruments, readings

JAR = 20.0


def point(reading: float, correction: float, calibrated_on: str | None = "2026-01-05", **more: Any) -> dict[str, Any]:
    row = {"instrument": "H-2", "reading": reading, "correction": correction, "calibrated_on": calibrated_on}
    return row | more


def proof(reading: float, jar: float = JAR) -> float:
    return float(proof_from_mass_fraction(read_strength(reading, "proof", jar)))


def gauged(reading: float, known: Any, **more: Any) -> tuple[float, list[Any]]:
    frame, findings = corrected(readings({"reading": reading, "scale": "proof", "temperature_degC": JAR} | more), known)
    return float(frame["proof_60F"].item()), findings


@pytest.mark.parametrize(
    ("reading", "correction"), [(90.0, 0.1), (100.0, 0.1), (105.0, 0.0), (110.0, -0.1), (115.0, 0.1), (130.0, 0.3)]
)
def test_corrections_are_interpolated_and_held_beyond(reading: float, correction: float) -> None:
    """Between the points a correction is interpolated, beyond the first and last it is held, and added first."""
    known = instruments(point(110.0, -0.1), point(100.0, 0.1), point(120.0, 0.3))
    found, findings = gauged(reading, known)
    assert found == pytest.approx(proof(reading + correction), abs=1e-9)
    assert codes(findings) == []


@pytest.mark.parametrize(
    ("taken_at", "correction"),
    [
        ("2025-06-30", 0.1),
        ("2026-01-04T23:59", 0.1),
        ("2026-01-05", 0.2),
        ("2026-01-05T08:00", 0.2),
        ("2027-01-01", 0.2),
    ],
)
def test_the_last_certificate_before_the_reading_counts(taken_at: str, correction: float) -> None:
    """A certificate holds from the day of its calibration to the next one's."""
    known = instruments(point(120.0, 0.1, "2025-01-01"), point(120.0, 0.2))
    found, findings = gauged(120.0, known, taken_at=taken_at)
    assert found == pytest.approx(proof(120.0 + correction), abs=1e-9)
    assert codes(findings) == []


def test_before_the_first_certificate_nothing_is_added() -> None:
    """A later certificate does not correct an earlier reading, and that is said."""
    found, findings = gauged(120.0, instruments(point(120.0, 0.2)), taken_at="2025-12-31")
    assert found == pytest.approx(proof(120.0), abs=1e-9)
    assert codes(findings) == ["proof.instrument-out-of-calibration"]
    assert "valid only from 2026-01-05" in findings[0].message and findings[0].column == "calibrated_on"


@pytest.mark.parametrize(("taken_at", "late"), [("2026-03-01T23:00", False), ("2026-03-02", True)])
def test_an_expired_certificate_is_said_and_used(taken_at: str, late: bool) -> None:
    """A certificate is valid through its last day; after it one finding names all its readings."""
    known = instruments(point(120.0, 0.2, valid_until="2026-03-01"))
    row = {"reading": 120.0, "scale": "proof", "temperature_degC": JAR, "taken_at": taken_at}
    frame, findings = corrected(readings(row, row | {"vessel": "C-0102"}), known)
    assert frame["proof_60F"].tolist() == pytest.approx([proof(120.2)] * 2, abs=1e-9)
    assert codes(findings) == ["proof.instrument-out-of-calibration"] * late
    if late:
        assert findings[0].facts == (1000, 1, 2) and findings[0].severity == "review"
        assert findings[0].message == (
            "H-2: its certificate is valid until 2026-03-01, but 2 readings from 2026-03-02 to 2026-03-02 rest on it; "
            "its corrections were used all the same."
        )


def test_names_are_compared_without_case() -> None:
    """``h-2 `` on a reading is the H-2 of the certificate."""
    assert gauged(120.0, instruments(point(120.0, 0.2)), instrument="h-2 ")[0] == pytest.approx(proof(120.2), abs=1e-9)


def test_an_undated_row_describes_the_instrument() -> None:
    """What the undated row says of an instrument completes its certificates; the facts of both are kept."""
    described = {"instrument": "H-2", "scale": "proof", "glass_expansion_per_K": 30e-6, "range_high": 130.0}
    known = instruments(described, point(120.0, 0.2))
    frame, findings = corrected(readings({"reading": 120.0, "temperature_degC": 30.0}), known)
    expected = proof_from_mass_fraction(read_strength(120.2, "proof", 30.0, glass_expansion_per_K=30e-6))
    assert frame["proof_60F"].item() == pytest.approx(float(expected), abs=1e-9)
    assert frame["facts"].item() == (1, 1000, 1001)
    assert codes(findings) == []


def test_a_description_alone_is_no_certificate() -> None:
    """An instrument that is only described, one that is not listed and none at all each get one note."""
    rows = [
        {"reading": 120.0, "scale": "proof", "temperature_degC": JAR, "instrument": name, "vessel": f"C-{n}"}
        for n, name in enumerate(["H-2", "H-2", "H-9", "H-9", None, None])
    ]
    _, findings = corrected(readings(*rows), instruments({"instrument": "H-2", "kind": "hydrometer"}))
    assert codes(findings) == ["proof.no-certificate"] * 3
    assert [finding.subject for finding in findings] == ["H-2", "", "H-9"]
    assert [finding.facts for finding in findings] == [(1,), (5,), (3,)]
    assert {finding.severity for finding in findings} == {"note"}


def test_points_without_uncertainty_state_none() -> None:
    """Corrections and uncertainties may stand at different points."""
    [certificate] = certificates_of(instruments(point(100.0, 0.1), point(120.0, np.nan, uncertainty=0.2)))["h-2"]
    assert certificate.correction(np.array([120.0])).tolist() == [0.1]
    assert certificate.uncertainty(np.array([100.0])).tolist() == [0.2]


def thermometer(scale: str | None = None, **more: Any) -> dict[str, Any]:
    row = {"instrument": "T-1", "kind": "thermometer", "calibrated_on": "2026-01-05"}
    return row | ({"scale": scale} if scale else {}) | more


@pytest.mark.parametrize(
    ("row", "added_K"),
    [
        (thermometer("degF", reading=68.0, correction=0.9), 0.5),
        (thermometer("degC", reading=20.0, correction=-0.3), -0.3),
        (thermometer(base_temperature_degC=20.0, base_temperature_unit="degF", reading=68.0, correction=0.9), 0.5),
    ],
)
def test_thermometer_corrections_are_in_its_own_unit(row: dict[str, Any], added_K: float) -> None:
    """A thermometer's correction is read and added in the unit of its certificate."""
    known = instruments(row, point(120.0, 0.0))
    read = readings({"reading": 120.0, "scale": "proof", "temperature_degC": JAR})
    frame, findings = corrected(read, known, instruments__thermometer="T-1")
    assert frame["proof_60F"].item() == pytest.approx(proof(120.0, JAR + added_K), abs=1e-9)
    assert frame["temperature_degC"].item() == JAR
    assert frame["facts"].item() == (1, 1000, 1001)
    assert codes(findings) == []


def test_a_thermometer_between_its_points() -> None:
    """Thermometer corrections are interpolated as hydrometer corrections are."""
    known = instruments(
        thermometer("degF", reading=60.0, correction=0.0), thermometer("degF", reading=76.0, correction=0.9)
    )
    read = readings({"reading": 120.0, "scale": "proof", "temperature_degC": JAR})
    frame, _ = corrected(read, known, instruments__thermometer="T-1")
    assert frame["proof_60F"].item() == pytest.approx(proof(120.0, JAR + 0.25), abs=1e-9)


def test_meters_have_their_own_thermometer() -> None:
    """The cell of a density meter is not corrected by the jar's thermometer."""
    known = instruments(thermometer("degC", reading=20.0, correction=5.0))
    read = readings({"reading": 900.0, "scale": "kg/m3", "temperature_degC": JAR, "method": "density meter"})
    with_thermometer, _ = corrected(read, known, instruments__thermometer="T-1")
    without, _ = corrected(read, known)
    assert with_thermometer["proof_60F"].item() == without["proof_60F"].item()


@pytest.mark.parametrize(
    ("known", "said"), [([], "no instruments sheet lists it"), ([thermometer()], "states no scale of degC or degF")]
)
def test_a_thermometer_that_cannot_be_used_is_said(known: list[dict[str, Any]], said: str) -> None:
    """A thermometer of the settings that is not listed, or whose unit is not known, corrects nothing."""
    read = readings({"reading": 120.0, "scale": "proof", "temperature_degC": JAR})
    frame, findings = corrected(read, instruments(*known), instruments__thermometer="T-1")
    assert frame["proof_60F"].item() == pytest.approx(proof(120.0), abs=1e-9)
    assert codes(findings) == ["proof.thermometer-not-usable", "proof.no-certificate"]
    assert said in findings[0].message


def test_one_reading_rests_on_an_expired_certificate() -> None:
    """One reading rests, two readings rest."""
    known = instruments(
        {"instrument": "H-2", "reading": 120.0, "correction": 0.0, "calibrated_on": "2025-01-05",
         "valid_until": "2026-03-01"}
    )  # fmt: skip
    _, findings = corrected(readings({"reading": 120.0, "scale": "proof", "temperature_degC": 20.0}), known)
    found = next(one for one in findings if one.code == "proof.instrument-out-of-calibration")
    assert "but a reading of 2026-03-02 rests on it;" in found.message


def test_one_instrument_may_be_out_of_calibration_in_more_than_one_way() -> None:
    """Read before its first certificate and after two that had ended: each is said, and the stage stands."""
    terms = (("2025-01-01", "2025-02-01"), ("2026-01-01", "2026-02-01"))
    known = instruments(*(point(120.0, 0.2, day, valid_until=until) for day, until in terms))
    row = {"reading": 120.0, "scale": "proof", "temperature_degC": JAR}
    days = ("2024-12-01", "2025-03-01", "2026-03-01")
    frame, findings = corrected(readings(*(row | {"taken_at": day} for day in days)), known)
    assert frame["certificate"].tolist() == ["too early", "expired", "expired"]
    assert codes(findings) == ["proof.instrument-out-of-calibration"] * 3
    ends = ("valid only from 2025-01-01", "valid until 2025-02-01", "valid until 2026-02-01")
    assert all(end in finding.message for end, finding in zip(ends, findings, strict=True))
