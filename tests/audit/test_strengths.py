"""gauges.csv against the auditors' own alcoholometry: every scale, state, method and certificate."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path

import pytest

from tests.audit.alcohol import (
    T_60F,
    abv,
    by_hydrometer,
    by_proof_hydrometer,
    celsius,
    density,
    of_abv,
    of_density,
    of_proof,
    proof,
)
from tests.audit.room import SITE, Room

WATER_60F = density(0.0, T_60F)
HEADER = "vessel,taken_at,reading,scale,state,temperature,instrument,method,solids"
DAY = "2026-01-05"


def abv_hydrometer(reading: float, temperature: float, expansion: float = 25e-6) -> float:
    return by_hydrometer(density(of_abv(reading), 20.0), temperature, 20.0, expansion)


PLAIN = {  # reading, scale, state, temperature, method, and the mass fraction it means
    "proof hydrometer": (121.3, "proof", "as read", "68 °F", "hydrometer", by_proof_hydrometer(121.3, 68)),
    "cold proof hydrometer": (121.3, "proof", "as read", "41 °F", "hydrometer", by_proof_hydrometer(121.3, 41)),
    "abv hydrometer": (60.0, "%vol", "as read", "24 °C", "hydrometer", abv_hydrometer(60.0, 24.0)),
    "density meter g/cm3": (0.909, "g/cm3", "as read", "20 °C", "density meter", of_density(909.0, 20.0)),
    "density meter kg/m3": (915.0, "kg/m3", "as read", "15 °C", "density meter", of_density(915.0, 15.0)),
    "sg60 hydrometer at base": (0.92, "sg60", "as read", "60 °F", "hydrometer", of_density(0.92 * WATER_60F, T_60F)),
    "sg60 hydrometer warm": (
        *(0.92, "sg60", "as read", "80 °F", "hydrometer"),
        by_hydrometer(0.92 * WATER_60F, celsius(80), T_60F),
    ),
    "already at 60 F": (118.0, "proof", "at 60 °F", "75 °F", "hydrometer", of_proof(118.0)),
    "already at 20 C": (59.5, "%vol", "at 20 °C", "25 °C", "hydrometer", of_abv(59.5)),
    "% vol at 60 F is half the proof": (60.0, "%vol", "at 60 °F", "60 °F", "hydrometer", of_proof(120.0)),
    "by mass": (54.1, "%mass", "at 20 °C", "20 °C", "", 0.541),
    "distilled": (109.0, "proof", "as read", "60 °F", "distilled", of_proof(109.0)),
}
TIES = ("100.05", "100.15", "100.25", "100.35", "100.45", "100.55", "100.65", "0.05", "199.95", "86.049999", "119.95")


@pytest.fixture(scope="module")
def room(tmp_path_factory: pytest.TempPathFactory) -> Room:
    room = Room(tmp_path_factory.mktemp("strengths"))
    rows = [(name, DAY, *case[:4], "X-1", case[4], "") for name, case in PLAIN.items()]
    rows += [(f"tie {value}", DAY, value, "proof", "at 60 °F", "60 °F", "X-1", "hydrometer", "") for value in TIES]
    rows.append(("solids", DAY, 110, "proof", "as read", "60 °F", "X-1", "hydrometer", "450 mg/100mL"))
    rows.append(("too many solids", DAY, 110, "proof", "as read", "60 °F", "X-1", "hydrometer", "700 mg/100mL"))
    room.table("readings.csv", HEADER, rows)
    room.run()
    return room


@pytest.mark.long
@pytest.mark.parametrize("name", PLAIN)
def test_reading_means_the_strength_that_own_arithmetic_finds(room: Room, name: str) -> None:
    """Proof, % vol and density of a reading equal the auditors' own, to eleven digits."""
    fraction, row = PLAIN[name][5], room.gauges()[name]
    assert float(row["proof_60F"]) == pytest.approx(proof(fraction), rel=1e-11)
    assert float(row["abv_20C"]) == pytest.approx(abv(fraction), rel=1e-11)
    assert float(row["density_kg_m3"]) == pytest.approx(density(fraction, 20.0), rel=1e-11)


@pytest.mark.long
@pytest.mark.parametrize("value", TIES)
def test_official_proof_rounds_half_up_on_the_stated_digits(room: Room, value: str) -> None:
    """27 CFR 30.23: to the nearest tenth, a 5 in the hundredths goes up, though no float holds 100.05."""
    wanted = Decimal(value).quantize(Decimal("0.1"), ROUND_HALF_UP)
    assert Decimal(room.gauges()[f"tie {value}"]["proof_official"]) == wanted


@pytest.mark.long
def test_solids_hide_four_tenths_per_hundred_milligrams(room: Room) -> None:
    """27 CFR 30.32: 450 mg/100 mL hide 1.8 proof; above 600 mg only distillation shows the true proof."""
    assert float(room.gauges()["solids"]["proof_60F"]) == pytest.approx(111.8, rel=1e-11)
    assert float(room.gauges()["too many solids"]["proof_60F"]) == pytest.approx(110.0, rel=1e-11)
    assert [finding["subject"] for finding in room.open("proof.solids-above-limit")] == ["too many solids"]


