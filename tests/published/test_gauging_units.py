"""Published conversions of volume, proof gallons and litres of alcohol; and that no row is left untested."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from plugins.proof import (
    LITRES_PER_GALLON,
    T_20C,
    T_60F,
    mass_fraction_from_abv,
    mass_fraction_from_proof,
    mass_from_volume,
    quantities,
)
from plugins.proof.alcoholometry.official import case_gallons
from tests.published.gauging_rows import Published, hold, known_differences, of_topic, published
from tests.published.test_gauging_cfr30 import FIGURES

CASES = of_topic("case gallons")
ALCOHOL = of_topic("litres of alcohol", "litres of alcohol (older edition)")


def test_litre_in_gallons() -> None:
    """A litre is 0.264172 US gallons (TTB conversion tables)."""
    hold(published()["TTB-lgal"], 1 / LITRES_PER_GALLON)


@pytest.mark.parametrize("entry", CASES, ids=[entry.id for entry in CASES])
def test_case_gallons(entry: Published) -> None:
    """Gallons of a case (TTB conversion tables), which the source finds with its own six-figure 0.264172."""
    litres = entry.given["litres"]
    assert case_gallons(litres) == entry.value
    assert litres / LITRES_PER_GALLON == pytest.approx(entry.value, rel=0.5e-6 / 0.264172)


def test_proof_gallons() -> None:
    """100 gallons of 40 % vol at 60 °F are 80 proof gallons (TTB sample calculation)."""
    w = mass_fraction_from_proof(80.0)
    made = quantities(mass_from_volume(100 * LITRES_PER_GALLON, w, T_60F), w)
    assert made["proof_gallons"] == pytest.approx(published()["TTB-pg"].value, abs=1e-9)


@pytest.mark.parametrize("entry", ALCOHOL, ids=[entry.id for entry in ALCOHOL])
def test_litres_of_alcohol(entry: Published) -> None:
    """100 cases of 12 bottles of 40 % vol at 20 °C in litres of alcohol (HMRC manual)."""
    given = entry.given
    litres = given["cases"] * given["bottles"] * given["bottle_L"]
    w = mass_fraction_from_abv(given["abv"])
    made = quantities(mass_from_volume(litres, w, T_20C), w)
    assert made["lpa"] == pytest.approx(entry.value, abs=1e-9)


def test_known_differences_are_published_rows() -> None:
    """Every entry of the list of known differences is a published row."""
    assert set(known_differences()) <= set(published())


def test_every_row_is_tested() -> None:
    """Each published row is named by a test of this folder, or belongs to a topic that a test goes through."""
    texts = "".join(path.read_text("utf-8") for path in sorted(Path(__file__).parent.glob("test_gauging_*.py")))
    untested = [
        row.id
        for row in published().values()
        if f'"{row.topic}"' not in texts and row not in FIGURES and not re.search(rf"\b{re.escape(row.id)}\b", texts)
    ]
    assert untested == []
