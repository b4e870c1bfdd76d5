"""How often honest readings are doubted and planted slips found, over thousands of generated readings.

The stock is ``generator.honest``: drift of 1 to 3 proof a year either way, 0.2 proof of noise, a
hydrometer in proof with °F, one in % vol with °C, a density meter. Counts measured are in the
docstrings; the limits leave room for other versions of the arithmetic.
"""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from pipeline import Finding
from pipeline.testing import site_with
from plugins.validation.readings.reading_checks import check_readings, doubt_readings
from tests.validation.generator import HYDROMETER_PROOF, Stock, honest

SITE = site_with()
FIRST = 100_000
PLANTED = 100
STOCK = honest(4000, seed=7)


def findings_of(stock: Stock) -> list[Finding]:
    frames = stock.frames
    needed = [frames[name] for name in ("casks", "vessels", "instruments", "briefs", "blends")]
    return doubt_readings(frames["readings"], stock.proofs(SITE), *needed, SITE)[1]


def rates(stock: Stock, planted: np.ndarray) -> tuple[Counter[str], Counter[str]]:
    """Codes of findings on planted rows, and of stops and reviews on honest ones."""
    slips = set((planted + FIRST).tolist())
    hits: Counter[str] = Counter()
    alarms: Counter[str] = Counter()
    for finding in findings_of(stock):
        if finding.facts[0] in slips:
            hits[finding.code] += 1
        elif finding.severity != "note":
            alarms[finding.code] += 1
    return hits, alarms


def some_rows(mask: np.ndarray, seed: int = 3) -> np.ndarray:
    return np.sort(np.random.default_rng(seed).choice(np.flatnonzero(mask), PLANTED, replace=False))


def with_text(column: str, rows: np.ndarray, value: object) -> Stock:
    changed = STOCK.columns[column].copy()
    changed[rows] = value
    return STOCK.rebuilt(**{column: changed})


FAHRENHEIT = STOCK.columns["temperature_unit"] == "degF"
PROOF = STOCK.columns["scale"] == "proof"
PERCENT = STOCK.columns["scale"] == "%vol"


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_honest_readings_are_not_doubted(seed: int) -> None:
    """6,000 honest readings: no stop, at most two reviews, ten notes (ten seeds measured: 0, 0, 0 to 8)."""
    found = Counter(finding.severity for finding in findings_of(honest(6000, seed=seed)))
    assert found["stop"] == 0
    assert found["review"] <= 2
    assert found["note"] <= 10


def test_honest_readings_from_cold_stores() -> None:
    """With jars 18 K colder, so that °F figures look like °C, no stop and at most 6 reviews in 4,000
    (four seeds measured: no stop, 0 to 4 temperatures that differ from their day's as the two scales do)."""
    cold = honest(4000, seed=11, warmer_K=-18.0)
    alarms = rates(cold, np.zeros(0, dtype=int))[1]
    assert set(alarms) <= {"reading.temperature-apart"}
    assert sum(alarms.values()) <= 6


def test_celsius_keyed_as_fahrenheit() -> None:
    """Of 100 temperatures keyed in °C in a °F column at least 82 are named as such (measured: 88), 93 found at all."""
    rows = some_rows(FAHRENHEIT)
    degC = STOCK.columns["temperature_degC"].copy()
    degC[rows] = (np.round(STOCK.jar_degC[rows], 1) - 32.0) / 1.8
    hits, alarms = rates(STOCK.rebuilt(temperature_degC=degC), rows)
    assert hits["reading.temperature-other-scale"] >= 82
    assert sum(hits.values()) >= 93
    assert sum(alarms.values()) <= 8


def test_a_whole_day_keyed_in_the_other_scale() -> None:
    """Where every °F figure of three days is a °C figure, at least 27 of the 34 are named (measured: 31)."""
    days = STOCK.columns["taken_at"].astype("datetime64[D]")
    several, count = np.unique(days[FAHRENHEIT], return_counts=True)
    rows = np.flatnonzero(FAHRENHEIT & np.isin(days, several[count >= 10][:3]))
    degC = STOCK.columns["temperature_degC"].copy()
    degC[rows] = (np.round(STOCK.jar_degC[rows], 1) - 32.0) / 1.8
    hits, _ = rates(STOCK.rebuilt(temperature_degC=degC), rows)
    assert len(rows) == 34
    assert hits["reading.temperature-other-scale"] >= 27


def test_fahrenheit_keyed_as_celsius() -> None:
    """Of 100 jars below 60 °F keyed as °C (those that a sheet lets in) at least 90 are named (measured: 96)."""
    rows = some_rows(~FAHRENHEIT & (STOCK.jar_degC * 1.8 + 32.0 < 60.0))
    degC = STOCK.columns["temperature_degC"].copy()
    degC[rows] = np.round(STOCK.jar_degC[rows] * 1.8 + 32.0)
    hits, alarms = rates(STOCK.rebuilt(temperature_degC=degC), rows)
    assert hits["reading.temperature-other-scale"] >= 90
    assert sum(alarms.values()) <= 3


