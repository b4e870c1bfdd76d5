"""The documents ``session_sheet`` and ``session_panel``: what a session's page and its panel.json show."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pandas as pd

from pipeline import document
from pipeline.common.names import fold, rows_named
from pipeline.writing.plain import plain_rows, shown_rows
from plugins.tasting.declared.frames_panel import FORM_COLUMNS
from plugins.tasting.declared.kinds import FAMILIES
from plugins.tasting.pages.shown import PROFILE, SCORE, Row, Shown, by_name, in_order, lines, method, tastings, woods
from plugins.tasting.panel.agreement import FORMS
from plugins.tasting.panel.arithmetic import SCORE as SCORED

SESSION: Shown = dict.fromkeys(("session", "first_at", "last_at", "blind", "samples", "tasters"))
SESSION |= {"strength_low": 0, "strength_high": 0}
AGREED: Shown = dict.fromkeys(("session", "family", "said", "samples", "tasters"))
AGREED |= dict.fromkeys(("icc_2_1", "icc_3_1", "icc_3_k", "low", "high", "kendall_w"), 2) | {"kendall_p": 3}
ORDERED: Shown = dict.fromkeys(("session", "measure", "said")) | dict.fromkeys(("per_place", "low", "high"), 2)
AGAIN: Shown = dict.fromkeys(("sample", "reasons"))
FINE = 6
"""Places of pooled figures in panel.json: a change that nobody can taste is none."""
FIGURES: Shown = dict.fromkeys(("mean", "low", "high"), FINE) | dict.fromkeys(("notes", "tasters", "band", "method"))
OF_FAMILY: Shown = dict.fromkeys(("sample", "family", "stage")) | FIGURES
OF_SCORE: Shown = {"sample": None, **dict.fromkeys(("mean_score", "low", "high"), FINE)}
OF_SCORE |= dict.fromkeys(("notes", "tasters", "method"))


@document(gives="session_sheet", per="tasting_sessions.session")
def show_sessions(
    tasting_sessions: pd.DataFrame,
    tasted: pd.DataFrame,
    notes: pd.DataFrame,
    mentions: pd.DataFrame,
    casks: pd.DataFrame,
    profiles: pd.DataFrame,
    scores: pd.DataFrame | None = None,
    agreement: pd.DataFrame | None = None,
    order_effects: pd.DataFrame | None = None,
    taste_again: pd.DataFrame | None = None,
) -> dict[str, Row]:
    """Each session's samples with profile and notes, agreement, order, and which samples to taste again."""
    own = {fold(name) for name in tasted["sample"]}
    profile = by_name(shown_rows(rows_named(profiles, "sample", own), PROFILE), "sample")
    score = {} if scores is None else by_name(shown_rows(rows_named(scores, "sample", own), SCORE), "sample")
    agreed = by_name(shown_rows(agreement, AGREED), "session")
    placed = None if order_effects is None else order_effects[order_effects["tastings"] > 0]
    order = by_name(shown_rows(placed, ORDERED), "session")
    again = shown_rows(most_pressing(taste_again), AGAIN)
    wood, served = woods(casks), _served(tastings(tasted, notes, mentions))
    made = {}
    for row in shown_rows(tasting_sessions, SESSION):
        flight = served.get(fold(row["session"]), {})
        samples = [
            {
                "name": rows[0]["sample"],
                **wood.get(fold(rows[0]["drawn_from"]), {"cask": "", "wood": ""}),
                "score": score.get(name, [None])[0],
                "lines": lines(profile.get(name, [])),
                "tastings": rows,
            }
            for name, rows in flight.items()
        ]
        made[row["session"]] = {
            "session": row,
            "samples": samples,
            "agreement": agreed.get(fold(row["session"]), []),
            "order": order.get(fold(row["session"]), []),
            "again": _of(flight, again),
            "method": method([line for one in samples for line in one["lines"]]),
        }
    return made


def _served(noted: list[Row]) -> dict[str, dict[str, list[Row]]]:
    """Tastings by session and sample, the samples in the order in which they were served."""
    made: dict[str, dict[str, list[Row]]] = {}
    for row in noted:
        made.setdefault(fold(row["session"]), {}).setdefault(fold(row["sample"]), []).append(row)
    return made


