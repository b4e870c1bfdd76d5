"""The worked examples and table entries of 27 CFR part 30, each by the density formula.

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
    mass_from_weight,
    official_proof,
    official_tenth,
    proof_from_mass_fraction,
    quantities,
    read_strength,
    volume_L,
    water_to_reach,
    weight_from_mass,
)
from plugins.proof.obscuration import ADDED, OPTIONAL, TOO_HIGH, obscuration, ways
from tests.published.gauging_rows import Published, hold, of_topic, published

KG_PER_LB = 0.45359237
OUNCES = 16


def celsius(temperature_F: float) -> float:
    return (temperature_F - 32.0) / 1.8


def pounds_per_gallon(proof: float) -> float:
    """Weight in air of a US gallon at 60 °F."""
    w = mass_fraction_from_proof(proof)
    mass = mass_from_volume(LITRES_PER_GALLON, w, T_60F)
    return float(weight_from_mass(mass, density(w, T_60F))) / KG_PER_LB


def proof_gallons_per_pound(proof: float) -> float:
    w = mass_fraction_from_proof(proof)
    return float(quantities(mass_from_weight(KG_PER_LB, density(w, T_60F)), w)["proof_gallons"])


def volume_factor(proof: float, temperature_F: float) -> float:
    """Volume at 60 °F per volume at a temperature: what Table 7 prints."""
    w = mass_fraction_from_proof(proof)
    return float(volume_L(1.0, w, T_60F) / volume_L(1.0, w, celsius(temperature_F)))


def water_parts(proof: float) -> float:
    """Volumes of water in 100 volumes at 60 °F: what Table 6 prints."""
    w = mass_fraction_from_proof(proof)
    return float(100.0 * density(w, T_60F) * (1.0 - w) / density(0.0, T_60F))


def row(name: str) -> Published:
    return published()[name]


def ids(rows: list[Published]) -> list[str]:
    return [each.id for each in rows]


TABLE_1 = of_topic("Table 1 entry")
TABLE_3 = of_topic("Table 3 entry", "Table 3 sum")
TABLE_7 = of_topic("Table 7 entry", "Table 7 entry (interpolated use)")
ODD_TEMPERATURES = of_topic("odd temperature", "odd temperature at next lower proof (step 1 of 112 proof, 47F)")
CONTAINERS = of_topic("container weight")
CONTAINER_PG = of_topic("container proof gallons")


@pytest.mark.parametrize("entry", TABLE_1, ids=ids(TABLE_1))
def test_table_1_hydrometer_correction(entry: Published) -> None:
    """True proof for a hydrometer reading and temperature, to the tenth that Table 1 prints."""
    given = entry.given
    w = read_strength(given["reading"], "proof", celsius(given["temp_F"]))
    hold(entry, proof_from_mass_fraction(w))


def test_P30_23_example_unrounded() -> None:
    """192.82 at 72.15 °F: the formula lies within the tenths of the table that the example interpolates."""
    w = read_strength(192.82, "proof", celsius(72.15))
    hold(row("P30-23-unr"), proof_from_mass_fraction(w), last_digit=0.1)


def test_P30_23_example_final() -> None:
    """192.82 at 72.15 °F is 190.0 proof after rounding, and so is the example's own 189.972."""
    w = read_strength(192.82, "proof", celsius(72.15))
    assert official_proof(proof_from_mass_fraction(w)) == row("P30-23-final").value
    assert official_proof(row("P30-23-unr").value) == row("P30-23-final").value


def test_P30_25_specific_gravity() -> None:
    """1.1525 at 68 °F with the factor of 115 proof: the example's quotient, and the formula's."""
    example = row("P30-25")
    assert round(1.1525 / row("T7-115-68").value, 4) == example.value
    hold(example, 1.1525 / volume_factor(115, 68))


def test_P30_32_obscuration() -> None:
    """0.125 g from 25 mL are 0.50 g/100 mL and hide 2.0 proof; 100 mg/100 mL hide 0.4."""
    grams = 0.125 / 25 * 100
    hold(row("P30-32-solids"), grams)
    hold(row("P30-32-obsc"), obscuration(grams * 1000))
    hold(row("P30-32-rule"), obscuration(100.0))


