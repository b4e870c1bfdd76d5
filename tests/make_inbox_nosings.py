"""The nosing of the north store: what four tasters write of bottles whose truth is known.

Each writes in a way of their own: Borin's marks are generous and his spelling is not, Ilka is strict and exact,
Maudry says walnut where others say hazelnut, Thessaly notes most. A few bottles have one taster and one note.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from random import Random
from typing import Any

from plugins.tasting.blind.flights import Glass, key_bytes
from plugins.tasting.blind.serving_orders import orders
from tests.make_inbox_north import Bottle
from tests.make_inbox_sheets import Sheet, text, workbook
from tests.make_inbox_tastings import MISSPELT, TASTERS, Taster
from tests.make_inbox_world import SEED

PANEL_BOTTLES, FLIGHT, BLIND_SAMPLES = 160, 10, 7
BLIND_DAY = date(2026, 2, 12)
BLIND_SESSION = "P-26-03"

# weaker to stronger; what is written of a family at the nose, the palate, the finish
WORDS: dict[str, tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]]] = {
    "vanilla_cream": (("vanilla", "custard", "toasted coconut"), ("vanilla cream", "fudge"), ("vanilla",)),
    "dark_reduced_sugars": (("caramel", "brown sugar", "toffee"), ("toffee", "burnt sugar"), ("treacle", "caramel")),
    "grain_malt": (("malt", "biscuit", "porridge"), ("malt", "bread crust"), ("malt",)),
    "oak_wood": (("oak", "cedar", "sawdust"), ("oak", "cigar box"), ("oak", "tobacco")),
    "spice": (("cinnamon", "clove"), ("black pepper", "ginger", "cinnamon"), ("pepper", "clove")),
    "citrus": (("orange peel", "lemon zest"), ("marmalade", "lemon"), ("orange",)),
    "floral_leafy": (("cut grass", "heather", "mint"), ("mint", "green tea"), ("hay",)),
    "honey_wax": (("honey", "beeswax"), ("honey",), ("heather honey",)),
    "fresh_fruit": (("pear", "apple", "plum"), ("apricot", "cherry"), ("plum",)),
    "nut_roast": (("hazelnut", "dark chocolate"), ("hazelnut", "coffee"), ("cocoa",)),
    "dried_fruit_wine": (("raisin", "fig", "sherry"), ("prune", "raisin", "red wine"), ("dried fruit",)),
    "smoke_peat": (("peat smoke", "bonfire"), ("ash", "smoke"), ("embers", "smoke")),
    "marine_medicinal": (("iodine", "sea spray"), ("brine", "salt"), ("salty",)),
    "off_notes": (("rubber", "struck match"), ("sulphur", "rubber"), ("rubbery",)),
    "dry_grip": ((), ("tannic", "dry"), ("drying", "grippy")),
}
DEGREES = ((2.2, ("a hint of {}", "a touch of {}", "faint {}")), (5.8, ("{}", "{}", "clear {}")),
           (11.0, ("lots of {}", "big {}", "{}!")))  # fmt: skip
LENGTHS = ("short", "medium length", "long", "very long")


@dataclass(frozen=True)
class Flight:
    """One sitting."""

    session: str
    start: datetime
    bottles: list[Bottle]
    tasters: tuple[Taster, ...]


def flights(shelf: list[Bottle]) -> list[Flight]:
    """The panel's sittings over the first bottles, every second one with three tasters."""
    made = []
    for number in range(PANEL_BOTTLES // FLIGHT):
        start = datetime(2025, 10, 21, 10, 30) + timedelta(days=7 * number)
        panel = TASTERS if number % 2 == 0 else tuple(t for t in TASTERS if t is not TASTERS[1 + (number // 2) % 3])
        chosen = shelf[number * FLIGHT : (number + 1) * FLIGHT]
        made.append(Flight(f"N-{start:%y}-{number + 1:02d}", start, chosen, panel))
    return made


def note(bottle: Bottle, taster: Taster, day: date, rng: Random) -> dict[str, Any]:
    """What one taster writes of a bottle."""
    parts: list[list[str]] = [[], [], []]
    for family, truth in bottle.cask.taste.items():
        felt = truth + rng.gauss(0.0, 1.2) + 0.5 * taster.lenient
        if felt < 1.0 or rng.random() < 0.25 + 0.3 * taster.terse:
            if truth < 0.5 and family == "smoke_peat" and rng.random() < 0.06:
                parts[0].append("no smoke")
            continue
        places = [place for place in range(3) if WORDS[family][place]]
        for place in rng.sample(places, 1 if rng.random() < 0.6 else min(2, len(places))):
            parts[place].append(_phrase(rng.choice(WORDS[family][place]), felt, taster, rng))
    years = bottle.cask.years(day)
    parts[2].insert(0, LENGTHS[min(3, max(0, int(rng.gauss(years / 3.0, 0.8))))])
    if years < 4.0 and rng.random() < 0.4:
        parts[1].append("young, spirity")
    if years > 9.0 and rng.random() < 0.25:
        parts[1].append("over-oaked?")
    score = min(9.5, max(2.0, 5.4 + 0.25 * years - 0.5 * bottle.cask.taste.get("off_notes", 0.0) + taster.lenient
                         + rng.gauss(0.0, 0.6)))  # fmt: skip
    for part in parts:
        rng.shuffle(part)
    made: dict[str, Any] = {
        name: ", ".join(part) or None for name, part in zip(("nose", "palate", "finish"), parts, strict=True)
    }
    made["score"] = round(score * 2.0) / 2.0 if rng.random() < 0.95 else None
    made["action"] = "reject" if score < 3.5 else "use now" if score >= 7.5 else "wait" if years < 6 else "re-taste"
    return made


def _phrase(word: str, felt: float, taster: Taster, rng: Random) -> str:
    if word == "hazelnut" and taster.name == "Maudry Fenn":
        word = "walnut"
    if word == "lemon zest" and taster.name == "Thessaly Brume" and rng.random() < 0.25:
        word = "verjuice"  # which the lexicon does not know
    said = " ".join(MISSPELT.get(part, part) if rng.random() < taster.slips else part for part in word.split(" "))
    degree = next(words for top, words in DEGREES if felt < top)
    return rng.choice(degree).format(said) + ("?" if rng.random() < 0.04 else "")


def panel_sheets(shelf: list[Bottle]) -> dict[str, bytes]:
    """The panel's workbooks, one a quarter, a sheet for each sitting."""
    header = "Sample|Taster|Date|Flight|Glass no|Nose|Palate|Finish|Points|Nosed at (% vol)|Action".split("|")
    books: dict[str, list[Sheet]] = {}
    for flight in flights(shelf):
        rng = Random(f"{SEED} {flight.session}")
        served = orders(len(flight.bottles))
        rows = []
        for at, taster in enumerate(flight.tasters):
            for place, glass in enumerate(served[(at * 3) % len(served)], start=1):
                bottle = flight.bottles[glass]
                said = note(bottle, taster, flight.start.date(), rng)
                rows.append(
                    [bottle.name, taster.name, flight.start, flight.session, place, said["nose"], said["palate"],
                     said["finish"], said["score"], 24, said["action"]]
                )  # fmt: skip
        above = [
            f"North store, sitting {flight.session}",
            "Cut to 24 % vol; each in an order of their own; spit",
        ]
        quarter = f"north_nosings_{flight.start:%Y}-Q{(flight.start.month + 2) // 3}.xlsx"
        books.setdefault(quarter, []).append(Sheet(flight.session, header, rows, above))
    return {name: workbook(sheets) for name, sheets in books.items()}


def walk_round(shelf: list[Bottle]) -> str:
    """One taster, one note: the rest of the shelf, written in one cell with its stages marked."""
    rng = Random(f"{SEED} walk round")
    header = ["Sample id", "Nosed by", "Tasted on", "Notes", "Mark"]
    rows = []
    for at, bottle in enumerate(shelf[PANEL_BOTTLES:]):
        taster = TASTERS[at % len(TASTERS)]
        day = bottle.drawn_on + timedelta(days=9 + at % 5)
        said = note(bottle, taster, day, rng)
        stages = {"N": said["nose"], "P": said["palate"], "F": said["finish"]}
        words = ". ".join(f"{mark}: {what}" for mark, what in stages.items() if what)
        rows.append([bottle.name, taster.name, f"{day:%b} {day.day}, {day.year}", words, said["score"]])
    return text(header, rows)


def blind_sheets(shelf: list[Bottle]) -> dict[str, bytes]:
    """A blind flight with one sample poured twice, and its key."""
    rng = Random(f"{SEED} blind")
    chosen = rng.sample(shelf[:PANEL_BOTTLES], BLIND_SAMPLES)
    poured = [*chosen, chosen[0]]
    codes = [str(code) for code in rng.sample(range(100, 1000), len(poured) * len(TASTERS))]
    glasses, rows = [], []
    served = orders(len(poured))
    for at, taster in enumerate(TASTERS):
        for place, glass in enumerate(served[at * 2], start=1):
            bottle, code = poured[glass], codes.pop()
            repeat = "" if bottle is not chosen[0] else "1" if glass == 0 else "2"
            glasses.append(Glass(BLIND_SESSION, code, bottle.name, taster.name, place, repeat))
            said = note(bottle, taster, BLIND_DAY, rng)
            rows.append(
                [code, taster.name, BLIND_DAY, BLIND_SESSION, place, said["nose"], said["palate"], said["finish"],
                 said["score"], 20, said["action"], None]
            )  # fmt: skip
    header = "Sample code|Taster|Date|Session|Order|Nose|Palate|Finish|Score|Nosing strength (% vol)|Decision|Remark"
    sheet = Sheet(BLIND_SESSION, header.split("|"), rows, [f"Blind flight {BLIND_SESSION}", "Nosed at 20 % vol"])
    return {
        f"tasting_{BLIND_SESSION}.xlsx": workbook([sheet]),
        f"blind_key_{BLIND_SESSION}.csv": key_bytes(glasses),
    }
