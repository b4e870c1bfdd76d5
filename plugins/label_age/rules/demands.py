"""The demands of a section: each is tested by a need, taken as given, or named as untested; and where it was read."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

STATES = ("given", "untested")


class BadDemand(ValueError):
    """A list of demands that does not hold together; ``key`` is the demand that is at fault, or empty."""

    def __init__(self, message: str, key: str = "") -> None:
        super().__init__(message)
        self.key = key


@dataclass(frozen=True)
class Demand:
    """One demand of a rule's section.

    ``key`` are its few words in a sentence, ``says`` the whole of it in our words; ``state`` is ``tested`` (by one
    need or more), ``given`` (no sheet tells it; a verdict of met says that it is assumed) or ``untested``.
    """

    key: str
    says: str
    state: str = "tested"


def read_demands(table: Any) -> tuple[Demand, ...]:
    """The table ``[rule.demands]``: short words = the demand, or { given = "…" }, or { untested = "…" }."""
    if not isinstance(table, dict) or not table:
        raise BadDemand("expected [rule.demands], what its section demands: tested, given or untested")
    return tuple(_demand(str(key), value) for key, value in table.items())


def _demand(key: str, value: Any) -> Demand:
    if isinstance(value, str) and value.strip():
        return Demand(key, value)
    if isinstance(value, dict) and len(value) == 1 and next(iter(value)) in STATES:
        state, says = next(iter(value.items()))
        if isinstance(says, str) and says.strip():
            return Demand(key, says, state)
    raise BadDemand(f'demand {key!r} wants a text, {{ given = "…" }} or {{ untested = "…" }}', key)


def check_tested(demands: Iterable[Demand], tested: Iterable[str]) -> None:
    """Every demand that counts as tested is named by a need, and by no other."""
    named = set(tested)
    for demand in demands:
        if demand.state == "tested" and demand.key not in named:
            raise BadDemand(f"no need tests the demand {demand.key!r}; test it, or write it as given or untested",
                            demand.key)  # fmt: skip
        if demand.state != "tested" and demand.key in named:
            raise BadDemand(f"a need tests the demand {demand.key!r}, which is written as {demand.state}", demand.key)


def check_text(table: dict[str, Any]) -> tuple[str, date | None]:
    """Which edition of the section's text was read (``text``), and the day (``read``; of a rule from memory none)."""
    text, read = table.get("text"), table.get("read")
    if not isinstance(text, str) or not text.strip():
        raise BadDemand('the section has no edition: text = "which edition of it was read, and where"')
    if type(read) is not date and (read is not None or table.get("source") != "memory"):
        raise BadDemand("read wants the day on which the text was read, such as 2026-11-30")
    return text, read


def line_of_demand(text: str, first: int, key: str) -> int:
    """The line of a demand in the rule that begins at line ``first``; that line itself where it is not found."""
    pattern = re.compile(rf'\s*"?{re.escape(key)}"?\s*=')
    lines = text.splitlines()
    for number in range(first, len(lines)):
        if lines[number].replace(" ", "").startswith("[[rule]]"):
            break
        if key and pattern.match(lines[number]):
            return number + 1
    return first
