"""Nose, palate and finish marked inside one text: where each part begins and ends.

Marks are words with a colon or dash (``Nose:``, ``P -``), *on the palate*, and *a long … finish*. Single
letters count only where at least two different ones are marked.
"""

from __future__ import annotations

import re
from functools import lru_cache

WORDS = {
    "nose": "nose|n|aroma|aromas|smell|nosing",
    "palate": "palate|p|pal|taste|mouth|flavour|flavor|t|mouthfeel",
    "finish": "finish|f|fin|aftertaste|after-taste|end",
    "remark": "overall|remark|remarks|comment|comments|conclusion",
}
STAGE_OF = {word: stage for stage, words in WORDS.items() for word in words.split("|")}
_ANY = "|".join(sorted(STAGE_OF, key=len, reverse=True))
MARKED = re.compile(
    rf"(?:(?<=^)|(?<=[\s.;,/|(\n]))(?:on the |the )?({_ANY})\s*(?::|\s[-–—]\s|=|[-–—]\s)", re.IGNORECASE
)
SPOKEN = re.compile(r"\b(?:on|to|in|at) the (nose|palate|mouth|taste|finish|end)\b:?", re.IGNORECASE)
FINISH_OF = re.compile(
    r"(?:\bwith\s+)?\b(?:a|the)\s+(?:[\w-]+,?\s+){1,4}(finish|aftertaste)\b(?!\s*(?:in|cask)\b)", re.IGNORECASE
)


@lru_cache(maxsize=100_000)
def parts(text: str, column: str) -> tuple[tuple[str, int, int], ...]:
    """(stage, first character, character after the last) of each part of a cell's text, in order.

    A text without marks is one part of its column's stage.

    >>> parts("N: smoke. P: sweet", "nose")
    (('nose', 2, 10), ('palate', 12, 18))
    """
    found = [(match.start(), match.end(), match[1].lower()) for match in MARKED.finditer(text)]
    if len({STAGE_OF[word] for _, _, word in found}) < 2:
        found = [mark for mark in found if len(mark[2]) > 1]
    taken = [(start, end) for start, end, _ in found]
    for match in SPOKEN.finditer(text):
        if not any(start < match.end() and match.start() < end for start, end in taken):
            found.append((match.start(), match.end(), match[1].lower()))
    if found or column == "remark":
        for match in FINISH_OF.finditer(text):
            if not any(start < match.end() and match.start() < end for start, end in taken):
                found.append((match.start(), match.start(), match[1].lower()))
    if not found:
        return ((column, 0, len(text)),)
    found.sort()
    made = [(column, 0, found[0][0])] if text[: found[0][0]].strip(" ,.;:-–—/|(") else []
    ends = [start for start, _, _ in found[1:]] + [len(text)]
    made += [(STAGE_OF[word], begin, end) for (_, begin, word), end in zip(found, ends, strict=True)]
    return tuple((stage, begin, end) for stage, begin, end in made if text[begin:end].strip())
