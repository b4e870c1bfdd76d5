"""The facts that a verdict used, in short, as JSON and as words."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator
from typing import Any

import numpy as np

from plugins.label_age.facts.ages import in_words
from plugins.label_age.facts.catalogue import BY_NAME, Fact
from plugins.label_age.facts.lines import span_of
from plugins.label_age.facts.logic import FALSE, TRUE, UNKNOWN
from plugins.label_age.facts.tables import Table
from plugins.label_age.rules.conditions import Both, Check, Difference, Either, OtherRule, Quantified, Same, checks_of
from plugins.label_age.rules.demands import Demand
from plugins.label_age.rules.evaluate import Judge
from plugins.label_age.rules.texts import coded
from plugins.label_age.rules.versions import Rule
from plugins.label_age.telling.sentences import STRENGTHS, amount

MOST_UNKNOWN = 10
STATED_DAYS = BY_NAME["stated_age_days"]


class Summaries:
    """What each batch's facts come to, worked out once per fact for all batches."""

    def __init__(self, judge: Judge) -> None:
        self.judge = judge
        self._values: dict[str, list[Any]] = {}
        self._json: dict[str, list[str]] = {}
        self._facts: dict[tuple[int, Any, bool], list[Fact]] = {}
        self._columns: dict[int, tuple[list[list[str]], dict[str, int]]] = {}  # by the id of facts as ``one`` gives
        self._taken: dict[tuple[str, int], str] = {}
        self._lists: dict[tuple[Fact, ...], tuple[Fact, ...]] = {}
        self._texts: dict[tuple[int, int], str] = {}
        self._details: dict[tuple[int, int], str] = {}
        self._said: dict[tuple[str, int], str] = {}

    def facts_of(self, rule: Rule, day: Any, decisive: bool = False) -> list[Fact]:
        """Every fact that the rule speaks of, through the rules it refers to, each once.

        ``decisive`` leaves out those that only stand among alternatives.
        """
        key = (id(rule), day, decisive)
        if key not in self._facts:
            self._facts[key] = list(dict.fromkeys(self._walk(rule, day, decisive)))
        return self._facts[key]

    def _walk(self, rule: Rule, day: Any, decisive: bool) -> list[Fact]:
        found: list[Fact] = []
        applies = [] if rule.applies is None or decisive else [rule.applies]
        for condition in [*applies, *(need.condition for need in rule.needs)]:
            for node in _demanded(condition) if decisive else checks_of(condition):
                if isinstance(node, OtherRule):
                    version = self.judge.version(node.rule, day)
                    found.extend(self._walk(version, day, decisive) if version else [])
                elif isinstance(node, Same):
                    found.append(node.fact)
                else:
                    found.extend(facts_of_check(node))
        return found

    def value(self, fact: Fact, batch: int) -> Any:
        """A number, text, true or false; {from, to} or a list where components differ; unknown ones named."""
        if fact.name not in self._values:
            self._values[fact.name] = summarise(fact, self.judge.facts.tables[fact.group])
        return self._values[fact.name][batch]

    def _encoded(self, fact: Fact) -> list[str]:
        """For each batch ``"name": value`` as JSON."""
        if fact.name not in self._json:
            self.value(fact, 0)
            known: dict[Any, str] = {}
            made = []
            for value in self._values[fact.name]:
                simple = isinstance(value, (str, float, bool, type(None)))
                key = (type(value), value) if simple else None
                text = known.get(key) if simple else None
                if text is None:
                    text = f"{json.dumps(fact.name)}: {json.dumps(value, ensure_ascii=False)}"
                    if simple:
                        known[key] = text
                made.append(text)
            self._json[fact.name] = made
        return self._json[fact.name]

    def one(self, facts: list[Fact]) -> tuple[Fact, ...]:
        """The facts each once, in order; equal lists are one object."""
        made = tuple(dict.fromkeys(facts))
        return self._lists.setdefault(made, made)

    def used(
        self, facts: tuple[Fact, ...], batch: int, assumed: dict[str, Check | Same], given: tuple[Demand, ...] = ()
    ) -> str:
        """JSON object of the facts as text: what is taken as given says ``assumed``, beside what is known.

        ``facts`` as ``one`` gives them: rules of several markets that use the same facts share the text. Demands
        ``given`` stand after the facts.
        """
        if assumed or given:
            text = self._used(facts, batch, assumed)
            more = ", ".join(f'{json.dumps(demand.key)}: "assumed"' for demand in given)
            return f"{text[:-1]}{', ' if len(text) > 2 and more else ''}{more}}}"
        key = (id(facts), batch)
        if key not in self._texts:
            self._texts[key] = self._used(facts, batch, assumed)
        return self._texts[key]

    def _used(self, facts: tuple[Fact, ...], batch: int, assumed: dict[str, Check | Same]) -> str:
        if id(facts) not in self._columns:
            columns = [self._encoded(fact) for fact in facts]
            self._columns[id(facts)] = columns, {fact.name: place for place, fact in enumerate(facts)}
        columns, places = self._columns[id(facts)]
        parts = [column[batch] for column in columns]
        for name, check in assumed.items():
            if name in places:
                parts[places[name]] = self._assumed(parts[places[name]], facts[places[name]], batch, check)
        if STATED_DAYS.name in places and self.value(STATED_DAYS, batch) == 0:
            aside = {places.get(name) for name in (STATED_DAYS.name, "age_days")}
            parts = [part for place, part in enumerate(parts) if place not in aside]
        return "{" + ", ".join(parts) + "}"

    def _assumed(self, encoded: str, fact: Fact, batch: int, check: Check | Same) -> str:
        """A fact as JSON with what is assumed of it; ``encoded`` is what is known."""
        key = (encoded, id(check))
        if key not in self._taken:
            known: Any = self.value(fact, batch)
            said: Any = "assumed" if known in (None, "not known") else {"known": known, "otherwise": "assumed"}
            said = {"known": known, "assumed": check.given} if check.given else said
            self._taken[key] = f"{json.dumps(fact.name)}: {json.dumps(said, ensure_ascii=False)}"
        return self._taken[key]

    def found(self, facts: tuple[Fact, ...], batch: int) -> str:
        """``details`` as one text, worked out once for facts as ``one`` gives them."""
        key = (id(facts), batch)
        if key not in self._details:
            self._details[key] = "; ".join(self.details(list(facts), batch))
        return self._details[key]

    def details(self, facts: list[Fact], batch: int) -> list[str]:
        """What a met claim rests on, in words: the youngest component, the strengths, ranges, places, season."""
        said = []
        if any(fact.kind == "age" and fact.group == "spirit" for fact in facts):
            facts = [BY_NAME["age"], *facts]
        for fact in facts:
            key = (fact.name, batch)
            if key not in self._said:
                self._said[key] = self._detail(fact, batch)
            said.append(self._said[key])
        return [part for part in dict.fromkeys(said) if part]

    def _detail(self, fact: Fact, batch: int) -> str:
        if fact.name == "age":
            return self._youngest(batch)
        if fact.name in STRENGTHS:
            return self._strength(fact, batch)
        if fact.kind in ("number", "age") and fact.name not in ("age_days", "stated_age_days", "abv_uncertainty"):
            return self._range(fact, batch)
        if fact.name in ("distillery", "season", "state", "country"):
            value = self.value(fact, batch)
            return f"{fact.words} {value}" if isinstance(value, str) and value != "not known" else ""
        return ""

    def stated(self, batch: int) -> str:
        """``the label says 5 years; the youngest, cask C-1, is 5 years and 7 days old``; empty where none is stated."""
        age = self.judge.facts.tables["batch"].number("stated_age")[0][batch]
        row = self._youngest_row(batch) if age > 0 else None  # an age in days alone has no key
        if row is None:
            return ""
        table = self.judge.facts.tables["spirit"]
        held = in_words(table.number("age")[0][row])
        return f"the label says {in_words(age)}; the youngest, {table.names[row]}, is {held} old"

    def _youngest_row(self, batch: int) -> int | None:
        table = self.judge.facts.tables["spirit"]
        rows = table.span(batch)
        ages = table.number("age")[0][rows.start : rows.stop]
        return None if not len(ages) or np.isnan(ages).all() else rows.start + int(np.nanargmin(ages))

    def _youngest(self, batch: int) -> str:
        table, row = self.judge.facts.tables["spirit"], self._youngest_row(batch)
        if row is None:
            return ""
        return f"youngest is {table.names[row]}, {in_words(table.number('age')[0][row])} ({span_of(table, row)})"

    def _strength(self, fact: Fact, batch: int) -> str:
        table = self.judge.facts.tables["batch"]
        value = table.number(fact.name)[0][batch]
        if np.isnan(value):
            return ""
        room = 2 * table.number("abv_uncertainty")[0][batch] * (2 if fact.name == "proof" else 1)
        pm = "" if np.isnan(room) else f" ± {amount(BY_NAME['abv_uncertainty'], round(float(room), 2)).split(' ')[0]}"
        shown = amount(fact, round(float(value), 2))
        return f"{table.text('strength_of')[batch]}: {shown.replace(' ', pm + ' ', 1)}"

    def _range(self, fact: Fact, batch: int) -> str:
        value = self.value(fact, batch)
        if isinstance(value, dict) and "from" in value:
            if isinstance(value["from"], str):
                return f"{fact.words} {value['from']} to {value['to']}"
            low, high = round(value["from"], 2), round(value["to"], 2)
            return f"{fact.words} {low:g} to {amount(fact, high)}"
        if fact.kind == "age" and isinstance(value, str) and value != "not known":
            return f"{fact.words} {value}"
        return f"{fact.words} {amount(fact, round(value, 2))}" if isinstance(value, float) else ""