@pytest.mark.parametrize(("is_proof", "other"), [(True, "%vol"), (False, "proof")])
def test_proof_and_percent(is_proof: bool, other: str) -> None:
    """Of 100 figures with the wrong scale at least 95 are named (measured: 98 and 100), and hardly one beside them."""
    rows = some_rows(PROOF if is_proof else PERCENT)
    hits, alarms = rates(with_text("scale", rows, other), rows)
    assert hits["reading.scale-mixed"] >= 95
    assert sum(alarms.values()) <= 3


def test_swapped_digits() -> None:
    """Of 100 figures with the second and third digit swapped at least 65 are found (measured: 77); the others
    move the strength by less than the house lets pass."""
    rows = some_rows(PROOF)
    reading = STOCK.columns["reading"].copy()
    for row in rows:
        text = f"{reading[row]:.1f}"
        reading[row] = float(text[0] + text[2] + text[1] + text[3:])
    hits, alarms = rates(STOCK.rebuilt(reading=reading), rows)
    assert 65 <= hits["reading.proof-jumps"] <= PLANTED
    assert sum(alarms.values()) <= 3


def test_wrong_cask_number() -> None:
    """Of cask numbers with two digits swapped more than half are found (measured: 44 of 70): all that lead to an
    unknown number; one that leads to a cask of like strength shows nowhere."""
    rows = some_rows(np.ones(len(STOCK.true_proof), dtype=bool))
    names = STOCK.columns["vessel"].copy()
    rng = np.random.default_rng(5)
    for row in rows:
        text, place = names[row], int(rng.integers(2, 6))
        names[row] = text[:place] + text[place + 1] + text[place] + text[place + 2 :]
    rows = rows[names[rows] != STOCK.columns["vessel"][rows]]
    hits, alarms = rates(STOCK.rebuilt(vessel=names), rows)
    known = set(STOCK.frames["casks"]["cask"])
    unknown = [row for row in rows if names[row] not in known]
    assert hits["reading.unknown-vessel"] == len(set(names[unknown]))
    assert sum(hits.values()) > 0.5 * len(rows)
    assert sum(alarms.values()) <= 3


@pytest.mark.long
def test_a_hydrometer_whose_readings_were_corrected_before() -> None:
    """A hydrometer's days on which every figure was corrected before it was written: at least 30 of 40 days found
    (measured: 40, over three stocks), at most four other days named (measured: 3)."""
    found = others = planted = 0
    for seed, gauges in ((7, 4), (8, 10), (9, 10)):
        stock = honest(8000, seed=seed, gauges=gauges)
        days = stock.columns["taken_at"].astype("datetime64[D]")
        mine = stock.columns["instrument"] == HYDROMETER_PROOF
        several, count = np.unique(days[mine], return_counts=True)
        chosen = several[count >= 15][::6]
        rows = np.flatnonzero(mine & np.isin(days, chosen))
        reading = stock.columns["reading"].copy()
        reading[rows] = np.round(stock.true_proof[rows], 1)
        slips = set((rows + FIRST).tolist())
        groups = [f for f in findings_of(stock.rebuilt(reading=reading)) if f.message.startswith("The ")]
        found += sum(finding.facts[0] in slips for finding in groups)
        others += sum(finding.facts[0] not in slips for finding in groups)
        planted += len(chosen)
    assert planted == 40
    assert found >= 30 and others <= 4


def test_a_single_reading_corrected_before_is_seldom_found() -> None:
    """Of 100 single ones few are named (measured: 6): a few proof are what casks change by in a year or two."""
    rows = some_rows(PROOF)
    reading = STOCK.columns["reading"].copy()
    reading[rows] = np.round(STOCK.true_proof[rows], 1)
    hits, alarms = rates(STOCK.rebuilt(reading=reading), rows)
    assert hits["reading.maybe-corrected-twice"] >= 2
    assert sum(alarms.values()) <= 6


@pytest.mark.long
def test_a_hundred_thousand_readings() -> None:
    """100,000 honest readings of 25,000 casks are checked with few findings."""
    stock = honest(100_000, seed=1)
    proofs = stock.proofs(SITE)
    needed = [stock.frames[name] for name in ("casks", "vessels", "instruments", "briefs", "blends")]
    _, findings = doubt_readings(stock.frames["readings"], proofs, *needed, SITE)
    assert len(check_readings(stock.frames["readings"], proofs, *needed[:-1], SITE)) == 100_000
    assert sum(finding.severity != "note" for finding in findings) <= 20
