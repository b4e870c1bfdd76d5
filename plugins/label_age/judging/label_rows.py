"""Verdicts as rows of the frame ``labels``, and what of them a person must look at."""

from __future__ import annotations

from typing import Any

import pandas as pd

from pipeline import Finding
from plugins.label_age.facts.contradictions import contradictions
from plugins.label_age.judging.judge import Court
from plugins.label_age.judging.verdict import Verdict
from plugins.label_age.rules.check import Doubtful, doubtful_rules
from plugins.label_age.rules.versions import BrokenFile, RuleBook
from plugins.label_age.telling.sentences import Told

MOST_ASKED = 3
"""So many missing facts a finding names; the label sheet lists all."""
SEVERITIES = {"met": "note", "not met": "stop", "cannot tell": "review"}


class Labels:
    """Verdicts of one court after another as columns of the frame ``labels``, with the findings that they are."""

    def __init__(self) -> None:
        self.columns: dict[str, list[Any]] = {}
        self.facts: list[tuple[int, ...]] = []
        self.findings: list[Finding] = []
        self.without_market: list[Finding] = []
        self._texts: dict[str, str] = {}

    def add(self, court: Court) -> None:
        """Take in all verdicts of a court; of several on one claim the last counts."""
        verdicts = list({(v.batch, v.market, v.claim): v for v in court.verdicts()}.values())
        for verdict in verdicts:  # what is said of many batches alike is held once
            verdict.rest = self._texts.setdefault(verdict.rest, verdict.rest)
            verdict.used = self._texts.setdefault(verdict.used, verdict.used)
        for name, values in label_columns(verdicts).items():
            self.columns.setdefault(name, []).extend(values)
        self.facts += [v.facts for v in verdicts]
        order = Order()
        self.findings += [_finding(v, order) for v in verdicts if v.word != "met" or v.near_limit]
        self.without_market += _without_market(court)


def label_columns(verdicts: list[Verdict]) -> dict[str, list[Any]]:
    """The columns of LABELS."""
    return {
        "batch": [v.batch for v in verdicts],
        "market": [v.market for v in verdicts],
        "claim": [v.claim for v in verdicts],
        "verdict": [v.word for v in verdicts],
        "reason": [v.reason for v in verdicts],
        "opening": [len(v.opening) for v in verdicts],
        "rule": [v.section or None for v in verdicts],
        "unverified": [v.unverified for v in verdicts],
        "rule_version": [v.version or None for v in verdicts],
        "facts_used": [v.used for v in verdicts],
        "rule_id": [v.rule_id or None for v in verdicts],
        "edition": [v.edition for v in verdicts],
        "met_from": [v.met_from for v in verdicts],
        "near_limit": [v.near_limit for v in verdicts],
    }


def of_house(book: RuleBook, casks: pd.DataFrame, stays: pd.DataFrame) -> list[Finding]:
    """Doubtful rules, and what the inventory says in two ways of casks that went into batches."""
    return [*map(_doubtful, doubtful_rules(book)), *contradictions(casks, stays)]


class Order:
    """The ids of a verdict with those of the cell that decided it first; equal asks are answered once."""

    def __init__(self) -> None:
        self._sets: dict[int, frozenset[int]] = {}
        self._kept: list[tuple[int, ...]] = []
        self._made: dict[tuple[int, tuple[int, ...]], tuple[int, ...]] = {}

    def holds(self, facts: tuple[int, ...], some: tuple[int, ...]) -> bool:
        if id(facts) not in self._sets:
            self._sets[id(facts)] = frozenset(facts)
            self._kept.append(facts)
        return self._sets[id(facts)].issuperset(some)

    def led_by(self, facts: tuple[int, ...], first: tuple[int, ...]) -> tuple[int, ...]:
        key = (id(facts), first)
        if key not in self._made:
            self._made[key] = first + tuple(fact for fact in facts if fact not in first) if first else facts
        return self._made[key]


def broken_file(fault: BrokenFile) -> Finding:
    if fault.of_confirmation:
        return Finding(
            code="label.confirmation-void",
            severity="review",
            message=f"The confirmation in {fault.place} does not count: {fault.message}.",
            subject=fault.name,
            observed=fault.message,
            expected="rule, edition, hash, by, on and read, as vatting rules shows the rule now",
            remedy="Read the law again and write the line anew, or take it out; until then the rule is unverified.",
        )
    return Finding(
        code="label.rule-file-broken",
        severity="stop",
        message=f"The rule file {fault.place} does not count: {fault.message}.",
        subject=fault.name,
        observed=fault.message,
        expected="a rule file as plugins/label_age/README.md describes it",
        remedy="Mend the file; until then its rules judge nothing.",
    )


def _doubtful(doubt: Doubtful) -> Finding:
    rule = doubt.rule
    place = f"{rule.file}, line {rule.line}" if rule.line else rule.file
    says, code = ("is met by every case", "label.rule-always-met") if doubt.always else (
        "can be met by no case", "label.rule-never-met")  # fmt: skip
    return Finding(
        code=code,
        severity="review",
        message=f"The rule {rule.id} ({place}) {says}: its needs, taken together, decide nothing.",
        subject=f"{rule.id} {rule.version}",
        observed=says,
        expected="a rule that some batches meet and some do not",
        rule=rule.section,
        remedy="Look at its needs in the rule file; two of them may contradict or cover each other.",
    )


def _without_market(court: Court) -> list[Finding]:
    facts = court.facts
    return [
        Finding(
            code="label.no-market",
            severity="note",
            message=f"No label claim of batch {batch} was judged: its brief names no market.",
            subject=batch,
            batch=batch,
            facts=facts.origins["brief"][number],
            column="market",
            observed="no market",
            expected="a market such as US, EU or UK",
            remedy="Name the market in the brief.",
        )
        for number, batch in enumerate(facts.batches)
        if not (facts.tables["batch"].text("market")[number] or "").strip(" ,;")
    ]


def _settle(told: Told) -> str:
    """What to do about a verdict that cannot be told: bring the facts that cost the most casks, or what is to come."""
    if not told.missing:
        return f"{told.plain[0][:1].upper()}{told.plain[0][1:]}."
    more = len(told.missing) - MOST_ASKED
    rest = f"; and {more} more on the label sheet of the batch" if more > 0 else ""
    return f"Bring what is missing: {'; '.join(told.missing[:MOST_ASKED])}{rest}."


def _finding(verdict: Verdict, order: Order) -> Finding:
    code = {"met": "label.near-limit", "not met": verdict.finding}.get(verdict.word, "label.cannot-tell")
    without_law = verdict.finding in ("label.unknown-claim", "label.no-rules-for-market")
    if without_law:
        code = verdict.finding
    told = verdict.told
    first = told.facts[:1] if order.holds(verdict.facts, told.facts) else ()
    remedy, doubt = verdict.remedy, " The rule is unverified." if verdict.unverified else ""
    if code == "label.cannot-tell" and told.plain:
        remedy = _settle(told)
    return Finding(
        code=code,
        severity="note" if verdict.not_due else SEVERITIES[verdict.word],
        message=f"Label claim {verdict.claim!r} ({verdict.market}) of batch {verdict.batch}. {verdict.opening}{doubt}",
        subject=f"{verdict.batch} · {verdict.market} · {verdict.claim}",
        batch=verdict.batch,
        facts=order.led_by(verdict.facts, first),
        column=told.column if first else "",
        observed=f"{told.subject}: {told.observed}" if told.subject else told.observed,
        expected=told.expected,
        rule=verdict.section,
        remedy=remedy,
        of_law=verdict.word != "met" and not without_law,
    )
