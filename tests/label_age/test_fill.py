"""Fill checks: volumes at the law's temperature, lots, and Student's t."""

from __future__ import annotations

import pytest
from scipy.stats import t as student_t

from plugins.label_age.facts.fill import ONE_SIDED, student
from plugins.proof import (
    abv_from_mass_fraction,
    density,
    mass_fraction_from_abv,
    mass_from_volume,
    volume_L,
    weight_from_mass,
)
from tests.label_age.kit import Room, brief, cask, line

RUN = {"batch": "B-1", "bottled_on": "2026-02-20", "bottle_size_L": 0.7, "bottles": 600, "label_abv": 40.0}


def test_students_t_against_scipy() -> None:
    """Each t is the true one to its last digit, and between two the greater counts."""
    for degrees, value in ONE_SIDED[:-1]:
        assert value == pytest.approx(student_t.ppf(0.995, degrees), abs=6e-4)
    for degrees in range(1, 200):
        assert student(degrees) >= student_t.ppf(0.995, degrees) - 6e-4


def checks(**row: object) -> list[dict[str, object]]:
    return [
        {"batch": "B-1", "checked_at": "2026-02-20", "bottle_size_L": 0.7, "line": str(n), **row} for n in range(20)
    ]


def test_warm_contents_are_reduced_to_20_degrees() -> None:
    """700.6 mL at 30 °C of 40 % vol are less than 700 mL at 20 °C: short on average."""
    fraction = float(mass_fraction_from_abv(40.0))
    warm = float(volume_L(mass_from_volume(0.6995, fraction, 20.0), fraction, 30.0))
    asked = [brief(market="EU", bottling_abv=40.0, bottle_size_L=0.7)]
    room = Room(
        briefs=asked,
        bottlings=[RUN],
        abv=40.0,
        fill_checks=checks(net_volume_L=warm, temperature_degC=30.0, proof=40.0, proof_unit="%vol"),
    )
    assert warm > 0.700
    assert room.verdict("net contents", "EU") == "not met"


def test_a_weight_tells_the_volume() -> None:
    """The weight in air of 700 mL of 40 % vol at 20 °C is 700 mL, whatever the temperature of the day."""
    fraction = mass_fraction_from_abv(40.0)
    mass = mass_from_volume(0.7001, fraction, 20.0)
    weight = float(weight_from_mass(mass, density(fraction, 20.0)))
    asked = [brief(market="EU", bottling_abv=40.0, bottle_size_L=0.7)]
    row = checks(net_weight_kg=weight, proof=float(abv_from_mass_fraction(fraction)), proof_unit="%vol")
    assert Room(briefs=asked, bottlings=[RUN], abv=40.0, fill_checks=row).verdict("net contents", "EU") == "met"


def test_the_plan_is_told() -> None:
    """The verdict says how many bottles of how many were tested, of which lot."""
    asked = [brief(market="EU", bottling_abv=40.0, bottle_size_L=0.7)]
    room = Room(briefs=asked, bottlings=[RUN], abv=40.0, fill_checks=checks(net_volume_L=0.698))
    reason = room.row("net contents", "EU")["reason"]
    assert "the lot of 2026-02-20, 700 mL (20 of 600 bottles tested)" in reason


def test_nothing_tested_nothing_judged() -> None:
    """Without a bottle tested no verdict on the net contents is made up."""
    assert ("EU", "net contents") not in Room(briefs=[brief(market="EU")]).verdicts()


def test_no_strength_no_volume() -> None:
    """A volume at another temperature of spirit of unknown strength is not known, and says so."""
    asked = [brief(market="EU", bottling_abv=None, bottle_size_L=0.7)]
    room = Room(briefs=asked, bottlings=[RUN], proof=None, fill_checks=checks(net_volume_L=0.7, temperature_degC=30.0))
    assert room.verdict("net contents", "EU") == "cannot tell"


def test_findings_of_inventories_that_contradict_themselves() -> None:
    """Two exports that say two things of one filling: a finding with both, and the last counts."""
    stock = [cask(as_of="2024-12-31", new_oak=False, wood_use=None), cask(as_of="2025-12-31", distillery="Stony Ford")]
    _, findings = Room(stock, [line("C-1")]).judged()
    said = {f.subject: f for f in findings if f.code == "label.facts-contradict"}
    assert set(said) == {"C-1 · distillery", "C-1 · new_oak"}
    assert "Alder Hollow (2024-12-31), Stony Ford (2025-12-31)" in said["C-1 · distillery"].message