def _demanded(node: Any) -> Iterator[Check | Same | OtherRule]:
    """The checks of a condition that no alternative can stand in for, and those of one fact in several ways."""
    if isinstance(node, Both):
        for part in node.parts:
            yield from _demanded(part)
    elif isinstance(node, Quantified):
        yield from _demanded(node.part)
    elif isinstance(node, Either):
        parts = list(checks_of(node))
        if len({part.fact for part in parts if isinstance(part, (Check, Same))}) == 1:
            yield from parts
    elif isinstance(node, (Check, Same, OtherRule)):
        yield node


def facts_of_check(check: Check) -> list[Fact]:
    limit = check.limit.fact if isinstance(check.limit, Difference) else check.limit
    return [fact for fact in (check.fact, limit, check.centre, check.uncertainty) if isinstance(fact, Fact)]


def summarise(fact: Fact, table: Table) -> list[Any]:
    """One summary for each batch; a batch whose rows all say the same is settled without looking at its rows."""
    starts = table.starts
    count = len(starts) - 1
    made: list[Any] = [None] * count
    filled = np.flatnonzero(starts[1:] > starts[:-1])
    if not len(filled):
        return made
    at = starts[:-1][filled]
    if fact.kind in ("number", "age"):
        low, high = table.number(fact.name)
        least, most = np.fmin.reduceat(low, at), np.fmax.reduceat(high, at)
        blank = np.add.reduceat(np.isnan(low).astype(np.int64), at)
        shown: Callable[[float], Any] = in_words if fact.kind == "age" else _rounded
        for batch, low_, high_, gaps in zip(
            filled.tolist(), least.tolist(), most.tolist(), blank.tolist(), strict=True
        ):
            value = (
                None if low_ != low_ else shown(low_) if low_ == high_ else {"from": shown(low_), "to": shown(high_)}
            )
            made[batch] = value if not gaps else _with_unknown(value, _blank(table, batch, np.isnan(low)))
        return made
    if fact.kind == "flag":
        truth = table.flag(fact.name)
        least, most = np.minimum.reduceat(truth, at), np.maximum.reduceat(truth, at)
        sole = {(TRUE, TRUE): True, (FALSE, FALSE): False}
        for batch, low_, high_ in zip(filled.tolist(), least.tolist(), most.tolist(), strict=True):
            span = slice(starts[batch], starts[batch + 1])
            key = (low_, high_)
            made[batch] = sole[key] if key in sole else _flags(truth[span], table.names[span])
        return made
    texts = table.text(fact.name)
    code, known = coded(texts)
    least, most = np.minimum.reduceat(code, at), np.maximum.reduceat(code, at)
    for batch, low_, high_ in zip(filled.tolist(), least.tolist(), most.tolist(), strict=True):
        span = slice(starts[batch], starts[batch + 1])
        alike = low_ == high_ and low_ >= 0 and isinstance(known[low_], str)
        made[batch] = known[low_] if alike else _texts(texts[span], table.names[span])
    return made


