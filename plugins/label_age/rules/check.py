"""A check of the rule files themselves: rules that can never be met, and rules that always are.

Each fact that a rule speaks of takes, one by one, every value at which some test of it turns, and the values
between; a rule is tried on batches of one spirit and of two. A search that leaves facts unknown until they matter
(three-valued logic cuts off what is decided already) looks for one case that meets the rule and one that fails it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from plugins.label_age.facts.catalogue import Fact
from plugins.label_age.facts.logic import FALSE, TRUE, UNKNOWN
from plugins.label_age.facts.words import says
from plugins.label_age.rules.conditions import (
    Both,
    Check,
    Difference,
    Either,
    Negation,
    OtherRule,
    Quantified,
    Same,
    Share,
    checks_of,
)
from plugins.label_age.rules.versions import Rule, RuleBook

STEPS = 40_000
"""So many cases are tried of a rule; one that is not settled by then is let pass."""
Slot = tuple[str, int]


@dataclass(frozen=True)
class Doubtful:
    """A rule that no case meets (``always`` false), or that every case meets."""

    rule: Rule
    always: bool


@lru_cache(maxsize=8)
def _checked(rules: tuple[Rule, ...]) -> tuple[Doubtful, ...]:
    book = {}
    for rule in sorted(rules, key=lambda rule: (rule.since, rule.edition)):
        book[rule.id] = rule
    found = []
    for rule in rules:
        if not rule.needs:
            continue  # all that its section asks is given, or untested
        trial = _Trial([need.condition for need in rule.needs], book)
        if not trial.can_be(TRUE):
            found.append(Doubtful(rule, always=False))
        elif not trial.can_be(FALSE):
            found.append(Doubtful(rule, always=True))
    return tuple(found)


def doubtful_rules(book: RuleBook) -> tuple[Doubtful, ...]:
    """Rules that can never be met or always are."""
    return _checked(tuple(book.rules))


def quarrels(book: RuleBook) -> Iterator[tuple[Rule, Rule, str]]:
    """Pairs of rules that answer for one claim of one market on one day, both of which may apply; and the claim.

    The later of a pair in the order of the files stands second.
    """
    by_name: dict[tuple[str, str], list[Rule]] = {}
    for rule in book.rules:
        for name in rule.names:
            by_name.setdefault((rule.market, name), []).append(rule)
    latest = {rule.id: rule for rule in sorted(book.rules, key=lambda rule: (rule.since, rule.edition))}
    for (_, name), rules in by_name.items():
        for place, one in enumerate(rules):
            for other in rules[place + 1 :]:
                if one.id != other.id and _on_one_day(one, other) and _may_both_apply(one, other, latest):
                    yield one, other, name


def _on_one_day(one: Rule, other: Rule) -> bool:
    return (one.until is None or other.since <= one.until) and (other.until is None or one.since <= other.until)


def _may_both_apply(one: Rule, other: Rule, book: dict[str, Rule]) -> bool:
    applies = [rule.applies for rule in (one, other) if rule.applies is not None]
    if len(applies) < 2:
        return True
    trial = _Trial(applies, book)
    return trial.can_be(TRUE) and trial.steps >= 0


class _Trial:
    """Conditions on made-up batches. A slot is a fact of the batch, or of its first or second spirit."""

    def __init__(self, conditions: list[Any], book: dict[str, Rule]) -> None:
        self.book = book
        self.conditions = conditions
        nodes = list(self._all_checks(self.conditions))
        several = (Same, Share, Quantified)
        self.members = 2 if any(isinstance(node, several) for node in nodes) else 1
        self.domains = _domains(nodes)
        groups = {name: fact.group for name, fact in _facts(nodes)}
        self.slots: list[Slot] = [
            (name, number) for name in self.domains for number in range(1 if groups[name] == "batch" else self.members)
        ]
        shares = dict.fromkeys(f"share {id(node)}" for node in nodes if isinstance(node, Share))
        self.domains |= {name: [TRUE, FALSE] for name in shares}
        self.slots += [(name, 0) for name in shares]

    def _all_checks(self, conditions: list[Any]) -> Iterator[Any]:
        for condition in conditions:
            for node in _inner(condition):
                if isinstance(node, OtherRule):
                    yield from self._all_checks([need.condition for need in self.book[node.rule].needs])
                else:
                    yield node

    def can_be(self, wanted: int) -> bool:
        """Whether some case ends so; taken for granted where the search is too long."""
        self.steps = STEPS
        return self._search({}, 0, wanted)

    def _search(self, case: dict[Slot, Any], position: int, wanted: int) -> bool:
        self.steps -= 1
        truth = min(self._truth(condition, case, 0) for condition in self.conditions)
        if truth == wanted or self.steps < 0:
            return True
        if truth != UNKNOWN or position == len(self.slots):
            return False
        slot = self.slots[position]
        for value in self.domains[slot[0]]:
            case[slot] = value
            if self._search(case, position + 1, wanted):
                return True
        del case[slot]
        return False

    def _truth(self, node: Any, case: dict[Slot, Any], member: int) -> int:
        if isinstance(node, Both):
            return min(self._truth(part, case, member) for part in node.parts)
        if isinstance(node, Either):
            return max(self._truth(part, case, member) for part in node.parts)
        if isinstance(node, Negation):
            return 2 - self._truth(node.part, case, member)
        if isinstance(node, Quantified):
            each = [self._truth(node.part, case, number) for number in range(self.members)]
            return min(each) if node.word == "every" else max(each)
        if isinstance(node, OtherRule):
            return min(self._truth(need.condition, case, member) for need in self.book[node.rule].needs)
        if isinstance(node, Same):
            values = [case.get((node.fact.name, number)) for number in range(self.members)]
            return UNKNOWN if None in values else TRUE if len(set(values)) == 1 else FALSE
        if isinstance(node, Share):
            return self._share(node, case)
        return _passes(node, case, member)

    def _share(self, node: Share, case: dict[Slot, Any]) -> int:
        """Where the members differ the share may be anything: a slot of its own."""
        each = [self._truth(node.part, case, number) for number in range(self.members)]
        if UNKNOWN in each:
            return UNKNOWN
        if len(set(each)) == 1:
            return _ordered(node.test, 100.0 if each[0] == TRUE else 0.0, node.limit)
        between = [v for v in (1e-6, node.limit - 1e-6, node.limit, node.limit + 1e-6, 100 - 1e-6) if 0 < v < 100]
        outcomes = {_ordered(node.test, value, node.limit) for value in between}
        return outcomes.pop() if len(outcomes) == 1 else int(case.get((f"share {id(node)}", 0), UNKNOWN))


def _inner(node: Any) -> Iterator[Any]:
    """Every check; shares, and quantifiers over some, with what stands in them."""
    if isinstance(node, (Both, Either)):
        for part in node.parts:
            yield from _inner(part)
    elif isinstance(node, Negation):
        yield from _inner(node.part)
    elif isinstance(node, Quantified):
        if node.word == "some":
            yield node
        yield from _inner(node.part)
    elif isinstance(node, Share):
        yield node
        yield from _inner(node.part)
    else:
        yield from checks_of(node)


def _facts(nodes: list[Any]) -> Iterator[tuple[str, Fact]]:
    for node in nodes:
        if isinstance(node, Same):
            yield node.fact.name, node.fact
        elif isinstance(node, Check):
            limit = node.limit.fact if isinstance(node.limit, Difference) else node.limit
            for fact in (node.fact, limit, node.centre):
                if isinstance(fact, Fact):
                    yield fact.name, fact


def _domains(nodes: list[Any]) -> dict[str, list[Any]]:
    """For each fact the values at which a test of it turns, one below, one between and one above."""
    facts = dict(_facts(nodes))
    marks: dict[str, set[float]] = {name: set() for name in facts}
    linked: dict[str, set[str]] = {name: {name} for name in facts}
    texts: dict[str, list[Any]] = {name: [] for name in facts}
    for node in nodes:
        if isinstance(node, Check):
            _mark(node, marks, linked, texts)
    made: dict[str, list[Any]] = {}
    for name, fact in facts.items():
        if fact.kind == "flag":
            made[name] = [True, False]
        elif fact.kind in ("text", "texts"):
            made[name] = [*dict.fromkeys(texts[name]), "something else", "another thing"]
            made[name] = [(text,) for text in made[name]] if fact.kind == "texts" else made[name]
        else:
            points = sorted(set().union(*(marks[other] for other in linked[name])) or {1.0})
            between = [(low + high) / 2 for low, high in zip(points, points[1:], strict=False)]
            made[name] = sorted({points[0] - 1.0, *points, *between, points[-1] + 1.0})
    return made


def _mark(check: Check, marks: dict[str, set[float]], linked: dict[str, set[str]], texts: dict[str, list[Any]]) -> None:
    name = check.fact.name
    limits = check.limit if isinstance(check.limit, tuple) else (check.limit,)
    for limit in limits:
        fact = limit.fact if isinstance(limit, Difference) else limit
        if isinstance(fact, Fact):
            linked[name].add(fact.name)
            linked[fact.name].add(name)
            if isinstance(limit, Difference):
                marks[name].update({100.0, 100.0 + limit.plus})
        elif isinstance(limit, bool):
            continue
        elif isinstance(limit, float):
            centre = check.centre if isinstance(check.centre, float) else 40.0
            marks[name].update({centre - limit, centre + limit} if check.test == "within" else {limit})
        else:
            texts[name].append(limit)
    if isinstance(check.centre, Fact):
        linked[name].add(check.centre.name)
        linked[check.centre.name].add(name)
        marks[check.centre.name].add(40.0)


def _ordered(test: str, value: float, limit: float) -> int:
    holds = {
        "at_least": value >= limit,
        "at_most": value <= limit,
        "more_than": value > limit,
        "less_than": value < limit,
    }
    return TRUE if holds[test] else FALSE


def _passes(check: Check, case: dict[Slot, Any], member: int) -> int:
    def known(fact: Fact) -> Any:
        return case.get((fact.name, 0 if fact.group == "batch" else member))

    value = known(check.fact)
    limit = check.limit
    if isinstance(limit, Fact):
        limit = known(limit)
    elif isinstance(limit, Difference):
        of = known(limit.fact)
        limit = None if of is None else of + limit.plus
    centre = known(check.centre) if isinstance(check.centre, Fact) else check.centre
    if value is None or limit is None or (check.test == "within" and centre is None):
        return UNKNOWN
    if check.test == "within":
        return TRUE if abs(value - centre) <= limit + 1e-9 else FALSE
    if check.test == "mentions":
        return TRUE if any(says(word, phrase) for word in value for phrase in limit) else FALSE
    if check.test == "one_of":
        return TRUE if value in limit else FALSE
    if check.test == "is":
        return TRUE if value == limit else FALSE
    return _ordered(check.test, value, limit)
