"""The document ``tasting_book``: what all tasting pages show, sorted once by sample, cask and session."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import pandas as pd

from pipeline import document
from pipeline.common.names import fold
from pipeline.writing.plain import plain_rows
from plugins.tasting.declared.kinds import FAMILIES, SCALES
from plugins.tasting.stock.stock import spoken

Row = dict[str, Any]
ORDER = {family: place for place, family in enumerate(FAMILIES)}


@dataclass
class Book:
    """Rows by folded name. ``notes`` are tastings, each with its texts and the hits in them."""

    sessions: dict[str, Row] = field(default_factory=dict)
    tastings: dict[str, list[Row]] = field(default_factory=dict)  # by sample and by cask
    in_session: dict[str, list[Row]] = field(default_factory=dict)
    profiles: dict[str, list[Row]] = field(default_factory=dict)
    scores: dict[str, Row] = field(default_factory=dict)
    agreement: dict[str, list[Row]] = field(default_factory=dict)
    order: dict[str, list[Row]] = field(default_factory=dict)
    differences: dict[str, list[Row]] = field(default_factory=dict)
    noise: list[Row] = field(default_factory=list)
    again: list[Row] = field(default_factory=list)
    new_words: list[Row] = field(default_factory=list)
    same_things: list[Row] = field(default_factory=list)
    casks: dict[str, Row] = field(default_factory=dict)
    diary: dict[str, list[Row]] = field(default_factory=dict)
    like: dict[str, list[Row]] = field(default_factory=dict)
    standing: dict[str, Row] = field(default_factory=dict)
    groups: list[Row] = field(default_factory=list)
    wood: list[Row] = field(default_factory=list)
    targets: list[Row] = field(default_factory=list)
    gauged: set[str] = field(default_factory=set)  # casks with a page of their volume and strength


@document(gives="tasting_book")
def bind_book(
    tasted: pd.DataFrame,
    notes: pd.DataFrame,
    mentions: pd.DataFrame,
    profiles: pd.DataFrame,
    tasting_sessions: pd.DataFrame,
    scores: pd.DataFrame | None = None,
    agreement: pd.DataFrame | None = None,
    taster_differences: pd.DataFrame | None = None,
    order_effects: pd.DataFrame | None = None,
    panel_noise: pd.DataFrame | None = None,
    taste_again: pd.DataFrame | None = None,
    new_words: pd.DataFrame | None = None,
    same_things: pd.DataFrame | None = None,
    cask_table: pd.DataFrame | None = None,
    cask_diary: pd.DataFrame | None = None,
    cask_likeness: pd.DataFrame | None = None,
    cask_standing: pd.DataFrame | None = None,
    cask_groups: pd.DataFrame | None = None,
    wood_effects: pd.DataFrame | None = None,
    target_likeness: pd.DataFrame | None = None,
    cask_rates: pd.DataFrame | None = None,
) -> Book:
    """All that the tasting pages show; what could not be worked out is left out."""
    book = Book(
        sessions={fold(row["session"]): row for row in _rows(tasting_sessions)},
        profiles=_by(profiles, "sample"),
        scores={fold(row["sample"]): row for row in _rows(scores)},
        agreement=_by(agreement, "session"),
        order=_by(order_effects, "session"),
        differences=_by(taster_differences, "taster"),
        noise=_rows(panel_noise),
        again=sorted(_rows(taste_again), key=lambda row: (-row["weight"], row["sample"])),
        new_words=_rows(new_words),
        same_things=_rows(same_things),
        casks={fold(row["cask"]): row for row in _rows(cask_table)},
        diary=_by(cask_diary, "cask"),
        like=_by(cask_likeness, "cask"),
        standing={fold(row["cask"]): row for row in _rows(cask_standing)},
        groups=_rows(cask_groups),
        wood=_rows(wood_effects),
        targets=_rows(target_likeness),
    )
    if cask_rates is not None:
        book.gauged = {fold(name) for name in cask_rates["cask"]}
    for row in _tastings(tasted, notes, mentions):
        for name in {fold(row["sample"]), fold(row["drawn_from"])}:
            book.tastings.setdefault(name, []).append(row)
        book.in_session.setdefault(fold(row["session"]), []).append(row)
    return book


def page_of(key: str, book: Book) -> str:
    """Which page tells most of a cask (folded): its taste, or its volume and strength where nobody tasted it."""
    return "history.html" if key in book.gauged and key not in book.tastings else "cask.html"


def _rows(frame: pd.DataFrame | None) -> list[Row]:
    return plain_rows(frame, without=["facts"])


def _by(frame: pd.DataFrame | None, name: str) -> dict[str, list[Row]]:
    made: dict[str, list[Row]] = {}
    for row in _rows(frame):
        made.setdefault(fold(row[name]), []).append(row)
    return made


def _tastings(tasted: pd.DataFrame, notes: pd.DataFrame, mentions: pd.DataFrame) -> list[Row]:
    """Tastings in order of time, each with ``texts``: stage, text and the hits in it."""
    hits: dict[tuple[Any, ...], list[Row]] = {}
    for row in _rows(mentions):
        hits.setdefault((row["tasting"], row["written_in"], row["note_start"]), []).append(row)
    texts: dict[int, list[Row]] = {}
    for row in _rows(notes):
        key = (row["tasting"], row["written_in"], row["start"])
        entry = {"stage": row["stage"], "text": row["text"], "hits": hits.get(key, [])}
        texts.setdefault(row["tasting"], []).append(entry)
    made = []
    for row in _rows(tasted.drop(columns=[name for name in FAMILIES])):
        made.append({**row, "texts": texts.get(row["tasting"], [])})
    return sorted(made, key=lambda row: (row["tasted_at"], row["order"] or 0, row["taster"]))


def lines(profile: list[Row]) -> list[Row]:
    """A profile as the page draws it: families over all stages, strongest first, then the scales in their order.

    Each with nose, palate and finish beside it.
    """
    parts = {(row["family"], row["stage"]): row for row in profile}
    made = []
    for (family, stage), row in parts.items():
        if stage == "all":
            beside = {name: parts.get((family, name)) for name in ("nose", "palate", "finish")}
            made.append({**row, "name": spoken(family), "scale": family in SCALES, **beside})
    flavours = sorted((row for row in made if not row["scale"]), key=lambda row: (-row["mean"], ORDER[row["family"]]))
    return [*flavours, *sorted((row for row in made if row["scale"]), key=lambda row: ORDER[row["family"]])]
