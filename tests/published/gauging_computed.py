"""What this project computes for each published value: one function for each topic, by the density formula.

Where the regulation's own steps round on the way, that is tested apart; here stands what the formula gives.
"""

from __future__ import annotations

from collections.abc import Callable

import iapws
from CoolProp.CoolProp import PropsSI

from plugins.proof import (
    LITRES_PER_GALLON,
    T_20C,
    T_60F,
    density,
    mass_fraction_from_abv,
    mass_fraction_from_density,
    mass_fraction_from_proof,
    mass_from_volume,
    mass_from_weight,
    official_proof,
    official_tenth,
    proof_from_mass_fraction,
    quantities,
    volume_L,
    water_to_reach,
    weight_from_mass,
)
from plugins.proof.alcoholometry.air import AIR_KG_M3
from plugins.proof.alcoholometry.instruments import GLASS_PER_K
from plugins.proof.alcoholometry.official import FORMULA, KG_PER_LB, celsius, container_ounces, table_value
from plugins.proof.gauging.obscuration import obscuration
from tests.published.gauging_rows import Published

Value = float | str
TRALLES_WATER = 0.9991
# The row of pure water falls below nought in the cold: the scale is carried on with the slope of its
# first hundredth of % vol.
FIRST = 0.01


def table(what: str, proof: float, temperature_F: float = float("nan")) -> float:
    """A table's figure by the formula."""
    return float(table_value(what, proof, temperature_F, FORMULA))


def indicated(entry: Published) -> float:
    """% vol that a glass hydrometer of base 60 °F shows in a liquid of the row's strength and temperature."""
    given = entry.given
    jar = float(celsius(given["temp_F"]))
    w = mass_fraction_from_proof(2 * given["true_abv_60F"])
    mark = density(w, jar) * (1.0 + GLASS_PER_K * (jar - T_60F))
    water, first = density(0.0, T_60F), density(mass_fraction_from_proof(2 * FIRST), T_60F)
    if mark > water:
        return float((water - mark) / (water - first)) * FIRST
    return float(proof_from_mass_fraction(mass_fraction_from_density(mark, T_60F))) / 2


def gravity_in_air(entry: Published) -> float:
    """Specific gravity in air by % vol at 60 °F or % mass."""
    name, figure = entry.inputs.split("=")
    w = mass_fraction_from_proof(2 * float(figure)) if name.startswith("abv") else float(figure) / 100
    temperature = 25.0 if "25/25C" in entry.topic else T_60F
    spirit, water = (density(strength, temperature) - AIR_KG_M3 for strength in (w, 0.0))
    return float(spirit / water)


def water_by_weight(entry: Published) -> tuple[float, float]:
    """Weight after a reduction by weight, and how much it grew. [lb]"""
    given = entry.given
    high, low = (mass_fraction_from_proof(given[name]) for name in ("proof_from", "proof_to"))
    mass = mass_from_weight(given["weight_lb"] * KG_PER_LB, density(high, T_60F))
    after = weight_from_mass(mass + water_to_reach(mass, high, low), density(low, T_60F)) / KG_PER_LB
    return float(after), float(after) - given["weight_lb"]


def water_by_volume(entry: Published) -> float:
    """Gallons of water for 100 wine gallons."""
    given = entry.given
    high, low = (mass_fraction_from_proof(given[name]) for name in ("proof_from", "proof_to"))
    water = water_to_reach(mass_from_volume(100.0, high, T_60F), high, low)
    return float(volume_L(water, 0.0, T_60F))


def container_proof_gallons(entry: Published) -> float:
    w = mass_fraction_from_proof(entry.given["proof"])
    made = quantities(mass_from_volume(entry.given["wine_gal"] * LITRES_PER_GALLON, w, T_60F), w)
    return float(official_tenth(made["proof_gallons"]))


def litres_of_alcohol(entry: Published) -> float:
    given = entry.given
    w = mass_fraction_from_abv(given["abv"])
    litres = given["cases"] * given["bottles"] * given["bottle_L"]
    return float(quantities(mass_from_volume(litres, w, T_20C), w)["lpa"])


def by_proof(what: str) -> Callable[[Published], Value]:
    """A table's figure for the row's proof and, where it has one, temperature."""
    return lambda entry: table(what, entry.given["proof"], entry.given.get("temp_F", float("nan")))


def of_pounds(what: str) -> Callable[[Published], Value]:
    return lambda entry: table(what, entry.given["proof"]) * entry.given["weight_lb"]


def table_6(entry: Published) -> Value:
    alcohol, water = (table(f"parts of {what}", entry.given["proof"]) for what in ("alcohol", "water"))
    return f"alcohol {alcohol:.1f}; water {water:.4f}" if "alcohol" in entry.expected else water


def threshold(entry: Published) -> Value:
    """What the rule does just above 400 and just above 600 mg/100 mL."""
    low = "400" in entry.inputs
    added = obscuration(600.0 if low else 600.1)
    return "add obscuration" if added > 0 else "true proof by distillation or equal/better lab method"


def instrument_corrections(_: Published) -> Value:
    return f"{192.85 - 0.03:.2f} @ {72.10 + 0.05:.2f}"


