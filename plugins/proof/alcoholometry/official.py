"""Two bases for a US figure, by name: the density formula, and the tables of 27 CFR part 30 as printed.

The Gauging Manual's tables are the law for official gauges. Of their cells only those were seen that the
regulation's own text prints; ``data/gauging_manual.csv`` lists them, each with its section. On the basis
``27 CFR part 30`` a figure is such a cell, or follows from such cells by the regulation's own rule; where
a cell was not seen it is NaN, and never an estimate. On the basis ``OIML R 22`` it is computed.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Callable
from functools import cache
from importlib.resources import files

import numpy as np
from numpy.typing import ArrayLike

from plugins.proof.alcoholometry.air import mass_from_weight, weight_from_mass
from plugins.proof.alcoholometry.amounts import LITRES_PER_GALLON, mass_from_volume, quantities, volume_L
from plugins.proof.alcoholometry.formula import Array, density
from plugins.proof.alcoholometry.instruments import read_strength
from plugins.proof.alcoholometry.rounding import official_tenth
from plugins.proof.alcoholometry.strength import T_60F, mass_fraction_from_proof, proof_from_mass_fraction

FORMULA, LAW = "OIML R 22", "27 CFR part 30"
BASES = (FORMULA, LAW)
KG_PER_LB = 0.45359237
HUNDREDTHS = 100.0


def celsius(temperature_F: ArrayLike) -> Array:
    """Degrees Celsius of degrees Fahrenheit. [degC]"""
    return (np.asarray(temperature_F, dtype=np.float64) - 32.0) / 1.8


def table_value(what: str, proof: ArrayLike, temperature_F: ArrayLike = np.nan, basis: str = LAW) -> Array:
    """What a table of the Gauging Manual holds for a proof and, in tables 1 and 7, a temperature.

    Parameters: ``what`` is ``true proof`` (Table 1, of a hydrometer reading), ``WG per lb``, ``PG per lb``
    (4), ``lb per WG``, ``lb per PG`` (5), ``parts of alcohol``, ``parts of water`` (6) or ``volume factor``
    (7); proofs and temperatures [degF] are scalars or arrays that broadcast. Returns float64: on ``LAW``
    the printed cell, NaN where it was not seen; on ``FORMULA`` the figure by OIML R 22, unrounded, with
    glass of 25e-6 per K and weights in air of 1.2 kg/m3. Raises ValueError at another name.
    """
    if what not in COMPUTED or basis not in BASES:
        raise ValueError(f"{what!r} on the basis {basis!r} is none of {', '.join(COMPUTED)} on {' or '.join(BASES)}")
    proofs, degrees = np.broadcast_arrays(np.asarray(proof, np.float64), np.asarray(temperature_F, np.float64))
    if basis == FORMULA:
        return COMPUTED[what](proofs, degrees)
    cells = printed()[what]
    found = [cells.get((p, t)) for p, t in zip(proofs.reshape(-1).tolist(), _keys(degrees), strict=True)]
    values = np.array([np.nan if cell is None else cell[0] for cell in found])
    return values.reshape(proofs.shape)[()]


def _keys(degrees: Array) -> list[float | None]:
    return [None if math.isnan(value) else value for value in degrees.reshape(-1).tolist()]


@cache
def printed() -> dict[str, dict[tuple[float, float | None], tuple[float, str]]]:
    """The cells that were seen: by quantity, then by proof and temperature, with the section that prints them."""
    text = (files("plugins.proof.alcoholometry") / "data" / "gauging_manual.csv").read_text("utf-8")
    cells: dict[str, dict[tuple[float, float | None], tuple[float, str]]] = {name: {} for name in COMPUTED}
    for row in csv.DictReader(text.splitlines()):
        degrees = float(row["temperature_F"]) if row["temperature_F"] else None
        cells[row["quantity"]][float(row["proof"]), degrees] = (float(row["printed"]), row["section"])
    return cells


def true_proof(reading: float, temperature_F: float) -> float:
    """True proof of a hydrometer reading by Table 1 and the interpolation of 27 CFR 30.23, unrounded; NaN if not seen.

    Anchored at the lower whole proof and the lower whole degree and additive: 192.82 at 72.15 °F is
    189.1 + 0.82 x (190.2 - 189.1) - 0.15 x (189.1 - 188.9) = 189.972.
    """
    low, cool = math.floor(reading), math.floor(temperature_F)
    part, degrees = reading - low, temperature_F - cool
    anchor, above, warmer = table_value("true proof", [low, low + 1, low], [cool, cool, cool + 1]).tolist()
    rise = part * (above - anchor) if part else 0.0
    return float(anchor + rise - (degrees * (anchor - warmer) if degrees else 0.0))


def volume_factor(proof: float, temperature_F: float) -> float:
    """Factor to gallons at 60 °F by Table 7 and the interpolation of 27 CFR 30.67; NaN where a cell was not seen.

    Table 7 has steps of 5 proof and 2 °F. Between two temperatures half their difference is added to the
    factor of the higher one. Between two proofs the part of their difference is added to the factor of the
    lower one below 60 °F and subtracted above.
    """
    if temperature_F % 2.0 == 1.0:
        warmer = volume_factor(proof, temperature_F + 1.0)
        return warmer + (volume_factor(proof, temperature_F - 1.0) - warmer) / 2.0
    low = 5.0 * math.floor(proof / 5.0)
    if low == proof:
        return float(table_value("volume factor", proof, temperature_F))
    ends = table_value("volume factor", [low, low + 5.0], [temperature_F, temperature_F])
    part = abs(float(ends[1] - ends[0])) * (proof - low) / 5.0
    return float(ends[0] + (part if temperature_F < 60.0 else -part))


def water_by_weight(pounds: float, proof: float, target: float) -> float:
    """Pounds of water that reduce a weight of spirit, by Table 4 as 27 CFR 30.64 has it, to 0.01 lb; NaN if not seen.

    Proof gallons / (PG per lb at the target) - net pounds: 1,000 lb of 200 proof to 190 take 82.03 lb.
    """
    before, after = table_value("PG per lb", [proof, target])
    gallons = round(pounds * before, 2) if not math.isnan(before) else before
    return round(float(gallons / after) - pounds, 2) if not math.isnan(gallons / after) else math.nan


def water_by_volume(gallons: float, proof: float, target: float) -> float:
    """Gallons of water for wine gallons at 60 °F, by Table 6 as 27 CFR 30.66 has it, to 0.01 gal; NaN if not seen.

    Per 100 gallons (A given / A target) x W target - W given, with the quotient and the result cut, not
    rounded, to hundredths as both examples print them: 191 to 188 proof 1.84, 112 to 100 proof 12.42.
    """
    water, after = table_value("parts of water", [proof, target])
    if math.isnan(water) or math.isnan(after):
        return math.nan
    quotient = _cut(proof / target)
    return _cut((round(quotient * after, 4) - water) * gallons / HUNDREDTHS)


def _cut(value: float) -> float:
    # 12.42 is stored as 12.419999...: what is that near a hundredth is meant as one
    return math.floor(round(value * HUNDREDTHS, 6)) / HUNDREDTHS


def container_ounces(gallons: float, proof: float) -> int:
    """Net weight of a filled container of 10 wine gallons or less, in whole ounces (27 CFR 30.44(b), (c)).

    The weight to 0.01 lb, by the formula's pounds per gallon; any fraction of an ounce counts as a whole one.
    """
    pounds = round(float(table_value("lb per WG", proof, basis=FORMULA)) * gallons, 2)
    return math.ceil(round(pounds * 16.0, 6))


def case_gallons(litres: float) -> float:
    """US gallons of a case by the law's own factor for spirits, 0.264172 (TTB conversion tables), to six decimals."""
    return round(litres * 0.264172, 6)


