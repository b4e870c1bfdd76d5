"""Before pouring: the shares of the spirit that claims ask for, and which components count towards each."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from plugins.label_age.facts.logic import WORDS
from plugins.label_age.judging.before_pouring import claimed_rules
from plugins.label_age.judging.judge import Court
from plugins.label_age.rules.conditions import Both, OtherRule, Quantified, Share
from plugins.label_age.rules.versions import Rule

SOME = "lpa"  # "some of it" is more than nothing of the pure alcohol


def claim_shares(court: Court) -> Iterator[dict[str, Any]]:
    """Rows of CLAIM_SHARES: one for each component and share that is demanded outright, not as an alternative."""
    spirit = court.facts.tables["spirit"]
    for batch, name in enumerate(court.facts.batches):
        brief = set(court.facts.origins["brief"][batch])
        for market, claim, rule in claimed_rules(court, batch):
            for words, part, asked in _asked(court, rule, batch):
                truth = court.judge.truth(part, "spirit")
                worst: dict[str, tuple[int, set[int]]] = {}
                for row in spirit.span(batch):
                    component = str(spirit.text("component")[row])
                    known = worst.get(component, (int(truth[row]), set()))
                    worst[component] = (min(known[0], int(truth[row])), known[1] | set(spirit.rows[row]))
                for component, (verdict, facts) in worst.items():
                    yield {
                        "batch": name, "market": market, "claim": claim, "demand": words, "component": component,
                        "verdict": WORDS[verdict], "rule": rule.section, "facts": tuple(sorted(facts | brief)),
                    } | asked  # fmt: skip


def _asked(court: Court, rule: Rule, batch: int) -> Iterator[tuple[str, Any, dict[str, Any]]]:
    """Plain words, the condition on a component, and the bound of each share; its number where words repeat."""
    seen: dict[str, int] = {}
    for words, node in _nodes(court, rule, batch):
        if isinstance(node, Share) and node.group == "spirit":
            least = node.test in ("at_least", "more_than")
            asked = {"by": node.by, "low" if least else "high": node.limit, "beyond": not node.test.startswith("at_")}
        elif isinstance(node, Quantified) and node.word == "some" and node.group == "spirit":
            asked = {"by": SOME, "low": 0.0, "beyond": True}
        else:
            continue
        seen[words] = seen.get(words, 0) + 1
        yield words if seen[words] == 1 else f"{words} ({seen[words]})", node.part, asked


def _nodes(court: Court, rule: Rule, batch: int) -> Iterator[tuple[str, Any]]:
    todo = [(need.plain, need.condition) for need in rule.needs]
    while todo:
        words, node = todo.pop(0)
        if isinstance(node, OtherRule):
            version = court.judge.version(node.rule, court.facts.days[batch])
            todo.extend((need.plain, need.condition) for need in version.needs) if version else None
        elif isinstance(node, Both):
            todo.extend((words, part) for part in node.parts)
        else:
            yield words, node
