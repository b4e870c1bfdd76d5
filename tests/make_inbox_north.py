"""The north store of inbox_example: 240 older casks in another warehouse, and the bottles drawn from them.

What is in a cask follows from its wood (``TRUTH``): the tasters of ``make_inbox_nosings`` write of that. Casks,
woods and effects are invented; draws are from ``random.Random`` alone.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from random import Random
from typing import Any

from tests.make_inbox_sheets import text
from tests.make_inbox_stock import EXPORTED
from tests.make_inbox_world import BOURBON, HOUSE, MALT, RYE, SEED

CASKS, BOTTLES, SECOND_FROM = 240, 274, 34
FIRST_FILLED = date(2016, 3, 8)


@dataclass(frozen=True)
class NorthWood:
    """How the cooper's book describes it, and its size in gallons."""

    species: str
    new: bool
    charred: bool
    toast: str
    char: str
    use: str
    held: str
    size_gal: float


@dataclass(frozen=True)
class NorthCask:
    """One cask with what is truly in it: intensity 0 to 10 by family."""

    name: str
    make: str
    grain: str
    filled_on: date
    wood: NorthWood
    place: str
    entry_proof: float
    proof: float
    gauged_on: date
    taste: dict[str, float]

    def years(self, day: date) -> float:
        return (day - self.filled_on).days / 365.25


@dataclass(frozen=True)
class Bottle:
    """One sample bottle."""

    name: str
    cask: NorthCask
    drawn_on: date


WOODS = {
    "Bourbon": (
        NorthWood("American oak", True, True, "light", "#3", "virgin", "", 53.0),
        NorthWood("American oak", True, True, "medium", "#4", "virgin", "", 53.0),
        NorthWood("American oak", True, True, "heavy", "#2", "virgin", "", 53.0),
    ),
    "Rye whiskey": (
        NorthWood("American oak", True, True, "medium", "#3", "virgin", "", 53.0),
        NorthWood("American oak", True, True, "heavy", "#4", "virgin", "", 53.0),
    ),
    "Single malt": (
        NorthWood("European oak", False, False, "medium", "none", "first fill", "oloroso-style wine", 66.0),
        NorthWood("American oak", False, True, "none", "#3", "refill", "bourbon", 53.0),
        NorthWood("European oak", False, True, "medium", "#1", "rejuvenated", "red wine", 59.4),
        NorthWood("American oak", False, True, "light", "#3", "first fill", "bourbon", 53.0),
    ),
    "Peated malt": (
        NorthWood("American oak", False, True, "none", "#3", "refill", "bourbon", 53.0),
        NorthWood("European oak", False, False, "medium", "none", "first fill", "oloroso-style wine", 66.0),
    ),
}
GRAIN = {"Bourbon": BOURBON, "Rye whiskey": RYE, "Single malt": MALT, "Peated malt": MALT}

MAKES: dict[str, dict[str, float]] = {
    "Bourbon": {"vanilla_cream": 3.5, "dark_reduced_sugars": 4.0, "grain_malt": 2.0, "oak_wood": 2.5, "spice": 1.5},
    "Rye whiskey": {"spice": 4.5, "grain_malt": 3.0, "citrus": 2.0, "floral_leafy": 2.0, "dark_reduced_sugars": 2.0},
    "Single malt": {"grain_malt": 3.5, "honey_wax": 3.0, "fresh_fruit": 3.0, "nut_roast": 1.5},
    "Peated malt": {"smoke_peat": 6.0, "marine_medicinal": 3.0, "grain_malt": 2.0, "citrus": 1.5},
}
OF_WOOD: dict[str, dict[str, float]] = {
    "first fill oloroso-style wine": {"dried_fruit_wine": 4.5, "nut_roast": 2.0, "dry_grip": 2.0, "off_notes": 0.6},
    "rejuvenated red wine": {"dried_fruit_wine": 2.5, "fresh_fruit": 1.5, "dry_grip": 2.5, "spice": 1.0},
    "first fill bourbon": {"vanilla_cream": 2.5, "fresh_fruit": 1.0, "oak_wood": 0.5},
    "refill bourbon": {"fresh_fruit": 1.0, "floral_leafy": 1.5},
    "toast light": {"vanilla_cream": -1.0, "oak_wood": 1.0},
    "toast heavy": {"dark_reduced_sugars": 1.5, "nut_roast": 1.5, "vanilla_cream": 0.5},
    "char #4": {"smoke_peat": 0.8, "oak_wood": 0.8, "nut_roast": 0.8},
}
A_YEAR: dict[str, float] = {"oak_wood": 0.35, "dry_grip": 0.3, "fresh_fruit": -0.1, "honey_wax": 0.1}


