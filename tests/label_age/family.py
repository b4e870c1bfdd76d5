"""A family of cases by a table: a batch that meets a claim, and what becomes of it when one fact is another.

A file ``cases_MARKET.py`` beside this one brings its cases as ``CASES``; ``test_family.py`` judges them all.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from tests.label_age.bulk import Case

MET, NOT, OPEN = "met", "not met", "cannot tell"
LIMIT = "at the limit: "
"""So begins what is said of a case at a boundary."""
Row = tuple[str, str, str, dict[str, Any]]
"""What is other in words, the section that the verdict rests on, the verdict, and the changes (``changed``)."""


@dataclass(frozen=True)
class Claim:
    """A claim and a batch that meets it: ``rule`` the id, ``given`` words of ``bulk.given_as``."""

    rule: str
    claim: str
    section: str
    given: dict[str, Any] = field(default_factory=dict)
    verdict: str = MET

    def cases(self, *rows: Row | Iterable[Row]) -> Iterator[Case]:
        """The claim as it stands, and once for each row."""
        kind = {MET: "meets", NOT: "fails", OPEN: "open"}
        yield Case(self.rule, kind[self.verdict], self.verdict, "as it stands", self.claim, self.given, self.section)
        for row in rows:
            for says, section, verdict, changes in [row] if isinstance(row, tuple) else row:
                given = changed(self.given, **changes)
                sort = "boundary" if says.startswith(LIMIT) else kind[verdict]
                yield Case(self.rule, sort, verdict, says, self.claim, given, section or self.section)

    def but(self, **changes: Any) -> Claim:
        """The same claim of a batch with changes."""
        return replace(self, given=changed(self.given, **changes))


def changed(
    given: dict[str, Any],
    cask: dict[str, Any] | None = None,
    beside: dict[str, Any] | None = None,
    lines: Iterable[dict[str, Any]] = (),
    brief: dict[str, Any] | None = None,
    **other: Any,
) -> dict[str, Any]:
    """The words of ``given_as`` with changes: ``cask`` of every cask, ``beside`` a further cask (the first with these
    changes), ``lines`` further lines of the blend, ``brief`` columns of the brief; ``other`` replaces words."""
    casks = [{**one, **(cask or {})} for one in given.get("casks", [{}])]
    if beside is not None:
        casks.append({**casks[0], **beside})
    made = {**given, "casks": casks, "lines": [*given.get("lines", []), *lines], **other}
    if brief or "brief" in given:
        made["brief"] = {**given.get("brief", {}), **(brief or {})}
    return made


def around(
    column: str, limit: float, step: float, section: str, least: bool, at: str = MET, unknown: str = OPEN, **more: Any
) -> list[Row]:
    """A number of the inventory before, at and after a limit, and not stated; ``least``: the limit is a least value."""
    inside, outside = (MET, NOT) if least else (NOT, MET)
    values = ((limit - step, outside), (limit, at), (limit + step, inside))
    rows = [
        (f"{LIMIT if value == limit else ''}{column} {value:g}", section, verdict, {"cask": {column: value, **more}})
        for value, verdict in values
    ]
    return [*rows, (f"{column} not stated", section, unknown, {"cask": {column: None, **more}})]


def each(column: str, section: str, verdicts: dict[Any, str]) -> list[Row]:
    """One row for each value of a column of the inventory."""
    return [(f"{column} {value}", section, verdict, {"cask": {column: value}}) for value, verdict in verdicts.items()]


def at_limit(rows: Iterable[Row], *says: str) -> list[Row]:
    """The rows, those of these words marked as lying at a boundary."""
    return [(LIMIT + row[0], *row[1:]) if row[0] in says else row for row in rows]


def added(name: str, section: str, verdict: str, percent: float | None, strength: float = 0.0) -> Row:
    """An addition of so many % by volume of a gauged vat of 1,000 gallons; None: its quantity is not stated."""
    gallons = None if percent is None else 10.0 * percent
    line = {"component": name, "kind": "addition", "ethanol_kg": strength, "volume_60F_gal": gallons}
    said = "of no stated quantity" if percent is None else f"{percent:g} % by volume"
    return (f"{name} added, {said}", section, verdict, {"lines": [line], "volume_60F_gal": 1000.0})


def brought() -> dict[str, list[Case]]:
    """The cases of every ``cases_*.py`` beside this file, by its name."""
    names = sorted(path.stem for path in Path(__file__).parent.glob("cases_*.py"))
    return {name: list(importlib.import_module(f"tests.label_age.{name}").CASES) for name in names}


CONTRADICTING: tuple[tuple[tuple[str, ...], Callable[..., bool]], ...] = (
    (("distilled_on", "filled_on"), lambda distilled, filled: bool(distilled > filled)),
    (("distilled_proof", "entry_proof"), lambda distilled, entry: bool(entry > distilled + 2)),
    (("charred", "char"), lambda charred, char: True),
    (("new_oak", "wood_use"), lambda new, use: new != (use == "virgin")),
    (("new_oak", "held_before"), lambda new, held: bool(new) and held != "none"),
    (("wood_use", "held_before"), lambda use, held: use == "virgin" and held != "none"),
    (("country", "state"), lambda country, state: {country, state} == {"Scotland", "England"}),
)
"""Columns of one cask, and when what they say contradicts each other."""


def contradicting(cask: Mapping[str, Any]) -> set[str]:
    """The columns of a cask that another of its cells contradicts: without the one nothing speaks against the other."""
    pairs = [(columns, [cask.get(column) for column in columns], test) for columns, test in CONTRADICTING]
    return {column for columns, said, test in pairs if None not in said and test(*said) for column in columns}
