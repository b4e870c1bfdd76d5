"""Tables for README.md, from the rule files and the catalogue themselves; a test holds the README against them."""

from __future__ import annotations

from plugins.label_age.catalogue import FACTS, GROUPS
from plugins.label_age.rules import RuleBook

ENTRY = {
    "seen": "the text of the law",
    "seen in an earlier edition": "an earlier edition",
    "second-hand": "a transcription, translation or authority's guidance",
    "memory": "nowhere: from memory",
}


def table_of_rules(book: RuleBook) -> str:
    """One row for each version of each rule, with its section, date of effect and how it was read."""
    rows = [
        f"| {rule.market} | {rule.claim} | {rule.section} | {rule.version} | {ENTRY[rule.source]} | "
        f"{'**unverified**' if rule.unverified else ''} | `{rule.id}` |"
        for rule in sorted(book.rules, key=lambda rule: (("US", "EU", "UK").index(rule.market), rule.file))
    ]
    head = "| market | claim | section | in force from | read in | | rule |\n|---|---|---|---|---|---|---|\n"
    return head + "\n".join(rows) + "\n"


def table_of_facts() -> str:
    """One row for each fact that a rule may speak of."""
    rows = [
        f"| `{fact.name}` | {fact.group} | {fact.kind} | {fact.words}{f' [{fact.unit}]' if fact.unit else ''} | "
        f"{f'{fact.sheet}, {fact.column}' if fact.column else 'no sheet yet'} |"
        for fact in FACTS
    ]
    groups = "\n".join(f"- `{name}`: {meaning}" for name, meaning in GROUPS.items())
    return f"{groups}\n\n| fact | of | kind | meaning | brought by |\n|---|---|---|---|---|\n" + "\n".join(rows) + "\n"
