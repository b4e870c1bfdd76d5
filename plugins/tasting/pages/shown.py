"""What tasting pages share: a profile in the order in which it is drawn, tastings with their words, wood in a line."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pandas as pd

from pipeline.common.names import fold
from pipeline.writing.plain import shown_rows
from pipeline.writing.spoken import spoken
from plugins.tasting.declared.kinds import FAMILIES, SCALES
from plugins.tasting.stock.stock import latest

Row = dict[str, Any]
Shown = dict[str, int | None]
ORDER = {family: place for place, family in enumerate(FAMILIES)}
PARTS = ("nose", "palate", "finish")
PROFILE: Shown = dict.fromkeys(
    ("sample", "family", "stage", "notes", "tasters", "named", "band", "method", "settled_on")
)
PROFILE |= dict.fromkeys(("mean", "low", "high"), 1)
SCORE: Shown = {"sample": None, "tasters": None, "mean_score": 1, "low": 1, "high": 1}
TASTING: Shown = dict.fromkeys(("tasting", "session", "sample", "drawn_from", "tasted_at", "taster"))
TASTING |= {"replicate": None, "decision": None, "score": 1, "nosing_strength_abv": 0}
NOTE: Shown = dict.fromkeys(("tasting", "written_in", "start", "stage", "text"))
HIT: Shown = dict.fromkeys(("start", "end", "family", "term", "respelt", "negated", "doubtful", "striking"))
HIT |= {"compared": None, "reference": None, "weight": 2}
WOOD: Shown = dict.fromkeys(("cask", "species", "wood_use", "toast", "char", "held_before"))
METHOD = (
    "Filled bars: tasters' leniency and scale use taken out, drawn to the house's level where little is known. Dashed "
    "bars: the mean over the tasters, whose spread is taken from the house; with one or two tasters only none, some or "
    "strong can be said. The bar is the 95 % interval, the stroke the middle. Intensities come from words by weights "
    "that are the house's proposals, not measurements."
)


def method(profile: list[Row]) -> str:
    """How the figures of these rows were had, and when what all samples share was settled."""
    day = max((row["settled_on"] for row in profile if row["settled_on"]), default=None)
    if day is None:
        return METHOD
    return (
        f"{METHOD} Leniency, scale use and the house's level were settled on {day} from what was tasted before, and "
        "stand until the first tasting of a later month: a sheet moves the samples that it names and no other."
    )


def by_name(rows: Iterable[Row], name: str) -> dict[str, list[Row]]:
    """Rows by a folded name, without it."""
    made: dict[str, list[Row]] = {}
    for row in rows:
        made.setdefault(fold(row[name]), []).append({key: value for key, value in row.items() if key != name})
    return made


def lines(profile: list[Row]) -> list[Row]:
    """A profile as a page draws it: families over all stages, strongest first, then the scales in their order.

    Each has the means of nose, palate and finish beside it.
    """
    means = {(row["family"], row["stage"]): row["mean"] for row in profile}
    made = []
    for row in profile:
        if row["stage"] == "all":
            family = row["family"]
            beside = {part: means.get((family, part)) for part in PARTS}
            made.append({**row, "name": spoken(family), "scale": family in SCALES, **beside})
    flavours = sorted((row for row in made if not row["scale"]), key=lambda row: (-row["mean"], ORDER[row["family"]]))
    return [*flavours, *sorted((row for row in made if row["scale"]), key=lambda row: ORDER[row["family"]])]


def tastings(tasted: pd.DataFrame, notes: pd.DataFrame, mentions: pd.DataFrame) -> list[Row]:
    """Tastings in order of time, each with ``texts``: stage, text and the hits in it."""
    mine = set(tasted["tasting"])
    notes, mentions = (frame[frame["tasting"].isin(mine)] for frame in (notes, mentions))
    hits: dict[tuple[Any, ...], list[Row]] = {}
    places = zip(mentions["tasting"], mentions["written_in"], mentions["note_start"], strict=True)
    for place, hit in zip(places, shown_rows(mentions, HIT), strict=True):
        hits.setdefault(place, []).append(hit)
    texts: dict[int, list[Row]] = {}
    for row in shown_rows(notes, NOTE):
        found = hits.get((row["tasting"], row["written_in"], row["start"]), [])
        texts.setdefault(row["tasting"], []).append({"stage": row["stage"], "text": row["text"], "hits": found})
    made = shown_rows(in_order(tasted), TASTING)
    for row in made:
        # its number is its place among all tastings: it changes with sheets of others
        row["texts"] = texts.get(row.pop("tasting"), [])
    return made


def in_order(tasted: pd.DataFrame) -> pd.DataFrame:
    """Tastings in order of time, of the place in the flight, and of the taster's name."""
    placed = tasted.assign(order=tasted["order"].fillna(0.0))
    return placed.sort_values(["tasted_at", "order", "taster"], kind="stable")


def wood_of(cask: Row | None) -> str:
    """Wood, use, toast, char and what it held, in a line."""
    if not cask:
        return ""
    told = [cask["species"], cask["fill"]]
    told += [f"{name} {cask[name]}" for name in ("toast", "char") if cask[name] and cask[name] != "none"]
    told += [f"held {cask['held']}"] if cask["held"] else []
    return ", ".join(str(word) for word in told if word)


def woods(casks: pd.DataFrame) -> dict[str, Row]:
    """Of each cask of the inventory, by folded name: ``cask`` and ``wood`` in a line."""
    made = {}
    for row in shown_rows(latest(casks), WOOD):
        row |= {"fill": row["wood_use"], "held": row["held_before"]}
        made[fold(row["cask"])] = {"cask": row["cask"], "wood": wood_of(row)}
    return made