def _blank(table: Table, batch: int, blank: np.ndarray) -> list[str]:
    span = slice(table.starts[batch], table.starts[batch + 1])
    return _named(table.names[span][blank[span]])


def _named(names: np.ndarray) -> list[str]:
    """Each name once, in order of the names."""
    return sorted({str(name) for name in names})


def _with_unknown(value: Any, unknown: list[str]) -> Any:
    if not unknown:
        return value
    if value is None:
        return "not known"
    return {"known": value, "not known of": unknown[:MOST_UNKNOWN]}


def _rounded(value: float) -> float:
    return round(value, 6)


def _flags(truth: np.ndarray, names: np.ndarray) -> Any:
    unknown = _named(names[truth == UNKNOWN])
    said = [value for value, wanted in ((True, TRUE), (False, FALSE)) if (truth == wanted).any()]
    if not said:
        return _with_unknown(None, unknown)
    return _with_unknown(said[0] if len(said) == 1 else said, unknown)


def _texts(texts: np.ndarray, names: np.ndarray) -> Any:
    unknown = _named(names[np.array([text is None for text in texts], dtype=bool)])
    flat = {t for text in texts if text is not None for t in (text if isinstance(text, tuple) else (text,))}
    said = sorted(str(text) for text in flat)
    if not said:
        return _with_unknown(None, unknown) if unknown else None
    return _with_unknown(said[0] if len(said) == 1 else said, unknown)


def origins_of(facts: Iterable[Fact]) -> frozenset[str]:
    """Which sheets' rows a verdict on these facts rests on."""
    found = {"brief"}
    for fact in facts:
        known = BY_NAME[fact.name]
        if known.group in ("spirit", "component"):
            found.add("components")
        elif known.group == "run":
            found.add("bottlings")
        elif known.group in ("bottle", "lot"):
            found |= {"fill", "bottlings"}
        elif known.name in (*STRENGTHS, "reduction_to_come", "drawn_proof", "abv_uncertainty"):
            found |= {"gauge", "bottlings"}
    return frozenset(found)
