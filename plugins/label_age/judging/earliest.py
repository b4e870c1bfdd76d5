"""From which day on a claim would be met, were its spirit left in its last cask until then."""

from __future__ import annotations

from typing import Any

import numpy as np

from plugins.label_age.facts.ages import anniversary
from plugins.label_age.facts.catalogue import Fact
from plugins.label_age.facts.logic import TRUE
from plugins.label_age.rules.conditions import Both, Check, Difference, Either, OtherRule, Quantified
from plugins.label_age.rules.evaluate import Judge
from plugins.label_age.rules.versions import Rule

ALWAYS = np.iinfo(np.int64).min // 4
NEVER = np.iinfo(np.int64).max // 4
"""Days since 1970 that stand for a condition that holds already, and for one that no time in wood will mend."""


class Calendar:
    """Earliest days of conditions, each worked out once."""

    def __init__(self, judge: Judge) -> None:
        self.judge = judge
        self._done: dict[tuple[int, str], np.ndarray] = {}

    def rule(self, rule: Rule) -> np.ndarray:
        """For each batch (of a rule of spirits: for each spirit) the first day, ALWAYS or NEVER: int64."""
        if rule.untested:
            return np.full(len(self.judge.rule(rule)), NEVER)
        return np.maximum.reduce([self.day(need.condition, rule.of) for need in rule.needs])

    def day(self, node: Any, group: str) -> np.ndarray:
        key = (id(node), group)
        if key not in self._done:
            self._done[key] = self._worked_out(node, group)
        return self._done[key]

    def _worked_out(self, node: Any, group: str) -> np.ndarray:
        if isinstance(node, Both):
            return np.maximum.reduce([self.day(part, group) for part in node.parts])
        if isinstance(node, Either):
            return np.minimum.reduce([self.day(part, group) for part in node.parts])
        if isinstance(node, Quantified):
            return self._gathered(node)
        if isinstance(node, OtherRule):
            return self._referred(node, group)
        if isinstance(node, Check) and node.test == "at_least" and node.fact.group == "spirit" and group == "spirit":
            if node.fact.kind == "age" or node.fact.name == "age_days":
                return self._of_age(node)
        return np.where(self.judge.truth(node, group) == TRUE, ALWAYS, NEVER)

    def _gathered(self, node: Quantified) -> np.ndarray:
        table = self.judge.facts.tables[node.group]
        made = np.full(len(table.starts) - 1, NEVER)
        filled = table.starts[1:] > table.starts[:-1]
        if filled.any():
            gather = np.maximum if node.word == "every" else np.minimum
            made[filled] = gather.reduceat(self.day(node.part, node.group), table.starts[:-1][filled])
        return made

    def _referred(self, node: OtherRule, group: str) -> np.ndarray:
        judge = self.judge
        chosen = judge.chosen(node.rule)
        if node.of == "spirit":
            chosen = chosen[judge.facts.tables["spirit"].owner]
        made = np.full(len(chosen), NEVER)
        for number, version in enumerate(judge.book.versions(node.rule)):
            here = chosen == number
            if here.any():
                made[here] = self.rule(version)[here]
        return made

    def _of_age(self, check: Check) -> np.ndarray:
        table = self.judge.facts.tables["spirit"]
        limit = self._limit(check)
        holds = self.judge.truth(check, "spirit") == TRUE
        total = table.number("age_days")[0]
        counts = self._still_counts(check.fact)
        known = np.isfinite(total) & np.isfinite(limit) & counts & ~np.isnat(table.until) & ~np.isnat(table.since)
        made = np.where(holds, ALWAYS, NEVER)
        if known.any():
            made[known] = self._reached(check.fact, known, limit[known])
        # what holds on the day judged held from that day at the latest
        return np.where(holds & known, np.minimum(made, table.until.astype("int64")), made)

    def _reached(self, fact: Fact, rows: np.ndarray, limit: np.ndarray) -> np.ndarray:
        table = self.judge.facts.tables["spirit"]
        since, until = table.since[rows], table.until[rows]
        total = table.number("age_days")[0][rows].astype("int64")
        if fact.name == "age_days":
            return (until + (np.ceil(limit).astype("int64") - total)).astype("int64")
        back = anniversary(until - total, limit)
        forward = until + ((anniversary(since, limit) - since).astype("int64") - total)
        return np.maximum(back, forward).astype("int64")

    def _limit(self, check: Check) -> np.ndarray:
        limit = check.limit
        if isinstance(limit, (Fact, Difference)):
            fact, plus = (limit.fact, limit.plus) if isinstance(limit, Difference) else (limit, 0.0)
            table = self.judge.facts.tables[fact.group]
            owner = self.judge.facts.tables["spirit"].owner
            return table.number(fact.name)[0][owner] + plus if fact.group == "batch" else table.number(fact.name)[0]
        return np.full(len(self.judge.facts.tables["spirit"]), float(limit))

    def _still_counts(self, fact: Fact) -> np.ndarray:
        """Spirits all of whose time counts: more of it would too."""
        table = self.judge.facts.tables["spirit"]
        if fact.name in ("age", "age_days"):
            return np.full(len(table), True)
        with np.errstate(invalid="ignore"):
            return np.equal(table.number(fact.name)[0], table.number("age")[0])
