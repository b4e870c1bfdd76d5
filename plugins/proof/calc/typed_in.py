"""What a person types at the prompt: amounts, strengths and temperatures with their units, by pint.

Every figure needs its unit, but for a strength without one, which is proof: 60 °F and 60 °C are no more
to be guessed at than a pound and a kilogram. Units come from the closed table that sheets are read with.
"""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from pipeline.contract.units import UnitWords
from pipeline.sheets.units import UnitTable, convert
from plugins.proof.alcoholometry.air import mass_from_weight
from plugins.proof.alcoholometry.amounts import mass_from_volume
from plugins.proof.alcoholometry.formula import HIGHEST_DEGC, LOWEST_DEGC, density
from plugins.proof.alcoholometry.instruments import BASE_DEGC
from plugins.proof.alcoholometry.strength import SCALES, T_20C, T_60F, mass_fraction_from_strength
from plugins.proof.declared.kinds import STRENGTH_UNITS

TABLE = UnitTable(tuple(STRENGTH_UNITS))
NUMBER = re.compile(r"\s*([+\-\u2212]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(.*?)\s*", re.DOTALL)
GALLONS = ("gal", "impgal")
CANONICAL = {
    "temperature": "degC",
    "volume": "L",
    "mass": "kg",
    "length": "cm",
    "solids": "mg/100mL",
    "expansion": "1/K",
}
WATER = "water"
LARGEST = 1e12


class Unclear(ValueError):
    """What was typed cannot be used; the message says why and how to put it."""


@dataclass(frozen=True)
class Strength:
    """A strength as typed: its figure on its scale, the mass fraction it means, and where the scale holds."""

    value: float
    scale: str
    mass_fraction: float
    reference_degC: float


@dataclass(frozen=True)
class Amount:
    """An amount as typed, and how it was had: ``weighed`` or ``metered``."""

    text: str
    value: float
    basis: str
    in_gallons: bool
    metric: bool = False

    def mass_kg(self, strength: float, reference_degC: float) -> float:
        """True mass of liquid of a strength; a volume is at ``reference_degC``, a weight in air. [kg]"""
        if self.basis == "weighed":
            return float(mass_from_weight(self.value, density(strength, T_20C)))
        return float(mass_from_volume(self.value, strength, reference_degC))


def figure(text: str) -> tuple[float, str]:
    """The number and the unit's words of a text such as ``53 gal``."""
    found = NUMBER.fullmatch(text)
    if not found:
        raise Unclear(f"{text!r} does not begin with a number; put it as 53gal, 75degF or 124.6proof.")
    number, words = found[1].replace("\u2212", "-"), found[2]
    if words.startswith(",") or re.match(r"[.,]?\d", words):
        raise Unclear(f"{text!r} is no number that reads one way only; write a point for decimals and no separators.")
    value = float(number)
    if not abs(value) <= LARGEST:
        raise Unclear(f"{text!r} is too large a number.")
    return value, words


def _unit(text: str, words: str, quantities: tuple[str, ...]) -> UnitWords:
    for quantity in quantities:
        unit = TABLE.find(quantity, words)
        if unit:
            return unit
    known = [spelling for quantity in quantities for spelling in TABLE.spellings(quantity)]
    said = f"{text!r} has no unit" if not words else f"{words!r} in {text!r} is no unit of {' or '.join(quantities)}"
    near = difflib.get_close_matches(words, known, 1) if words else []
    raise Unclear(f"{said}{f'; did you mean {near[0]}' if near else ''}; known are {', '.join(known)}.")


def _converted(text: str, *quantities: str) -> tuple[float, UnitWords]:
    value, words = figure(text)
    unit = _unit(text, words, quantities)
    canonical = TABLE.find(unit.quantity, CANONICAL[unit.quantity])
    assert canonical is not None
    return float(convert(value, unit, canonical)), unit


def temperature(text: str) -> float:
    """A temperature with its unit. [degC]"""
    value, _ = _converted(text, "temperature")
    if not LOWEST_DEGC <= value <= HIGHEST_DEGC:
        raise Unclear(f"{text!r}: the density formula holds from -20 to 40 °C (-4 to 104 °F).")
    return value


def solids(text: str) -> float:
    """Dissolved solids with their unit. [mg/100 mL]"""
    value, _ = _converted(text, "solids")
    if value < 0.0:
        raise Unclear(f"{text!r}: solids cannot be less than none.")
    return value


