"""Before pouring: which components a claim allows, and which bounds the claims set."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd

from plugins.label_age.facts.catalogue import Fact
from plugins.label_age.facts.logic import FALSE, TRUE, WORDS
from plugins.label_age.facts.stays import blank_lines
from plugins.label_age.judging.judge import Court
from plugins.label_age.judging.verdict import day_of, markets_of
from plugins.label_age.rules.conditions import Both, Check, Either, OtherRule, Quantified, Same
from plugins.label_age.rules.versions import Rule, claim_words


def candidates(briefs: pd.DataFrame, casks: pd.DataFrame, components: pd.DataFrame, book_date: Any) -> pd.DataFrame:
    """Components as the briefs with nothing drawn could have them: every cask in stock, drawn on the day due.

    The latest filling of each cask counts; without a due date it is drawn on the book date.
    """
    from plugins.label_age.facts.wood import folded

    undrawn = briefs[~briefs["batch"].isin(components["batch"])].drop_duplicates("batch", keep="last")
    stock = casks.assign(_cask=folded(casks["cask"])).sort_values(["filled_on", "as_of"], kind="stable")
    stock = stock.drop_duplicates("_cask", keep="last")[["cask", "filling", "filled_on", "facts"]]
    pairs = undrawn[["batch", "due", "facts"]].merge(stock, how="cross", suffixes=("_brief", ""))
    day = pairs["due"] if book_date is None else pairs["due"].fillna(pd.Timestamp(book_date))
    made = blank_lines(
        components,
        len(pairs),
        batch=pairs["batch"],
        component=pairs["cask"],
        filling=pairs["filling"],
        kind="cask",
        filled_on=pairs["filled_on"],
        drawn_at=day,
    )
    return made.assign(facts=pairs["facts"])


def claimed_rules(court: Court, batch: int) -> Iterator[tuple[str, str, Rule]]:
    """Market, claim and rule for everything that would be judged of a batch and does not plainly not apply."""
    day = court.facts.days[batch]
    for written in markets_of(court.facts.tables["batch"].text("market")[batch]):
        market = court.book.market(written)
        claims = {claim_words(claim): claim for claim in court.claims(batch)}
        for rule in court.law(market, day) if market else ():
            if rule.judged == "always":
                claim: str | None = rule.claim
            else:
                claim = next((said for words, said in claims.items() if words in rule.names), None)
            if claim is not None and court.judge.applies(rule)[batch] != FALSE:
                yield market or "", claim, rule


def eligibility(court: Court) -> Iterator[dict[str, Any]]:
    """Rows of ELIGIBILITY: one for each component and claim; several rules of a claim: the worst verdict counts."""
    spirit = court.facts.tables["spirit"]
    for batch, name in enumerate(court.facts.batches):
        found: dict[tuple[str, str, int], tuple[int, str, str, int]] = {}
        day = court.facts.days[batch]
        for market, claim, rule in claimed_rules(court, batch):
            truth, first = every_spirit(court, rule), _first_days(court, rule, day)
            if truth is None or first is None:
                continue
            names = _same(court, rule, day)
            for row in spirit.span(batch):
                group = _group(court, names, row)
                known = found.get((market, claim, row))
                since = max(int(first[row]), known[3]) if known else int(first[row])
                if known is None or truth[row] < known[0]:
                    found[market, claim, row] = (int(truth[row]), group, rule.section, since)
                else:
                    found[market, claim, row] = (*known[:3], since)
        yield from _by_component(court, batch, name, found)


def _by_component(
    court: Court, batch: int, name: str, found: dict[tuple[str, str, int], tuple[int, str, str, int]]
) -> Iterator[dict[str, Any]]:
    """A component drawn several times is one row, with its worst verdict and all its facts."""
    spirit = court.facts.tables["spirit"]
    brief = court.facts.origins["brief"][batch]
    merged: dict[tuple[str, str, str], dict[str, Any]] = {}
    for (market, claim, row), (truth, group, section, first) in found.items():
        component = str(spirit.text("component")[row])
        facts, groups = set(spirit.rows[row]) | set(brief), [group]
        known = merged.get((market, claim, component))
        if known:
            truth, facts, first = min(truth, known["truth"]), facts | known["facts"], max(first, known["first"])
            groups = sorted({*known["groups"], group})
            truth = FALSE if len(groups) > 1 and group else truth  # one vessel that holds what may not be mixed
        merged[market, claim, component] = {
            "batch": name, "market": market, "claim": claim, "component": component, "truth": truth,
            "groups": groups, "group": " + ".join(groups) or None, "rule": section, "facts": facts, "first": first,
        }  # fmt: skip
    for entry in merged.values():
        since = day_of(entry["first"])
        yield entry | {"verdict": WORDS[entry["truth"]], "met_from": since, "facts": tuple(sorted(entry["facts"]))}


def every_spirit(court: Court, rule: Rule) -> np.ndarray | None:
    """What the rule asks of every spirit, for each row of spirit; None where it asks nothing of them."""
    if id(rule) not in court.each:
        truth = None
        owner = court.facts.tables["spirit"].owner
        for day in set(court.facts.days):
            here = np.array([d == day for d in court.facts.days], dtype=bool)[owner]
            part = _each(court, rule, day)
            if part is not None:
                truth = np.full(len(owner), TRUE, dtype=np.int8) if truth is None else truth
                truth[here] = part[here]
        court.each[id(rule)] = truth
    return court.each[id(rule)]


def _each(court: Court, rule: Rule, day: Any) -> np.ndarray | None:
    truth = None
    for node in court.conjuncts(rule, day):
        if isinstance(node, Quantified) and node.word == "every" and node.group == "spirit":
            part = court.judge.truth(node.part, "spirit")
            truth = part if truth is None else np.minimum(truth, part)
    return truth


def _first_days(court: Court, rule: Rule, day: Any) -> np.ndarray | None:
    """For each spirit the first day from which it alone would answer."""
    found = None
    for node in court.conjuncts(rule, day):
        if isinstance(node, Quantified) and node.word == "every" and node.group == "spirit":
            part = court.calendar.day(node.part, "spirit")
            found = part if found is None else np.maximum(found, part)
    return found


def _same(court: Court, rule: Rule, day: Any) -> list[Same]:
    nodes = [n for n in court.conjuncts(rule, day) if isinstance(n, Same) and n.group == "spirit"]
    return list({node.fact.name: node for node in nodes if not node.assume}.values())


def _group(court: Court, names: list[Same], row: int) -> str:
    table = court.facts.tables["spirit"]
    return "; ".join(f"{node.fact.words} {table.text(node.fact.name)[row] or 'not known'}" for node in names)


def limits(court: Court) -> Iterator[dict[str, Any]]:
    """Rows of LIMITS: a bound for each claim, quantity and section; several of one kind: the narrowest."""
    for batch, name in enumerate(court.facts.batches):
        found: dict[tuple[str, str, str, str], list[float]] = {}
        claimed: dict[tuple[str, str], str | None] = {}
        stated: dict[tuple[str, str], str | None] = {}
        day = court.facts.days[batch]
        for market, claim, rule in claimed_rules(court, batch):
            claimed[market, claim] = None if rule.judged == "always" else claim
            for node in court.conjuncts(rule, day):
                for quantity, (low, high, of) in _bounds(court, node, batch).items():
                    known = found.setdefault((market, claim, quantity, rule.section), [np.nan, np.nan])
                    known[0], known[1] = np.fmax(known[0], low), np.fmin(known[1], high)
                    if of == "stated_age":
                        stated[market, claim] = court.facts.tables["batch"].text("age_statement")[batch]
        facts = court.facts.origins["brief"][batch]
        for (market, claim, quantity, section), (low, high) in found.items():
            yield {"batch": name, "market": market, "claim": claim, "quantity": quantity, "low": low, "high": high,
                   "claimed": claimed[market, claim], "rule": section, "facts": facts,
                   "stated_age": stated.get((market, claim)) if quantity == "age_months" else None}  # fmt: skip


Bounds = dict[str, tuple[float, float, str]]


def _bounds(court: Court, node: Any, batch: int) -> Bounds:
    """Bounds by quantity, of every spirit or of the batch, with the fact that a bound is, if it is one.

    Of alternatives the loosest bound that any of them sets counts; those that set none are left aside.
    """
    if isinstance(node, Quantified):
        return _bounds(court, node.part, batch) if node.word == "every" and node.group == "spirit" else {}
    if isinstance(node, OtherRule):
        version = court.judge.version(node.rule, court.facts.days[batch])
        needs = version.needs if version else ()
        return _joined([_bounds(court, need.condition, batch) for need in needs], np.fmax, np.fmin)
    if isinstance(node, Both):
        return _joined([_bounds(court, part, batch) for part in node.parts], np.fmax, np.fmin)
    if isinstance(node, Either):
        return _joined([_bounds(court, part, batch) for part in node.parts], np.fmin, np.fmax)
    return _bound(court, node, batch) if isinstance(node, Check) and node.fact.bounds else {}


def _joined(parts: list[Bounds], of_low: Any, of_high: Any) -> Bounds:
    made: Bounds = {}
    for part in parts:
        for quantity, (low, high, of) in part.items():
            known = made.get(quantity, (low, high, of))
            made[quantity] = (float(of_low(known[0], low)), float(of_high(known[1], high)), known[2] or of)
    return made


def _bound(court: Court, check: Check, batch: int) -> Bounds:
    limit = check.centre if check.test == "within" else check.limit
    of = limit.name if isinstance(limit, Fact) else ""
    if isinstance(limit, Fact):
        table = court.facts.tables["batch"]
        limit = float(table.number(limit.name)[0][batch]) if limit.group == "batch" else np.nan
    if not isinstance(limit, float) or np.isnan(limit) or limit == 0:
        return {}
    if check.test == "within":
        return {check.fact.bounds: (limit - check.limit, limit + check.limit, of)}
    if check.test in ("at_least", "more_than"):
        return {check.fact.bounds: (limit, np.nan, of)}
    if check.test in ("at_most", "less_than"):
        return {check.fact.bounds: (np.nan, limit, of)}
    return {}
