"""The grounds of verdicts as rows: what is missing, each demand with the cell that decided it, the law as read."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain
from typing import Any

import numpy as np

from plugins.label_age.facts.catalogue import Fact
from plugins.label_age.facts.logic import TRUE, WORDS
from plugins.label_age.judging.judge import Court
from plugins.label_age.judging.verdict import Cited, Verdict
from plugins.label_age.rules.conditions import Check, OtherRule, Same, checks_of
from plugins.label_age.rules.versions import Need, Rule
from plugins.label_age.telling.missing import missing_of
from plugins.label_age.telling.plainly import assumed_by
from plugins.label_age.telling.summary import facts_of_check

Row = dict[str, Any]


def grounds(court: Court) -> Iterator[dict[str, Any]]:
    """Rows of GROUNDS: of every verdict that a rule came to what it rests on, in the order in which it is read."""
    for verdict, cited, batch in court.grounded():
        key = {"batch": verdict.batch, "market": verdict.market, "claim": verdict.claim}
        parts = (_missing(court, verdict, batch), _demands(court, verdict, cited, batch), _beside(cited),
                 _figures(court, verdict, cited, batch), _read(cited))  # fmt: skip
        for step, row in enumerate(chain.from_iterable(parts), start=1):
            yield {"facts": verdict.facts, **key, "step": step, **row}


def _missing(court: Court, verdict: Verdict, batch: int) -> Iterator[Row]:
    """Each fact that would decide what is not known, with its column; the one that costs the most casks first."""
    for one in missing_of(court.judge, verdict.asks, batch):
        lacking = len(one.names) if one.fact.group in ("spirit", "component") else None
        yield {"part": "missing", "says": one.words, "looked_at": one.where, "lacking": lacking}


def _demands(court: Court, verdict: Verdict, cited: Cited, batch: int) -> Iterator[Row]:
    """The demands of the rule in our words, each with what decided it; those of another rule stand under the demand
    that it be met."""
    if verdict.rule is None:
        yield {"part": "demand", "says": "which rule applies hangs on what is not known", "holds": verdict.word,
               "section": cited.section, "found": verdict.told.text or None}  # fmt: skip
        return
    seen = set[int]()
    for need, part, under, other in _needs(court, verdict.rule, batch):
        if id(need.condition) in seen:
            continue
        seen.add(id(need.condition))
        truth = int(court.judge.truth(need.condition)[batch])
        row: Row = {"part": "demand", "says": need.plain, "section": need.section or part.section,
                    "holds": WORDS[truth], "under": under or None}  # fmt: skip
        if not other:
            subject, facts, found = _decided(court, need, batch, truth)
            row |= {"subject": subject or None, "found": found or None,
                    "looked_at": looked_at(_facts(need.condition)) or None}  # fmt: skip
            row |= {"facts": facts} if facts else {}
        yield row


def _beside(cited: Cited) -> Iterator[Row]:
    """Demands that no sheet tells of: those taken as given, and those that nothing tests."""
    for part, demands in (("given", cited.given), ("not tested", cited.untested)):
        for demand in demands:
            yield {"part": part, "says": demand.says}


def _figures(court: Court, verdict: Verdict, cited: Cited, batch: int) -> Iterator[Row]:
    """Of a claim that is met the figures that it rests on; of any what is assumed where no sheet says otherwise."""
    for said in court.summaries.details(list(cited.shown), batch) if verdict.truth == TRUE else ():
        yield {"part": "figure", "says": said}
    for said in dict.fromkeys(map(assumed_by, cited.taken(batch, False)[0].values())):
        yield {"part": "assumed", "says": said}


def _read(cited: Cited) -> Iterator[Row]:
    """Which texts of the law were read and when, what is in doubt of that, and who of the house confirmed it."""
    for text in cited.law:
        yield {"part": "law", "says": text.text, "section": text.sections, "read_on": text.on}
    for doubt in cited.doubts:
        yield {"part": "unverified", "says": doubt}
    for one in cited.confirmed:
        yield {"part": "confirmed", "says": f"by {one.by}, who read {one.read}", "read_on": one.on}


def _needs(court: Court, rule: Rule, batch: int, under: str = "") -> Iterator[tuple[Need, Rule, str, bool]]:
    """The demands of a rule, under which demand of another they stand, and whether it is that another rule be met."""
    for need in rule.needs:
        node = need.condition
        version = court.judge.version(node.rule, court.facts.days[batch]) if isinstance(node, OtherRule) else None
        yield need, rule, under, version is not None
        if version is not None:
            yield from _needs(court, version, batch, need.plain)


def _decided(court: Court, need: Need, batch: int, truth: int) -> tuple[str, tuple[int, ...], str]:
    """Whom a demand concerns, the ids of the row where that stands, and what decided it, a line each."""
    if truth != TRUE:
        told = court.told(need.condition, batch)
        facts = tuple(sorted(told.facts)) if set(told.facts) <= set(court.facts.rests_on(batch, ALL)) else ()
        return told.subject, facts, "\n".join(told.parts) or told.text
    facts_asked = _facts(need.condition)
    details = court.summaries.details(facts_asked, batch)
    subject, ids = "", tuple[int, ...]()
    for fact in facts_asked[:1]:
        table = court.facts.tables[fact.group]
        rows = table.span(batch)
        if len(rows):
            row = _nearest(court, fact, rows)
            subject, ids = str(table.names[row]), tuple(sorted(table.cell(fact.name, row)))
    return subject, ids if set(ids) <= set(court.facts.rests_on(batch, ALL)) else (), "\n".join(details)


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
