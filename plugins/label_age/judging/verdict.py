"""A verdict, and what every verdict by the same rules says alike."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property, lru_cache
from typing import Any

from plugins.label_age.facts.catalogue import BY_NAME, Fact
from plugins.label_age.facts.logic import TRUE, WORDS
from plugins.label_age.judging.earliest import NEVER
from plugins.label_age.rules.demands import Demand
from plugins.label_age.rules.versions import Confirmed, Rule
from plugins.label_age.telling.plainly import assumed_by, opening, why_met
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

    The reason is its ``opening``, one sentence for a reader who knows no law, and the ``rest``, the grounds as text.
    Of grounds as rows: ``cited`` is what its rules say alike, ``rule`` the one whose demands were judged (None where it
    is open which rule applies), ``asks`` the conditions that are not known. ``not_due``: it cannot be told only
    because nothing is bottled yet.
    """

    batch: str
    market: str
    claim: str
    truth: int
    opening: str
    rest: str = ""
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
    cited: Cited | None = None
    rule: Rule | None = None
    asks: tuple[Any, ...] = ()

    @property
    def word(self) -> str:
        return WORDS[self.truth]

    @property
    def reason(self) -> str:
        return self.opening + self.rest


def day_of(number: int) -> date | None:
    """The day of a number of days since 1970; None for always and never."""
    return (
        date.fromordinal(number + EPOCH)
        if abs(number) < NEVER and 1 <= number + EPOCH <= date.max.toordinal()
        else None
    )


EPOCH = date(1970, 1, 1).toordinal()


@dataclass(frozen=True)
class Read:
    """A text of the law that was read: the sections, which edition of it and where, and the day (None: from memory)."""

    sections: str
    text: str
    on: date | None

    def __str__(self) -> str:
        return f"{self.sections}: {self.text}{f', read on {self.on}' if self.on else ''}"


@dataclass(frozen=True)
class Cited:
    """What rules bring to every verdict they come to.

    Of the first rule: for each batch whether it ``holds``, whether a limit of it is ``near``, what is ``assumed``
    where; the facts ``shown``, the ``demands`` in our words and in few (``keys``). Of all that they rest on: demands
    ``given`` and ``untested``, the ``law`` that was read, what ``doubts`` there are of that, who ``confirmed`` it here.
    """

    facts: tuple[Fact, ...]
    origins: frozenset[str]
    section: str
    version: str
    rule_id: str
    edition: int
    holds: list[int]
    near: list[bool]
    assumed: list[tuple[Any, list[bool]]]
    shown: tuple[Fact, ...]
    demands: list[str]
    keys: str
    law: tuple[Read, ...]
    doubts: tuple[str, ...]
    given: tuple[Demand, ...]
    untested: tuple[Demand, ...]
    confirmed: tuple[Confirmed, ...]
    _taken: dict[tuple[int, bool], tuple[dict[str, Any], str]] = field(default_factory=dict)
    _met: dict[bool, tuple[str, str]] = field(default_factory=dict)

    @cached_property
    def states_age(self) -> bool:
        return BY_NAME["stated_age"] in self.facts

    @cached_property
    def _patterns(self) -> list[int]:
        """A number for each batch, equal where the same is assumed."""
        return [sum(bits << at for at, bits in enumerate(of)) for of in zip(*(w for _, w in self.assumed), strict=True)]

    def taken(self, batch: int, met: bool) -> tuple[dict[str, Any], str]:
        """The checks of a batch that take something as given, by their facts; and that in words, for a reason."""
        key = (self._patterns[batch] if self.assumed else 0, met)
        if key not in self._taken:
            checks = {check.fact.name: check for check, where in self.assumed if where[batch]}
            said = [*map(assumed_by, checks.values()), *(demand.says for demand in self.given if met)]
            self._taken[key] = checks, f" Assumed: {'; '.join(dict.fromkeys(said))}." if said else ""
        return self._taken[key]

    def met(self, aside: bool, stated: str = "") -> tuple[str, str]:
        """The first sentence of a claim that is met, and its demands where that does not name them all.

        ``aside``: something is taken as given; ``stated``: what is said of an age.
        """
        if stated or aside not in self._met:
            held = "; ".join(self.demands)
            first = opening(TRUE, *why_met(self.demands, self.keys, aside, stated))
            made = first, "" if held in first else f" Held: {held}."
            if stated:
                return made
            self._met[aside] = made
        return self._met[aside]

    @cached_property
    def tail(self) -> str:
        """Which law was read, what is unverified of it, and who confirmed it: the end of a reason."""
        law = f" Law: {'; '.join(map(str, self.law))}." if self.law else ""
        doubt = f" Unverified: {'; '.join(self.doubts)}." if self.doubts else ""
        return law + doubt + "".join(f" {one}" for one in self.confirmed)


def law_of(rules: Iterable[Rule]) -> tuple[Read, ...]:
    """The sections of rules, the edition of the text that was read of each, and the day."""
    texts: dict[tuple[str, date | None], dict[str, None]] = {}
    for rule in rules:
        texts.setdefault((rule.text, rule.read), {})[rule.section] = None
    return tuple(Read(", ".join(sections), text, day) for (text, day), sections in texts.items() if text)


@lru_cache(maxsize=1024)
def markets_of(text: str | None) -> tuple[str, ...]:
    """The markets that a brief names, as written, each once."""
    pieces = (text or "").replace(";", ",").replace("\n", ",").split(",")
    return tuple(dict.fromkeys(piece.strip() for piece in pieces if piece.strip()))
