"""Tables for README.md, from the rule files, the catalogue and the cases; a test holds the README against them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import Any

from plugins.label_age.facts.catalogue import FACTS, GROUPS
from plugins.label_age.rules.versions import Rule, RuleBook

ENTRY = {
    "seen": "the text of the law",
    "seen in an earlier edition": "an earlier edition",
    "second-hand": "a transcription, translation or authority's guidance",
    "memory": "nowhere: from memory",
}
MARKETS = ("US", "EU", "UK", "NI", "IE", "CA", "JP", "AU")
KINDS = ("meets", "fails", "boundary", "open")


def table_of_rules(book: RuleBook, cases: Iterable[tuple[str, str]] = ()) -> str:
    """One row for each version of each rule: section, date of effect, how it was read, and its cases by kind.

    ``cases`` are pairs of rule id and kind (meets, fails, boundary, open).
    """
    counted = Counter(cases)
    rows = [
        _row(rule, counted) for rule in sorted(book.rules, key=lambda rule: (MARKETS.index(rule.market), rule.file))
    ]
    head = "| market | claim | section | in force from | read in | | rule | met | not met | boundary | open |\n"
    return head + "|---|---|---|---|---|---|---|---|---|---|---|\n" + "\n".join(rows) + "\n"


def _row(rule: Rule, counted: Counter[tuple[str, str]]) -> str:
    edition = f", edition {rule.edition}" if rule.edition > 1 else ""
    numbers: list[Any] = [counted[rule.id, kind] for kind in KINDS]
    if rule.judged in ("by other rules", "for the label sheet"):
        numbers = [{"by other rules": "through others", "for the label sheet": "label sheet"}[rule.judged], "", "", ""]
    return (
        f"| {rule.market} | {rule.claim} | {rule.section} | {rule.version}{edition} | {ENTRY[rule.source]} | "
        f"{'**unverified**' if rule.unverified else ''} | `{rule.id}` | {' | '.join(str(n or '') for n in numbers)} |"
    )


def table_of_facts() -> str:
    """One row for each fact that a rule may speak of."""
    rows = [
        f"| `{fact.name}` | {fact.group} | {fact.kind} | {fact.words}{f' [{fact.unit}]' if fact.unit else ''} | "
        f"{f'{fact.sheet}, {fact.column}' if fact.column else 'no sheet yet'} |"
        for fact in FACTS
    ]
    groups = "\n".join(f"- `{name}`: {meaning}" for name, meaning in GROUPS.items())
    return f"{groups}\n\n| fact | of | kind | meaning | brought by |\n|---|---|---|---|---|\n" + "\n".join(rows) + "\n"
