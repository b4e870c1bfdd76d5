"""The stages ``notes`` and ``mentions``: what was written, and the lexicon's words in it."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import lru_cache
from typing import Any

import numpy as np
import pandas as pd

from pipeline import Finding, stage
from pipeline.contract.frames import first_facts
from plugins.tasting.declared.frames import MENTIONS, NOTE_KEY, NOTES, TASTING_KEY, TEXT_STAGES
from plugins.tasting.declared.kinds import FAMILIES
from plugins.tasting.words.lexicon import read_lexicon
from plugins.tasting.words.matching import Lexicon, find_all
from plugins.tasting.words.parts_of_notes import parts
from plugins.tasting.words.terms import Term

LEXICON_REMEDY = "Correct the entry; until then the word is not counted."
OF_A_HIT = (
    *("weight", "doubtful", "striking", "negated", "compared", "reference", "respelt", "excess"),
    *("start", "end"),
)
OF_A_TERM = ("term", "family", "polarity", "pole", "maturity")


def written(text: pd.Series) -> pd.Series:
    """True where a cell holds more than spaces."""
    return text.notna() & text.fillna("").str.strip().ne("")


def lexicon_of(site: Any, own: pd.DataFrame) -> tuple[Lexicon, list[str]]:
    """The lexicon in force at a site, and one sentence for each entry that cannot be used.

    ``own`` is the frame of the sheets ``lexicon_words``; its words win over all others.
    """
    files = (site.data.get(name, ()) for name in ("lexicon", "lexicon_modifiers", "lexicon_plain_words"))
    columns = (own[name] for name in ("word", "word_family", "polarity", "maturity"))
    terms = tuple(
        Term(str(word), "_".join(str(family).split()).lower(), "any", _or(polarity, "neutral"), "", _or(maturity, ""))
        for word, family, polarity, maturity in zip(*columns, strict=True)
    )
    return _lexicon(*map(tuple, files), tuple(sorted(site["lexicon.words"].items())), terms)


def _or(value: Any, otherwise: str) -> str:
    return value if isinstance(value, str) else otherwise


@lru_cache(maxsize=4)
def _lexicon(
    terms: tuple[Any, ...],
    modifiers: tuple[Any, ...],
    plain: tuple[Any, ...],
    words: tuple[tuple[str, str], ...],
    own: tuple[Term, ...],
) -> tuple[Lexicon, list[str]]:
    return read_lexicon(terms, modifiers, dict(words), plain, own)


@stage(gives=NOTES)
def keep_notes(tasted: pd.DataFrame) -> tuple[pd.DataFrame, list[Finding]]:
    """Tasting sheets → one row per note: sample, taster, moment, stage and the text as written.

    A cell in which several stages are marked gives one row for each.
    """
    columns: dict[str, list[Any]] = {"row": [], "stage": [], "written_in": [], "start": [], "text": []}
    for name in TEXT_STAGES:
        texts = tasted[name]
        for row in np.flatnonzero(written(texts).to_numpy()).tolist():
            whole = str(texts.iat[row])
            for stage_name, begin, end in parts(whole, name):
                text = whole[begin:end]
                lead = len(text) - len(text.lstrip()) if begin else 0
                for key, value in zip(columns, (row, stage_name, name, begin + lead, text[lead:]), strict=True):
                    columns[key].append(value)
    made = pd.DataFrame(columns)
    order = np.lexsort((np.arange(len(made)), first_facts(tasted["facts"])[made["row"].to_numpy(dtype=int)]))
    made = made.iloc[order]
    source = tasted.iloc[made["row"].to_numpy(dtype=int)]
    taken: dict[str, Any] = {name: source[name].to_numpy() for name in (*TASTING_KEY, "tasting", "session")}
    taken |= {name: made[name].to_numpy() for name in ("stage", "written_in", "start", "text")}
    findings = [*empty_notes(tasted), *other_columns(source, made), *strange_cells(source, made)]
    return NOTES.build(taken, source["facts"]), findings


def empty_notes(tasted: pd.DataFrame) -> list[Finding]:
    """A row without a word and without a figure for any family."""
    silent = ~tasted[list(FAMILIES)].notna().any(axis=1)
    for name in TEXT_STAGES:
        silent &= ~written(tasted[name])
    rows: Iterable[Any] = tasted[silent].itertuples()
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


def other_columns(source: pd.DataFrame, made: pd.DataFrame) -> list[Finding]:
    """A stage marked in the column of another one: it is counted where it says, and said so, once per sheet row."""
    own = made["stage"].to_numpy() == made["written_in"].to_numpy()
    cell = made["row"].to_numpy(dtype=int) * len(TEXT_STAGES) + made["written_in"].map(TEXT_STAGES.index).to_numpy(int)
    several = np.isin(cell, cell[own])  # the whole tasting in one cell, its own stage among others
    first = ~pd.Series(cell).duplicated().to_numpy()
    moved = first & ~several & (made["written_in"].to_numpy() != "remark")
    findings = []
    for row, part in zip(source[moved].itertuples(), made[moved].itertuples(), strict=True):
        findings.append(
            Finding(
                code="tasting.note-in-other-column",
                severity="note",
                message=f"{row.taster} wrote of the {part.stage} of {row.sample} in the column {part.written_in}; "
                f"it is counted as {part.stage}, as marked.",
                subject=str(row.sample),
                facts=row.facts,
                column=str(part.written_in),
                observed=str(part.text)[:60],
                expected=f"a note on the {part.written_in}",
                remedy="Nothing, if the mark is right; else correct the sheet.",
            )
        )
    return findings


NUMBER_ONLY = re.compile(r"\s*\d+(?:[.,]\d+)?(?:\s*/\s*\d+)?\s*")
SPEAKS_OF = {
    "nose": re.compile(r"\b(?:long|short|lingering|medium|dry|warm)\w*\s+(?:finish|aftertaste)\b", re.IGNORECASE),
    "palate": re.compile(r"^\s*(?:nose|nosing)\b", re.IGNORECASE),
    "finish": re.compile(r"^\s*(?:nose|nosing|palate)\b", re.IGNORECASE),
}


def strange_cells(source: pd.DataFrame, made: pd.DataFrame) -> list[Finding]:
    """Cells that look as if they stood in another column: a bare number, a finish in the column nose. Not moved."""
    cells = zip(made["text"].tolist(), made["written_in"].tolist(), made["stage"].tolist(), strict=True)
    found = np.array([_strange(str(text), column, stage_name) for text, column, stage_name in cells], dtype=object)
    looks = np.array([reason != "" for reason in found], dtype=bool)
    rows: Iterable[Any] = source[looks].itertuples()
    parts_there: Iterable[Any] = made[looks].itertuples()
    return [
        Finding(
            code="tasting.note-looks-misplaced",
            severity="review",
            message=f"The {part.written_in} of {row.sample} by {row.taster} {reason}; it is counted as it stands.",
            subject=str(row.sample),
            facts=row.facts,
            column=part.written_in,
            observed=part.text[:60],
            expected=f"a note on the {part.written_in}",
            remedy="Move it to the column it belongs to and send the sheet again, or accept it as it stands.",
        )
        for row, part, reason in zip(rows, parts_there, found[looks], strict=True)
    ]


def _strange(text: str, column: str, stage_name: str) -> str:
    """Why a note looks misplaced; empty where it does not."""
    if NUMBER_ONLY.fullmatch(text):
        return f"holds only the number {text.strip()}"
    speaks = SPEAKS_OF.get(column)
    if speaks is not None and stage_name == column and speaks.search(text):
        return f"speaks of another stage: {text[:60]!r}"
    return ""


@stage(gives=MENTIONS)
def find_mentions(notes: pd.DataFrame, lexicon_words: pd.DataFrame, site: Any) -> tuple[pd.DataFrame, list[Finding]]:
    """The lexicon's words in the notes, each with its place, degree, doubt, negation and comparison."""
    lexicon, problems = lexicon_of(site, lexicon_words)
    where, hits = find_all(notes["text"].tolist(), lexicon)
    rows = notes.iloc[where]
    columns: dict[str, Any] = {name: rows[name].to_numpy() for name in ("tasting", *NOTE_KEY) if name != "start"}
    columns["note_start"] = rows["start"].to_numpy()
    for name in OF_A_HIT:
        columns[name] = [getattr(hit, name) for hit in hits]
    for name in OF_A_TERM:
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
