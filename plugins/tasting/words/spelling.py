"""Which word of the lexicon a misspelt word was meant to be.

Only words of five letters and more that nobody knows are looked at, with the same first letter.
Nearness is the number of letters wrong, missing, too many or exchanged (Damerau-Levenshtein, from
rapidfuzz): one for words up to seven letters, two for longer ones; or two words that sound alike.
Words that English has anyway are never taken for misspelt: see ``data/plain_words.txt``.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

SHORTEST = 5
LONG = 8
MOST_WRONG_IN_LONG = 2
ALIKE = (("ph", "f"), ("ck", "k"), ("y", "i"), ("z", "s"), ("qu", "kw"), ("ae", "e"), ("oe", "e"), ("c", "k"))
DOUBLED = re.compile(r"(.)\1+")


def sound(word: str) -> str:
    """A word with letters that sound alike made one, and doubled letters single."""
    for written, heard in ALIKE:
        word = word.replace(written, heard)
    return DOUBLED.sub(r"\1", word)


class Speller:
    """Finds the known word that an unknown one was meant to be; each word is worked out once."""

    def __init__(self, known: Iterable[str], plain: Iterable[str], spellings: Iterable[str]) -> None:
        """``known`` words are never looked up; ``spellings`` are those that an unknown one may be meant for."""
        self.known = set(known)
        self.plain = set(plain)
        self._by_letter: dict[str, list[str]] = {}
        self._by_sound: dict[str, set[str]] = {}
        for word in sorted(set(spellings)):
            if len(word) >= SHORTEST and word.isalpha():
                self._by_letter.setdefault(word[0], []).append(word)
            if len(word) >= SHORTEST - 1 and word.isalpha():
                self._by_sound.setdefault(sound(word), set()).add(word)
        self._found: dict[str, tuple[str, ...]] = {}

    def meant(self, word: str) -> tuple[str, ...]:
        """The known words nearest to an unknown one, all equally near; none where nothing is near."""
        found = self._found.get(word)
        if found is None:
            found = self._found[word] = self._search(word)
        return found

    def is_unknown(self, word: str) -> bool:
        """Whether a word is neither in the lexicon nor plain English, and long enough to be judged."""
        return len(word) >= SHORTEST and word.isalpha() and word not in self.known and word not in self.plain

    def _search(self, word: str) -> tuple[str, ...]:
        from rapidfuzz import process
        from rapidfuzz.distance import OSA

        if not self.is_unknown(word):
            return ()
        alike = self._by_sound.get(sound(word))
        if alike:
            return tuple(sorted(alike))
        most = MOST_WRONG_IN_LONG if len(word) >= LONG else 1
        near = process.extract(
            word, self._by_letter.get(word[0], []), scorer=OSA.distance, score_cutoff=most, limit=None
        )
        kept = [(wrong, known) for known, wrong, _ in near if wrong <= 1 or len(known) >= LONG]
        best = min((wrong for wrong, _ in kept), default=0)
        return tuple(sorted(known for wrong, known in kept if wrong == best))
