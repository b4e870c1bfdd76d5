"""A verdict, and what every verdict by the same rules says alike."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import Any

from plugins.label_age.facts.catalogue import Fact
from plugins.label_age.facts.logic import WORDS
from plugins.label_age.judging.earliest import NEVER
from plugins.label_age.rules.demands import Demand
from plugins.label_age.rules.versions import Rule
from plugins.label_age.telling.sentences import NOTHING, Told

UNVERIFIED = {
    "memory": "this rule is from memory and was not read in the law",
    "seen in an earlier edition": "this rule was read in an earlier edition of the law, not in the one in force",
    "second-hand": "this rule was put together from second-hand texts",
    "seen": "part of this rule was not verified",
}


@dataclass(slots=True)
class Verdict:
    """One claim of one batch in one market. ``told`` points at the cell that decided it.

    ``not_due``: it cannot be told only because nothing is bottled yet.
    """

    batch: str
    market: str
    claim: str
    truth: int
    reason: str
    section: str = ""
    unverified: bool = False
    version: str = ""
    used: str = "{}"
    facts: tuple[int, ...] = ()
    told: Told = NOTHING
    finding: str = ""
    remedy: str = ""
    not_due: bool = False
    rule_id: str = ""
    edition: int | None = None
    met_from: date | None = None
    near_limit: bool = False

    @property
    def word(self) -> str:
        return WORDS[self.truth]


def day_of(number: int) -> date | None:
    """The day of a number of days since 1970; None for always and never."""
    return (
        date.fromordinal(number + EPOCH)
        if abs(number) < NEVER and 1 <= number + EPOCH <= date.max.toordinal()
        else None
    )


EPOCH = date(1970, 1, 1).toordinal()


@dataclass(frozen=True)
class Cited:
    """What rules bring to every verdict they come to.

    Of the first rule: for each batch whether it ``holds``, whether a limit of it is ``near``, what is ``assumed``
    where; the facts ``shown``, the ``demands`` in our words and in few (``keys``), those ``given``. ``law`` says which
    text of the law was read and when, ``confirmed`` who of the house read it.
    """

    facts: tuple[Fact, ...]
    origins: frozenset[str]
    section: str
    doubt: str
    version: str
    rule_id: str
    edition: int
    holds: list[int]
    near: list[bool]
    assumed: list[tuple[Any, list[bool]]]
    shown: tuple[Fact, ...]
    demands: list[str]
    keys: str
    law: str = ""
    given: tuple[Demand, ...] = ()
    confirmed: str = ""


def law_of(rules: Iterable[Rule]) -> str:
    """The sections of rules, the edition of the text that was read of each, and the day."""
    texts: dict[tuple[str, date | None], dict[str, None]] = {}
    for rule in rules:
        texts.setdefault((rule.text, rule.read), {})[rule.section] = None
    said = [
        f"{', '.join(sections)}: {text}{f', read on {day}' if day else ''}"
        for (text, day), sections in texts.items()
        if text
    ]
    return f" Law: {'; '.join(said)}." if said else ""


@lru_cache(maxsize=1024)
def markets_of(text: str | None) -> tuple[str, ...]:
    """The markets that a brief names, as written, each once."""
    pieces = (text or "").replace(";", ",").replace("\n", ",").split(",")
    return tuple(dict.fromkeys(piece.strip() for piece in pieces if piece.strip()))