CERTIFICATES = """\
instrument,kind,scale,base_temperature,glass_expansion,range_low,range_high,reading,correction,uncertainty,calibrated_on,valid_until
H-1,hydrometer,proof,60 °F,25e-6,100,130,100,0.1,0.2,2025-01-01,2026-12-31
H-1,hydrometer,proof,60 °F,25e-6,100,130,120,-0.3,0.2,2025-01-01,2026-12-31
H-1,hydrometer,proof,60 °F,25e-6,100,130,130,0.5,0.4,2025-01-01,2026-12-31
H-1,hydrometer,proof,60 °F,25e-6,100,130,100,1.0,0.2,2026-02-01,2026-12-31
H-1,hydrometer,proof,60 °F,25e-6,100,130,130,1.0,0.2,2026-02-01,2026-12-31
H-2,hydrometer,%vol,20 °C,1e-5,40,70,55,0.05,0.1,2025-01-01,2025-12-31
H-3,hydrometer,proof,20 °C,3e-5,100,130,110,0,0.2,2025-01-01,2026-12-31
D-1,density meter,kg/m3,,,800,1000,900,-0.2,0.1,2025-01-01,2026-12-31
D-1,density meter,kg/m3,,,800,1000,950,0.3,0.1,2025-01-01,2026-12-31
T-1,thermometer,degF,,,30,120,60,0.5,0.2,2025-01-01,2026-12-31
T-1,thermometer,degF,,,30,120,80,-0.5,0.2,2025-01-01,2026-12-31
"""


def thermometer(fahrenheit: float) -> float:
    """T-1 reads 0.5 low at 60 °F and 0.5 high at 80 °F, straight between, level beyond; in °C."""
    return celsius(fahrenheit + min(max(0.5 - (fahrenheit - 60) / 20, -0.5), 0.5))


def certified(reading: float, fahrenheit: float) -> float:
    return by_hydrometer(density(of_proof(reading), T_60F), thermometer(fahrenheit), T_60F)


CORRECTED = {  # taken_at, reading, scale, temperature, instrument, method, and the mass fraction it means
    "between two points": ("2026-01-05", 110.0, "proof", "64 °F", "H-1", "hydrometer", certified(110 - 0.1, 64)),
    "between two other points": ("2026-01-05", 126.0, "proof", "70 °F", "H-1", "hydrometer", certified(126.18, 70)),
    "by the later certificate": ("2026-03-05", 126.0, "proof", "70 °F", "H-1", "hydrometer", certified(127.0, 70)),
    "below the certificate": ("2026-01-05", 99.0, "proof", "70 °F", "H-1", "hydrometer", certified(99.1, 70)),
    "above the certificate": ("2026-01-05", 131.0, "proof", "95 °F", "H-1", "hydrometer", certified(131.5, 95)),
    "glass and base of the certificate": (
        *("2026-01-05", 112.0, "proof", "75 °F", "H-3", "hydrometer"),
        by_hydrometer(density(of_proof(112.0), 20.0), thermometer(75), 20.0, 3e-5),
    ),
    "% vol hydrometer": (
        *("2026-01-05", 58.0, "%vol", "22 °C", "H-2", "hydrometer"),
        abv_hydrometer(58.05, thermometer(71.6), 1e-5),
    ),
    "meter, another unit than its certificate": (
        *("2026-01-05", 0.92, "g/cm3", "20 °C", "D-1", "density meter"),
        of_density(920.0, 20.0),
    ),
}


@pytest.fixture(scope="module")
def certified_room(tmp_path_factory: pytest.TempPathFactory) -> Room:
    room = Room(tmp_path_factory.mktemp("certificates"), SITE + '[instruments]\nthermometer = "T-1"\n')
    room.write("certificates.csv", CERTIFICATES)
    rows = [(n, c[0], c[1], c[2], "as read", c[3], c[4], c[5], "") for n, c in CORRECTED.items()]
    room.table("readings.csv", HEADER, rows)
    room.run()
    return room


@pytest.mark.long
@pytest.mark.parametrize("name", CORRECTED)
def test_corrections_of_certificates_are_interpolated(certified_room: Room, name: str) -> None:
    """Hydrometer, meter and thermometer are corrected by the certificate in force, straight between its points."""
    row = certified_room.gauges()[name]
    assert float(row["proof_60F"]) == pytest.approx(proof(CORRECTED[name][6]), rel=1e-11)


@pytest.mark.long
def test_out_of_range_and_out_of_date_instruments_are_told(certified_room: Room) -> None:
    """A reading beyond the stem is a review finding; so is a certificate that had run out on that day."""
    beyond = {finding["subject"] for finding in certified_room.open("proof.outside-instrument-range")}
    assert beyond == {"below the certificate", "above the certificate"}
    assert {finding["subject"] for finding in certified_room.open("proof.instrument-out-of-calibration")} == {"H-2"}


@pytest.mark.long
def test_moments_with_an_offset_become_the_wall_clock(tmp_path: Path) -> None:
    """A reading at 23:30 eight hours west of Greenwich is 02:30 of the next day in New York."""
    room = Room(tmp_path)
    row = (110, "proof", "at 60 °F", "60 °F", "X-1", "", "")
    room.table("r.csv", HEADER, [("west", "2026-01-10T23:30-08:00", *row), ("zulu", "2026-01-10T23:30Z", *row)])
    room.run()
    assert room.gauges()["west"]["taken_at"] == "2026-01-11T02:30:00"
    assert room.gauges()["zulu"]["taken_at"] == "2026-01-10T18:30:00"
