"""The worked examples and table entries of 27 CFR part 30, each by the density formula and by the law's own steps.

The tables of part 30 are the law for official gauges in the US; what is tested here is how far the
formula reproduces them. Where an example rounds on its way, the example's own steps are tested too.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from plugins.proof import (
    LITRES_PER_GALLON,
    T_60F,
    density,
    mass_fraction_from_proof,
    mass_from_volume,
    official_proof,
    official_tenth,
    quantities,
)
from plugins.proof.alcoholometry.official import (
    LAW,
    celsius,
    printed,
    proof_gallons_by_parts,
    table_value,
    true_proof,
    volume_factor,
    water_by_volume,
    water_by_weight,
)
from plugins.proof.gauging.obscuration import ADDED, OPTIONAL, TOO_HIGH, obscuration, ways
from tests.published.gauging_computed import ours, table
from tests.published.gauging_rows import Published, hold, published

SECTION = "27 CFR Part 30"
# Last digits where they are not those of the printed figure: what rests on a table of fewer decimals,
# and a container's weight, which the table prints now up, now down at an exact half hundredth.
DIGITS = {
    "P30-23-unr": 0.1,
    **dict.fromkeys(("P30-67-c", "P30-67-d", "P30-67-e"), 0.001),
}
TEXTS = ("P30-23-corr", "P30-31-400", "P30-31-600", "T6-191", "T6-188")
# Steps of the example of 30.51, which rest on three decimals of Table 7: tested apart below.
STEPS = ("P30-51-wg60", "P30-51-pg")
FIGURES = [row for row in published().values() if row.source == SECTION and row.id not in (*TEXTS, *STEPS)]


def row(name: str) -> Published:
    return published()[name]


@pytest.mark.parametrize("entry", FIGURES, ids=[row.id for row in FIGURES])
def test_examples_and_entries(entry: Published) -> None:
    """Every printed figure of 27 CFR part 30 within half of its last digit, but for the known differences."""
    hold(entry, float(ours(entry)), DIGITS.get(entry.id))


@pytest.mark.parametrize("name", TEXTS[:3])
def test_rules_in_words(name: str) -> None:
    """The corrected reading of 30.23's example, and what is done above 400 and above 600 mg/100 mL."""
    assert ours(row(name)) == row(name).expected


def test_P21_161_water() -> None:
    """A gallon of water at 60 °F weighs 8.32823 lb in air (27 CFR 21.161)."""
    hold(row("P21-161-water"), float(ours(row("P21-161-water"))))


def test_P30_23_example_final() -> None:
    """192.82 at 72.15 °F is 190.0 proof by the formula, and by the example's own interpolation, 189.972."""
    assert true_proof(192.82, 72.15) == pytest.approx(row("P30-23-unr").value, abs=1e-9)
    assert official_proof(true_proof(192.82, 72.15)) == row("P30-23-final").value
    assert ours(row("P30-23-final")) == row("P30-23-final").value


def test_P30_25_specific_gravity() -> None:
    """1.1525 at 68 °F by the printed factor of 115 proof."""
    assert round(1.1525 / row("T7-115-68").value, 4) == row("P30-25").value


@pytest.mark.parametrize(
    ("solids", "way"), [(399.9, OPTIONAL), (400.0, OPTIONAL), (400.1, ADDED), (600.0, ADDED), (600.1, TOO_HIGH)]
)
def test_P30_31_thresholds(solids: float, way: int) -> None:
    """Obscuration is added above 400 and up to 600 mg/100 mL; above 600 only distillation serves."""
    assert {"P30-31-400", "P30-31-600"} <= published().keys()
    assert ways(np.array([solids]), np.array([False]))[0] == way
    assert math.isnan(obscuration(solids)) == (way == TOO_HIGH)


def test_P30_51_example_steps() -> None:
    """88 inches of 48.96 gallons at 86.8 proof, step by step with the factor that Table 7 prints."""
    at_60F = round(88 * 48.96 * row("T7-86.8-72").value, 2)
    hold(row("P30-51-wg60"), at_60F)
    assert official_tenth(at_60F * 86.8 / 100) == row("P30-51-pg").value