BY_TOPIC: dict[str, Callable[[Published], Value]] = {
    "instrument correction": instrument_corrections,
    "Table 1 interpolation": lambda entry: float(official_proof(table("true proof", 192.82, 72.15))),
    "Table 1 interpolation, unrounded": lambda entry: table("true proof", 192.82, 72.15),
    "Table 1 entry": lambda entry: table("true proof", entry.given["reading"], entry.given["temp_F"]),
    "SG hydrometer temp correction": lambda entry: entry.given["SG_reading"] / table("volume factor", 115, 68),
    "Table 7 entry": by_proof("volume factor"),
    "Table 7 entry (interpolated use)": by_proof("volume factor"),
    "odd temperature": by_proof("volume factor"),
    "odd temperature at next lower proof (step 1 of 112 proof, 47F)": by_proof("volume factor"),
    "solids from residue": lambda entry: entry.given["residue_g"] / entry.given["sample_mL"] * 100,
    "obscuration": lambda entry: float(obscuration(1000 * entry.given["solids_g_per_100mL"])),
    "obscuration slope": lambda entry: float(obscuration(entry.given["solids_mg_per_100mL"])),
    "threshold (strictly more than)": threshold,
    "WG per lb water 60F": lambda entry: table("WG per lb", 0.0),
    "lb per gal water 60F in air": lambda entry: table("lb per WG", 0.0),
    "container weight": lambda entry: container_ounces(entry.given["wine_gal"], entry.given["proof"]) / 16,
    "container proof gallons": container_proof_gallons,
    "tank volume": lambda entry: entry.given["inches"] * entry.given["gal_per_inch"],
    "volume at 60F": lambda entry: entry.given["WG"] * table("volume factor", 86.8, 72),
    "proof gallons": lambda entry: (
        100 * 40 * 2 / 100 if "abv" in entry.given else entry.given["WG60"] * entry.given["proof"] / 100
    ),
    "Table 3 sum": of_pounds("PG per lb"),
    "Table 3 entry": of_pounds("PG per lb"),
    "Table 4 entry": lambda entry: table("WG per lb" if entry.id.endswith("wg") else "PG per lb", entry.given["proof"]),
    "weight -> WG": of_pounds("WG per lb"),
    "weight -> PG": of_pounds("PG per lb"),
    "Table 4 entry (implied)": by_proof("PG per lb"),
    "reduction by weight": lambda entry: water_by_weight(entry)[0],
    "water to add by weight": lambda entry: water_by_weight(entry)[1],
    "Table 5 entry": lambda entry: table("lb per WG" if entry.id.endswith("wg") else "lb per PG", entry.given["proof"]),
    "gallons -> weight": lambda entry: 100 * table("lb per WG", entry.given["proof"]),
    "proof gallons -> weight": lambda entry: 100 * table("lb per PG", entry.given["proof"]),
    "Table 6 entry": table_6,
    "reduction by volume": water_by_volume,
    "reduction to 100 proof by volume": water_by_volume,
    "volume to 60F": lambda entry: entry.given["WG"] * table("volume factor", 190, 76),
    "container capacity from 60F gallons": lambda entry: entry.given["WG60"] / table("volume factor", 190, 76),
    "proof gallon definition": lambda entry: (
        f"50% vol, ethanol SG {float(density(1.0, T_60F) / density(0.0, T_60F)):.6f} at 60/60F"
    ),
    "litre -> US gallon": lambda entry: 1 / LITRES_PER_GALLON,
    "case gallons": lambda entry: entry.given["litres"] / LITRES_PER_GALLON,
    "litres of alcohol": litres_of_alcohol,
    "litres of alcohol (older edition)": litres_of_alcohol,
    "ABV60F -> ABW": lambda entry: 100 * float(mass_fraction_from_proof(2 * float(entry.inputs.split("=")[1]))),
    "ABW -> ABV60F": lambda entry: float(proof_from_mass_fraction(float(entry.inputs.split("=")[1]) / 100)) / 2,
    "SG in air 15.56/15.56C": gravity_in_air,
    "SG in air 25/25C": gravity_in_air,
    "density ethanol-water": lambda entry: float(density(entry.given["abw"] / 100, entry.given["temp_C"])) / 1000,
    "SG at 60F (Tralles, water=0.9991)": lambda entry: (
        float(density(mass_fraction_from_proof(2 * entry.given["abv_60F"]), T_60F) / density(0.0, T_60F))
        * TRALLES_WATER
    ),
    "hydrometer reading for true ABV60F (glass hydrometer)": indicated,
}


def ours(entry: Published) -> Value:
    """What is computed here for a published row. Raises KeyError for a topic that nobody computes."""
    return BY_TOPIC[entry.topic](entry)


def of_libraries() -> list[tuple[str, str, float, float]]:
    """Pure water and pure ethanol: check, source, their density and ours. [kg/m3]"""
    rows = []
    for temperature in (0.01, 4.0, 10.0, T_60F, 20.0, 25.0, 30.0, 40.0):
        of_library = iapws.IAPWS95(T=temperature + 273.15, P=0.101325).rho
        rows.append((f"water at {temperature:.4g} °C", "IAPWS-95", of_library, float(density(0.0, temperature))))
    for temperature in (-20.0, -10.0, 0.0, 10.0, T_60F, 20.0, 30.0, 40.0):
        of_library = PropsSI("D", "T", temperature + 273.15, "P", 101325, "Ethanol")
        check = f"ethanol at {temperature:.4g} °C"
        rows.append((check, "equation of state of a property library", of_library, float(density(1.0, temperature))))
    return rows
