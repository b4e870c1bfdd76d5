"""Names of classes and claims in the words of a label, by the names that the rules of all markets know."""

from __future__ import annotations

import re
from collections.abc import Iterator, Set
from dataclasses import dataclass

from plugins.label_age.facts.words import plain
from plugins.label_age.wording.reading import Reading

WORD = re.compile(r"[^\W_]+(?:['’.][^\W_]+)*")
DRINKS = ("whisky", "bourbon", "scotch")
"""Words that name the drink wherever they stand; other single words of rules are claims only beside one of these."""
CASKS = frozenset(
    "cask casks barrel barrels butt butts hogshead hogsheads fass fassern fut futs wood finish finished oak".split()
)
DENIED = frozenset("no not never without unlike ex former kein keine nicht sans non".split())


@dataclass(frozen=True)
class _Token:
    word: str
    start: int
    end: int


def names(text: str, known: Set[str]) -> Iterator[Reading]:
    """Claims that stand in a line, the longest first; ``known`` are names in plain words.

    Words of prose (``a hint of rye``, ``straight from the cask``), of casks (``bourbon casks``) and denials are none.
    """
    tokens = [_Token(plain(found[0]), found.start(), found.end()) for found in WORD.finditer(text)]
    most = max((name.count(" ") + 1 for name in known), default=0)
    at = 0
    while at < len(tokens):
        count = next((n for n in range(min(most, len(tokens) - at), 0, -1) if _said(tokens[at : at + n]) in known), 0)
        if not count:
            at += 1
            continue
        followed = tokens[at + count].word if at + count < len(tokens) else ""
        takes = followed == "whisky" and tokens[at + count - 1].word != "whisky"
        if _is_claim(tokens, at, count, followed):
            end = tokens[at + count - (0 if takes else 1)].end
            yield Reading("claim", _said(tokens[at : at + count]), tokens[at].start, end, text[tokens[at].start : end])
        at += count + takes


def is_class(reading: Reading) -> bool:
    """Whether a claim names the drink, so that it can stand as its class and type."""
    return reading.kind == "claim" and any(word in DRINKS for word in plain(reading.written).split())


def _said(tokens: list[_Token]) -> str:
    return " ".join(token.word for token in tokens)


def _is_claim(tokens: list[_Token], at: int, count: int, followed: str) -> bool:
    if followed in CASKS or any(token.word in DENIED for token in tokens[max(0, at - 2) : at]):
        return False
    if count > 1 or tokens[at].word in DRINKS or followed == "whisky":
        return True
    return len(tokens) == 1
