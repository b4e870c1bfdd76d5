"""Casks and colour in the words of a label: ``ex-bourbon casks``, ``single cask``, ``coloured with caramel``."""

from __future__ import annotations

import re
from collections.abc import Iterator

from plugins.label_age.facts.words import plain
from plugins.label_age.wording.reading import Reading

HELD = ("bourbon", "sherry", "oloroso", "pedro ximénez", "pedro ximenez", "px", "fino", "amontillado", "manzanilla",
        "port", "madeira", "marsala", "rum", "red wine", "white wine", "wine", "cognac", "sauternes", "beer",
        "stout", "virgin oak", "new oak", "charred new oak", "new charred oak")  # fmt: skip
HELD_BEFORE = "|".join(sorted(HELD, key=len, reverse=True))
CASK = r"(?:casks?|barrels?|butts?|hogsheads?|pipes?|puncheons?|drums?|fass|fässern?|fûts?|barricas?|botti)"
CASKS = re.compile(
    rf"\b(?:(?:finished|matured|aged|rested)\s+in\s+(?:an?\s+)?)?(?:ex[\s-]?)?(?P<held>{HELD_BEFORE})[\s-]+"
    rf"(?:(?:seasoned|oak|wood)[\s-]+)?(?:{CASK}\b(?:[\s-]+finish(?:ed)?)?|finish(?:ed)?\b(?!\s+in\b))",
    re.IGNORECASE,
)
SINGLE = re.compile(r"\b(?:single (?:cask|barrel)|einzelfass|fût unique)\b", re.IGNORECASE)
NOT_COLOURED = re.compile(
    r"\b(?:no (?:added )?(?:colou?r(?:ing|s)?|caramel)\b(?: added)?|natural colou?r|without colou?r\w*|"
    r"(?:not|never) colou?red|uncolou?red|non coloré|sans colorant|ohne farbstoff|nicht gefärbt|naturfarben)",
    re.IGNORECASE,
)
COLOURED = re.compile(
    r"\b(?:artificially colou?red|colou?red with(?: plain| spirit)?(?: caramel)?|contains (?:plain |spirit )?caramel|"
    r"caramel colou?r(?:ing)?|"
    r"with plain caramel|colou?r(?:ing)? added|added colou?r(?:ing)?|mit farbstoff\b|farbstoff:|mit zuckerkulör|"
    r"colorant:|coloré au caramel|e\s?150\s?[a-d]?\b)",
    re.IGNORECASE,
)


def casks(text: str) -> Iterator[Reading]:
    """What the casks held before, as the label says, in plain words; and that there was one cask."""
    for found in CASKS.finditer(text):
        yield Reading("casks", plain(found["held"]), found.start(), found.end(), found[0])
    for found in SINGLE.finditer(text):
        yield Reading("single cask", 1, found.start(), found.end(), found[0])


def colours(text: str) -> Iterator[Reading]:
    """That it is coloured, or that it is not."""
    denied = [found.span() for found in NOT_COLOURED.finditer(text)]
    for start, end in denied:
        yield Reading("no colouring", "no colouring", start, end, text[start:end])
    for found in COLOURED.finditer(text):
        if not any(start < found.end() and found.start() < end for start, end in denied):
            yield Reading("colouring", "colouring", found.start(), found.end(), found[0])
