"""What a person said of a header row: which of its headers means which column. Nothing of it is guessed.

A header can only be said to mean what its own words do not speak against: one that names proof is never % vol, one that
says corrected never as read. The words of a choice (``reading in %vol, as read``) are what people see and what is kept.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from hashlib import sha256
from statistics import median
from typing import Any

from pipeline.contract.kinds import SheetColumn, SheetKind, plain
from pipeline.contract.units import UnitWords
from pipeline.sheets.cells import as_text, is_blank
from pipeline.sheets.headers import Match, match_header
from pipeline.sheets.units import UnitTable

LEAVE = "leave aside"
TOLD = 999  # rank of what a person said: columns that are understood by their own words come first
BRACKET = r"[(\[](.+?)[)\]]"
APART = 1.6  # proof and % vol lie 2 apart, kg and lb 2.2, cm and inches 2.5, litres and gallons 3.8
LONGEST = 5  # words of a unit or state that are sought in a header
AMBIGUOUS = ("in", "of", "oc")  # words of a sentence, too


@dataclass(frozen=True)
class Layout:
    """A header row that a person explained.

    ``headers``: its cells as written; ``means``: (index from 0, words of the choice) of the headers explained;
    ``around``: (index, median in the canonical unit) of amounts in the file in which it was explained; ``by``: the name
    that was typed, ``account`` that of the system, ``on`` the day, ``file`` the name it was dropped under.
    """

    kind: str
    headers: tuple[str, ...]
    means: tuple[tuple[int, str], ...]
    around: tuple[tuple[int, float], ...] = ()
    by: str = ""
    account: str = ""
    on: str = ""
    file: str = ""

    @property
    def code(self) -> str:
        """Eight letters that name it, the same for whoever explained it so."""
        said = "\x1e".join([self.kind, *self.headers, "", *(f"{index}={words}" for index, words in self.means)])
        return sha256(said.encode("utf-8")).hexdigest()[:8]

    @property
    def who(self) -> str:
        """Who confirmed it, in words."""
        return f"{self.by} (typed, account {self.account})" if self.by else f"the account {self.account}"

    def in_words(self) -> str:
        """What its headers mean."""
        return "; ".join(f"{self.headers[index]!r} is {words}" for index, words in self.means)


def header_of(cells: Sequence[Any]) -> tuple[str, ...]:
    """A header row as it is known again: its cells as written, without blanks at the end."""
    texts = ["" if is_blank(cell) else as_text(cell) for cell in cells]
    while texts and not texts[-1]:
        texts.pop()
    return tuple(texts)


def around(kind: SheetKind, columns: Mapping[str, dict[str, Any]], values: Mapping[str, Any]) -> dict[int, float]:
    """Index of each column of amounts → their median.

    ``columns``: as the book keeps them, by name; ``values``: by frame column. Degrees are left out: their scales share
    no zero.
    """
    made: dict[int, float] = {}
    for name, said in columns.items():
        column = kind.column(name)
        if column.type == "number" and column.quantity not in ("", "temperature"):
            held = [value for value in values.get(column.frame_column, ()) if value is not None]
            made |= {int(said["index"]): float(median(held))} if held else {}
    return made


def far_apart(layout: Layout, now: Mapping[int, float]) -> str:
    """Which explained amounts lie elsewhere than in the file in which they were explained, in words; empty for none."""
    told = [
        f"{layout.headers[index]!r} lay around {before:.5g} then and around {now[index]:.5g} here"
        for index, before in layout.around
        if index in now and not before / APART <= now[index] <= before * APART
    ]
    return " and ".join(told)


def choices_of(kind: SheetKind, header: str, units: UnitTable) -> dict[str, Match]:
    """What a header can be said to mean: words of the choice → column, unit and state.

    One that is understood by itself means that and nothing else; one that belongs to another kind means nothing here.
    """
    if plain(header) in map(plain, kind.of_another):
        return {}
    sure = match_header(kind, header, units)
    if sure is not None and not sure.doubt:
        return {_in_words(sure): sure._replace(rank=TOLD)}
    brackets = re.findall(BRACKET, header)
    measures = {quantity for quantity in units.quantities for words in brackets if units.find(quantity, words)}
    known = [sure.column] if sure is not None else kind.columns  # its words say the column, and not the unit
    may_be = [column for column in known if not measures or not column.quantity or column.quantity in measures]
    return {_in_words(match): match for column in may_be for match in _ways(kind, column, header, units)}


def meaning_of(words: str, kind: SheetKind, header: str, units: UnitTable) -> Match | None:
    """What a person said of a header; None where it is left aside. Raises ValueError for what it cannot mean."""
    if words == LEAVE:
        return None
    found = choices_of(kind, header, units).get(words)
    if found is None:
        raise ValueError(f"column {header!r} was said to be {words!r}, which its own words speak against")
    return found


def _in_words(match: Match) -> str:
    unit = f" in {match.unit.unit}" if match.unit else ""
    return f"{match.column.name}{unit}{f', {match.says[1]}' if match.says else ''}"


def _ways(kind: SheetKind, column: SheetColumn, header: str, units: UnitTable) -> Iterator[Match]:
    """A column in each unit and state that the header does not speak against."""
    known = units.quantities.get(column.quantity, []) if column.quantity else []
    every = dict.fromkeys(filter(None, (units.find(column.quantity, unit.unit) for unit in known)))
    named = [unit for unit in every if unit in set(_units_in(column, header, units))]
    ways: list[UnitWords | None] = [*(named or every)] if every else [None]
    states: list[tuple[str, str] | None] = [None]
    if column.qualified_by:
        says = kind.column(column.qualified_by)
        words = {plain(word): kept for kept, spelt in says.choices for word in (kept, *spelt)}
        stated = {words[plain(part)] for part, _ in _parts(header.replace("@", " at ")) if plain(part) in words}
        states = [(says.name, kept) for kept, _ in says.choices if not stated or kept in stated]
    for unit in ways:
        for state in states:
            yield Match(column, TOLD, unit, says=state)


def _units_in(column: SheetColumn, header: str, units: UnitTable) -> Iterator[UnitWords]:
    """Units that a header names; a single letter and a word like *in* only in a bracket or at the end."""
    for part, last in _parts(header):
        unit = units.find(column.quantity, part)
        if unit is not None and (last or (len(part) > 1 and part.casefold() not in AMBIGUOUS)):
            yield unit


def _parts(header: str) -> Iterator[tuple[str, bool]]:
    """Words that stand together in a header, and whether they are a bracket or stand at the end."""
    for bracket in re.findall(BRACKET, header):
        yield bracket, True
    words = re.findall(r"[^\s()\[\],;:_]+", header)
    for first in range(len(words)):
        for end in range(first + 1, min(first + LONGEST, len(words)) + 1):
            yield " ".join(words[first:end]), end == len(words)
