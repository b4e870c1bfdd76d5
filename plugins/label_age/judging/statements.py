"""What the label may or must state, in the words of the rules."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import numpy as np

from plugins.label_age.facts.ages import in_words
from plugins.label_age.facts.catalogue import BY_NAME
from plugins.label_age.facts.logic import FALSE, TRUE, WORDS
from plugins.label_age.judging.judge import Court
from plugins.label_age.judging.verdict import markets_of
from plugins.label_age.rules.versions import Rule
from plugins.label_age.telling.sentences import amount, number


def statements(court: Court) -> Iterator[dict[str, Any]]:
    """Rows of STATEMENTS: the rules for the label sheet that apply, or of which it cannot be told."""
    for batch, name in enumerate(court.facts.batches):
        day = court.facts.days[batch]
        for written in markets_of(court.facts.tables["batch"].text("market")[batch]):
            market = court.book.market(written)
            for rule in court.law(market, day) if market else ():
                if rule.judged != "for the label sheet" or court.holds(rule, batch) == FALSE:
                    continue
                truth = court.holds(rule, batch)
                yield {
                    "batch": name, "market": market, "statement": rule.claim, "applies": WORDS[truth],
                    "says": filled_in(court, rule, batch) if truth == TRUE else rule.says,
                    "reason": rule.plain if truth == TRUE else court.why_not(rule, batch, truth).opening,
                    "rule": rule.section, "unverified": court.unverified(rule, day), "rule_id": rule.id,
                    "facts": court.facts.rests_on(batch, frozenset({"brief", "components", "gauge", "bottlings"})),
                }  # fmt: skip


def filled_in(court: Court, rule: Rule, batch: int) -> str:
    """The rule's words with facts and shares in place of their names."""
    shares = dict(rule.values)

    def value(found: re.Match[str]) -> str:
        if found[1] in shares:
            low, high = (float(bound[batch]) for bound in court.judge.share(shares[found[1]]))
            if np.isnan(low):
                return "___"
            return (
                number(round(low, 1))
                if abs(high - low) < 0.05
                else f"{number(round(low, 1))} to {number(round(high, 1))}"
            )
        return _fact(court, found[1], batch)

    return re.sub(r"{([^}]*)}", value, rule.says)


def _fact(court: Court, name: str, batch: int) -> str:
    """A fact of the batch in words; an age is that of the youngest, in whole years and months."""
    fact = BY_NAME[name]
    table = court.facts.tables[fact.group]
    rows = table.span(batch)
    if fact.kind == "age":
        keys = table.number(name)[0][rows.start : rows.stop]
        return "___" if not len(keys) or np.isnan(keys).any() else in_words(float(np.floor(keys.min() + 1e-9)))
    value = court.summaries.value(fact, batch)
    if value is None or value == "not known" or isinstance(value, dict) and "known" in value:
        return "___"
    if isinstance(value, list):
        return ", ".join(str(part) for part in value)
    return amount(fact, value).split(" ")[0] if isinstance(value, float) else str(value)
