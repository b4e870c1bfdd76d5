"""The facts that a verdict used, in short, as JSON and as words."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import numpy as np

from plugins.label_age.ages import in_words
from plugins.label_age.catalogue import BY_NAME, Fact
from plugins.label_age.conditions import Both, Check, Either, OtherRule, Quantified, Same, checks_of
from plugins.label_age.evaluate import Judge
from plugins.label_age.logic import FALSE, TRUE, UNKNOWN
from plugins.label_age.rules import Rule
from plugins.label_age.sentences import STRENGTHS, amount
from plugins.label_age.tables import Table

MOST_UNKNOWN = 10


class Summaries:
    """What each batch's facts come to, worked out once per fact."""

    def __init__(self, judge: Judge) -> None:
        self.judge = judge
        self._values: dict[str, list[Any]] = {}
        self._facts: dict[tuple[int, Any, bool], list[Fact]] = {}

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
                    found.extend(_facts_of_check(node))
        return found

    def value(self, fact: Fact, batch: int) -> Any:
        """A number, text, true or false; {from, to} or a list where components differ; unknown ones named."""
        if fact.name not in self._values:
            self._values[fact.name] = _summarise(fact, self.judge.facts.tables[fact.group])
        return self._values[fact.name][batch]

    def used(self, facts: list[Fact], batch: int, assumed: dict[str, Check | Same]) -> dict[str, Any]:
        """JSON object of the facts: what is taken as given says ``assumed``, beside what is known."""
        values = {fact.name: self.value(fact, batch) for fact in facts}
        if values.get("stated_age_days") == 0:
            values.pop("stated_age_days"), values.pop("age_days", None)
        for name, check in assumed.items():
            known = values.get(name)
            if check.given:
                values[name] = {"known": known, "assumed": check.given}
            else:
                values[name] = "assumed" if known in (None, "not known") else {"known": known, "otherwise": "assumed"}
        return values

    def details(self, facts: list[Fact], batch: int) -> list[str]:
        """What a met claim rests on, in words: the youngest component, the strengths, ranges, places, season."""
        said: list[str] = []
        for fact in facts:
            if fact.name == "age":
                said.append(self._youngest(batch))
            elif fact.name in STRENGTHS:
                said.append(self._strength(fact, batch))
            elif fact.kind in ("number", "age") and fact.name not in ("age_days", "stated_age_days"):
                said.append(self._range(fact, batch))
            elif fact.name in ("distillery", "season", "state", "country"):
                value = self.value(fact, batch)
                said.append(f"{fact.words} {value}" if isinstance(value, str) and value != "not known" else "")
        return [part for part in dict.fromkeys(said) if part]

    def _youngest(self, batch: int) -> str:
        table = self.judge.facts.tables["spirit"]
        rows = table.span(batch)
        ages = table.number("age")[0][rows.start : rows.stop]
        if not len(ages) or np.isnan(ages).all():
            return ""
        row = rows.start + int(np.nanargmin(ages))
        return f"youngest is {table.names[row]}, {in_words(ages[row - rows.start])} ({table.text('span')[row]})"

    def _strength(self, fact: Fact, batch: int) -> str:
        table = self.judge.facts.tables["batch"]
        value = table.number(fact.name)[0][batch]
        return "" if np.isnan(value) else f"{table.text('strength_of')[batch]}: {amount(fact, round(float(value), 2))}"

    def _range(self, fact: Fact, batch: int) -> str:
        value = self.value(fact, batch)
        if isinstance(value, dict) and "from" in value:
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


def _facts_of_check(check: Check) -> list[Fact]:
    return [fact for fact in (check.fact, check.limit, check.centre) if isinstance(fact, Fact)]


def _summarise(fact: Fact, table: Table) -> list[Any]:
    """One summary for each batch."""
    spans = list(zip(table.starts[:-1], table.starts[1:], strict=True))
    if fact.kind in ("number", "age"):
        low, high = table.number(fact.name)
        shown = in_words if fact.kind == "age" else _rounded
        return [_numbers(low[a:b], high[a:b], table.names[a:b], shown) for a, b in spans]
    if fact.kind == "flag":
        truth = table.flag(fact.name)
        return [_flags(truth[a:b], table.names[a:b]) for a, b in spans]
    texts = table.text(fact.name)
    return [_texts(texts[a:b], table.names[a:b]) for a, b in spans]


def _with_unknown(value: Any, unknown: list[str]) -> Any:
    if not unknown:
        return value
    if value is None:
        return "not known"
    return {"known": value, "not known of": unknown[:MOST_UNKNOWN]}


def _rounded(value: float) -> float:
    return round(value, 6)


def _numbers(low: np.ndarray, high: np.ndarray, names: np.ndarray, shown: Callable[[float], Any]) -> Any:
    blank = np.isnan(low)
    unknown = [str(name) for name in names[blank]] if blank.any() else []
    if blank.all():
        return _with_unknown(None, unknown) if len(names) else None
    least, most = shown(float(np.nanmin(low))), shown(float(np.nanmax(high)))
    return _with_unknown(least if least == most else {"from": least, "to": most}, unknown)


def _flags(truth: np.ndarray, names: np.ndarray) -> Any:
    unknown = [str(name) for name in names[truth == UNKNOWN]]
    said = [value for value, wanted in ((True, TRUE), (False, FALSE)) if (truth == wanted).any()]
    if not said:
        return _with_unknown(None, unknown) if len(names) else None
    return _with_unknown(said[0] if len(said) == 1 else said, unknown)


def _texts(texts: np.ndarray, names: np.ndarray) -> Any:
    unknown = [str(name) for name, text in zip(names, texts, strict=True) if text is None]
    flat = {t for text in texts if text is not None for t in (text if isinstance(text, tuple) else (text,))}
    said = sorted(str(text) for text in flat)
    if not said:
        return _with_unknown(None, unknown) if unknown else None
    return _with_unknown(said[0] if len(said) == 1 else said, unknown)


def origins_of(facts: list[Fact]) -> set[str]:
    """Which sheets' rows a verdict on these facts rests on."""
    found = {"brief"}
    for fact in facts:
        known = BY_NAME[fact.name]
        if known.group in ("spirit", "component"):
            found.add("components")
        elif known.group == "run":
            found.add("bottlings")
        elif known.name in (*STRENGTHS, "reduction_to_come"):
            found |= {"gauge", "bottlings"}
    return found
