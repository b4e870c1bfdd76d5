"""Rules of law as data: one rule is one version of one demand; the book holds every version of every market."""

from __future__ import annotations

import re
from bisect import bisect_right
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import cached_property, lru_cache
from typing import Any, Protocol

from plugins.label_age.facts.places import named_state
from plugins.label_age.facts.words import plain
from plugins.label_age.rules.conditions import OtherRule, checks_of
from plugins.label_age.rules.demands import Demand


class DataFile(Protocol):
    """What the engine gives in ``site.data["rules"]``."""

    @property
    def plugin(self) -> str: ...

    @property
    def name(self) -> str: ...

    @property
    def text(self) -> str: ...


@dataclass(frozen=True)
class Need:
    """One thing that a rule demands, in plain words and as a condition; ``tests`` are keys of the rule's demands."""

    plain: str
    section: str
    condition: Any
    tests: tuple[str, ...] = ()


@dataclass(frozen=True)
class Confirmed:
    """Who of the house read the law behind a rule, on which day, and what was read."""

    by: str
    on: date
    read: str

    def __str__(self) -> str:
        return f"Confirmed for this house by {self.by} on {self.on} (read: {self.read})."


@dataclass(frozen=True)
class Rule:
    """One version of one rule. ``names`` are plain claims; ``applies`` is None when it always does.

    ``of`` is the group whose members it speaks of; ``edition`` counts our own wordings of one version of
    the law; ``says`` is what the label sheet says when it is met, with ``values`` (shares) and facts in braces.
    ``demands`` are those of its section; with one that is untested it is never met. ``text`` is the edition of the
    law that was read, ``read`` the day. ``read_as`` and ``read_words``: what on a label shows that it states it.
    ``hash`` is of its content; ``confirmed`` by the house it is not unverified.
    """

    id: str
    market: str
    claim: str
    names: tuple[str, ...]
    judged: str
    section: str
    since: date
    until: date | None
    plain: str
    source: str
    unverified: bool
    applies: Any
    needs: tuple[Need, ...]
    finding: str
    remedy: str
    note: str
    file: str
    of: str = "batch"
    edition: int = 1
    says: str = ""
    values: tuple[tuple[str, Any], ...] = ()
    line: int | None = None
    demands: tuple[Demand, ...] = ()
    text: str = ""
    read: date | None = None
    read_as: tuple[str, ...] = ()
    read_words: tuple[str, ...] = ()
    hash: str = ""
    confirmed: Confirmed | None = None

    @cached_property
    def untested(self) -> tuple[Demand, ...]:
        return tuple(demand for demand in self.demands if demand.state == "untested")

    @cached_property
    def given(self) -> tuple[Demand, ...]:
        return tuple(demand for demand in self.demands if demand.state == "given")

    @cached_property
    def version(self) -> str:
        return self.since.isoformat()

    def in_force(self, day: date) -> bool:
        return self.since <= day and (self.until is None or day <= self.until)


@dataclass(frozen=True)
class BrokenFile:
    """A rule file that does not count, or a confirmation in one: its name, the line where known, what was found."""

    name: str
    line: int | None
    message: str
    of_confirmation: bool = False

    @property
    def place(self) -> str:
        return f"{self.name}, line {self.line}" if self.line else self.name


@dataclass
class RuleBook:
    """All markets and all versions of all rules."""

    markets: dict[str, tuple[str, ...]] = field(default_factory=dict)
    rules: list[Rule] = field(default_factory=list)
    _claims: dict[str, dict[str, str]] = field(default_factory=dict)
    _turns: list[date] = field(default_factory=list)

    def market(self, name: str) -> str | None:
        """The market that a brief's word means, or None."""
        words = plain(name)
        return next((code for code, names in self.markets.items() if words in names), None)

    def versions(self, rule_id: str) -> list[Rule]:
        """Oldest first; of one version's editions the last stands last."""
        chosen = (rule for rule in self.rules if rule.id == rule_id)
        return sorted(chosen, key=lambda rule: (rule.since, rule.edition))

    def epoch(self, day: date | None) -> date | None:
        """The first day of the time around ``day`` in which all rules stand as they do on it.

        All days of one such time are judged alike, so that what hangs on the law is worked out once for them.
        """
        if day is None:
            return None
        if len(self._turns) == 0:
            turns = {rule.since for rule in self.rules}
            turns |= {rule.until + timedelta(days=1) for rule in self.rules if rule.until}
            self._turns.extend([date.min, *sorted(turns)])
        return self._turns[bisect_right(self._turns, day) - 1]

    def of_market(self, market: str, day: date | None) -> list[Rule]:
        """The rules of a market in the version in force on the day, in the files' order."""
        chosen = [rule for rule in self.rules if rule.market == market and day is not None and rule.in_force(day)]
        latest: dict[str, tuple[date, int]] = {}
        for rule in chosen:
            latest[rule.id] = max(latest.get(rule.id, (rule.since, rule.edition)), (rule.since, rule.edition))
        return [rule for rule in chosen if latest[rule.id] == (rule.since, rule.edition)]

    def answering(self, market: str, claim: str, day: date | None) -> list[Rule]:
        """The rules in force that answer for a claim."""
        words = claim_words(claim)
        return [rule for rule in self.of_market(market, day) if words in rule.names]

    def known_claims(self, market: str) -> dict[str, str]:
        """Plain name → the claim as the rule file writes it, over all versions."""
        if market not in self._claims:
            known = {name: rule.claim for rule in self.rules if rule.market == market for name in rule.names}
            self._claims[market] = known
        return self._claims[market]


@lru_cache(maxsize=4096)
def claim_words(claim: str) -> str:
    """A claim without regard to case, punctuation, the spelling of whisky, and a whisky at its end.

    A year of distillation or bottling is a claim whatever the year: ``distilled in 2010`` is ``distilled in year``;
    so is a distillery: ``distilled at Stony Ford`` is ``distilled at a distillery``. A State before
    a type is one whatever the State: ``Kentucky bourbon`` is ``state bourbon``.
    """
    words = plain(claim)
    if words.startswith("distilled at "):
        return "distilled at a distillery"
    if "distilled" in words or "bottled" in words:
        words = re.sub(r"\b(1[89]\d\d|20\d\d)\b", "year", words)
    if words in WHOLE:
        return words
    words = words.removesuffix(" whisky") or words
    state = named_state(words)
    return f"state{words[len(state) :]}" if state and state != words else words


WHOLE = ("straight whisky",)
"""Straight is a word of many types, straight whisky a type of its own (27 CFR 5.143(c)(4))."""


def references(rule: Rule) -> list[OtherRule]:
    """The references of a rule to others, in the order of its conditions."""
    conditions = [need.condition for need in rule.needs] + ([rule.applies] if rule.applies is not None else [])
    conditions += [share for _, share in rule.values]
    return [node for condition in conditions for node in checks_of(condition) if isinstance(node, OtherRule)]


def referred(rule: Rule) -> set[str]:
    """The ids of the rules that this one rests on directly."""
    return {node.rule for node in references(rule)}
