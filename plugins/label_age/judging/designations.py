"""What a batch may be called: the claims that hold, those that nearly hold, and which components stop them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from plugins.label_age.facts.logic import FALSE, TRUE, WORDS
from plugins.label_age.judging.before_pouring import day_of, every_spirit
from plugins.label_age.judging.judge import Court
from plugins.label_age.judging.verdict import markets_of
from plugins.label_age.rules.conditions import Quantified
from plugins.label_age.rules.versions import Rule, claim_words

NEARLY = 0.25
"""A claim nearly holds where no more than this share of the components stops it, or no more than three of them."""
MOST_NAMED = 5


def designations(court: Court, drawn: set[str]) -> Iterator[dict[str, Any]]:
    """Rows of DESIGNATIONS.

    ``drawn`` are the batches of which something is drawn: those get the claims that hold or nearly hold,
    and the claims of their brief; the others, judged with all of the stock, each claim that some cask allows.
    """
    for market, rule, batches in _asked(court):
        truth, whole = court.judge.rule(rule), _beside(court, rule)
        stops, size = _stops(court, rule)
        days = court.calendar.rule(rule)
        for batch in batches:
            state = court.applies(rule, batch)
            if state == FALSE:
                continue
            held = min(int(truth[batch]), state)
            is_drawn = court.facts.batches[batch] in drawn
            if not _listed(court, rule, batch, held, int(whole[batch]), int(stops[batch]), int(size[batch]), is_drawn):
                continue
            row = _row(court, rule, market, batch, held, stops, size, int(days[batch]))
            yield row if is_drawn else row | {"verdict": None, "reason": None, "met_from": None}


def _listed(court: Court, rule: Rule, batch: int, held: int, whole: int, stops: int, size: int, is_drawn: bool) -> bool:
    """Whether a claim stands among those of a batch; of a brief with nothing drawn whether some cask allows it."""
    if not is_drawn:
        return size > stops and whole != FALSE
    if held == TRUE or (whole == TRUE and stops < size and stops <= max(3, NEARLY * size)):
        return True
    return any(claim_words(claim) in rule.names for claim in court.claims(batch))


def _asked(court: Court) -> Iterator[tuple[str, Rule, list[int]]]:
    """Market, rule that a label may claim, and the batches judged by it."""
    asked: dict[tuple[str, Any], list[int]] = {}
    for batch in range(len(court.facts.batches)):
        for written in markets_of(court.facts.tables["batch"].text("market")[batch]):
            market = court.book.market(written)
            if market:
                asked.setdefault((market, court.facts.days[batch]), []).append(batch)
    for (market, day), batches in asked.items():
        for rule in court.law(market, day):
            if rule.judged == "when claimed":
                yield market, rule, batches


def _stops(court: Court, rule: Rule) -> tuple[np.ndarray, np.ndarray]:
    """For each batch how many spirits stop the claim, and how many there are."""
    spirit = court.facts.tables["spirit"]
    size = np.diff(spirit.starts)
    each = every_spirit(court, rule)
    if each is None or not len(each):
        return np.zeros(len(size), dtype=np.int64), size
    failing = np.add.reduceat(np.append(each != TRUE, False).astype(np.int64), spirit.starts[:-1])
    return np.where(size > 0, failing, 0), size


def _beside(court: Court, rule: Rule) -> np.ndarray:
    """For each batch the truth of what the rule asks beside every single spirit."""
    truth = np.full(len(court.facts.batches), TRUE, dtype=np.int8)
    for day in set(court.facts.days):
        here = np.array([d == day for d in court.facts.days], dtype=bool)
        for node in court.conjuncts(rule, day):
            if not (isinstance(node, Quantified) and node.word == "every" and node.group == "spirit"):
                truth[here] = np.minimum(truth, court.judge.truth(node))[here]
    return truth


def _row(
    court: Court, rule: Rule, market: str, batch: int, truth: int, stops: np.ndarray, size: np.ndarray, day: int
) -> dict[str, Any]:
    spirit = court.facts.tables["spirit"]
    each = every_spirit(court, rule)
    span = spirit.span(batch)
    names = [] if each is None else [spirit.names[row] for row in span if each[row] != TRUE]
    more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
    return {
        "batch": court.facts.batches[batch], "market": market, "claim": rule.claim, "verdict": WORDS[truth],
        "components": int(size[batch]), "stopped_by": int(stops[batch]),
        "stops": (", ".join(dict.fromkeys(map(str, names[:MOST_NAMED]))) + more) or None,
        "met_from": day_of(day) if truth != TRUE else None,
        "reason": None if truth == TRUE else court.why_not(rule, batch, truth).opening,
        "rule": rule.section, "unverified": court.unverified(rule, court.facts.days[batch]), "rule_id": rule.id,
        "facts": court.facts.rests_on(batch, frozenset({"brief", "components", "gauge", "bottlings"})),
    }  # fmt: skip
