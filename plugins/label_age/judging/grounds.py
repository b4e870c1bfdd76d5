"""From claim to section to cask to cell: each demand of a judged claim, what decided it, and where that stands."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from plugins.label_age.facts.catalogue import Fact
from plugins.label_age.facts.logic import TRUE, WORDS
from plugins.label_age.judging.judge import Court
from plugins.label_age.rules.conditions import Check, OtherRule, Same, checks_of
from plugins.label_age.rules.versions import Need, Rule
from plugins.label_age.telling.summary import facts_of_check


def grounds(court: Court) -> Iterator[dict[str, Any]]:
    """Rows of GROUNDS: of claims that a brief makes every demand, of what is always judged those that do not hold."""
    for verdict, rules, batch in court.grounded():
        rule = rules[0]
        claimed = rule.judged == "when claimed"
        step, seen = 0, set[int]()
        for need, part in _needs(court, rule, batch):
            truth = int(court.judge.truth(need.condition)[batch])
            if (not claimed and truth == TRUE) or id(need.condition) in seen:
                continue
            seen.add(id(need.condition))
            step += 1
            text, subject, facts, found = _decided(court, need, batch, truth)
            asked = _facts(need.condition)
            yield {
                "batch": verdict.batch, "market": verdict.market, "claim": verdict.claim, "step": step,
                "section": need.section or part.section, "demand": need.plain, "holds": WORDS[truth],
                "subject": subject or None, "found": text or found or None,
                "looked_at": looked_at(asked) or None, "facts": facts or verdict.facts,
            }  # fmt: skip


def _needs(court: Court, rule: Rule, batch: int) -> Iterator[tuple[Need, Rule]]:
    """The demands of a rule, those of the rules that it rests on in their place."""
    for need in rule.needs:
        node = need.condition
        version = court.judge.version(node.rule, court.facts.days[batch]) if isinstance(node, OtherRule) else None
        if version is None:
            yield need, rule
        else:
            yield from _needs(court, version, batch)


def _decided(court: Court, need: Need, batch: int, truth: int) -> tuple[str, str, tuple[int, ...], str]:
    """What decided a demand in words, whom it concerns, and the ids of the row where it stands."""
    if truth != TRUE:
        told = court.told(need.condition, batch)
        facts = tuple(sorted(told.facts)) if set(told.facts) <= set(court.facts.rests_on(batch, ALL)) else ()
        return told.text, told.subject, facts, ""
    facts_asked = _facts(need.condition)
    details = court.summaries.details(facts_asked, batch)
    subject, ids = "", tuple[int, ...]()
    for fact in facts_asked[:1]:
        table = court.facts.tables[fact.group]
        rows = table.span(batch)
        if len(rows):
            row = _nearest(court, fact, rows)
            subject, ids = str(table.names[row]), tuple(sorted(table.cell(fact.name, row)))
    return "", subject, ids if set(ids) <= set(court.facts.rests_on(batch, ALL)) else (), "; ".join(details)


ALL = frozenset({"brief", "components", "gauge", "bottlings", "fill"})


def _facts(condition: Any) -> list[Fact]:
    found: list[Fact] = []
    for node in checks_of(condition):
        if isinstance(node, Same):
            found.append(node.fact)
        elif isinstance(node, Check):
            found.extend(facts_of_check(node))
    return list(dict.fromkeys(found))


def looked_at(facts: list[Fact]) -> str:
    """The columns that bring the facts: ``casks: new_oak, charred``."""
    by_sheet: dict[str, list[str]] = {}
    for fact in facts:
        if fact.column and fact.column not in by_sheet.setdefault(fact.sheet, []):
            by_sheet[fact.sheet].append(fact.column)
    return "; ".join(f"{sheet}: {', '.join(columns)}" for sheet, columns in by_sheet.items() if columns)


def _nearest(court: Court, fact: Fact, rows: range) -> int:
    """The row that comes nearest to failing: the youngest, or the least of a number; else the first."""
    if fact.kind not in ("age", "number"):
        return rows.start
    values = court.facts.tables[fact.group].number(fact.name)[0][rows.start : rows.stop]
    return rows.start + (int(np.nanargmin(values)) if np.isfinite(values).any() else 0)
