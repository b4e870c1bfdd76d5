"""Uncertainty in its parts, and first order against Monte Carlo."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from pipeline.testing import site_with
from plugins.proof import (
    LITRES_PER_GALLON,
    T_20C,
    T_60F,
    combine_shared,
    density,
    mass_fraction_from_proof,
    mass_from_volume,
    mass_from_weight,
    mix,
    proof_from_mass_fraction,
    proof_uncertainty,
    read_strength,
    volume_L,
)
from plugins.proof.gauging.correct import correct_proof
from tests.proof.sheets import corrected, instruments, readings, vessels

PARTS = ["proof_uncertainty_own", "proof_by_instrument", "proof_by_thermometer"]
DRAWS = 200_000
# The spread of 200,000 draws is itself known to 0.16 %; what first order leaves out stays below 1 % here.
CLOSE = 0.012


def row(stated: dict[str, Any], known: Any = None, **settings: Any) -> Any:
    base = {"reading": 120.0, "scale": "proof", "temperature_degC": 25.0}
    return corrected(readings(base | stated), known, **settings)[0].iloc[0]


@pytest.mark.parametrize(
    "stated",
    [
        {},
        {"scale": "%vol", "reading": 60.0},
        {"scale": "kg/m3", "reading": 910.0, "method": "density meter"},
        {"method": "distilled", "solids_mg_100mL": 120.0},
        {"solids_mg_100mL": 450.0},
    ],
)
def test_parts_make_up_the_whole(stated: dict[str, Any]) -> None:
    """Own, by instrument and by thermometer, as squares, are the uncertainty of the proof."""
    made = row(stated)
    assert np.sqrt(sum(made[part] ** 2 for part in PARTS)) == pytest.approx(made["proof_uncertainty"], rel=1e-12)
    assert all(made[part] != 0 for part in PARTS)


def test_what_is_shared_is_named() -> None:
    """The jar's thermometer is the site's; a meter's cell belongs to the meter."""
    assert row({})["thermometer"] == "thermometer of the jars"
    thermometer = instruments({"instrument": "T-1", "kind": "thermometer", "scale": "degC"})
    assert row({}, thermometer, instruments__thermometer="T-1")["thermometer"] == "T-1"
    meter = {"scale": "kg/m3", "reading": 910.0, "method": "density meter", "instrument": "M-1"}
    assert row(meter)["thermometer"] == "M-1"


def test_a_thermometer_s_certificate_counts() -> None:
    """Half of its expanded uncertainty takes the place of the usual one; a certificate in °F is per 1.8 K."""
    for scale, expanded, K in (("degC", 0.8, 0.4), ("degF", 0.8, 0.4 / 1.8)):
        known = instruments(
            {"instrument": "T-1", "kind": "thermometer", "scale": scale, "reading": 20.0, "correction": 0.0,
             "uncertainty": expanded, "calibrated_on": "2026-01-01"}
        )  # fmt: skip
        made = row({}, known, instruments__thermometer="T-1")
        plain = row({})
        assert made["proof_by_thermometer"] / plain["proof_by_thermometer"] == pytest.approx(K / 0.15)
        assert made["proof_uncertainty_own"] == pytest.approx(plain["proof_uncertainty_own"])


def test_unknown_solids_count_upwards_only() -> None:
    """250 mg/100 mL may hide 1.0 proof: a third of its square, upwards; none where stated, distilled or at entry."""
    made = row({})
    assert made["strength_basis"] == "apparent" and made["proof_may_hide"] == pytest.approx(1.0)
    assert made["proof_uncertainty_up"] == pytest.approx(np.sqrt(made["proof_uncertainty"] ** 2 + 1 / 3))
    for stated in ({"solids_mg_100mL": 0.0}, {"method": "distilled"}, {"purpose": "entry"}):
        made = row(stated)
        assert made["proof_may_hide"] == 0.0 and made["proof_uncertainty_up"] == made["proof_uncertainty"]


@pytest.mark.parametrize("certified_in", ["kg/m3", "g/cm3", "sg60"])
def test_a_meter_that_shows_strength_is_corrected_in_density(certified_in: str) -> None:
    """Its certificate says that it shows 0.2 kg/m3 too little; a % vol reading is lowered by that density."""
    unit = {"kg/m3": 1.0, "g/cm3": 1e-3, "sg60": 1.0 / density(0.0, T_60F)}[certified_in]
    points = [
        {"instrument": "M-1", "kind": "density meter", "scale": certified_in, "reading": at * unit,
         "correction": 0.2 * unit, "uncertainty": 0.1 * unit, "calibrated_on": "2026-01-01"}
        for at in (780.0, 1000.0)
    ]  # fmt: skip
    stated = {
        "scale": "%vol",
        "reading": 62.0,
        "temperature_degC": 20.0,
        "instrument": "M-1",
        "method": "density meter",
    }
    made = row(stated, instruments(*points))
    marked = density(read_strength(62.0, "%vol", 20.0, "density meter"), T_20C)
    assert made["density_kg_m3"] == pytest.approx(marked + 0.2, abs=1e-9)
    assert made["abv_20C"] < 62.0
    by_density = proof_uncertainty(made["density_kg_m3"], "kg/m3", T_20C, 0.05, 0.0, "density meter")
    assert made["proof_uncertainty"] == pytest.approx(by_density, rel=1e-6)