def test_P30_51_example_by_formula() -> None:
    """The formula's volume and proof gallons agree within the third decimal of Table 7's factor."""
    w = mass_fraction_from_proof(86.8)
    made = quantities(mass_from_volume(88 * 48.96 * LITRES_PER_GALLON, w, celsius(72)), w)
    factor_digit = 0.001
    assert abs(made["volume_60F_gal"] / row("P30-51-wg60").value - 1) <= 0.5 * factor_digit
    assert abs(made["proof_gallons"] / row("P30-51-pg").value - 1) <= 0.5 * factor_digit


def test_P30_63_by_parts() -> None:
    """321.5 lb of 86 proof as 300 + 20 + 1 + 0.5 lb, each part to a tenth and then summed: 35.1."""
    assert proof_gallons_by_parts([300, 20, 1, 0.5], 86) == row("P30-63-b").value


@pytest.mark.parametrize("name", ["T6-191", "T6-188"])
def test_table_6_alcohol_and_water(name: str) -> None:
    """Parts of alcohol and of water in 100 volumes, to two decimals."""
    entry = row(name)
    alcohol, water = (float(part.split()[1]) for part in entry.expected.split(";"))
    assert table("parts of alcohol", entry.given["proof"]) == alcohol
    assert abs(table("parts of water", entry.given["proof"]) - water) <= 0.005


def test_P30_64_by_the_table() -> None:
    """1,000 lb of 200 proof to 190 by Table 4: 82.03 lb of water, as printed."""
    assert water_by_weight(1000, 200, 190) == row("P30-64-water").value
    assert math.isnan(water_by_weight(1000, 200, 100))


def test_P30_66_by_the_table() -> None:
    """Both examples by Table 6, quotient and result cut to hundredths, not rounded: the printed figures follow."""
    assert water_by_volume(100, 191, 188) == row("P30-66-a").value
    assert water_by_volume(100, 112, 100) == row("P30-66-b").value
    assert math.isnan(water_by_volume(100, 150, 100))


def test_P30_67_by_the_table() -> None:
    """Odd temperatures lie half-way; a proof between two steps is added below 60 °F, to the lower one's factor."""
    assert volume_factor(180, 51) == pytest.approx(row("P30-67-c").value)
    assert volume_factor(180, 53) == pytest.approx(row("P30-67-d").value)
    assert volume_factor(110, 47) == pytest.approx(row("P30-67-e").value)
    assert volume_factor(112, 46) == pytest.approx(1.006 + 0.001 * 2 / 5)
    assert math.isnan(volume_factor(120, 70))


def test_the_law_s_basis_holds_the_published_cells() -> None:
    """Each cell of the basis 27 CFR part 30 is a published row's figure, at its proof and temperature."""
    cells = [(key, cell) for found in printed().values() for key, (cell, _) in found.items()]
    rows = [entry for entry in published().values() if entry.topic.startswith(("Table 1 e", "Table 4 e", "Table 5 e"))]
    rows += [entry for entry in published().values() if entry.topic.startswith(("Table 6 e", "Table 7 e"))]
    figures = {(entry.inputs, entry.expected) for entry in rows}
    for (proof, degrees), cell in cells:
        at = f"{proof:g};temp_F={degrees:g}" if degrees is not None else f"{proof:g}"
        assert any(f"={at}" in inputs and f"{cell:g}" in expected for inputs, expected in figures), (at, cell)
    assert len(cells) == 23


def test_bases_by_name() -> None:
    """On the law's basis a cell that was not seen is NaN, never an estimate; unknown names are refused."""
    assert table_value("WG per lb", [190, 191], basis=LAW).tolist() == [0.14718, pytest.approx(np.nan, nan_ok=True)]
    for what, basis in (("WG per pound", LAW), ("WG per lb", "tables")):
        with pytest.raises(ValueError, match="none of"):
            table_value(what, 190, basis=basis)


def test_19_1_specific_gravity_of_ethanol() -> None:
    """27 CFR 19.1 prints 0.7939 for ethanol at 60/60 °F; OIML R 22 gives 0.793818, a known difference."""
    ratio = density(1.0, T_60F) / density(0.0, T_60F)
    assert "PG-def" in published()
    assert abs(ratio - 0.793818) < 5e-7
    assert round(float(ratio), 4) != 0.7939
