"""What a lexicon holds, what is found in a note, and how words are folded before they are compared."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache
from typing import NamedTuple

PLAIN_WEIGHT = 1.0
STRONG = 1.3
WEAK = 0.3
ALONE = "\0"  # key in the tree of what a word of degree says where it weighs nothing

TOKEN = re.compile(r"[^\W_]+(?:'[^\W_]+)*-?|[^\w\s]|\n")


class Term(NamedTuple):
    """One term of the lexicon.

    ``pole`` is ``low`` where the word names the low end of a scale (thin, short), ``noun`` where it
    names the scale itself and says something only with a modifier (body, length). ``maturity`` is
    ``young``, ``over`` (too long in wood) or ``closed`` where the word says so, else empty.
    """

    term: str
    family: str
    stage: str = "any"
    polarity: str = "neutral"
    pole: str = ""
    maturity: str = ""


class Modifier(NamedTuple):
    """A word that changes what a term says.

    ``kind``: intensity, excess, lack, negation and doubt speak of the next term; ``after`` only of the
    one before (*smoke subtle*); more, less and same compare; aside takes no effect (*not only*); ignore
    hides words of the lexicon that mean something else (*sweet spot*); other says that the clause is
    about the glass or the sample, not about what is in it.
    """

    term: str
    kind: str
    weight: float = PLAIN_WEIGHT


class Leaf(NamedTuple):
    """An entry as it stands in the tree of words, and the form it is written in (empty, more, most)."""

    entry: Term | Modifier
    form: str = ""


class Hit(NamedTuple):
    """A term found: its place in the note (characters ``start`` to ``end``) and what was said of it.

    ``compared`` is more, less or same where it is set against another sample, which ``reference``
    names as written (empty: not named). ``respelt``: read from a misspelt word.
    """

    term: Term
    start: int
    end: int
    weight: float
    doubtful: bool
    striking: bool
    negated: bool
    compared: str = ""
    reference: str = ""
    respelt: bool = False
    excess: bool = False


@lru_cache(maxsize=4096)
def _plain(char: str) -> str:
    if char in "’‘ʼ`´":
        return "'"
    folded = unicodedata.normalize("NFKD", char).casefold()
    return "".join(part for part in folded if not unicodedata.combining(part))


def fold(text: str) -> tuple[str, list[int] | None]:
    """Text without regard to case and diacritics, and for each character its place in the original.

    The places are None where nothing moved; else they have one entry more than the folded text.
    """
    if text.isascii():
        return text.lower().replace("`", "'"), None
    parts: list[str] = []
    places: list[int] = []
    for place, char in enumerate(text):
        plain = _plain(char)
        parts.append(plain)
        places.extend([place] * len(plain))
    places.append(len(text))
    return "".join(parts), places


def words_of(term: str) -> list[str]:
    """The words of a term as they are matched: folded; hyphens and spaces count alike."""
    folded, _ = fold(term)
    return [word for word in re.split(r"[\s\-]+", folded) if word]
