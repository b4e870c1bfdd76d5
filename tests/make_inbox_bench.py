"""A bench card for a lightly smoky vatting that is tried out, as it comes back from the bench, filled in.

Nothing is drawn for B-27-02 yet: three casks of the north store, a blend that is too dry, and steps away from it. What
the tasters felt is their casks' truth mixed by a power law, with each taster's own noise.
"""

from __future__ import annotations

from datetime import date
from io import BytesIO
from random import Random
from typing import Any

from openpyxl import load_workbook

from pipeline.writing.workbooks import workbook_bytes
from plugins.bench.cards.card import Asked, Recipe, plan_card
from plugins.bench.cards.card_workbook import card_bytes
from plugins.bench.cards.designs import cox_direction, equal_parts, leave_out
from plugins.bench.cards.measure import Bench
from tests.make_inbox_north import NorthCask
from tests.make_inbox_nosings import DEGREES, WORDS
from tests.make_inbox_tastings import TASTERS, Taster
from tests.make_inbox_world import SEED

BATCH, FLIGHT = "B-27-02", "B-27-02-F1"
CASKS, START = ("N-0038", "N-0094", "N-0013"), (0.60, 0.25, 0.15)
MADE, TASTED, POURER = date(2026, 3, 19), date(2026, 3, 20), "Orsel Tarn"
FAMILIES = ("smoke_peat", "dry_grip", "honey_wax", "fresh_fruit", "grain_malt", "spice")
LAW = {"smoke_peat": 0.5, "dry_grip": 1.0}


def planned(casks: list[NorthCask]) -> dict[str, Any]:
    """The card: the blend, Cox steps away from it, one cask left out, equal parts, and the best single cask."""
    strengths = {cask.name: round(cask.proof / 2.0, 1) for cask in casks if cask.name in CASKS}
    rows = [
        ("the blend as it stands", list(START)),
        ("N-0094 10 points up", cox_direction(START, 1, 0.10)[0]),
        ("N-0094 25 points up", cox_direction(START, 1, 0.25)[0]),
        ("N-0013 10 points up", cox_direction(START, 2, 0.10)[0]),
        ("N-0038 20 points down", cox_direction(START, 0, -0.20)[0]),
        ("without N-0013", leave_out(START)[2]),
        ("equal parts", equal_parts(3)[0]),
    ]
    recipes = []
    for at, (about, row) in enumerate(rows, start=1):
        parts = {name: float(share) for name, share in zip(CASKS, row, strict=True) if share > 0.0}
        recipes.append(Recipe(f"T-{BATCH}-{at}", parts, strengths, about=about))
    recipes.append(Recipe(f"T-{BATCH}-N-0094", {"N-0094": 1.0}, strengths, "best single"))
    tasters = tuple(sorted(taster.name for taster in TASTERS))
    return plan_card(Asked(FLIGHT, BATCH, tasters, FAMILIES, "What mends a blend that is too dry?"), recipes, Bench())


def returned(casks: list[NorthCask]) -> bytes:
    """The card's workbook with what was poured and what four tasters said."""
    card = planned(casks)
    book = load_workbook(BytesIO(card_bytes(card)))
    pour = _columns(book["Pour"])
    for row in range(pour["first"], book["Pour"].max_row + 1):
        book["Pour"].cell(row, pour["Made at"], MADE)
        book["Pour"].cell(row, pour["Made by"], POURER)
    truth = {glass["code"]: _mixed(card, glass["trial"], casks) for glass in card["glasses"]}
    page = book["Tasting"]
    columns = _columns(page)
    lines: dict[str, list[tuple[int, dict[str, Any]]]] = {}
    for row in range(columns["first"], page.max_row + 1):
        taster = next(t for t in TASTERS if t.name == page.cell(row, columns["Taster"]).value)
        code = str(page.cell(row, columns["Code"]).value)
        said = _said(truth[code], taster, Random(f"{SEED} bench {taster.name} {code}"))
        lines.setdefault(taster.name, []).append((row, said))
    for own in lines.values():
        ranked = sorted(own, key=lambda line: -line[1]["felt"])
        for place, (row, said) in enumerate(ranked, start=1):
            page.cell(row, columns["Date"], TASTED)
            page.cell(row, columns["Place"], place)
            for head in said.keys() & columns.keys():
                page.cell(row, columns[head], said[head])
    return workbook_bytes(book)


def _columns(page: Any) -> dict[str, int]:
    """Column by its header, and the row after the header as ``first``."""
    for row in range(1, 12):
        heads = {str(page.cell(row, column).value): column for column in range(1, page.max_column + 1)}
        if "Trial" in heads or "Taster" in heads:
            return {**heads, "first": row + 1}
    raise ValueError(page.title)


def _mixed(card: dict[str, Any], trial: str, casks: list[NorthCask]) -> dict[str, float]:
    """What a trial tastes of, by the power law on the casks' truth."""
    by_name = {cask.name: cask.taste for cask in casks}
    parts = next(item for item in card["trials"] if item["trial"] == trial)["parts"]
    made = {}
    for family in WORDS:
        n = LAW.get(family, 0.6)
        x = sum(part["share"] * by_name[part["component"]].get(family, 0.0) ** (1.0 / n) for part in parts)
        made[family] = float(x) ** n
    return made


def _said(truth: dict[str, float], taster: Taster, rng: Random) -> dict[str, Any]:
    """A taster's line: figures to half a point, a few words, and how good it is to them."""
    felt = {family: max(0.0, value + rng.gauss(0.0, 0.5) + 0.2 * taster.lenient) for family, value in truth.items()}
    said: dict[str, Any] = {
        family.replace("_", " ").capitalize(): round(2.0 * felt[family]) / 2.0 for family in FAMILIES
    }
    good = 6.4 + 0.35 * felt["honey_wax"] + 0.2 * felt["smoke_peat"] - 0.8 * max(felt["dry_grip"] - 1.5, 0.0)
    said["felt"] = good + rng.gauss(0.0, 0.3)
    said["Score"] = min(9.5, max(3.0, round(2.0 * (said["felt"] + taster.lenient)) / 2.0))
    strong = sorted((family for family in felt if WORDS[family][0]), key=lambda family: -felt[family])
    said["Nose"] = ", ".join(_phrase(WORDS[family][0], felt[family], rng) for family in strong[:2])
    palate = [_phrase(WORDS[family][1], felt[family], rng) for family in strong[:2]]
    if felt["dry_grip"] > 2.4:
        palate.append("too dry" if rng.random() < 0.8 else "tannic")
    said["Palate"] = ", ".join(palate)
    if rng.random() > taster.terse:
        said["Finish"] = (
            "drying" if felt["dry_grip"] > 2.4 else "smoke" if felt["smoke_peat"] > 2.0 else "soft, honeyed"
        )
    return said


def _phrase(words: tuple[str, ...], felt: float, rng: Random) -> str:
    degree = next(found for top, found in DEGREES if felt < top)
    return rng.choice(degree).format(rng.choice(words))