def proof_gallons_by_parts(pounds: list[float], proof: float) -> float:
    """Proof gallons by Table 3's way: each part of the weight to a tenth, then summed (27 CFR 30.63)."""
    each = official_tenth(np.array(pounds) * table_value("PG per lb", proof, basis=FORMULA))
    return float(official_tenth(each.sum()))


def _pounds_per_gallon(proof: Array) -> Array:
    w = mass_fraction_from_proof(proof)
    return weight_from_mass(mass_from_volume(LITRES_PER_GALLON, w, T_60F), density(w, T_60F)) / KG_PER_LB


def _proof_gallons_per_pound(proof: Array) -> Array:
    w = mass_fraction_from_proof(proof)
    return quantities(mass_from_weight(KG_PER_LB, density(w, T_60F)), w)["proof_gallons"]


def _pounds_per_proof_gallon(proof: Array) -> Array:
    with np.errstate(divide="ignore"):
        return np.where(proof > 0.0, 1.0 / _proof_gallons_per_pound(proof), np.nan)[()]


def _parts_of_water(proof: Array) -> Array:
    w = mass_fraction_from_proof(proof)
    return 100.0 * density(w, T_60F) * (1.0 - w) / density(0.0, T_60F)


def _factor(proof: Array, temperature_F: Array) -> Array:
    w = mass_fraction_from_proof(proof)
    return volume_L(1.0, w, T_60F) / volume_L(1.0, w, celsius(temperature_F))


def _true_proof(reading: Array, temperature_F: Array) -> Array:
    return proof_from_mass_fraction(read_strength(reading, "proof", celsius(temperature_F)))


COMPUTED: dict[str, Callable[[Array, Array], Array]] = {
    "true proof": _true_proof,
    "WG per lb": lambda proof, _: 1.0 / _pounds_per_gallon(proof),
    "PG per lb": lambda proof, _: _proof_gallons_per_pound(proof),
    "lb per WG": lambda proof, _: _pounds_per_gallon(proof),
    "lb per PG": lambda proof, _: _pounds_per_proof_gallon(proof),
    "parts of alcohol": lambda proof, _: proof / 2.0,
    "parts of water": lambda proof, _: _parts_of_water(proof),
    "volume factor": _factor,
}
