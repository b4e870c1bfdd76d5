"""Years, batch and lot in the words of a label: ``Distilled 2013``, ``Batch 27-02``, ``L26051``."""

from __future__ import annotations

import re
from collections.abc import Iterator

from plugins.label_age.wording.reading import Reading

DISTILLED = r"(?:distilled|destilliert|gebrannt|distillée?|destilado|distillato|vintage|jahrgang|millésime)"
BOTTLED = r"(?:bottled|abgefüllt|embouteillée?|mis en bouteilles?|embotellado|imbottigliato)"
GAP = r"(?P<gap>[^;\d]{0,30}?(?:\b\d{1,2}[./ -](?:\d{1,2}[./ -]|[^\W\d]+[\s.,]+))?)"
YEAR = r"(?<![\d/–-])(?P<year>(?:19|20)\d\d)(?!\d)(?!\s*(?:[-–/,&]|and|und|et|to|bis)\s*\d)"
YEARS = re.compile(rf"\b(?:(?P<distilled>{DISTILLED})|(?P<bottled>{BOTTLED}))\b{GAP}{YEAR}", re.IGNORECASE)
NO_YEAR = re.compile(rf"\b(?:since|seit|depuis|by|von|par|between|est|founded|before|after|{DISTILLED}|{BOTTLED})\b",
                     re.IGNORECASE)  # fmt: skip
NAME = r"(?P<name>(?:[A-Z]{1,4}[-/ ]?)?\d[\w/-]*)"
NUMBER_SIGN = r"[\s.:#]*(?:no|nr|number|nummer|num|n°|nº|№)?[\s.:#]*"
BATCH = re.compile(rf"\b(?:batch|charge|chargennummer|vatting|partie){NUMBER_SIGN}{NAME}", re.IGNORECASE)
LOT = re.compile(
    rf"\b(?:lot|lote|lotto|losnummer|los){NUMBER_SIGN}{NAME}|^L[\s.:-]?(?P<bare>\d[\w/-]{{2,}})$", re.IGNORECASE
)


def years(text: str) -> Iterator[Reading]:
    """The year of distillation or of bottling; of several years, or of a house, none."""
    for found in YEARS.finditer(text):
        if not NO_YEAR.search(found["gap"]):
            kind = "distilled year" if found["distilled"] else "bottled year"
            yield Reading(kind, int(found["year"]), found.start(), found.end(), found["year"])


def batches(text: str) -> Iterator[Reading]:
    """Batch and lot as they stand."""
    for kind, pattern in (("batch", BATCH), ("lot", LOT)):
        for found in pattern.finditer(text):
            name = found["name"] or f"L{found['bare']}"
            yield Reading(kind, name, found.start(), found.end(), name)