@pytest.mark.parametrize(
    ("solids", "way"), [(399.9, OPTIONAL), (400.0, OPTIONAL), (400.1, ADDED), (600.0, ADDED), (600.1, TOO_HIGH)]
)
def test_P30_31_thresholds(solids: float, way: int) -> None:
    """Obscuration is added above 400 and up to 600 mg/100 mL; above 600 only distillation serves."""
    assert {"P30-31-400", "P30-31-600"} <= published().keys()
    assert ways(np.array([solids]), np.array([False]))[0] == way
    assert math.isnan(obscuration(solids)) == (way == TOO_HIGH)


def test_P30_41_and_21_161_water() -> None:
    """A gallon of water at 60 °F weighs 8.32823 lb in air, and a pound takes 0.120074 gallons."""
    hold(row("P21-161-water"), pounds_per_gallon(0.0))
    hold(row("P30-41-water"), 1.0 / pounds_per_gallon(0.0))


@pytest.mark.parametrize("entry", CONTAINERS, ids=ids(CONTAINERS))
def test_P30_44_container_weight(entry: Published) -> None:
    """Weight of a filled container: to 0.01 lb, raised to the next ounce, printed in hundredths of a pound.

    The table prints an exact half hundredth now up, now down, so that half a hundredth is allowed.
    """
    pounds = round(pounds_per_gallon(entry.given["proof"]) * entry.given["wine_gal"], 2)
    ounces = math.ceil(round(pounds * OUNCES, 6))
    hold(entry, ounces / OUNCES, last_digit=0.01)


@pytest.mark.parametrize("entry", CONTAINER_PG, ids=ids(CONTAINER_PG))
def test_P30_44_container_proof_gallons(entry: Published) -> None:
    """Proof gallons of a container to the nearest tenth."""
    litres = entry.given["wine_gal"] * LITRES_PER_GALLON
    w = mass_fraction_from_proof(entry.given["proof"])
    made = quantities(mass_from_volume(litres, w, T_60F), w)
    assert official_tenth(made["proof_gallons"]) == entry.value


def test_P30_51_example_steps() -> None:
    """88 inches of 48.96 gallons at 86.8 proof, step by step with the factor that Table 7 prints."""
    observed = 88 * 48.96
    hold(row("P30-51-wg"), observed)
    at_60F = round(observed * row("T7-86.8-72").value, 2)
    hold(row("P30-51-wg60"), at_60F)
    assert official_tenth(at_60F * 86.8 / 100) == row("P30-51-pg").value


def test_P30_51_example_by_formula() -> None:
    """The formula's volume and proof gallons agree within the third decimal of Table 7's factor."""
    w = mass_fraction_from_proof(86.8)
    made = quantities(mass_from_volume(88 * 48.96 * LITRES_PER_GALLON, w, celsius(72)), w)
    factor_digit = 0.001
    assert abs(made["volume_60F_gal"] / row("P30-51-wg60").value - 1) <= 0.5 * factor_digit
    assert abs(made["proof_gallons"] / row("P30-51-pg").value - 1) <= 0.5 * factor_digit


@pytest.mark.parametrize("entry", TABLE_3, ids=ids(TABLE_3))
def test_table_3_weight_to_proof_gallons(entry: Published) -> None:
    """Proof gallons for a weight and proof, to the tenth that Table 3 prints."""
    hold(entry, proof_gallons_per_pound(entry.given["proof"]) * entry.given["weight_lb"])


@pytest.mark.parametrize("name", ["T4-190-wg", "T4-190-pg", "T4-200-pg"])
def test_table_4_gallons_per_pound(name: str) -> None:
    """Wine gallons and proof gallons of a pound, to five decimals."""
    proof = row(name).given["proof"]
    hold(row(name), proof_gallons_per_pound(proof) * (100.0 / proof if name.endswith("wg") else 1.0))


@pytest.mark.parametrize("name", ["P30-64-wg", "P30-64-pg"])
def test_P30_64_weight_to_gallons(name: str) -> None:
    """81,000 lb of 190 proof in wine and proof gallons, to the tenth."""
    pounds, proof = row(name).given["weight_lb"], row(name).given["proof"]
    hold(row(name), pounds * proof_gallons_per_pound(proof) * (100.0 / proof if name.endswith("wg") else 1.0))


