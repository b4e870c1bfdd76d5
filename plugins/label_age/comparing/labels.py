"""The labels that sheets of words speak of: one of each batch and market, its statements and what was not read."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Set
from dataclasses import dataclass, field
from typing import Any

import pandas as pd

from pipeline.contract.frames import first_facts
from plugins.label_age.facts.places import place
from plugins.label_age.facts.words import plain
from plugins.label_age.judging.verdict import markets_of
from plugins.label_age.rules.versions import RuleBook
from plugins.label_age.wording.lines import lines_of, shown
from plugins.label_age.wording.reading import Reading
from plugins.label_age.wording.said import read_line

PANELS = ("front", "back", "neck", "side")


@dataclass(frozen=True)
class Statement:
    """A statement with the panel and the row that it stands in; ``quoted`` are its words."""

    reading: Reading
    quoted: str
    panel: str
    facts: tuple[int, ...]


@dataclass(frozen=True)
class Unread:
    """Words that were not read as a statement, and why, where that is more than that nothing fits."""

    quoted: str
    why: str
    panel: str
    facts: tuple[int, ...]


@dataclass
class Label:
    """All words for one batch in one market. ``market`` is the code of its rules, else the sheet's word."""

    batch: str
    market: str
    statements: list[Statement] = field(default_factory=list)
    unread: list[Unread] = field(default_factory=list)
    texts: list[str] = field(default_factory=list)
    facts: tuple[int, ...] = ()

    def of(self, *kinds: str) -> list[Statement]:
        return [statement for statement in self.statements if statement.reading.kind in kinds]


def labels_of(label_text: pd.DataFrame, book: RuleBook, places: Mapping[str, Set[str]]) -> list[Label]:
    """Labels by batch and market. ``places``: what the casks of a batch call their State or country, in plain words."""
    claims = frozenset(n for rule in book.rules if rule.judged == "when claimed" for n in rule.names)
    made: dict[tuple[str, str], Label] = {}
    order = label_text["panel"].map({panel: place for place, panel in enumerate(PANELS)}).fillna(len(PANELS))
    rows = label_text.assign(_order=order, _fact=first_facts(label_text["facts"]))
    rows = rows.sort_values(["batch", "market", "_order", "_fact"], kind="stable")
    for row in rows.to_dict("records"):
        for market in dict.fromkeys(book.market(written) or written for written in markets_of(row["market"])):
            label = made.setdefault((row["batch"], market), Label(row["batch"], market))
            _add(label, row, claims, places.get(row["batch"], frozenset()))
    return sorted(made.values(), key=lambda label: (label.batch, label.market))


def _add(label: Label, row: Mapping[Any, Any], claims: Set[str], places: Set[str]) -> None:
    facts = tuple(row["facts"])
    label.facts = tuple(dict.fromkeys((*label.facts, *facts)))
    for line in lines_of(str(row["words"])):
        said = read_line(line, claims, places)
        label.texts.append("" if line.cannot else line.text)
        for reading in said.readings:
            quoted = shown(line.text[reading.start : reading.end])
            label.statements.append(Statement(reading, quoted, row["panel"], facts))
        label.unread += [Unread(shown(piece), line.cannot, row["panel"], facts) for piece in said.rest]


def places_of(casks: pd.DataFrame, stays: pd.DataFrame) -> dict[str, set[str]]:
    """For each batch the States and countries that the inventory names for its casks, in plain words."""
    known: dict[str, set[str]] = {}
    for cask, names in _named(casks):
        known.setdefault(cask, set()).update(names)
    made: dict[str, set[str]] = {}
    for batch, cask in stays[["batch", "cask"]].dropna().drop_duplicates().itertuples(index=False):
        made.setdefault(batch, set()).update(known.get(cask, ()))
    return made


def _named(casks: pd.DataFrame) -> Iterator[tuple[str, set[str]]]:
    columns = [name for name in ("state", "country", "mashed_in", "fermented_in", "matured_in") if name in casks]
    for cask, *texts in casks[["cask", *columns]].itertuples(index=False):
        pieces = [piece for text in texts if isinstance(text, str) for piece in (text, *place(text)) if piece]
        yield cask, {plain(piece) for piece in pieces} - {""}