def most_pressing(taste_again: pd.DataFrame | None) -> pd.DataFrame | None:
    """What is to be tasted again, the most pressing first."""
    if taste_again is None:
        return None
    return taste_again.assign(press=-taste_again["weight"]).sort_values(["press", "sample"], kind="stable")


def _of(flight: Iterable[str], again: list[Row]) -> list[Row]:
    """Those of some samples (folded names), in their order."""
    own = set(flight)
    return [row for row in again if fold(row["sample"]) in own]


@document(gives="session_panel", per="tasting_sessions.session")
def give_panels(
    tasting_sessions: pd.DataFrame,
    tasted: pd.DataFrame,
    profiles: pd.DataFrame,
    scores: pd.DataFrame | None = None,
    agreement: pd.DataFrame | None = None,
    order_effects: pd.DataFrame | None = None,
    taste_again: pd.DataFrame | None = None,
) -> dict[str, Row]:
    """A session for other programs: agreement, order, and every sample's profile, over nose, palate, finish and all."""
    own = {fold(name) for name in tasted["sample"]}
    profile = by_name(shown_rows(rows_named(profiles, "sample", own), OF_FAMILY), "sample")
    score = {} if scores is None else by_name(shown_rows(rows_named(scores, "sample", own), OF_SCORE), "sample")
    agreed = by_name(plain_rows(agreement, without=["facts"]), "session")
    order = by_name(plain_rows(order_effects, without=["facts"]), "session")
    again = plain_rows(most_pressing(taste_again), without=["press", "facts"])
    served = _served(shown_rows(in_order(tasted), dict.fromkeys(("session", "sample"))))
    made = {}
    for row in plain_rows(tasting_sessions, without=["facts"]):
        key = fold(row["session"])
        flight = served.get(key, {})
        made[row["session"]] = {
            **row,
            "agreement": [_agreement(one) for one in agreed.get(key, [])],
            "order": order.get(key, []),
            "profiles": [
                {
                    "sample": rows[0]["sample"],
                    "score": score.get(name, [None])[0],
                    "families": _families(profile.get(name, [])),
                }
                for name, rows in flight.items()
            ],
            "taste_again": _of(flight, again),
        }
    return made


def _families(profile: list[Row]) -> dict[str, dict[str, Row]]:
    """By family what was found over all stages, and at each."""
    whole = {row["family"] for row in profile if row["stage"] == "all"}
    made: dict[str, dict[str, Row]] = {family: {"all": {}} for family in FAMILIES if family in whole}
    for row in profile:
        if row["family"] in whole:
            made[row["family"]][row["stage"]] = {name: row[name] for name in FIGURES}
    return made


def _agreement(row: Row) -> Row:
    made = {name: row[name] for name in ("family", "tasters", "samples", "left_out", "said")}
    if row["icc_2_1"] is not None:
        made["icc"] = {form: row[FORM_COLUMNS[form]] for form in FORMS}
        made["icc_2_1_interval"] = {"low": row["low"], "high": row["high"], "p": row["p"]}
        made["kendall"] = {"w": row["kendall_w"], "p": row["kendall_p"], "method": row["kendall_method"]}
        made["missing"] = "the largest complete table: tasters with most gaps left out"
    return made


def session_page(sheet: Row, site: Any) -> Row:
    """What the template of a session needs: the sheet with its overview of families, and the agreement in order."""
    present = {line["family"] for sample in sheet["samples"] for line in sample["lines"]}
    families = [family for family in FAMILIES if family in present]
    samples = []
    for sample in sheet["samples"]:
        means = {line["family"]: line["mean"] for line in sample["lines"]}
        cells = [{"mean": means.get(family), "step": _step(means.get(family))} for family in families]
        samples.append({**sample, "cells": cells})
    agreement = sheet["agreement"]
    measured = [row for row in agreement if row["icc_2_1"] is not None]
    return {
        **sheet,
        "house": site.house,
        "samples": samples,
        "families": families,
        "measured": sorted(measured, key=lambda row: (row["family"] != SCORED, -row["icc_2_1"])),
        "no_figure": agreement[0]["said"].capitalize() + "." if agreement else "Nobody gave a figure or a word.",
        "of_score": next((row for row in agreement if row["family"] == SCORED), None),
    }


def _step(mean: float | None) -> int:
    """How a cell of the overview is drawn: 0 bare to 3 dark."""
    return 0 if mean is None or mean < 1.0 else 1 if mean < 3.0 else 2 if mean < 5.0 else 3
