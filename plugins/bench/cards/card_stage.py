"""The bench card of a brief's proposals: issued once, so that codes that were given out never change."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pandas as pd

from pipeline import stage
from plugins.bench.cards.card import SCHEMA, Asked, Recipe, plan_card
from plugins.bench.cards.measure import Bench, CannotMake
from plugins.bench.cards.tasters import folded, tasters_of
from plugins.bench.declared.frames import CARDS, CARDS_DUE

FAMILY_COLUMNS = 6
Row = dict[str, Any]


@stage(gives=CARDS_DUE)
def find_cards_due(proposal_sets: pd.DataFrame) -> pd.DataFrame:
    """Proposals as issued → the batches that want a bench card."""
    rows: dict[str, list[Any]] = {"batch": [], "basis": [], "open": []}
    for batch, text in zip(proposal_sets["batch"], proposal_sets["document"], strict=True):
        made = json.loads(text)["proposals"]
        rows["batch"].append(batch)
        rows["basis"].append(json.dumps([[item["id"], _shares(item)] for item in made], sort_keys=True))
        rows["open"].append(bool(made))
    return CARDS_DUE.build(rows, proposal_sets["facts"])


@stage(gives=CARDS, issued="bench_cards_due")
def issue_cards(
    due: Row,
    issue: int,
    site: Any,
    proposal_sets: pd.DataFrame,
    briefs: pd.DataFrame,
    tastings: pd.DataFrame,
    scores: pd.DataFrame | None = None,
) -> bytes:
    """Each proposal, the best single cask and where one is named the standard, in a blind flight; issued once."""
    batch = str(due["batch"])
    made = json.loads(proposal_sets[proposal_sets["batch"] == batch]["document"].iloc[0])
    brief = briefs[briefs["batch"] == batch].iloc[-1]
    flight = f"{batch}-F{issue}"
    recipes = [_recipe(item) for item in made["proposals"]]
    standard = _standard(flight, brief)
    recipes += [recipe for recipe in (_best(flight, made, scores), standard) if recipe]
    wanted = [name for name, item in made["proposals"][0]["profile"].items() if item.get("target") is not None]
    question = "Does one match the standard, and is one better than the best single cask?" if standard else ""
    asked = Asked(
        flight,
        batch,
        tasters_of(site, tastings),
        tuple(wanted[:FAMILY_COLUMNS]),
        question or "Is one of these better than the best single cask?",
        _faults(made),
        frozenset(row["component"] for row in [*made.get("stock", []), *made.get("left_out", [])]),
    )
    try:
        card = plan_card(asked, recipes, Bench.of(site))
    except CannotMake as error:
        card = {"schema": SCHEMA, "card": flight, "batch": batch, "cannot": str(error), "trials": []}
    return (json.dumps(card, ensure_ascii=False, allow_nan=False) + "\n").encode()


def _faults(made: Row) -> tuple[str, ...]:
    """What whoever pours and tastes must know first: casks with off notes, which brief or house lets pass."""
    found = {row["component"]: row["off_notes"] for item in made["proposals"] for row in item.get("faults", [])}
    named = ", ".join(f"{cask} ({points:.1f} of 10)" for cask, points in sorted(found.items()))
    return (f"FAULTS: off notes were found in {named}; brief or house lets them pass.",) if named else ()


def _shares(item: Row) -> dict[str, float]:
    return {part["component"]: float(part["share"]) for part in item["components"]}


def _recipe(item: Row) -> Recipe:
    strengths = {part["component"]: float(part["abv_20C"]) for part in item["components"]}
    return Recipe(f"T-{item['id']}", _shares(item), strengths, "trial", None, item["id"], item["aim"])


def _best(flight: str, made: Row, scores: pd.DataFrame | None) -> Recipe | None:
    """The cask of the proposals with the highest mean score; where none was scored, the first one's largest."""
    parts = {part["component"]: part for item in made["proposals"] for part in item["components"]}
    first = made["proposals"][0]["components"]
    best, why = max(first, key=lambda part: part["share"])["component"], "largest part of the first; none was scored"
    if scores is not None and len(scores):
        known = dict(zip(folded(scores["sample"]), scores["mean_score"], strict=True))
        rated = {name: float(known.get(name.strip().casefold(), np.nan)) for name in sorted(parts)}
        high = {name: value for name, value in rated.items() if np.isfinite(value)}
        if high:
            best = max(high, key=lambda name: high[name])
            why = f"highest mean score of the casks in the proposals: {high[best]:.1f}"
    strength = float(parts[best]["abv_20C"])
    return Recipe(f"T-{flight}-{best}", {best: 1.0}, {best: strength}, "best single", None, "", why)


def _standard(flight: str, brief: pd.Series) -> Recipe | None:
    """The retained sample of the batch that the brief wants to be like; None where it names no batch.

    It is taken to be as strong as the brief wants the new one.
    """
    aim = str(brief["target"]) if pd.notna(brief["target"]) else ""
    words = aim.strip().split()
    if len(words) < 2 or words[0].casefold() not in ("like", "as", "match"):
        return None
    name = words[-1]
    abv = brief["bottling_abv"] if pd.notna(brief["bottling_abv"]) else brief["bottling_proof"] / 2.0
    return Recipe(
        f"T-{flight}-STD", {name: 1.0}, {name: float(abv)}, "standard", None, "",
        "retained sample, served blind; the same also stands named on the table",
    )  # fmt: skip
