"""Units at the edge: a closed table of the spellings that people use, in front of pint.

pint's own parser is never given a person's words: there ``C`` is a coulomb, ``F`` a farad and
``PG`` a petagauss.
"""

from __future__ import annotations

import re
import unicodedata
from functools import cache
from typing import Any

from pipeline.contract.kinds import SheetColumn
from pipeline.contract.site import Site
from pipeline.contract.units import UnitWords

COMMON = (
    UnitWords(
        "temperature",
        "degC",
        ("c", "°c", "º c", "ºc", "˚c", "° c", "c°", "oc", "degc", "deg c", "degrees c", "degrees celsius", "celsius")
        + ("centigrade", "℃"),
        "degC",
    ),
    UnitWords(
        "temperature",
        "degF",
        ("f", "°f", "º f", "ºf", "˚f", "° f", "f°", "of", "degf", "deg f", "degrees f", "degrees fahrenheit")
        + ("fahrenheit", "℉"),
        "degF",
    ),
    UnitWords("volume", "L", ("l", "litre", "litres", "liter", "liters", "ltr", "ltrs", "bl", "bulk litres"), "liter"),
    UnitWords("volume", "mL", ("ml", "millilitre", "millilitres", "milliliter", "milliliters", "cc"), "milliliter"),
    UnitWords("volume", "cL", ("cl", "centilitre", "centilitres", "centiliter", "centiliters"), "centiliter"),
    UnitWords("volume", "hL", ("hl", "hectolitre", "hectolitres"), "hectoliter"),
    UnitWords("volume", "m3", ("m3", "m³", "cubic metre", "cubic metres"), "meter**3"),
    UnitWords(
        "volume", "gal", ("gal", "gals", "gallon", "gallons", "us gal", "us gallons", "wg", "wine gallons"), "gallon"
    ),
    UnitWords(
        "volume", "impgal", ("imp gal", "imperial gallons", "imperial gallon", "uk gal", "igal"), "imperial_gallon"
    ),
    UnitWords("mass", "kg", ("kg", "kgs", "kilo", "kilos", "kilogram", "kilograms"), "kilogram"),
    UnitWords("mass", "g", ("g", "gram", "grams", "gramme", "grammes"), "gram"),
    UnitWords("mass", "lb", ("lb", "lbs", "pound", "pounds", "#"), "pound"),
    UnitWords("length", "cm", ("cm", "centimetre", "centimetres", "centimeter", "centimeters"), "centimeter"),
    UnitWords("length", "mm", ("mm", "millimetre", "millimetres"), "millimeter"),
    UnitWords("length", "m", ("m", "metre", "metres", "meter", "meters"), "meter"),
    UnitWords("length", "ft", ("ft", "foot", "feet"), "foot"),
    UnitWords("length", "in", ("in", "inch", "inches", '"', "″"), "inch"),
    UnitWords("expansion", "1/K", ("1/k", "/k", "per k", "1/°c", "per °c", "per degc", "/°c", "k-1"), "1/kelvin"),
    UnitWords("solids", "mg/100mL", ("mg/100ml", "mg per 100 ml", "mg%", "mg/100 ml"), "milligram/deciliter"),
    UnitWords("solids", "g/100mL", ("g/100ml", "g per 100 ml", "g/100 ml"), "gram/deciliter"),
    UnitWords("solids", "g/L", ("g/l", "grams per litre", "g per l"), "gram/liter"),
    UnitWords("solids", "mg/L", ("mg/l", "ppm"), "milligram/liter"),
)


# what a bare number is taken for, with a note, where neither sheet nor site.toml states a unit
CUSTOMARY = {"temperature": "degF", "volume": "gal", "mass": "lb", "length": "in"}
METRIC = {"temperature": "degC", "volume": "L", "mass": "kg", "length": "cm"}


def spelling(words: str) -> str:
    """A unit's spelling without regard to case, spaces and full stops."""
    text = unicodedata.normalize("NFC", words).strip().casefold().replace(".", "")
    return re.sub(r"\s+", " ", text)


class UnitTable:
    """All spellings, of the engine and of the plugins."""

    def __init__(self, further: tuple[UnitWords, ...] = (), imperial: bool = False) -> None:
        self._by_word: dict[tuple[str, str], UnitWords] = {}
        self.quantities: dict[str, list[UnitWords]] = {}
        for entry in (*COMMON, *further):
            self.quantities.setdefault(entry.quantity, []).append(entry)
            for word in (entry.unit, *entry.words):
                self._by_word.setdefault((entry.quantity, spelling(word)), entry)
        if imperial:
            for word in ("gal", "gals", "gallon", "gallons"):
                self._by_word["volume", word] = self._by_word["volume", "imp gal"]

    def find(self, quantity: str, words: str) -> UnitWords | None:
        """The unit that the words mean for this quantity, or None."""
        return self._by_word.get((quantity, spelling(words)))

    def spellings(self, quantity: str) -> list[str]:
        """The units known for a quantity, for messages."""
        return [entry.unit for entry in self.quantities.get(quantity, [])]


def default_unit(column: SheetColumn, site: Site, units: UnitTable) -> UnitWords | None:
    """The unit in which a bare number of a column is taken here: the site's, else what is customary."""
    stated = site["units"]
    metric = bool(site.markets) and "US" not in site.markets
    first, _, second = column.default_unit.partition("|")
    words = (
        stated.get(column.name)
        or stated.get(column.quantity)
        or (second if second and metric else first)
        or (METRIC if metric else CUSTOMARY).get(column.quantity, "")
    )
    return units.find(column.quantity, words) if words else None


# what the units above are, in pint's words: reading all of its own definitions costs as much as many a command
DEFINITIONS = """
kilo- = 1e3
hecto- = 1e2
deci- = 1e-1
centi- = 1e-2
milli- = 1e-3
meter = [length]
gram = [mass]
kelvin = [temperature]; offset: 0
degree_Celsius = kelvin; offset: 273.15 = degC
degree_Fahrenheit = 5 / 9 * kelvin; offset: 233.15 + 200 / 9 = degF
yard = 0.9144 * meter
foot = yard / 3
inch = yard / 36
grain = 64.79891 * milligram
pound = 7e3 * grain
liter = decimeter ** 3
gallon = 231 * inch ** 3
imperial_gallon = 4.54609 * liter
"""


@cache
def registry() -> Any:
    """The pint registry of the units above."""
    import pint

    made: Any = pint.UnitRegistry(None, autoconvert_offset_to_baseunit=False)
    made.load_definitions(DEFINITIONS.splitlines())
    return made


@cache
def whole_registry() -> Any:
    """All that pint knows, for units of a site's own plugin."""
    import pint

    return pint.UnitRegistry(autoconvert_offset_to_baseunit=False)


def convert(values: Any, unit: UnitWords, canonical: UnitWords) -> Any:
    """Convert an array once, by pint; units that do not convert are returned as they are."""
    if unit.unit == canonical.unit or not unit.pint or not canonical.pint:
        return values
    known = registry()
    if not {unit.pint, canonical.pint} <= {entry.pint for entry in COMMON}:
        known = whole_registry()
    return known.Quantity(values, unit.pint).to(canonical.pint).magnitude
