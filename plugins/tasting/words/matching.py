"""Finds the lexicon's words in a taster's note.

A note is cut into words and marks once; the words are walked through a tree of all terms and
modifiers, longest match first, so that the work grows with the note and not with the lexicon.
Equal texts are read once. What stands around a hit is told in ``plugins/tasting/words/reading.py``.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from plugins.tasting.declared.kinds import SCALES
from plugins.tasting.words.forms import compared, made_from, other_number
from plugins.tasting.words.reading import Reader
from plugins.tasting.words.spelling import SHORTEST, Speller
from plugins.tasting.words.terms import ALONE, TOKEN, Hit, Leaf, Modifier, Term, fold, words_of

__all__ = ["Hit", "Lexicon", "Modifier", "Term", "find_all", "find_terms", "fold", "other_number", "words_of"]


ENDS = ("", ALONE)


@dataclass
class Lexicon:
    """Terms and modifiers as a tree of words; ``tree[word][word][""]`` is the leaf with its entry.

    ``plain`` are words of English that are never taken for misspelt ones.
    """

    terms: tuple[Term, ...] = ()
    modifiers: tuple[Modifier, ...] = ()
    plain: frozenset[str] = frozenset()
    tree: dict[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for modifier in self.modifiers:
            self._plant(words_of(modifier.term), Leaf(modifier))
        for term in self.terms:
            self._plant(words_of(term.term), Leaf(term))
        for term in self.terms:
            self._plant_forms(term)
        self.speller = Speller(self._vocabulary(), self.plain, self._spellings())
        self._read: dict[str, list[Hit]] = {}

    def _plant_forms(self, term: Term) -> None:
        *before, last = words_of(term.term)
        scale = term.family in SCALES
        for form in () if scale else other_number(last):
            self._plant([*before, form], Leaf(term), only_if_free=True)
        if before:
            solid = "".join([*before, last])
            for form in (solid, *other_number(solid)):
                self._plant([form], Leaf(term), only_if_free=True)
            return
        for form in made_from(last):
            self._plant([form], Leaf(term), only_if_free=True)
        if scale or last.endswith("y"):
            for form, degree in compared(last):
                self._plant([form], Leaf(term, degree), only_if_free=True)

    def _plant(self, words: Sequence[str], leaf: Leaf, only_if_free: bool = False) -> None:
        node = self.tree
        for word in words:
            node = node.setdefault(word, {})
        held = node.get("")
        if held is not None and isinstance(held.entry, Modifier) and isinstance(leaf.entry, Term):
            if not only_if_free:
                node[ALONE] = leaf
        elif not (only_if_free and held is not None):
            node[""] = leaf

    def _spellings(self) -> set[str]:
        """Words as the lexicon spells them, with their plurals: what a misspelt word may be meant for."""
        spelt = [*(term.term for term in self.terms), *(modifier.term for modifier in self.modifiers)]
        found = {word for written in spelt for word in words_of(written)}
        return found | {form for word in found for form in other_number(word) if form in self.tree}

    def _vocabulary(self) -> set[str]:
        found: set[str] = set()
        waiting = [self.tree]
        while waiting:
            node = waiting.pop()
            for word, below in node.items():
                if word not in ENDS:
                    found.add(word)
                    waiting.append(below)
        return found

    def read(self, text: str) -> list[Hit]:
        """The hits of one note; a text that was read before is not read again."""
        found = self._read.get(text)
        if found is None:
            if len(self._read) > 200_000:
                self._read.clear()
            found = self._read[text] = _find(text, self)
        return found


def find_terms(text: str, lexicon: Lexicon) -> list[Hit]:
    """All terms of the lexicon in one note, in order, none overlapping another.

    >>> wood = Lexicon((Term("smoke", "smoke_peat"),), (Modifier("no", "negation"),))
    >>> [(hit.start, hit.end, hit.negated) for hit in find_terms("Oak, no smoke!", wood)]
    [(8, 13, True)]
    """
    return lexicon.read(text)


def _find(text: str, lexicon: Lexicon) -> list[Hit]:
    folded, places = fold(text)
    tokens = [(match.group(), match.start(), match.end()) for match in TOKEN.finditer(folded)]
    tokens, respelt = _as_meant(tokens, lexicon)
    tree = lexicon.tree
    if not any(word.rstrip("-") in tree for word, _, _ in tokens):
        return []
    hits = Reader(tokens, tree, folded, respelt).read()
    if places is None:
        return hits
    return [hit._replace(start=places[hit.start], end=places[hit.end]) for hit in hits]


Token = tuple[str, int, int]


def _as_meant(tokens: list[Token], lexicon: Lexicon) -> tuple[list[Token], set[int]]:
    """The tokens with words written apart joined and misspelt ones put right, and where the latter start."""
    tree, speller = lexicon.tree, lexicon.speller
    made: list[Token] = []
    respelt: set[int] = set()
    at, count = 0, len(tokens)
    while at < count:
        word, start, end = tokens[at]
        bare = word.rstrip("-")
        if at + 1 < count and len(bare) > 2 and bare.isalpha() and word != "over":
            following = tokens[at + 1][0]
            solid = bare + following.rstrip("-")
            if len(solid) >= 7 and solid in tree and "" in tree[solid] and following not in tree.get(bare, ()):
                made.append((solid, start, tokens[at + 1][2]))
                at += 2
                continue
        if len(bare) >= SHORTEST and bare not in speller.known:
            meant = speller.meant(bare)
            if meant and _one_meaning(meant, tree):
                respelt.add(start)
                word = meant[0] + word[len(bare) :]
        made.append((word, start, end))
        at += 1
    return made, respelt


def _one_meaning(words: tuple[str, ...], tree: dict[str, Any]) -> bool:
    """Whether all candidates mean the same: a word that may be two things is left as it is."""
    if len(words) == 1:
        return True
    leaves = [tree[word].get("") if word in tree else None for word in words]
    families = {leaf.entry.family if leaf and isinstance(leaf.entry, Term) else None for leaf in leaves}
    return len(families) == 1 and None not in families


def find_all(texts: Iterable[str], lexicon: Lexicon) -> tuple[list[int], list[Hit]]:
    """The hits of many notes: for each hit the position of its note, and the hit."""
    notes: list[int] = []
    hits: list[Hit] = []
    for position, text in enumerate(texts):
        found = lexicon.read(text)
        if found:
            notes.extend([position] * len(found))
            hits.extend(found)
    return notes, hits
