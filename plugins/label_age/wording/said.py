"""One line of a label as statements, and what of it could not be read as one."""

from __future__ import annotations

import re
from collections.abc import Iterator, Set
from dataclasses import dataclass

from plugins.label_age.wording.ages_said import ages
from plugins.label_age.wording.amounts import strengths, volumes
from plugins.label_age.wording.lines import Line
from plugins.label_age.wording.names_said import names
from plugins.label_age.wording.places_said import places
from plugins.label_age.wording.reading import Reading
from plugins.label_age.wording.wood_said import casks, colours
from plugins.label_age.wording.years_said import batches, years

JOINS = re.compile(r"(?:[\W_]|\b(?:and|or|und|et|y|e|the|a|an|of|in)\b)*", re.IGNORECASE)


@dataclass(frozen=True)
class Said:
    """Statements of one line in their order, and the pieces between them that were not read."""

    readings: tuple[Reading, ...]
    rest: tuple[str, ...]


def read_line(line: Line, known_claims: Set[str], known_places: Set[str] = frozenset()) -> Said:
    """Read a line. Each word belongs to one statement, or to two of the same words (distilled and aged in …)."""
    if line.cannot:
        return Said((), (line.text,))
    taken: list[Reading] = []
    for reading in _all(line.text, known_claims, known_places):
        if all(_apart(reading, other) or _same(reading, other) for other in taken):
            taken.append(reading)
    taken.sort(key=lambda reading: (reading.start, reading.end))
    return Said(tuple(taken), tuple(_rest(line.text, taken)))


def _all(text: str, known_claims: Set[str], known_places: Set[str]) -> Iterator[Reading]:
    """What each way of reading finds, those first that leave the least doubt."""
    for way in (strengths, volumes, ages, years, batches, casks, colours):
        yield from way(text)
    yield from names(text, known_claims)
    yield from places(text, known_places)


def _apart(one: Reading, other: Reading) -> bool:
    return one.end <= other.start or other.end <= one.start


def _same(one: Reading, other: Reading) -> bool:
    return (one.start, one.end) == (other.start, other.end) and one.kind != other.kind


def _rest(text: str, taken: list[Reading]) -> Iterator[str]:
    """What stands between the statements; words that only join them are left out."""
    if not taken and any(c.isalnum() for c in text):
        yield text
        return
    at = 0
    for start, end in [*((reading.start, reading.end) for reading in taken), (len(text), len(text))]:
        piece = text[at:start]
        if piece and not JOINS.fullmatch(piece):
            yield piece.strip(" ,.:–-")
        at = max(at, end)