def test_P30_64_reduction_by_weight() -> None:
    """1,000 lb of 200 proof reduced to 190 proof: weight after, and water to add, in pounds to 0.01."""
    high, low = mass_fraction_from_proof(200.0), mass_fraction_from_proof(190.0)
    mass = mass_from_weight(1000 * KG_PER_LB, density(high, T_60F))
    water = water_to_reach(mass, high, low)
    after = weight_from_mass(mass + water, density(low, T_60F)) / KG_PER_LB
    hold(row("P30-64-red"), after)
    hold(row("P30-64-water"), after - 1000)


@pytest.mark.parametrize("name", ["T5-190-wg", "T5-190-pg"])
def test_table_5_pounds_per_gallon(name: str) -> None:
    """Pounds of a wine gallon and of a proof gallon, to five decimals."""
    proof = row(name).given["proof"]
    hold(row(name), pounds_per_gallon(proof) * (1.0 if name.endswith("wg") else 100.0 / proof))


@pytest.mark.parametrize("name", ["P30-65-wg", "P30-65-pg"])
def test_P30_65_gallons_to_weight(name: str) -> None:
    """100 wine gallons and 100 proof gallons of 190 proof in pounds, to 0.01."""
    proof = row(name).given["proof"]
    hold(row(name), 100 * pounds_per_gallon(proof) * (1.0 if name.endswith("wg") else 100.0 / proof))


@pytest.mark.parametrize("name", ["T6-191", "T6-188"])
def test_table_6_alcohol_and_water(name: str) -> None:
    """Parts of alcohol and of water in 100 volumes, to two decimals."""
    entry = row(name)
    alcohol, water = (float(part.split()[1]) for part in entry.expected.split(";"))
    assert entry.given["proof"] / 2 == alcohol
    assert abs(water_parts(entry.given["proof"]) - water) <= 0.005


@pytest.mark.parametrize("name", ["T6-100-water", "T6-112-water"])
def test_table_6_water(name: str) -> None:
    """Parts of water in 100 volumes, to two decimals."""
    hold(row(name), water_parts(row(name).given["proof"]))


@pytest.mark.parametrize("name", ["P30-66-a", "P30-66-b"])
def test_P30_66_reduction_by_volume(name: str) -> None:
    """Gallons of water for 100 wine gallons of spirit, to 0.01."""
    given = row(name).given
    high, low = mass_fraction_from_proof(given["proof_from"]), mass_fraction_from_proof(given["proof_to"])
    water = water_to_reach(mass_from_volume(100.0, high, T_60F), high, low)
    hold(row(name), volume_L(water, 0.0, T_60F))


def test_P30_66_examples_steps() -> None:
    """With quotient and result cut to two decimals, not rounded, the examples' own figures follow."""
    quotient = math.floor(95.5 / 94.0 * 100) / 100
    assert round(round(7.36 * quotient, 2) - 5.59, 2) == row("P30-66-a").value
    assert math.floor((1.12 * 53.73 - 47.75) * 100 + 1e-9) / 100 == row("P30-66-b").value


@pytest.mark.parametrize("entry", TABLE_7, ids=ids(TABLE_7))
def test_table_7_volume_factors(entry: Published) -> None:
    """Volume at 60 °F per volume at a temperature, to three decimals."""
    hold(entry, volume_factor(entry.given["proof"], entry.given["temp_F"]))


@pytest.mark.parametrize("entry", ODD_TEMPERATURES, ids=ids(ODD_TEMPERATURES))
def test_P30_67_odd_temperatures(entry: Published) -> None:
    """Factors between the table's temperatures, which rest on its three decimals."""
    hold(entry, volume_factor(entry.given["proof"], entry.given["temp_F"]), last_digit=0.001)


def test_P30_67_volume_to_60F() -> None:
    """1,000 gallons of 190 proof at 76 °F are 991 at 60 °F; 55.1 at 60 °F fill 55.6."""
    factor = volume_factor(190, 76)
    hold(row("P30-67-a"), 1000 * factor)
    hold(row("P30-67-b"), 55.1 / factor)


def test_19_1_specific_gravity_of_ethanol() -> None:
    """27 CFR 19.1 prints 0.7939 for ethanol at 60/60 °F; OIML R 22 gives 0.793818, a known difference."""
    ratio = density(1.0, T_60F) / density(0.0, T_60F)
    assert "PG-def" in published()
    assert abs(ratio - 0.793818) < 5e-7
    assert round(float(ratio), 4) != 0.7939
