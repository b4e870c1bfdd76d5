"""Slips that people make with one figure, each tried on every figure that a balance rests on.

Of single figures: a temperature in the other scale, proof for % vol and the reverse, two neighbouring
digits exchanged, a decimal place, pounds for kilograms or gallons for litres and the reverse, in the
readings and quantities of draws, of the vat's own gauges, and in the count of bottles.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from plugins import proof
from plugins.blending.slips.digits import transposed, written

OTHER_SCALE, OTHER_STRENGTH, DIGITS, DECIMAL, OTHER_UNIT = (
    "temperature in the other scale",
    "strength in the other scale",
    "digits exchanged",
    "a decimal place",
    "quantity in the other unit",
)
# What counts against a slip before any figure is looked at, as minus twice the log of its odds. Our own
# judgement, no source: an exchange is as common, but has several outcomes of which one was meant; a
# decimal place is rarer, and has two.
AGAINST = {
    OTHER_SCALE: 0.0,
    OTHER_STRENGTH: 0.0,
    OTHER_UNIT: 0.0,
    DIGITS: 4.0,
    DECIMAL: 4.0,
    # of slips_of_lines, slips_of_names and slips_fitted; what fits by its own free size has the most against it
    "entered twice": 0.0,
    "left out": 0.0,
    "gross for net": 2.0,
    "tare of another day": 2.0,
    "the number of another cask": 4.0,
    "on the sheet but not poured": 5.0,
    "one more like the others": 5.0,
    "water that is not on the sheet": 6.0,
    "no usual slip": 5.5,
}
QUANTITIES = (("drawn_weight", "drawn_weight_kg"), ("drawn_volume", "drawn_volume_L"))
CONTENTS = (("net_weight", "net_weight_kg"), ("volume", "volume_L"))
COUNTS = (("bottles", "bottles"),)
PLAUSIBLE_DEGC = (-5.0, 40.0)
POUND, GALLON, IMPERIAL = 0.45359237, proof.LITRES_PER_GALLON, 4.54609
PER_UNIT = {
    "lb": POUND,
    "g": 0.001,
    "gal": GALLON,
    "impgal": IMPERIAL,
    "mL": 0.001,
    "cL": 0.01,
    "hL": 100.0,
    "m3": 1000.0,
}
SWAPPED_UNIT = {"lb": "kg", "kg": "lb", "gal": "L", "L": "gal", "impgal": "L"}


class Try(NamedTuple):
    """One figure corrected: on which line, as the sheet stated it, and what then is read or measured.

    ``ratio`` multiplies a quantity; ``reading``, ``scale``, ``degC`` replace those of a reading.
    """

    line: int
    quantity: str
    unit: str
    as_read: float
    as_corrected: float
    kind: str
    slip: str
    ratio: float
    reading: float
    scale: str
    degC: float


def tries_of_readings(lines: pd.DataFrame) -> Iterator[Try]:
    """Slips of a reading and its temperature. ``lines``: reading, scale, temperature_degC, temperature_unit."""
    for line, row in zip(lines.index, lines.to_dict("records"), strict=True):
        as_it_is: dict[str, Any] = {"reading": row["reading"], "scale": row["scale"], "degC": row["temperature_degC"]}
        for quantity, unit, read, corrected, kind, slip, change in (*_temperatures(row), *_readings(row)):
            yield Try(line, quantity, unit, read, corrected, kind, slip, np.nan, **{**as_it_is, **change})


def _temperatures(row: dict[Any, Any]) -> Iterator[tuple[Any, ...]]:
    celsius = row["temperature_degC"]
    if np.isnan(celsius):
        return
    in_f = row["temperature_unit"] == "degF"
    unit, stated = ("degF", round(celsius * 1.8 + 32.0, 6)) if in_f else ("degC", round(celsius, 6))
    meant = stated if in_f else (stated - 32.0) / 1.8
    if PLAUSIBLE_DEGC[0] <= meant <= PLAUSIBLE_DEGC[1]:
        corrected = meant * 1.8 + 32.0 if in_f else meant
        own, other = ("°F", "°C") if in_f else ("°C", "°F")
        words = f"{written(stated)} stands as {own}; if {other} was meant it is {corrected:.1f} {own}"
        yield "temperature", unit, stated, corrected, OTHER_SCALE, words, {"degC": meant}
    for figure in transposed(stated):
        meant = (figure - 32.0) / 1.8 if in_f else figure
        if PLAUSIBLE_DEGC[0] <= meant <= PLAUSIBLE_DEGC[1]:
            words = f"digits exchanged: {written(stated)} for {written(figure)}"
            yield "temperature", unit, stated, figure, DIGITS, words, {"degC": meant}


def _readings(row: dict[Any, Any]) -> Iterator[tuple[Any, ...]]:
    reading, scale = row["reading"], row["scale"]
    yield from _strengths("reading", reading, scale)
    for figure, kind, words in _rewritten(reading):
        yield "reading", scale, reading, figure, kind, words, {"reading": figure}


def _rewritten(value: float) -> Iterator[tuple[float, str, str]]:
    """Every figure that comes of exchanged digits or of a decimal place, with its slip in words."""
    for figure in transposed(value):
        yield figure, DIGITS, f"digits exchanged: {written(value)} for {written(figure)}"
    if value > 0:
        for figure in (value * 10.0, value / 10.0):
            yield figure, DECIMAL, f"a decimal place: {written(value)} for {written(figure)}"


def _strengths(quantity: str, value: float, scale: str) -> Iterator[tuple[Any, ...]]:
    if scale == "proof":
        words = f"{written(value)} stands as proof; if % vol was meant it is about {2 * value:.1f} proof"
        yield quantity, scale, value, 2 * value, OTHER_STRENGTH, words, {"scale": "%vol"}
    elif scale == "%vol":
        words = f"{written(value)} stands as % vol; if proof was meant it is about {value / 2:.1f} % vol"
        yield quantity, scale, value, value / 2, OTHER_STRENGTH, words, {"scale": "proof"}


def tries_of_quantities(lines: pd.DataFrame, columns: tuple[tuple[str, str], ...]) -> Iterator[Try]:
    """Slips of a weight or a volume; ``lines`` has the canonical columns and their units."""
    for line, row in zip(lines.index, lines.to_dict("records"), strict=True):
        quantity, column = next(((q, c) for q, c in columns if row[c] == row[c]), ("", ""))
        if not quantity or not row[column] > 0:
            continue
        own = row.get(f"{quantity}_unit")
        unit = own if isinstance(own, str) else "" if quantity == "bottles" else column.rsplit("_", 1)[1]
        stated = float(written(row[column] / PER_UNIT.get(unit, 1.0)))
        for figure, kind, words in (*_rewritten(stated), *_other_unit(stated, unit)):
            said = words if kind == OTHER_UNIT else f"{words} {unit}".rstrip()
            yield Try(line, quantity, unit, stated, figure, kind, said, figure / stated, np.nan, "", np.nan)


def _other_unit(stated: float, unit: str) -> Iterator[tuple[float, str, str]]:
    """Pounds for kilograms, gallons for litres, and the reverse: the figure in the unit that was stated."""
    other = SWAPPED_UNIT.get(unit)
    if other is not None:
        meant = stated * PER_UNIT.get(other, 1.0) / PER_UNIT.get(unit, 1.0)
        yield meant, OTHER_UNIT, f"{written(stated)} stands as {unit}; if {other} was meant it is {meant:.1f} {unit}"


def tries_of_drawn_proof(lines: pd.DataFrame) -> Iterator[Try]:
    """Slips of a strength written on the blend sheet. ``lines``: drawn_proof and its unit."""
    for line, row in zip(lines.index, lines.to_dict("records"), strict=True):
        value = row["drawn_proof"]
        said = row["drawn_proof_unit"]
        unit = said if isinstance(said, str) else "proof"
        found = list(_strengths("drawn_proof", value, unit))
        found += [
            ("drawn_proof", unit, value, figure, kind, words, {"reading": figure})
            for figure, kind, words in _rewritten(value)
        ]
        for quantity, stated_unit, read, corrected, kind, slip, change in found:
            new = {"reading": value, "scale": unit, "degC": np.nan, **change}
            yield Try(line, quantity, stated_unit, read, corrected, kind, slip, np.nan, **new)


def changes_of_reading(tries: pd.DataFrame, lines: pd.DataFrame) -> np.ndarray:
    """By how much the apparent mass fraction changes with each try.

    ``lines`` has reading, scale, temperature_degC, method and state of every line. The corrections of
    the instrument are in the strength as read; the difference of two readings of one instrument is
    taken without them (second order). NaN where the corrected figure means nothing.
    """
    of_line = lines.loc[tries["line"]]
    words = {name: of_line[name].astype(object).to_numpy() for name in ("method", "state")}
    before = proof.read_strength(
        of_line["reading"].to_numpy("float64"),
        of_line["scale"].astype(object).to_numpy(),
        of_line["temperature_degC"].to_numpy("float64"),
        **words,
    )
    after = proof.read_strength(
        tries["reading"].to_numpy("float64"),
        tries["scale"].astype(object).to_numpy(),
        tries["degC"].to_numpy("float64"),
        **words,
    )
    return np.asarray(after - before)


def changes_of_strength(tries: pd.DataFrame, lines: pd.DataFrame) -> np.ndarray:
    """By how much the mass fraction changes with each try of a strength on the blend sheet."""
    of_line = lines.loc[tries["line"]]
    before = proof.mass_fraction_from_strength(
        of_line["drawn_proof"].to_numpy("float64"), of_line["drawn_proof_unit"].astype(object).to_numpy()
    )
    after = proof.mass_fraction_from_strength(
        tries["reading"].to_numpy("float64"), tries["scale"].astype(object).to_numpy()
    )
    return np.asarray(after - before)


def new_mass(tries: pd.DataFrame) -> np.ndarray:
    """Mass of each line with its figure corrected; one had by volume weighs more or less at another strength. [kg]"""
    before = proof.density(tries["fraction"].to_numpy("float64"), proof.T_20C)
    after = proof.density(tries["new_fraction"].to_numpy("float64"), proof.T_20C)
    dense = np.where(tries["by_volume"].fillna(False).astype(bool), after / before, 1.0)
    return np.asarray(tries["mass"].to_numpy("float64") * dense * tries["ratio"].fillna(1.0).to_numpy("float64"))
