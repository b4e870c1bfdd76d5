"""What is said of one statement of a label, or of one that it lacks."""

from __future__ import annotations

from dataclasses import dataclass

RESULTS = {
    "not allowed": "a rule says that the words may not stand there, or not of this batch",
    "contradicts": "a sheet, or the label elsewhere, says otherwise",
    "missing": "a rule or the brief demands it, and no words say it",
    "cannot tell": "what is known does not decide it",
    "not judged": "no statement could be read in the words, or nothing here judges them",
    "stated": "it stands there; its wording, size and place are not judged",
    "agrees": "the sheets say so, and no rule held here forbids it",
}
"""Each result and its meaning, the gravest first."""


@dataclass(frozen=True)
class Result:
    """One row of the label proof. ``first`` is the sentence of a finding; empty: no finding of its own.

    ``severity`` and ``code`` are those of the finding; ``facts`` begin with the row of the label's words.
    """

    statement: str
    result: str
    reason: str
    facts: tuple[int, ...]
    words: str = ""
    reads: str = ""
    panel: str = ""
    rule: str = ""
    unverified: bool = False
    first: str = ""
    code: str = ""
    severity: str = ""
    expected: str = ""
    remedy: str = ""


@dataclass(frozen=True)
class Compared:
    """What the sheets say of a statement: agrees, contradicts, cannot tell, or nothing (empty).

    ``whose``: who says what is ``expected``.
    """

    word: str = ""
    reason: str = ""
    expected: str = ""
    facts: tuple[int, ...] = ()
    whose: str = "the sheets say"


NOTHING = Compared()
