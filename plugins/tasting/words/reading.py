"""Walks the words of one note and keeps what is said of each term that it meets.

Before a term: degree (*hint of*, *huge*), excess (*too*), lack and negation (*less*, *no*, *lacks*),
doubt (*maybe*), comparison (*more … than*, *as … as*). They reach over three words within a clause.
After it: ``?`` and ``!``, *missing*, *is subtle*, *than 14*. A denied list runs on to its *or*
(*no smoke, peat or tar*).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from plugins.tasting.declared.kinds import SCALES
from plugins.tasting.words.terms import ALONE, PLAIN_WEIGHT, STRONG, WEAK, Hit, Leaf, Modifier, Term

REACH = 3  # words that may stand between a modifier and its term: "hint of sweet old smoke"
REFERENCE_WORDS = 5  # of what a taster compares with: "than the cask beside it"
LIST_REACH = 8
CLAUSE_MARKS = frozenset(",;.:!?()\n-–—+&[]")
SENTENCE_MARKS = frozenset(";.!?\n")
CLAUSE_WORDS = frozenset({"and", "but", "with", "then", "on", "although", "though", "yet", "while"})
LIST_WORDS = frozenset({"or", "nor", "/"})
AFTER_MARKS = frozenset({"?", "!", "*", "(", ")", '"', "'", "[", "]"})
AFTER_WORDS = frozenset({"missing", "lacking", "absent", "none", "free", "nil", "zero"})
LINKS = frozenset({"is", "was", "are", "were", "very", "quite", "so", "rather", "just", "still", ":", "-", "–"})
IF_IT_WERE_AWAY = frozenset({"without", "minus", "sans"})
WOULD = frozenset({"would", "wouldn't", "it'd", "i'd", "that'd", "this'd", "could", "might"})
ANSWERS = frozenset({"no", "not", "none"})
OPENING = frozenset({"(", "["})


class Reader:
    """Reads the tokens (word, start, end) of one folded note against a tree of words."""

    def __init__(
        self, tokens: Sequence[tuple[str, int, int]], tree: dict[str, Any], text: str, respelt: set[int]
    ) -> None:
        self.tokens, self.tree, self.text, self.respelt = tokens, tree, text, respelt
        self.hits: list[Hit] = []
        self.elsewhere = False  # the clause speaks of the glass or the sample
        self._clear()

    def _clear(self) -> None:
        self.degree: float | None = None
        self.negated = self.doubtful = self.excess = False
        self.compared = ""
        self.reach = 0

    def read(self) -> list[Hit]:
        at, count = 0, len(self.tokens)
        while at < count:
            leaf, after = self._longest(at)
            if leaf is None:
                self._other(at)
                at += 1
            elif isinstance(leaf.entry, Modifier):
                self._modify(leaf.entry, at)
                at = after
            else:
                at = self._take(leaf.entry, leaf.form, at, after)
        self._close_doubt()
        return self.hits

    def _longest(self, at: int) -> tuple[Leaf | None, int]:
        node: Any = self.tree
        found, after = None, at
        for place in range(at, len(self.tokens)):
            word = self.tokens[place][0]
            node = node.get(word.rstrip("-") or word)
            if node is None:
                break
            if ALONE in node and self._stands_alone(at, place + 1):
                found, after = node[ALONE], place + 1
            elif "" in node:
                found, after = node[""], place + 1
        if found is not None and found.entry.term == "over-" and not self.tokens[at][0].endswith("-"):
            return None, at  # "over" alone is no excess: "carries over", "over time"
        return found, after

    def _word(self, at: int) -> str:
        return self.tokens[at][0] if at < len(self.tokens) else "\n"

    def _stands_alone(self, at: int, after: int) -> bool:
        """A word of degree with nothing to weigh, "light, sweet", says something of its own."""
        return self._ends_clause(after) and (at == 0 or self._ends_clause(at - 1) or self.degree is not None)

    def _ends_clause(self, at: int) -> bool:
        word = self._word(at)
        return word in CLAUSE_MARKS or word in CLAUSE_WORDS

    def _other(self, at: int) -> None:
        word = self.tokens[at][0]
        if word in CLAUSE_MARKS or word in CLAUSE_WORDS:
            if word in CLAUSE_MARKS:
                self.elsewhere = False
            if word == ":" and self.doubtful and self.reach > REACH:
                return  # "unsure: geranium": the doubt speaks of what follows
            self._close_doubt()
            self._clear()
        elif self.reach:
            self.reach -= 1
            if not self.reach:
                self._clear()

    def _close_doubt(self) -> None:
        """A doubt with no term after it in its clause speaks of the one before: "smoke, not sure"."""
        if self.doubtful and self.hits:
            self.hits[-1] = self.hits[-1]._replace(doubtful=True)

    def _modify(self, modifier: Modifier, at: int) -> None:
        kind = modifier.kind
        if kind == "other":
            self.elsewhere = True
            return
        if modifier.term in ANSWERS and self._word(at - 1) == "?":
            return self._answer(at)
        if kind in ("aside", "ignore", "after"):
            self._clear()
            return
        if kind == "negation" and modifier.term in IF_IT_WERE_AWAY and self._conditional(at):
            self._clear()  # "without the rubber it'd be a cracker": the rubber is there
            return
        self.reach = REACH + 1
        if kind == "negation":
            self.negated = True
        elif kind in ("lack", "less"):
            self.negated, self.degree = True, None
            self.compared = "less" if kind == "less" else ""
        elif kind == "doubt":
            self.doubtful = True
        elif kind in ("more", "same"):
            self.compared = kind
        elif self.negated and modifier.weight >= STRONG and kind != "excess":
            # "not very sweet" is a little sweet
            self.negated, self.degree = False, WEAK
        elif self.degree is None or self.degree >= PLAIN_WEIGHT:
            self.degree = modifier.weight
            self.excess = kind == "excess"

    def _conditional(self, at: int) -> bool:
        """Whether the sentence goes on with what would be."""
        for place in range(at + 1, len(self.tokens)):
            word = self._word(place)
            if word in SENTENCE_MARKS:
                return False
            if word in WOULD:
                return True
        return False

    def _answer(self, at: int) -> None:
        """ "rubber? no." denies what was asked; "long? no short" goes on with what is there."""
        if self._ends_clause(at + 1) and self.hits and self.hits[-1].doubtful and self._word(at + 1) != ",":
            self.hits[-1] = self.hits[-1]._replace(negated=True, doubtful=False)
        self._clear()

    def _take(self, term: Term, form: str, at: int, after: int) -> int:
        """Record a hit with what was said before it, then read what follows."""
        modified = self.degree is not None or self.negated or form != ""
        negated = self.negated
        if self.elsewhere and term.family in SCALES:
            return after
        if term.pole != "noun" or modified:
            end = self.tokens[after - 1][2] - self.tokens[after - 1][0].endswith("-")
            degree = PLAIN_WEIGHT if self.degree is None else self.degree
            if form == "most":
                degree = max(degree, STRONG)
            respelt = any(self.tokens[place][1] in self.respelt for place in range(at, after))
            start = self.tokens[at][1]
            self.hits.append(Hit(term, start, end, degree, self.doubtful, False, negated, "", "", respelt, self.excess))
            compared = "more" if form == "more" else self.compared
            after = self._marks(after)
            after = self._said_after(after)
            after = self._compare(compared, form, after)
        self._clear()
        if negated and self._list_goes_on(after):
            self.negated, self.reach = True, REACH + 2
            return after + (self._word(after) == ",")
        return after

    # --- after the term --------------------------------------------------------------------------

    def _marks(self, at: int) -> int:
        """``?`` and ``!`` right after the term, also in brackets or quotes; returns where they end."""
        end, seen = at, at
        while self._word(seen) in AFTER_MARKS and seen < len(self.tokens):
            mark = self.tokens[seen][0]
            if mark == "?":
                self.hits[-1] = self.hits[-1]._replace(doubtful=True)
            elif mark == "!" or (mark == "*" and self._word(seen + 1) == "*"):
                self.hits[-1] = self.hits[-1]._replace(striking=True)
            elif mark in OPENING and self._word(seen + 1) not in AFTER_MARKS:
                break  # a bracket with words of its own
            seen += 1
            if mark in "?!*":
                end = seen
        return end

    def _said_after(self, at: int) -> int:
        """ "missing", "is subtle", "dominates" after their term, where the clause ends; returns where it ends."""
        if self._word(at - 1) in ("?", "!"):
            return at
        place = at
        while place < len(self.tokens) and place - at < 3 and self.tokens[place][0] in LINKS:
            place += 1
        leaf, after = self._longest(place)
        if leaf is None or not isinstance(leaf.entry, Modifier):
            return at
        modifier = leaf.entry
        hyphened = modifier.term == "free" and self.tokens[at - 1][0].endswith("-")
        if not (self._ends_clause(after) or hyphened):
            return at
        if (modifier.kind in ("negation", "lack") and modifier.term in AFTER_WORDS) or (
            modifier.kind == "after" and modifier.weight == 0.0
        ):
            self.hits[-1] = self.hits[-1]._replace(negated=True)
            return after
        if modifier.kind in ("after", "intensity"):
            self.hits[-1] = self.hits[-1]._replace(weight=modifier.weight)
            return after
        return at

    def _compare(self, compared: str, form: str, at: int) -> int:
        """ "than 14", "as C-0204": what the hit is set against; returns where that ends."""
        if not compared:
            return at
        wanted = "as" if compared == "same" else "than"
        place = at
        while place < len(self.tokens) and place - at < REACH and not self._ends_clause(place):
            if self._word(place) == wanted:
                break
            place += 1
        found = self._word(place) == wanted
        if compared == "same" and self.hits[-1].negated:
            compared = "less"  # "not as smoky as 12"
        elif not found and (compared in ("more", "same") and form != "more"):
            return at
        if not found:
            self.hits[-1] = self.hits[-1]._replace(compared=compared)
            return at
        leaf, _ = self._longest(place + 1)
        if leaf is not None and isinstance(leaf.entry, Term):
            return at  # "more dry than sweet": both are in this glass
        end = place + 1
        while end < len(self.tokens) and end - place <= REFERENCE_WORDS:
            if self._ends_clause(end) and not self._within_a_name(end):
                break
            end += 1
        reference = self.text[self.tokens[place + 1][1] : self.tokens[end - 1][2]] if end > place + 1 else ""
        self._refer(compared, reference)
        return end

    def _within_a_name(self, at: int) -> bool:
        """A hyphen or point with no space around it: C-0204, 14.2."""
        if self._word(at) not in "-–." or at + 1 >= len(self.tokens):
            return False
        return self.tokens[at - 1][2] == self.tokens[at][1] and self.tokens[at][2] == self.tokens[at + 1][1]

    def _refer(self, compared: str, reference: str) -> None:
        """Give the last hit its reference, and those before it in the sentence that lack one."""
        last = self.hits[-1]
        self.hits[-1] = last._replace(compared=compared, reference=reference)
        for place in range(len(self.hits) - 2, -1, -1):
            hit = self.hits[place]
            between = self.text[hit.end : last.start]
            if not hit.compared or hit.reference or any(mark in between for mark in SENTENCE_MARKS):
                break
            self.hits[place] = hit._replace(reference=reference)

    def _list_goes_on(self, at: int) -> bool:
        """Whether a denied term is followed by more of the same: "no smoke or peat", "no smoke, peat or tar"."""
        if self._word(at) in LIST_WORDS:
            return True
        if self._word(at) != ",":
            return False
        for place in range(at + 1, min(at + LIST_REACH, len(self.tokens))):
            word = self._word(place)
            if word in LIST_WORDS:
                return True
            if word != "," and (word in CLAUSE_MARKS or word in CLAUSE_WORDS):
                return False
        return False