BY_DENSITY = {"scale": "kg/m3", "reading": 910.0, "method": "density meter"}
AT_20C = BY_DENSITY | {"temperature_degC": 20.0}


@pytest.mark.parametrize(
    ("stated", "said"),
    [
        ({}, "not for UK duty"),
        (BY_DENSITY, "not for UK duty"),
        (AT_20C, "is not stated"),
        (AT_20C | {"state": "in air"}, "not by its own tables"),
    ],
)
def test_a_uk_figure_says_that_it_is_not_for_duty(stated: dict[str, Any], said: str) -> None:
    """Where the house bottles for the UK, the basis says what duty law would want; elsewhere it is silent."""

    base = {"reading": 120.0, "scale": "proof", "temperature_degC": 25.0}
    for markets, wanted in ((("US", "UK"), True), (("US",), False)):
        site = site_with({}, markets=markets)
        made, _ = correct_proof(readings(base | stated), instruments(), vessels(), site)
        assert (said in made["basis"].item()) == wanted
        assert "UK" in made["basis"].item() or not wanted


@pytest.mark.parametrize(
    ("scale", "reading", "jar", "reading_u", "method"),
    [
        ("proof", 124.6, 25.0, 0.1, "hydrometer"),
        ("proof", 86.0, 5.0, 0.2, "hydrometer"),
        ("%vol", 43.0, 28.0, 0.1, "hydrometer"),
        ("kg/m3", 905.0, 20.1, 0.1, "density meter"),
        ("proof", 193.0, 24.0, 0.1, "hydrometer"),
    ],
)
def test_first_order_against_monte_carlo(scale: str, reading: float, jar: float, reading_u: float, method: str) -> None:
    """200,000 draws of reading and temperature spread the proof as first order says."""
    rng = np.random.default_rng(7)
    degrees = 0.03 if method == "density meter" else 0.25
    drawn = read_strength(rng.normal(reading, reading_u, DRAWS), scale, rng.normal(jar, degrees, DRAWS), method)
    by_hand = proof_uncertainty(reading, scale, jar, reading_u, degrees, method)
    assert np.std(proof_from_mass_fraction(drawn)) == pytest.approx(by_hand, rel=CLOSE)


@pytest.mark.parametrize(("basis", "amount"), [("weighed", 190.0), ("metered", 200.0)])
def test_contents_against_monte_carlo(basis: str, amount: float) -> None:
    """Mass, volume and proof gallons of a cask spread as the frame says, strength and quantity drawn together."""
    stated = {"net_weight_kg": amount} if basis == "weighed" else {"volume_L": amount, "volume_unit": "L"}
    made = row(
        stated | {"volume_temperature_degC": 20.0}, uncertainty__weighed_percent=0.02, uncertainty__metered_percent=0.02
    )
    rng = np.random.default_rng(11)
    w = mass_fraction_from_proof(rng.normal(made["proof_60F"], made["proof_uncertainty"], DRAWS))
    quantity = amount * rng.normal(1.0, 0.0002, DRAWS)
    weighed = basis == "weighed"
    mass = mass_from_weight(quantity, density(w, T_20C)) if weighed else mass_from_volume(quantity, w, T_20C)
    gallons = volume_L(mass, w, T_60F) / LITRES_PER_GALLON
    assert np.std(mass) == pytest.approx(made["content_uncertainty_kg"], rel=0.02)
    assert np.std(gallons) == pytest.approx(made["content_volume_uncertainty_gal"], rel=0.02)
    pg = gallons * proof_from_mass_fraction(w) / 100
    assert np.std(pg) == pytest.approx(made["content_proof_gallons_uncertainty"], rel=0.02)
    assert np.mean(pg) == pytest.approx(made["content_proof_gallons"], rel=1e-3)


def test_shared_errors_against_monte_carlo() -> None:
    """Forty equal casks by two hydrometers: their mixture spreads as shared errors say, not by the root of 40."""
    own, by_instrument = np.full(40, 0.1), np.full(40, 0.2)
    names = np.repeat(["H-1", "H-2"], 20)
    rng = np.random.default_rng(3)
    bias = rng.normal(0.0, 0.2, (20_000, 2))
    errors = rng.normal(0.0, 0.1, (20_000, 40)) + np.repeat(bias, 20, axis=1)
    w = mass_fraction_from_proof(120.0 + errors)
    strength = proof_from_mass_fraction(mix(np.ones(w.shape), w, np.repeat(np.arange(20_000), 40).reshape(w.shape))[1])
    expected = combine_shared(own / 40, by_instrument / 40, names)
    assert expected == pytest.approx(np.sqrt(0.1**2 / 40 + 2 * 0.1**2))
    assert np.std(strength) == pytest.approx(expected, rel=0.02)


def test_shared_errors_by_group() -> None:
    """Groups are kept apart; an effect with another sign takes away; nothing gives nothing."""
    made = combine_shared([0.3, 0.3, 0.3], [0.4, -0.4, 0.4], ["H", "H", "H"], [1, 1, 2])
    assert made.tolist() == [pytest.approx(0.3 * np.sqrt(2)), pytest.approx(0.5)]
    assert combine_shared([], [], []).size == 0
    assert np.isnan(combine_shared([0.1, np.nan], [0.1, 0.1], ["a", "b"]))
