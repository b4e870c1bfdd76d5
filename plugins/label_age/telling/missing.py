"""What a claim waits for: each fact that is missing, of how many casks, and the column that would bring it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from plugins.label_age.facts.catalogue import NO_SHEET, Fact, whereabouts
from plugins.label_age.facts.lines import WOOD_COLUMNS
from plugins.label_age.facts.logic import UNKNOWN
from plugins.label_age.facts.tables import Table
from plugins.label_age.rules.conditions import (
    Both,
    Check,
    Difference,
    Either,
    Negation,
    OtherRule,
    Quantified,
    Same,
    Share,
)
from plugins.label_age.rules.evaluate import Judge
from plugins.label_age.telling.sentences import Told, judged, value_of, wanted_of

MOST_BY_NAME = 3
"""So many casks are named; more are counted."""
OF_THE_BRIEF = ("bottling_proof", "bottling_abv", "bottle_size", "container", "bottled_in")
"""Columns that the brief has too, for what is not bottled yet."""


@dataclass
class Missing:
    """One fact, or several that one column brings, that nobody knows of some casks (``names``, each once).

    ``node``, ``group`` and ``row`` are of the condition that asks for it first.
    """

    fact: Fact
    where: str
    node: Check | Same
    group: str
    row: int
    names: dict[str, None] = field(default_factory=dict)

    @property
    def words(self) -> str:
        """``proof of distillation of 62 casks``; of what is so or not ``of 62 casks whether each lay in new oak``."""
        names = list(self.names)
        if self.fact.kind != "flag":
            alone = self.fact.group == "batch" or names == ["the brief"]
            return self.fact.words if alone else f"{self.fact.words} of {counted(names)}"
        one = f"whether {names[0]} {self.fact.words}"
        return one if len(names) == 1 else f"of {counted(names)} whether each {self.fact.words}"

    def column(self, judge: Judge) -> str:
        """The first column that would bring it; empty where no sheet does."""
        table, held = judge.holder(self.fact, self.group, self.row)
        wood = self.fact.name in WOOD_COLUMNS and not np.isnan(table.number(self.fact.name)[0][held])
        return WOOD_COLUMNS[self.fact.name].partition(",")[0] if wood else table.column(self.fact, held)

    def wanted(self, judge: Judge) -> str:
        """What the condition that asks for it first wants of it."""
        if isinstance(self.node, Same):
            return f"one {self.fact.words} throughout"
        return wanted_of(judge, self.node, self.group, self.row) if self.node.fact is self.fact else ""

    @property
    def says(self) -> str:
        """``proof of distillation of 62 casks: column distilled_proof of the inventory``."""
        return f"{self.words}: {self.where}"


def counted(names: list[str]) -> str:
    """Three at most by name; of more how many, casks called casks."""
    if len(names) <= MOST_BY_NAME:
        return ", ".join(names)
    return f"{len(names)} {'casks' if all(name.startswith('cask ') for name in names) else 'lines of the blend'}"


def missing_of(judge: Judge, conditions: Iterable[Any], batch: int) -> list[Missing]:
    """What would have to be known for these conditions of one batch to be decided; the costliest first."""
    found: dict[str, Missing] = {}
    for condition in conditions:
        for node, fact, group, rows in _open(judge, condition, "batch", np.array([batch])):
            for row in rows.tolist():
                name = str(judge.facts.tables[group].names[row])
                where = _where(fact, *judge.holder(fact, group, row), name)
                if where not in found:
                    found[where] = Missing(fact, where, node, group, row)
                found[where].names[name] = None
    return sorted(found.values(), key=lambda one: -len(one.names))


def led_by(judge: Judge, missing: list[Missing], told: Told) -> Told:
    """What is told of an open verdict, at the cell of the fact that costs the most casks where there is one."""
    listed = tuple(one.says for one in missing)
    if not missing or not missing[0].column(judge):
        return replace(told, missing=listed)
    first = missing[0]
    table, held = judge.holder(first.fact, first.group, first.row)
    found, alone = value_of(first.fact, table, held), len(first.names) == 1
    subject = counted(list(first.names)) if found == "not known" and not alone else ""
    return replace(
        told,
        facts=table.cell(first.fact.name, held),
        column=first.column(judge),
        subject=subject or judged(judge, first.fact, first.group, first.row),
        observed=found,
        expected=first.wanted(judge) or told.expected,
        missing=listed,
    )


Found = tuple[Check | Same, Fact, str, np.ndarray]
"""A condition, a fact that it asks for, and the rows of a group of which that is unknown."""


def _open(judge: Judge, node: Any, group: str, rows: np.ndarray) -> Iterator[Found]:
    """The unknown facts behind what is not known of a condition in these rows of a group."""
    rows = rows[judge.truth(node, group)[rows] == UNKNOWN]
    if not len(rows):
        return
    if isinstance(node, Check):
        yield from _of_check(judge, node, group, rows)
    elif isinstance(node, (Both, Either)):
        for part in node.parts:
            if not (isinstance(node, Either) and judge.is_none(part, group, int(rows[0]))):
                yield from _open(judge, part, group, rows)
    elif isinstance(node, Negation):
        yield from _open(judge, node.part, group, rows)
    elif isinstance(node, OtherRule):
        version = judge.version(node.rule, judge.facts.days[judge.batch_of(group, int(rows[0]))])
        for need in version.needs if version else ():
            yield from _open(judge, need.condition, group, rows)
    elif isinstance(node, (Quantified, Share)):
        yield from _open(judge, node.part, node.group, _members(judge, node.group, rows))
    elif isinstance(node, Same):
        table = judge.facts.tables[node.group]
        members = _members(judge, node.group, rows)
        yield node, node.fact, node.group, members[table.text(node.fact.name)[members] == None]  # noqa: E711


def _members(judge: Judge, group: str, batches: np.ndarray) -> np.ndarray:
    spans = [judge.facts.tables[group].span(batch) for batch in batches.tolist()]
    return np.concatenate([np.arange(span.start, span.stop) for span in spans])


def _of_check(judge: Judge, node: Check, group: str, rows: np.ndarray) -> Iterator[Found]:
    limit = node.limit.fact if isinstance(node.limit, Difference) else node.limit
    for fact in (node.fact, limit, node.centre):
        if not isinstance(fact, Fact):
            continue
        table, spread = judge.spread(fact, group)
        held = rows if isinstance(spread, slice) else spread[rows]
        yield node, fact, group, rows[_unsettled(table, fact, held)]


def _unsettled(table: Table, fact: Fact, rows: np.ndarray) -> np.ndarray:
    """Where a fact is unknown, or known between bounds only."""
    if fact.kind in ("number", "age"):
        low, high = (bound[rows] for bound in table.number(fact.name))
        return np.asarray(low != high)
    values = table.flag(fact.name)[rows] == UNKNOWN if fact.kind == "flag" else table.text(fact.name)[rows] == None  # noqa: E711
    return np.asarray(values, dtype=bool)


def _where(fact: Fact, table: Table, row: int, name: str) -> str:
    """The column and the sheet that would bring a fact of one row; of what is no cask, why it is not known."""
    if fact.name in WOOD_COLUMNS and not np.isnan(table.number(fact.name)[0][row]):
        return whereabouts(fact.sheet, WOOD_COLUMNS[fact.name])
    why = table.reason_unknown(fact.name, row)
    if fact.group == "spirit" and not name.startswith("cask "):
        return why or NO_SHEET
    column = table.column(fact, row)
    if fact.name in ("label_abv_20C", "label_one_decimal") and column == "bottling_proof":
        column = "bottling_abv"  # a strength in proof is at 60 °F and does not say what it is at 20 °C
    of_brief = fact.group == "run" and name == "the brief" and column in OF_THE_BRIEF
    return whereabouts("briefs" if of_brief else fact.sheet, column)
