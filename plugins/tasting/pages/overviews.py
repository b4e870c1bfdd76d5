"""The documents of overviews: all casks, what to taste again, words, and each taster's own figures."""

from __future__ import annotations

from typing import Any, TypeGuard

import pandas as pd

from pipeline import document
from pipeline.common.names import fold, folded
from pipeline.writing.plain import shown_rows
from plugins.tasting.pages.session_sheet import most_pressing
from plugins.tasting.pages.shown import Row, Shown, by_name, wood_of
from plugins.tasting.stock.stock import ages

MOST_UNLIKE = 10
TARGET_SHOWN = 5
HEADINGS = (
    *("cask", "make", "wood", "place", "age", "proof", "score", "strongest", "faults and maturity"),
    *("decision", "taste next", "group"),
)
WOOD = ("cask", "species", "toast", "char", "fill", "held")
CASK: Shown = dict.fromkeys(
    (
        *(*WOOD, "make", "place", "strong", "faults", "maturity", "decision", "votes", "drawn_for", "next_taste"),
        *("why_next", "tasted_at"),
    )
)
CASK |= {"age_years": 1, "proof": 1, "score": 1, "age_key": 3, "proof_key": 2, "score_key": 3}
STANDS: Shown = {"cask": None, "house_distance": 2, "apart_on": None, "day_apart_on": None, "day_z": 1}
STANDS |= {"day_casks": None, "house_rank": None, "group": None}
TARGET: Shown = {"target": None, "rank": None, "cask": None, "distance": 2, "furthest": None}
GROUP: Shown = {"group": None, "casks": None, "leads": None, "lacks": None, "wood": None, "silhouette": 2}
EFFECT: Shown = dict.fromkeys(("factor", "level", "casks", "family", "warning"))
EFFECT |= dict.fromkeys(("effect", "low", "high"), 1) | dict.fromkeys(("effect_drawn", "low_drawn", "high_drawn"), 2)
DUE: Shown = dict.fromkeys(("cask", "place", "next_taste", "why_next"))
AGAIN: Shown = dict.fromkeys(("sample", "drawn_from", "last_at", "reasons"))
DIFFERENCE: Shown = dict.fromkeys(("taster", "family", "samples", "direction"))
DIFFERENCE |= {"difference": 1, "difference_drawn": 2, "low": 1, "low_drawn": 2, "high": 1, "high_drawn": 2}
HELD: Shown = dict.fromkeys(("session", "first_at", "tasters", "samples"))
NOISE: Shown = {"family": None, "pairs": None, "blind_pairs": None, "spread": 1}
LIKE: Shown = {"cask": None, "other": None, "distance": 2, "noise": 2}
NEW: Shown = dict.fromkeys(("word", "count", "tasters", "stage", "sample", "context", "near", "family"))
SAME: Shown = {"term": None, "other": None, "together": None, "expected": 1, "same_taster": None, "p": 3}


def drawn(frame: pd.DataFrame, *names: str) -> pd.DataFrame:
    """The frame with a second copy of some figures, for what is drawn finer than it is printed."""
    return frame.assign(**{f"{name}_drawn": frame[name] for name in names})


@document(gives="casks_overview")
def list_all_casks(
    cask_table: pd.DataFrame,
    tasted: pd.DataFrame,
    site: Any,
    cask_standing: pd.DataFrame | None = None,
    cask_groups: pd.DataFrame | None = None,
    wood_effects: pd.DataFrame | None = None,
    target_likeness: pd.DataFrame | None = None,
    cask_rates: pd.DataFrame | None = None,
) -> Row:
    """The table of all casks, with what stands out in the stock."""
    gauged = set() if cask_rates is None else {fold(name) for name in cask_rates["cask"]}
    noted = {*folded(tasted["sample"]), *folded(tasted["drawn_from"])}
    stands = shown_rows(cask_standing, STANDS)
    group = {fold(row["cask"]): row["group"] for row in stands}
    table = cask_table.assign(
        age_years=ages(cask_table, site.book_date), proof_key=cask_table["proof"], score_key=cask_table["score"]
    )
    day = site.book_date.isoformat() if site.book_date else ""
    rows = []
    for row in shown_rows(table.assign(age_key=table["age_years"]), CASK):
        key = fold(row["cask"])
        if row["why_next"] and not row["next_taste"]:
            row |= {"next_taste": day, "why_next": f"now: {row['why_next']}"}
        row["page"] = "history.html" if key in gauged and key not in noted else "cask.html"
        row |= {"wood": wood_of(row), "group": group.get(key)}
        row["shown_decision"] = "emptied" if row["drawn_for"] else row["decision"] or ""
        rows.append(row)
    wood = {fold(row["cask"]): row["wood"] for row in rows}
    stands = [{**row, "wood": wood[fold(row["cask"])]} for row in stands]
    effects, quiet = _effects(wood_effects)
    return {
        "book_date": day,
        "casks": rows,
        "tasted": sum(row["tasted_at"] is not None for row in rows),
        "headings": list(HEADINGS),
        "choices": _choices(rows),
        "unlike": sorted(stands, key=lambda row: row["house_rank"])[:MOST_UNLIKE],
        "outliers": [row for row in stands if row["day_apart_on"]],
        "targets": [row for row in shown_rows(target_likeness, TARGET) if row["rank"] <= TARGET_SHOWN],
        "groups": shown_rows(cask_groups, GROUP),
        "wood": effects,
        "quiet": quiet,
    }