def north_casks() -> list[NorthCask]:
    """All casks of the north store, in order of number."""
    rng = Random(f"{SEED} north store")
    makes = sorted(WOODS)
    made = []
    for number in range(CASKS):
        make = makes[(number // 12) % len(makes)]  # filled a dozen to the day
        wood = WOODS[make][rng.randrange(len(WOODS[make]))]
        filled_on = FIRST_FILLED + timedelta(days=130 * (number // 12) + 20 * ((number // 12) % 3))
        entry = round(118.0 + rng.uniform(-1.0, 6.0), 1)
        years = (EXPORTED - filled_on).days / 365.25
        made.append(
            NorthCask(
                name=f"N-{number + 1:04d}",
                make=make,
                grain=GRAIN[make],
                filled_on=filled_on,
                wood=wood,
                place=f"N{1 + number // 60}-{1 + (number // 10) % 6}-{1 + number % 10:02d}",
                entry_proof=entry,
                proof=round(entry - 0.35 * years + rng.gauss(0.0, 0.8), 1),
                gauged_on=date(2025, 9, 22) + timedelta(days=number // 24),
                taste=_taste(make, wood, years, rng),
            )
        )
    odd = {6: ("off_notes", 6.0), 97: ("smoke_peat", 5.0), 158: ("off_notes", 5.0)}
    for at, (family, value) in odd.items():  # a bad cask, a smoky cask among clean ones, another bad one
        made[at] = replace(made[at], taste={**made[at].taste, family: value})
    return made


def _taste(make: str, wood: NorthWood, years: float, rng: Random) -> dict[str, float]:
    taste = dict(MAKES[make])
    parts = [f"{wood.use} {wood.held}".strip(), f"toast {wood.toast}", f"char {wood.char}"]
    for part in parts:
        for family, more in OF_WOOD.get(part, {}).items():
            taste[family] = taste.get(family, 0.0) + more
    for family, more in A_YEAR.items():
        taste[family] = taste.get(family, 0.0) + more * (years - 6.0)
    families = sorted({*taste, "citrus", "fresh_fruit", "spice", "oak_wood", "floral_leafy"})
    return {family: min(10.0, max(0.0, taste.get(family, 0.0) + rng.gauss(0.0, 0.8))) for family in families}


def bottles(stored: list[NorthCask]) -> list[Bottle]:
    """A bottle from every cask in the autumn, and a second from some in the winter."""
    rng = Random(f"{SEED} north bottles")
    first = [(cask, date(2025, 10, 6) + timedelta(days=at // 30)) for at, cask in enumerate(stored)]
    again = rng.sample(stored, SECOND_FROM)
    second = [(cask, date(2026, 1, 19) + timedelta(days=at // 20)) for at, cask in enumerate(again)]
    return [Bottle(f"S-{1001 + at}", cask, day) for at, (cask, day) in enumerate([*first, *second])]


def inventory(stored: list[NorthCask]) -> str:
    """The north store's export, typed by its warehouseman."""
    header = (
        "Cask No|Stock date|Make|Mash bill|Distillery|State|Country|Distillation proof|Filled|Fill proof|"
        "Wood species|New wood|"
        "Charred|Toast level|Char level|Cask use|Previous contents|Cask size|Bin|Bulk volume|"
        "Volume source|Last proof|Gauge date|Cost per LPA"
    ).split("|")
    rows: list[list[Any]] = []
    for cask in stored:
        wood = cask.wood
        left = wood.size_gal * (1.0 - 0.022 * cask.years(EXPORTED)) - 0.5
        rows.append(
            [cask.name, EXPORTED.isoformat(), cask.make, cask.grain, HOUSE, "Oskermark", "USA",
             139.0 if "malt" in cask.make.casefold() else 134.0, cask.filled_on.isoformat(), cask.entry_proof,
             wood.species, "Y" if wood.new else "N",
             "Y" if wood.charred else "N", wood.toast, wood.char,
             wood.use, wood.held, f"{wood.size_gal:.0f} gal", cask.place, f"{left:.1f} gal", "estimate", cask.proof,
             cask.gauged_on.isoformat(), f"{cost(cask):.2f}"]
        )  # fmt: skip
    return text(header, rows)


def cost(cask: NorthCask) -> float:
    """What a litre of its alcohol has cost the house: spirit, cask and rent."""
    wood = 1.9 if cask.wood.new else 0.8
    return 2.4 + wood * (53.0 / cask.wood.size_gal) ** 0.5 + 0.36 * cask.years(EXPORTED)


def register(shelf: list[Bottle]) -> str:
    """The sample room's register."""
    header = ["Sample no", "Cask", "Date drawn", "Sample volume (mL)", "Cut to (% vol)", "Keep until", "Shelf"]
    rows = [
        [bottle.name, bottle.cask.name, bottle.drawn_on.isoformat(), 200, 24,
         (bottle.drawn_on + timedelta(days=540)).isoformat(), f"{'ABCDEF'[at // 50]}{1 + at % 50}"]
        for at, bottle in enumerate(shelf)
    ]  # fmt: skip
    return text(header, rows)
