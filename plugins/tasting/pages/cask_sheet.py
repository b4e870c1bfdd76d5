"""The document ``cask_taste``: what the page of each tasted cask shows, and nothing of any other cask."""

from __future__ import annotations

import pandas as pd

from pipeline import document
from pipeline.common.names import coded, fold, rows_named
from pipeline.writing.plain import shown_rows
from plugins.tasting.pages.shown import PROFILE, SCORE, Row, Shown, by_name, lines, method, tastings, wood_of

CASK: Shown = dict.fromkeys(
    (
        *("cask", "make", "species", "toast", "char", "fill", "held", "hold", "filled_on", "gauged_at", "faults"),
        *("maturity", "decision", "votes", "drawn_for", "next_taste", "why_next"),
    )
)
CASK |= {"proof": 1, "age": 1}
EVENT: Shown = dict.fromkeys(("cask", "at", "kind", "what"))


@document(gives="cask_taste", per="cask_table.cask")
def taste_casks(
    cask_table: pd.DataFrame,
    tasted: pd.DataFrame,
    notes: pd.DataFrame,
    mentions: pd.DataFrame,
    profiles: pd.DataFrame,
    scores: pd.DataFrame | None = None,
    cask_diary: pd.DataFrame | None = None,
    cask_rates: pd.DataFrame | None = None,
) -> dict[str, Row | None]:
    """Each cask's figures, profile, notes and diary; None where the page of its volume tells all there is."""
    wanted = {fold(name) for name in cask_table["cask"]}
    gauged = set() if cask_rates is None else {fold(name) for name in cask_rates["cask"]}
    profile = by_name(shown_rows(rows_named(profiles, "sample", wanted), PROFILE), "sample")
    score = {} if scores is None else by_name(shown_rows(rows_named(scores, "sample", wanted), SCORE), "sample")
    diary = by_name(shown_rows(cask_diary, EVENT), "cask")
    noted = _by_cask(tasted, notes, mentions, wanted)
    years = (cask_table["tasted_at"] - cask_table["filled_on"]).dt.days / 365.25
    made: dict[str, Row | None] = {}
    for row in shown_rows(cask_table.assign(age=years), CASK):
        key = fold(row["cask"])
        made[row["cask"]] = None
        if key in noted or key not in gauged:
            made[row["cask"]] = {
                "cask": row,
                "gauged": key in gauged,
                "wood": wood_of(row),
                "score": score.get(key, [None])[0],
                "lines": lines(profile.get(key, [])),
                "method": method(profile.get(key, [])),
                "tastings": noted.get(key, [])[::-1],
                "diary": diary.get(key, [])[::-1],
            }
    return made


def _by_cask(
    tasted: pd.DataFrame, notes: pd.DataFrame, mentions: pd.DataFrame, wanted: set[str]
) -> dict[str, list[Row]]:
    """Tastings of the casks and of what was drawn from them, in order of time."""
    made: dict[str, list[Row]] = {}
    mine = coded(tasted["sample"]).rows_of(wanted) | coded(tasted["drawn_from"]).rows_of(wanted)
    for row in tastings(tasted[mine], notes, mentions):
        for key in {fold(row["sample"]), fold(row["drawn_from"])} & wanted:
            made.setdefault(key, []).append(row)
    return made
