"""Places in the words of a label: ``Distilled in Scotland``, ``Distilled and aged in Kentucky``, ``Bottled by …``."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from plugins.label_age.facts.places import COUNTRIES, US_STATES
from plugins.label_age.facts.words import plain
from plugins.label_age.wording.reading import Reading

STEPS = {
    "distilled": "place of distillation",
    "matured": "place of ageing",
    "aged": "place of ageing",
    "bottled": "place of bottling",
    "product": "country of origin",
    "produce": "country of origin",
    "produced": "country of origin",
    "made": "country of origin",
}
STEP = "|".join(sorted(STEPS, key=len, reverse=True))
SAID = re.compile(
    rf"\b(?P<steps>(?:{STEP})(?:\s*(?:,|and|&)\s*(?:{STEP}))*)\s+(?:in|of)\s+(?:the\s+)?"
    r"(?P<place>[^\W\d_][\w.'’-]*(?:\s+[^\W\d_][\w.'’-]*){0,3})",
    re.IGNORECASE,
)
WOOD = re.compile(r"\b(?:oak|casks?|barrels?|wood|butts?|hogsheads?|batch(?:es)?)\b", re.IGNORECASE)
ADDRESS = re.compile(
    r"\b(?:(?:distilled|bottled|produced|made|blended|matured|aged|imported)(?:\s*(?:,|and|&)\s*\w+){0,3}\s+by|"
    r"abgefüllt (?:von|durch)|hergestellt von|importiert von|mis en bouteilles? par|importé par|embotellado por)\b",
    re.IGNORECASE,
)
KNOWN = frozenset(US_STATES) | {spelling for spellings in COUNTRIES.values() for spelling in spellings}


def places(text: str, known: Iterable[str] = ()) -> Iterator[Reading]:
    """Where it was distilled, aged, bottled or made; ``known`` are further places in plain words, of the casks.

    A place that neither the lists nor the casks know is not read: it may be no place at all.
    """
    names = KNOWN | set(known)
    for found in SAID.finditer(text):
        place, end = _place(found, names)
        if place and not WOOD.match(text[end:].lstrip()):
            for step in re.findall(STEP, found["steps"], re.IGNORECASE):
                yield Reading(STEPS[step.lower()], place, found.start(), end, place)
    for found in ADDRESS.finditer(text):
        yield Reading("name and address", found[0], found.start(), found.end(), found[0])


def _place(found: re.Match[str], names: frozenset[str] | set[str]) -> tuple[str, int]:
    """The longest known place that the words begin with, and where it ends."""
    words = list(re.finditer(r"\S+", found["place"]))
    for last in reversed(words):
        said = found["place"][: last.end()].rstrip(".,'’-")
        if plain(said) in names:
            return said, found.start("place") + len(said)
    return "", 0