def _choices(rows: list[Row]) -> list[Row]:
    """What the table can be narrowed to: a heading, its column, and the values there."""
    columns = {"make": ("make", 1), "wood": ("wood", 2), "decision": ("shown_decision", 9), "group": ("group", 11)}
    made = [
        {"name": name, "column": at, "values": sorted({row[field] for row in rows if row[field]}, key=str)}
        for name, (field, at) in columns.items()
    ]
    return [choice for choice in made if choice["values"]]


def _effects(effects: pd.DataFrame | None) -> tuple[list[Row], int]:
    """What wood goes with where its interval leaves out 0, the strongest first; and how many others there are."""
    if effects is None:
        return [], 0
    sure = effects[(effects["low"] > 0) | (effects["high"] < 0)]
    ordered = sure.assign(size=-sure["effect"].abs()).sort_values(["factor", "level", "size"], kind="stable")
    return shown_rows(drawn(ordered, "effect", "low", "high"), EFFECT), len(effects) - len(sure)


@document(gives="likeness_overview")
def compare_casks(
    cask_table: pd.DataFrame, cask_standing: pd.DataFrame, cask_likeness: pd.DataFrame | None = None
) -> list[Row]:
    """Each tasted cask beside the rest of the stock: how unlike the house it is, and the casks most like it."""
    like = by_name(shown_rows(cask_likeness, LIKE), "cask")
    known = shown_rows(cask_table, dict.fromkeys(WOOD))
    wood = {fold(row["cask"]): wood_of(row) for row in known}
    return [
        {**row, "wood": wood.get(fold(row["cask"]), ""), "like": like.get(fold(row["cask"]), [])}
        for row in shown_rows(cask_standing, STANDS)
    ]


@document(gives="again_overview")
def list_due(
    tasting_sessions: pd.DataFrame,
    site: Any,
    taste_again: pd.DataFrame | None = None,
    cask_table: pd.DataFrame | None = None,
) -> Row | None:
    """What to taste again, and which casks are due by their decision; None where nothing was tasted."""
    if not len(tasting_sessions):
        return None
    today = site.book_date.isoformat() if site.book_date else ""
    casks = shown_rows(cask_table, DUE)
    place = {fold(row["cask"]): row["place"] for row in casks}
    again = shown_rows(most_pressing(taste_again), AGAIN)
    named = {fold(row["drawn_from"]) for row in again}
    due = [row for row in casks if row["next_taste"] and row["next_taste"] <= today and fold(row["cask"]) not in named]
    return {
        "book_date": today,
        "again": [{**row, "place": place.get(fold(row["drawn_from"]))} for row in again],
        "due": sorted(due, key=lambda row: (row["next_taste"], row["place"] or "", row["cask"])),
    }


@document(gives="words_overview")
def list_words(
    tasting_sessions: pd.DataFrame, new_words: pd.DataFrame | None = None, same_things: pd.DataFrame | None = None
) -> Row | None:
    """Words that the lexicon does not know, and words that may mean one thing; None where nothing was tasted."""
    if not len(tasting_sessions):
        return None
    return {"new_words": shown_rows(new_words, NEW), "same_things": shown_rows(same_things, SAME)}


@document(gives="panel_overview")
def look_over_panel(
    tasting_sessions: pd.DataFrame,
    site: Any,
    panel_noise: pd.DataFrame | None = None,
    taster_differences: pd.DataFrame | None = None,
) -> Row | None:
    """What is known of the panel over all sessions; None where nothing was tasted."""
    if not len(tasting_sessions):
        return None
    differences = differences_shown(taster_differences, site)
    return {
        "sessions": shown_rows(tasting_sessions.sort_values(["first_at", "session"], ascending=False), HELD),
        "own": sorted(taster_differences["taster"].unique()) if _all_may_see(taster_differences, site) else [],
        "noise": shown_rows(panel_noise, NOISE),
        "differences": shown_rows(differences, DIFFERENCE),
    }


def _all_may_see(taster_differences: pd.DataFrame | None, site: Any) -> TypeGuard[pd.DataFrame]:
    return taster_differences is not None and site["plugins.tasting.taster_figures"] == "all"


def differences_shown(taster_differences: pd.DataFrame | None, site: Any) -> pd.DataFrame | None:
    """Tasters who differ from the others, where the site lets others see it."""
    if not _all_may_see(taster_differences, site):
        return None
    rows = taster_differences[taster_differences["direction"].fillna("") != ""]
    return drawn(rows, "difference", "low", "high")


@document(gives="own_figures", per="taster_differences.taster")
def show_own(taster_differences: pd.DataFrame) -> dict[str, list[Row]]:
    """Each taster's difference from the others together."""
    rows = by_name(shown_rows(drawn(taster_differences, "difference", "low", "high"), DIFFERENCE), "taster")
    return {name: rows[fold(name)] for name in taster_differences["taster"].unique()}


OVERVIEWS = [list_all_casks, compare_casks, list_due, list_words, look_over_panel, show_own]
