"""Finds the lexicon's words in a taster's note.

A note is cut into words and marks once; the words are walked through a tree of all terms and
modifiers, longest match first, so that the work grows with the note and not with the lexicon.
What stands around a hit is kept: ``?`` or "maybe" makes it doubtful, ``!`` striking, "not",
"without", "less" negate it, degree words ("hint of", "huge") weigh it.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any, NamedTuple

TOKEN = re.compile(r"[^\W_]+(?:'[^\W_]+)*-?|[^\w\s]|\n")
PLAIN_WEIGHT = 1.0
REACH = 3  # words that may stand between a modifier and its term: "hint of sweet old smoke"
CLAUSE_MARKS = frozenset(",;.:!?()\n-–—+&[]")
CLAUSE_WORDS = frozenset({"and", "but", "with", "then", "on", "although", "though", "yet"})
LIST_WORDS = frozenset({"or", "nor", "/"})
AFTER_MARKS = frozenset({"?", "!", "*", "(", ")", '"', "'", "[", "]"})
AFTER_WORDS = frozenset({"missing", "lacking", "absent", "none", "free"})
STRONG = 1.3
WEAK = 0.3


class Term(NamedTuple):
    """One term of the lexicon.

    ``pole`` is ``low`` where the word names the low end of a scale (thin, short), ``noun`` where it
    names the scale itself and says something only with a modifier (body, length).
    """

    term: str
    family: str
    stage: str = "any"
    polarity: str = "neutral"
    pole: str = ""


class Modifier(NamedTuple):
    """A word that changes what the next term says. ``kind``: intensity, excess, lack, negation, doubt, aside."""

    term: str
    kind: str
    weight: float = PLAIN_WEIGHT


class Hit(NamedTuple):
    """A term found: its place in the note (characters ``start`` to ``end``) and what was said of it."""

    term: Term
    start: int
    end: int
    weight: float
    doubtful: bool
    striking: bool
    negated: bool


@dataclass
class Lexicon:
    """Terms and modifiers as a tree of words; ``tree[word][word][""]`` is the term or modifier."""

    terms: tuple[Term, ...] = ()
    modifiers: tuple[Modifier, ...] = ()
    tree: dict[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for term in self.terms:
            self._plant(words_of(term.term), term)
        for modifier in self.modifiers:
            self._plant(words_of(modifier.term), modifier)
        for term in self.terms:
            *before, last = words_of(term.term)
            for form in other_number(last):
                self._plant([*before, form], term, only_if_free=True)

    def _plant(self, words: Sequence[str], entry: Term | Modifier, only_if_free: bool = False) -> None:
        node = self.tree
        for word in words:
            node = node.setdefault(word, {})
        if not (only_if_free and "" in node):
            node[""] = entry


def words_of(term: str) -> list[str]:
    """The words of a term as they are matched: folded; hyphens and spaces count alike."""
    folded, _ = fold(term)
    return [word for word in re.split(r"[\s\-]+", folded) if word]


def other_number(word: str) -> list[str]:
    """Plural forms of a singular, and the singular of a plural ending in -s."""
    if word.endswith(("s", "x", "z", "ch", "sh")):
        forms = [word + "es"]
    elif word.endswith("y") and word[-2:-1] not in "aeiou":
        forms = [word[:-1] + "ies"]
    elif word.endswith("f") and not word.endswith("ff"):
        forms = [word[:-1] + "ves", word + "s"]
    else:
        forms = [word + "s"]
    if word.endswith("ies") and len(word) > 4:
        forms.append(word[:-3] + "y")
    elif word.endswith("s") and not word.endswith(("ss", "us")):
        forms.append(word[:-1])
        if word.endswith(("shes", "ches", "xes")):
            forms.append(word[:-2])
        if word.endswith("ves"):
            forms.append(word[:-3] + "f")
    return forms


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


def find_terms(text: str, lexicon: Lexicon) -> list[Hit]:
    """All terms of the lexicon in one note, in order, none overlapping another.

    >>> wood = Lexicon((Term("smoke", "smoke_peat"),), (Modifier("no", "negation"),))
    >>> [(hit.start, hit.end, hit.negated) for hit in find_terms("Oak, no smoke!", wood)]
    [(8, 13, True)]
    """
    folded, places = fold(text)
    tokens = [(match.group(), match.start(), match.end()) for match in TOKEN.finditer(folded)]
    tree = lexicon.tree
    if not any(word.rstrip("-") in tree for word, _, _ in tokens):
        return []
    reader = _Reader(tokens, tree)
    reader.read()
    if places is None:
        return [Hit(*found) for found in reader.hits]
    return [Hit(term, places[start], places[end], *rest) for term, start, end, *rest in reader.hits]


class _Reader:
    """Walks the tokens of one note, keeping what the words before said of the next term."""

    def __init__(self, tokens: Sequence[tuple[str, int, int]], tree: dict[str, Any]) -> None:
        self.tokens = tokens
        self.tree = tree
        self.hits: list[list[Any]] = []
        self.last_end = -1  # index of the token after the last hit
        self._clear()

    def _clear(self) -> None:
        self.degree: float | None = None
        self.negated = False
        self.doubtful = False
        self.reach = 0

    def read(self) -> None:
        at, count = 0, len(self.tokens)
        while at < count:
            entry, after = self._longest(at)
            if entry is None:
                self._other(self.tokens[at][0])
                at += 1
            elif isinstance(entry, Modifier):
                self._modify(entry, at, after)
                at = after
            else:
                at = self._take(entry, at, after)
        self._close_doubt()

    def _longest(self, at: int) -> tuple[Term | Modifier | None, int]:
        node: Any = self.tree
        found, after = None, at
        for place in range(at, len(self.tokens)):
            node = node.get(self.tokens[place][0].rstrip("-"))
            if node is None:
                break
            if "" in node:
                found, after = node[""], place + 1
        if found is not None and found.term == "over-" and not self.tokens[at][0].endswith("-"):
            return None, at  # "over" alone is no excess: "carries over", "over time"
        return found, after

    def _other(self, word: str) -> None:
        if word in CLAUSE_MARKS or word in CLAUSE_WORDS:
            self._close_doubt()
            self._clear()
        elif self.reach:
            self.reach -= 1
            if not self.reach:
                self._clear()

    def _close_doubt(self) -> None:
        """A doubt with no term after it in its clause speaks of the one before: "smoke, not sure"."""
        if self.doubtful and self.hits:
            self.hits[-1][4] = True

    def _modify(self, modifier: Modifier, at: int, after: int) -> None:
        if modifier.kind in ("negation", "lack") and self._speaks_of_last(modifier.term, at, after):
            self.hits[-1][6] = True
            return
        self.reach = REACH + 1
        if modifier.kind == "negation":
            self.negated = True
        elif modifier.kind == "lack":
            self.negated, self.degree = True, None
        elif modifier.kind == "doubt":
            self.doubtful = True
        elif modifier.kind == "aside":
            self._clear()
        elif self.negated and modifier.weight >= STRONG:
            # "not very sweet" is a little sweet
            self.negated, self.degree = False, WEAK
        elif self.degree is None or self.degree >= PLAIN_WEIGHT:
            self.degree = modifier.weight

    def _speaks_of_last(self, word: str, at: int, after: int) -> bool:
        """Whether "missing", "absent", "free" … stand after their term: "smoke missing", "smoke-free"."""
        if word not in AFTER_WORDS or not self.hits:
            return False
        if at - self.last_end > 1 or (
            at > self.last_end and self.tokens[self.last_end][0] not in ("is", ":", "-", "–")
        ):
            return False
        return word == "free" or after == len(self.tokens) or self.tokens[after][0] in CLAUSE_MARKS

    def _take(self, term: Term, at: int, after: int) -> int:
        """Record a hit with what was said before it, then read the marks that follow."""
        modified = self.degree is not None or self.negated
        negated = self.negated
        if term.pole != "noun" or modified:
            end = self.tokens[after - 1][2] - self.tokens[after - 1][0].endswith("-")
            weight = PLAIN_WEIGHT if self.degree is None else self.degree
            self.hits.append([term, self.tokens[at][1], end, weight, self.doubtful, False, negated])
            self.last_end = after
            after = self._marks(after)
        self._clear()
        if negated and after < len(self.tokens) and self.tokens[after][0] in LIST_WORDS:
            self.negated, self.reach = True, REACH + 2
        return after

    def _marks(self, at: int) -> int:
        """``?`` and ``!`` right after the term, also in brackets or quotes; returns where they end."""
        end, seen = at, at
        while seen < len(self.tokens) and self.tokens[seen][0] in AFTER_MARKS:
            mark = self.tokens[seen][0]
            if mark == "?":
                self.hits[-1][4] = True
            elif mark == "!" or (mark == "*" and self._doubled(seen)):
                self.hits[-1][5] = True
            seen += 1
            if mark in "?!*":
                end = seen
        return end

    def _doubled(self, at: int) -> bool:
        return at + 1 < len(self.tokens) and self.tokens[at + 1][0] == "*"


def find_all(texts: Iterable[str], lexicon: Lexicon) -> tuple[list[int], list[Hit]]:
    """The hits of many notes: for each hit the position of its note, and the hit."""
    notes: list[int] = []
    hits: list[Hit] = []
    for position, text in enumerate(texts):
        found = find_terms(text, lexicon)
        if found:
            notes.extend([position] * len(found))
            hits.extend(found)
    return notes, hits
