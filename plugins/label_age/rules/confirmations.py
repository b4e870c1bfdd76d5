"""Confirmations: a house's counsel has read the law behind a rule, which lifts *unverified* for that house.

A line stands as ``[[confirmed]]`` in a rule file of the site. It is of one text of one rule: where the edition or a
word of the rule has changed since, the line is void.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from plugins.label_age.rules.conditions import nearest
from plugins.label_age.rules.versions import BrokenFile, Confirmed, Rule

KEYS = {"rule": str, "edition": int, "hash": str, "by": str, "on": date, "read": str}
WORDS = {str: "a text", int: "a number", date: "a day such as 2026-11-30"}


@dataclass(frozen=True)
class Line:
    """A ``[[confirmed]]`` table: where it stands, and what it holds."""

    file: str
    line: int | None
    table: Any


def digest(table: dict[str, Any]) -> str:
    """The hash of a rule's content, 16 hexadecimal digits; spaces and comments of its file do not count."""
    text = json.dumps(table, sort_keys=True, default=str, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def lines_of(file: str, text: str, tables: Any) -> list[Line]:
    """The confirmations of a file with the lines they stand in."""
    numbers = [
        number
        for number, line in enumerate(text.splitlines(), start=1)
        if re.sub(r"\s", "", line.split("#", 1)[0]) == "[[confirmed]]"
    ]
    if not isinstance(tables, list):
        return [Line(file, None, tables)]
    return [Line(file, numbers[n] if n < len(numbers) else None, table) for n, table in enumerate(tables)]


def confirm(rules: list[Rule], lines: Iterable[Line]) -> tuple[list[Rule], list[BrokenFile]]:
    """The rules, those confirmed no longer unverified; and the lines that do not count, with what is wrong."""
    found: dict[int, Confirmed] = {}
    broken = []
    for line in lines:
        fault = _fault(line.table)
        at = None if fault else _confirmed(rules, line.table)
        if isinstance(at, int):
            found[at] = Confirmed(line.table["by"], line.table["on"], line.table["read"])
        else:
            broken.append(BrokenFile(line.file, line.line, fault or str(at), of_confirmation=True))
    made = [replace(r, unverified=False, confirmed=found[n]) if n in found else r for n, r in enumerate(rules)]
    return made, broken


def _fault(table: Any) -> str:
    """What is wrong with the line itself; empty where nothing is."""
    if not isinstance(table, dict):
        return "a confirmation is a table of its own: [[confirmed]]"
    strange = sorted(set(table) - set(KEYS))
    if strange:
        return f"unknown key {strange[0]!r} in a confirmation{nearest(strange[0], KEYS)}"
    for key, kind in KEYS.items():
        value = table.get(key)
        if type(value) is not kind or (kind is str and not str(value).strip()):
            return f"a confirmation wants {key}, {WORDS[kind]}; found {value!r}"
    return ""


def _confirmed(rules: list[Rule], table: dict[str, Any]) -> int | str:
    """The position of the rule that the line confirms, or why it confirms none."""
    name = table["rule"]
    versions = [n for n, rule in enumerate(rules) if rule.id == name]
    if not versions:
        return f"it confirms the rule {name!r}, which is not there{nearest(name, {rule.id for rule in rules})}"
    same = next((n for n in versions if rules[n].hash == table["hash"]), None)
    if same is not None and rules[same].edition == table["edition"]:
        return same
    now = ", ".join(f"of {rules[n].version}: edition {rules[n].edition}, {rules[n].hash}" for n in versions)
    said = f"the confirmation of {name} by {table['by']} is void, since the rule is another now ({now}; "
    return said + f"confirmed was edition {table['edition']}, {table['hash']}): read it again and confirm it anew"
