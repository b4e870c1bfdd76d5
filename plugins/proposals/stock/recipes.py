"""A recipe as a blender says it: casks with parts by volume at cask strength ("124 52, 150 22, 158 8 %")."""

from __future__ import annotations

import difflib
import re
from collections.abc import Sequence
from dataclasses import dataclass

from pipeline.common.names import fold
from pipeline.sheets.numbers import to_number

PART = re.compile(r"(?P<name>.+?)[\s:=]+(?P<amount>\d[\d.,]*)\s*(?P<unit>%|ml|l|litres?|parts?)?", re.IGNORECASE)
UNITS = {"": "parts", "%": "%", "ml": "ml", "l": "L", "litre": "L", "litres": "L", "part": "parts", "parts": "parts"}


class NoRecipe(ValueError):
    """A recipe that cannot be understood, in words."""


@dataclass(frozen=True)
class Recipe:
    """Casks as the stock names them, each with its part of the volume at cask strength; the parts add up to 1."""

    parts: dict[str, float]
    unit: str
    total: float

    @property
    def said(self) -> str:
        return ", ".join(f"{cask} {100 * part:.1f} %" for cask, part in self.parts.items())


def recipe_of(text: str, known: Sequence[str]) -> Recipe:
    """A recipe from words; ``known`` are the names of the stock. Raises NoRecipe.

    Parts are separated by commas, semicolons or lines; one unit stands behind any of them for all. A number alone
    names the cask whose name ends in it, where there is one such only.
    """
    amounts: dict[str, float] = {}
    units = set()
    for said in (part.strip() for part in re.split(r"[;\n]|,(?!\d)|,(?=\d+\s+\d)", text)):
        if not said:
            continue
        match = PART.fullmatch(said)
        if match is None:
            raise NoRecipe(f"{said!r} is no part of a recipe; write each as CASK AMOUNT, as in C-0101 52.")
        amount = amount_of(match["amount"], said)
        if amount <= 0.0:
            raise NoRecipe(f"{said!r}: a part is above nought.")
        if match["unit"]:
            units.add(UNITS[match["unit"].casefold()])
        cask = cask_named(match["name"].strip(), known)
        if cask in amounts:
            raise NoRecipe(f"{cask} stands in the recipe twice.")
        amounts[cask] = amount
    if not amounts:
        raise NoRecipe('No part was named; write a recipe as "C-0101 52, C-0150 22".')
    if len(units) > 1:
        raise NoRecipe(f"The recipe mixes {' and '.join(sorted(units))}; write all parts in one unit.")
    total = sum(amounts.values())
    unit = units.pop() if units else "parts"
    if unit == "%" and abs(total - 100.0) > 0.5:
        unit = "parts"  # percent of what was named; said by whoever prints it
    return Recipe({cask: amount / total for cask, amount in amounts.items()}, unit, total)


def amount_of(digits: str, said: str) -> float:
    """A number as a person types it. Raises NoRecipe for one that reads in two ways, as 1,500 does."""
    try:
        return to_number(digits, "")
    except ValueError as error:
        raise NoRecipe(f"{said!r}: {digits} {error}") from error


def cask_named(said: str, known: Sequence[str]) -> str:
    """The cask of the stock that a person means. Raises NoRecipe."""
    exact = [name for name in known if fold(name) == fold(said)]
    if exact:
        return exact[0]
    if said.isdigit():
        ends = [name for name in known if (tail := re.search(r"(\d+)\D*$", name)) and int(tail[1]) == int(said)]
        if len(ends) == 1:
            return ends[0]
        if ends:
            raise NoRecipe(f"{said} may be {' or '.join(sorted(ends)[:5])}; write the whole name.")
    near = difflib.get_close_matches(said.casefold(), [name.casefold() for name in known], 3, 0.6)
    meant = f" Did you mean {', '.join(name for name in known if name.casefold() in near)}?" if near else ""
    raise NoRecipe(f"{said} is no cask of the stock.{meant}")
