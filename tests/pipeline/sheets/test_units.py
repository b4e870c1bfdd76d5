"""Units: a closed table of spellings before one pint registry."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.contract.units import UnitWords
from pipeline.sheets.units import COMMON, UnitTable, convert, registry, whole_registry

TABLE = UnitTable()


@pytest.mark.parametrize(
    ("quantity", "words", "unit"),
    [
        ("temperature", "°F", "degF"),
        ("temperature", " f ", "degF"),
        ("temperature", "Deg. C", "degC"),
        ("temperature", "CELSIUS", "degC"),
        ("temperature", "℃", "degC"),
        ("volume", "US Gal.", "gal"),
        ("volume", "WG", "gal"),
        ("volume", "Litres", "L"),
        ("volume", "mL", "mL"),
        ("volume", "m³", "m3"),
        ("mass", "lbs.", "lb"),
        ("length", '"', "in"),
    ],
)
def test_spellings_of_people(quantity: str, words: str, unit: str) -> None:
    """Case, spaces and full stops do not matter."""
    found = TABLE.find(quantity, words)
    assert found is not None and found.unit == unit


@pytest.mark.parametrize(
    ("quantity", "words"),
    [("temperature", "K"), ("temperature", "kg"), ("volume", "PG"), ("volume", "Gallone"), ("mass", "C"), ("mass", "")],
)
def test_unknown_spellings_are_none(quantity: str, words: str) -> None:
    """What is not in the table of that quantity is no unit, whatever pint would make of it."""
    assert TABLE.find(quantity, words) is None


def test_every_unit_of_a_quantity_converts_into_every_other() -> None:
    """The table names only units that pint knows, of one dimension per quantity."""
    for quantity in {entry.quantity for entry in COMMON}:
        entries = [entry for entry in COMMON if entry.quantity == quantity]
        for one in entries:
            for other in entries:
                there = convert(np.array([10.0]), one, other)
                assert convert(there, other, one) == pytest.approx([10.0], rel=1e-12)


@pytest.mark.parametrize(
    ("quantity", "value", "unit", "canonical", "wanted"),
    [
        ("temperature", 68.0, "degF", "degC", 20.0),
        ("temperature", -40.0, "degF", "degC", -40.0),
        ("volume", 1.0, "gal", "L", 3.785411784),  # 231 cubic inches of 25.4 mm, both exact
        ("volume", 1.0, "impgal", "L", 4.54609),  # exact, Weights and Measures Act 1985
        ("mass", 1.0, "lb", "kg", 0.45359237),  # exact, international yard and pound agreement 1959
        ("length", 1.0, "in", "cm", 2.54),
        ("solids", 1.0, "g/L", "mg/100mL", 100.0),
        ("expansion", 25e-6, "1/K", "1/K", 25e-6),
    ],
)
def test_conversions(quantity: str, value: float, unit: str, canonical: str, wanted: float) -> None:
    """Exact factors of the units people use."""
    one, other = TABLE.find(quantity, unit), TABLE.find(quantity, canonical)
    assert one and other
    assert convert(np.array([value]), one, other)[0] == pytest.approx(wanted, rel=1e-14)


@given(st.floats(-40, 300))
def test_temperature_goes_there_and_back(value: float) -> None:
    """°F to °C and back is the same temperature to 1e-9."""
    degree_f, degree_c = TABLE.find("temperature", "F"), TABLE.find("temperature", "C")
    assert degree_f and degree_c
    there = convert(np.array([value]), degree_f, degree_c)
    assert there[0] == pytest.approx((value - 32) / 1.8, abs=1e-9)
    assert convert(there, degree_c, degree_f)[0] == pytest.approx(value, abs=1e-9)


def test_the_gallon_is_the_us_gallon_unless_the_site_says_imperial() -> None:
    """gal is 3.785 L, with imperial 4.546 L; wine gallons stay US gallons."""
    plain, imperial = TABLE.find("volume", "gal"), UnitTable(imperial=True).find("volume", "gal")
    assert plain and plain.unit == "gal"
    assert imperial and imperial.unit == "impgal"
    wine = UnitTable(imperial=True).find("volume", "wg")
    assert wine and wine.unit == "gal"


def test_a_plugins_words_join_the_table_and_take_nothing_away() -> None:
    """A plugin's unit is found, and a spelling that the engine knows keeps its meaning."""
    mine = (UnitWords("proofness", "proof", ("pf",)), UnitWords("volume", "thimble", ("l", "thimbles"), "2*milliliter"))
    table = UnitTable(mine)
    found = table.find("proofness", "PF")
    assert found and found.unit == "proof"
    litre = table.find("volume", "l")
    assert litre and litre.unit == "L"
    assert "thimble" in table.spellings("volume")


def test_units_that_do_not_convert_stay_as_stated() -> None:
    """Proof and % vol are no one's multiple."""
    proof, percent = UnitWords("s", "proof", ("proof",)), UnitWords("s", "%vol", ("abv",))
    values = np.array([124.6])
    assert convert(values, proof, percent) is values


def test_there_is_one_registry() -> None:
    """Two registries cannot mix, so there is one."""
    assert registry() is registry()


PAIRS = [
    (one, other)
    for one in COMMON
    for other in COMMON
    if one is not other and one.quantity == other.quantity and one.pint and other.pint
]


@pytest.mark.parametrize("pair", PAIRS, ids=[f"{one.unit}-{other.unit}" for one, other in PAIRS])
def test_our_definitions_are_those_of_pint_to_the_last_bit(pair: tuple[UnitWords, UnitWords]) -> None:
    """Every pair of units converts as by all of pint's own definitions, arrays and single numbers."""
    one, other = pair
    values = np.concatenate([np.random.default_rng(1).normal(0.0, 1e3, 2_000), [0.0, 1.0, 0.1, -40.0, 1e-9]])
    theirs = whole_registry().Quantity(values, one.pint).to(other.pint).magnitude
    assert convert(values, one, other).tobytes() == theirs.tobytes()
    single = whole_registry().Quantity(75.3, one.pint).to(other.pint).magnitude
    assert convert(75.3, one, other) == single


def test_a_unit_of_a_sites_plugin_converts_by_all_that_pint_knows() -> None:
    """A unit that the engine does not define is pint's."""
    litre = TABLE.find("volume", "L")
    assert litre
    quart = UnitWords("volume", "qt", ("qt",), "quart")
    assert convert(4.0, quart, litre) == pytest.approx(3.785411784, rel=1e-12)
