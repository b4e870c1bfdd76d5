"""The stages ``notes`` and ``mentions``: what was written, and the lexicon's words in it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
import pandas as pd

from pipeline import Finding, stage
from plugins.tasting.frames import MENTIONS, NOTE_KEY, NOTES, TEXT_STAGES
from plugins.tasting.kinds import FAMILIES
from plugins.tasting.lexicon import read_lexicon
from plugins.tasting.words import find_all

LEXICON_REMEDY = "Correct the entry; until then the word is not counted."


def written(text: pd.Series) -> pd.Series:
    """True where a cell holds more than spaces."""
    return text.notna() & text.fillna("").str.strip().ne("")


@stage(gives=NOTES)
def keep_notes(tastings: pd.DataFrame) -> tuple[pd.DataFrame, list[Finding]]:
    """Tasting sheets → one row per note: sample, taster, moment, stage and the text as written."""
    parts = [
        tastings.loc[written(tastings[name]), [*NOTE_KEY[:-1], name, "facts"]]
        .rename(columns={name: "text"})
        .assign(stage=name)
        for name in TEXT_STAGES
    ]
    rows = pd.concat(parts, ignore_index=True)
    order = np.argsort(first_facts(rows["facts"]), kind="stable")
    rows = rows.iloc[order].reset_index(drop=True)
    return NOTES.build({name: rows[name] for name in NOTES.names}, rows["facts"]), empty_notes(tastings)


def first_facts(facts: pd.Series) -> np.ndarray:
    """The first fact id of each row, int64."""
    return np.fromiter((ids[0] for ids in facts), dtype=np.int64, count=len(facts))


def empty_notes(tastings: pd.DataFrame) -> list[Finding]:
    """A row without a word and without a figure for any family."""
    silent = ~tastings[list(FAMILIES)].notna().any(axis=1)
    for name in TEXT_STAGES:
        silent &= ~written(tastings[name])
    rows: Iterable[Any] = tastings[silent].itertuples()
    return [
        Finding(
            code="tasting.empty-note",
            severity="note",
            message=f"{row.taster} wrote nothing about {row.sample} on {row.tasted_at:%Y-%m-%d}"
            + (f" beside the score {row.score:g}" if row.score == row.score else "")
            + "; the row adds no note to its profile.",
            subject=row.sample,
            facts=row.facts,
            column="nose",
            observed="no words",
            expected="a note in nose, palate, finish or remark, or figures for families",
            remedy="Send the note in a later file with the same sample, taster, date and replicate, or leave it.",
        )
        for row in rows
    ]


@stage(gives=MENTIONS)
def find_mentions(notes: pd.DataFrame, site: Any) -> tuple[pd.DataFrame, list[Finding]]:
    """The lexicon's words in the notes, each with its place, degree, doubt and negation."""
    lexicon, problems = read_lexicon(
        site.data.get("lexicon", ()),
        site.data.get("lexicon_modifiers", ()),
        site["lexicon.words"],
        site.data.get("lexicon_plain_words", ()),
    )
    where, hits = find_all(notes["text"].tolist(), lexicon)
    rows = notes.iloc[where]
    columns: dict[str, Any] = {name: rows[name].to_numpy() for name in NOTE_KEY}
    for name in ("weight", "doubtful", "striking", "negated", "start", "end"):
        columns[name] = [getattr(hit, name) for hit in hits]
    for name in ("term", "family", "polarity", "pole"):
        columns[name] = [getattr(hit.term, name) for hit in hits]
    return MENTIONS.build(columns, rows["facts"]), [_lexicon_finding(problem) for problem in problems]


def _lexicon_finding(problem: str) -> Finding:
    return Finding(
        code="tasting.lexicon-entry",
        severity="review",
        message=problem,
        subject=problem.split(":", 1)[0],
        remedy=LEXICON_REMEDY,
    )