def expansion(text: str) -> float:
    """Cubic expansion of glass with its unit. [1/K]"""
    value, _ = _converted(text, "expansion")
    if not 0.0 <= value < 1e-3:
        raise Unclear(f"{text!r}: glass expands by 0 to 0.001 per K.")
    return value


def scale_and_value(text: str) -> tuple[float, str]:
    """A reading or strength and its scale; a bare number is proof."""
    value, words = figure(text)
    if words in ("", "\N{DEGREE SIGN}"):
        if 0.0 < value < 2.0:
            raise Unclear(
                f"{text!r} may be a share of 1, a specific gravity or proof; say {100 * value:g}%vol, "
                f"{value:g}sg or {value:g}proof."
            )
        return value, "proof"
    if words == "%":
        raise Unclear(f"{text!r}: say %vol (at 20 °C), %mass or proof.")
    return value, _unit(text, words, ("strength",)).unit


def strength(text: str) -> Strength:
    """A strength at reference temperature: proof at 60 °F, %vol at 20 °C, %mass, or a density."""
    value, scale = scale_and_value(text)
    fraction = float(mass_fraction_from_strength(value, scale))
    if math.isnan(fraction):
        raise Unclear(f"{text!r}: no mixture of ethanol and water has this strength; {_ends(scale)}.")
    return Strength(value, scale, fraction, float(BASE_DEGC[SCALES.index(scale)]))


def _ends(scale: str) -> str:
    ends = {"proof": "proof runs from 0 to 200", "%vol": "%vol runs from 0 to 100", "%mass": "%mass runs from 0 to 100"}
    if scale in ends:
        return ends[scale]
    low, high = density(np.array([1.0, 0.0]), T_60F if scale == "sg60" else T_20C)
    per = {"kg/m3": 1.0, "g/cm3": 1000.0, "sg60": float(density(0.0, T_60F))}[scale]
    return f"{scale} runs from {low / per:.6g} to {high / per:.6g}"


def amount(text: str) -> Amount:
    """A volume or a weight in air, above nothing."""
    value, unit = _converted(text, "volume", "mass")
    if value <= 0.0:
        raise Unclear(f"{text!r}: an amount is above 0.")
    basis = "weighed" if unit.quantity == "mass" else "metered"
    return Amount(text, value, basis, unit.unit in GALLONS, unit.unit not in (*GALLONS, "lb"))


def net(gross: str, tare: str) -> Amount:
    """A weight in air less that of the empty cask, each in its own unit."""
    full, empty = amount(gross), amount(tare)
    if (full.basis, empty.basis) != ("weighed", "weighed"):
        raise Unclear(f"{gross!r} less {tare!r}: a tare is taken off a weight, such as 468lb --tare 50lb.")
    if full.value <= empty.value:
        raise Unclear(f"{gross!r} less {tare!r} leaves nothing; which of the two is the tare?")
    return replace(full, text=f"{gross} less {tare}", value=full.value - empty.value)


def depth(text: str) -> float:
    """A depth by dip with its unit. [cm]"""
    value, _ = _converted(text, "length")
    if value < 0.0:
        raise Unclear(f"{text!r}: a depth is not below nothing.")
    return value


def part(text: str, strength_of: Callable[[str], Strength] = strength) -> tuple[Amount, Strength]:
    """One part of a mixture, such as ``53gal@124.6proof`` or ``20L@water`` (in gallons at 60 °F, else 20 °C)."""
    stated, at, words = text.partition("@")
    if not at or not stated.strip() or not words.strip():
        raise Unclear(f"{text!r}: put each part as amount@strength, such as 53gal@124.6proof or 20gal@water.")
    how_much = amount(stated)
    if words.strip().casefold() == WATER:
        return how_much, Strength(0.0, WATER, 0.0, T_60F if how_much.in_gallons else T_20C)
    return how_much, strength_of(words)


def gathered(words: tuple[str, ...]) -> list[str]:
    """Arguments with units that were typed apart put together: ``53 gal @ 124.6 proof`` is one figure and one."""
    made: list[str] = []
    for word in words:
        begins = re.match(r"[+\-\u2212.]?\d", word) is not None
        if made and (not begins or word.startswith("@") or made[-1].endswith("@")):
            made[-1] = f"{made[-1]} {word}".replace(" @", "@").replace("@ ", "@")
        else:
            made.append(word)
    return made
