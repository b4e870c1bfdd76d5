"""Names of classes and claims in the words of a label, by the names that the rules of all markets know."""

from __future__ import annotations

import re
from collections.abc import Iterator, Set
from dataclasses import dataclass

from plugins.label_age.facts.places import named_state
from plugins.label_age.facts.words import plain
from plugins.label_age.wording.reading import Reading

WORD = re.compile(r"[^\W_]+(?:['’.][^\W_]+)*")
DRINKS = ("whisky", "bourbon", "scotch")
"""Words that name the drink wherever they stand; other single words of rules are claims only beside one of these."""
CASKS = frozenset("cask casks barrel barrels butt butts hogshead hogsheads fass fassern fut futs wood oak".split())
MORE_OF_STATE = 2
"""Words by which the longest name of a State is longer than the word State."""
DENIED = frozenset("no not never without unlike ex former kein keine nicht sans non".split())
QUALIFIED = frozenset(
    "style type flavored flavoured imitation liqueur infused blend blended compound cream like inspired based drink "
    "flavor flavors flavour flavours".split()
)
"""Words beside a class that make another thing of it; where no rule's name holds them, the class is not read."""


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
    most = max((name.count(" ") + 1 for name in known), default=0) + MORE_OF_STATE
    at = 0
    while at < len(tokens):
        sizes = range(min(most, len(tokens) - at), 0, -1)
        count = next((size for size in sizes if _is_known(_said(tokens[at : at + size]), known)), 0)
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


def _is_known(said: str, known: Set[str]) -> bool:
    """Whether rules know the name; a State before a type stands for every State, as rules write it."""
    state = named_state(said)
    return said in known or bool(state and f"state{said[len(state) :]}" in known)


def _said(tokens: list[_Token]) -> str:
    return " ".join(token.word for token in tokens)


def _is_claim(tokens: list[_Token], at: int, count: int, followed: str) -> bool:
    before, after = tokens[max(0, at - 2) : at], tokens[at + count : at + count + 4]
    if followed in CASKS or any(token.word in DENIED for token in before):
        return False
    if any(token.word in QUALIFIED for token in (*before, *after)):
        return False
    if count > 1 or tokens[at].word in DRINKS or followed == "whisky":
        return True
    return len(tokens) == 1
