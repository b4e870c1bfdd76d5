"""Tasting sheets of four tasters who write as tasters do: short, in their own words, not always well spelt."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from random import Random
from typing import Any

from tests.make_inbox_sheets import Sheet, text, workbook
from tests.make_inbox_world import SEED, Cask


@dataclass(frozen=True)
class Taster:
    """``lenient`` shifts scores, ``terse`` is the chance of one phrase only, ``slips`` that of a misspelling."""

    name: str
    lenient: float
    terse: float
    slips: float


TASTERS = (
    Taster("Thessaly Brume", 0.0, 0.2, 0.05),
    Taster("Borin Hask", 0.6, 0.5, 0.25),
    Taster("Ilka Vordren", -0.5, 0.1, 0.02),
    Taster("Maudry Fenn", 0.2, 0.35, 0.15),
)

Stages = tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]]

# fmt: off
NOTES: dict[str, Stages] = {
    "Bourbon": (
        ("vanilla, caramel", "burnt sugar and orange peel", "sawn oak, hint of mint", "sweet corn, butterscotch",
         "cherry, a little acetone?", "toasted coconut", "brown sugar", "maple!"),
        ("caramel, cinnamon", "oily, corn bread, black pepper", "vanilla cream and toffee", "char, dark chocolate",
         "rather thin, oak forward", "orange marmalade, clove", "full and round, toffee"),
        ("long, oak and cinnamon", "medium, sweet", "dry oak, a touch of leather", "short but clean", "pepper lingers"),
    ),
    "Rye whiskey": (
        ("rye bread, dill", "mint and pine", "lemon peel, clove", "caramel under the spice", "green apple?",
         "fresh cut grass, pepper", "orange oil, anise"),
        ("black pepper, honey", "big spice, cinnamon!", "dry, tannin, rye bread", "caramel, mint", "ginger, lemon zest",
         "lean but bright, clove"),
        ("long and peppery", "dry, minty", "medium, clove", "oak grip, not bitter", "warm, a bit hot"),
    ),
    "Single malt": (
        ("raisin, fig", "malt biscuit, honey", "orange marmalade, walnut", "struck match?? very faint",
         "apricot, almond", "honeycomb, vanilla", "dried fruit, old leather", "porridge, pear"),
        ("raisin, dark chocolate", "honey, malt, ginger", "toffee, walnut, cinnamon", "creamy, vanilla",
         "plum and fig!", "tannic, needs time", "barley sugar, lemon"),
        ("long, dried fruit", "walnut, dry", "medium, honeyed", "a little sulphur?", "soft, malt and oak", "spicy"),
    ),
    "Wheated bourbon": (
        ("bread dough, honey", "vanilla, sawdust", "pear, caramel", "new make still there, grainy",
         "butter, wheat toast"),
        ("sweet, soft, thin", "honey, vanilla", "young, spirity", "caramel, nutmeg", "green, needs time"),
        ("short", "soft, sweet", "grainy, hot", "medium, vanilla"),
    ),
}
# fmt: on
MISSPELT = {
    "vanilla": "vanila",
    "caramel": "carmel",
    "cinnamon": "cinamon",
    "raisin": "raisen",
    "leather": "lether",
    "marmalade": "marmelade",
    "apricot": "apricott",
    "pepper": "peper",
    "chocolate": "choclate",
    "coconut": "cocnut",
    "toffee": "toffe",
    "dried": "dryed",
    "tannin": "tanin",
}  # fmt: skip
PRAISE = ("best of the flight", "very nice", "wow. keep some back?")
REMARKS = ("retaste", "glass was warm", "cork bits, resample", "not sure, cold today")


def _phrase(bank: tuple[str, ...], taster: Taster, rng: Random) -> str:
    """One or two phrases; some words misspelt, some marked ``!`` or ``?``."""
    picked = rng.sample(bank, 1 if rng.random() < taster.terse else 2)
    words = [_misspelt(word, taster, rng) for word in ", ".join(picked).split(" ")]
    said = " ".join(words)
    return said + ("!" if said[-1] not in "?!" and rng.random() < 0.06 else "")


def _misspelt(word: str, taster: Taster, rng: Random) -> str:
    plain = word.rstrip(",!?")
    if plain not in MISSPELT or rng.random() >= taster.slips:
        return word
    return MISSPELT[plain] + word[len(plain) :]


def _note(taster: Taster, make: str, quality: float, rng: Random) -> dict[str, Any]:
    nose, palate, finish = NOTES[make]
    score = min(9.5, max(2.0, quality + taster.lenient + rng.gauss(0.0, 0.6)))
    return {
        "nose": _phrase(nose, taster, rng),
        "palate": _phrase(palate, taster, rng),
        "finish": rng.choice(finish) if rng.random() < 0.9 else None,
        "score": round(score * 2.0) / 2.0 if rng.random() < 0.93 else None,
        "remark": rng.choice(PRAISE if score >= 8.0 else REMARKS) if rng.random() < 0.12 else None,
    }


def _quality(cask: Cask, day: date, rng: Random) -> float:
    return min(8.5, 4.2 + 0.75 * (day - cask.filled_on).days / 365.25 + rng.gauss(0.0, 0.5))


def november(casks: list[Cask]) -> bytes:
    """Two panel sessions on casks in one workbook, a sheet for each."""
    rng = Random(f"{SEED} panel")
    chosen = {f"C-{number:04d}" for number in (101, 103, 104, 106, 108, 110, 201, 203, 204)}
    ready = [cask for cask in casks if cask.name in chosen]
    malts = [cask for cask in casks if cask.spirit == "Single malt"][:9]
    return workbook(
        [
            _session("Tue flight", "P-25-07", datetime(2025, 11, 18, 10, 30), ready, rng),
            _session("Thu flight", "P-25-08", datetime(2025, 11, 20, 10, 15), malts, rng),
        ]
    )


def _session(name: str, session: str, start: datetime, casks: list[Cask], rng: Random) -> Sheet:
    header = "Date|Flight|Glass no|Barrel|Taster|Nose|Palate|Finish|Score|Nosed at (% vol)|Action|Comments".split("|")
    rows = []
    for place, cask in enumerate(casks, start=1):
        quality = _quality(cask, start.date(), rng)
        for taster in TASTERS:
            note = _note(taster, cask.spirit, quality, rng)
            action = "use now" if (note["score"] or quality) >= 7.5 else "wait" if quality < 6.5 else "hold"
            rows.append(
                [start, session, place, cask.name, taster.name, note["nose"], note["palate"], note["finish"],
                 note["score"], 24, action, note["remark"]]
            )  # fmt: skip
    above = [f"Nosing sheet {session}", "Samples cut to 24 % vol, blind order; spit, and water between glasses"]
    return Sheet(name, header, rows, above)


def spring(casks: list[Cask]) -> str:
    """The three batches from the vat, and some young casks, as one typed list."""
    rng = Random(f"{SEED} spring tasting")
    header = ["Sample", "Tasted by", "Tasted on", "Aroma", "Taste", "Aftertaste", "Points", "Remarks"]
    rows: list[list[Any]] = []
    vats = (("B-26-01", "Bourbon", 7.8, date(2026, 1, 27)), ("B-26-02", "Rye whiskey", 7.2, date(2026, 2, 17)),
            ("B-26-03", "Single malt", 7.6, date(2026, 3, 4)))  # fmt: skip
    for sample, make, quality, day in vats:
        rows.extend(_listed(sample, make, quality, day, rng))
    for cask in [cask for cask in casks if cask.name in ("C-0401", "C-0402", "C-0403", "C-0501", "C-0502")]:
        day = date(2026, 3, 12)
        rows.extend(_listed(cask.name, cask.spirit, _quality(cask, day, rng), day, rng))
    return text(header, rows)


def _listed(sample: str, make: str, quality: float, day: date, rng: Random) -> list[list[Any]]:
    rows = []
    for taster in TASTERS:
        note = _note(taster, make, quality, rng)
        cells = [note["nose"], note["palate"], note["finish"], note["score"], note["remark"]]
        rows.append([sample, taster.name, f"{day:%b} {day.day}, {day.year}", *cells])
    return rows
