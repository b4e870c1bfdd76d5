"""Rules over facts: truths for all batches at once, and for one batch what made it so."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from plugins.label_age.facts.catalogue import Fact
from plugins.label_age.facts.logic import (
    FALSE,
    TRUE,
    UNKNOWN,
    both,
    compare,
    either,
    every,
    near,
    negate,
    some,
)  # fmt: skip
from plugins.label_age.facts.tables import Facts, Table
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
from plugins.label_age.rules.texts import same, texts_pass
from plugins.label_age.rules.versions import Rule, RuleBook

MOST_ROWS = 3
"""So many rows of a batch are told of one by one; the rest is counted."""


@dataclass(unsafe_hash=True, slots=True)
class Cause:
    """One fact, in one row, that made a condition what it is.

    ``wanted`` is the truth that the condition would have had to have; ``rows`` are the rows of the
    group's table (of a Same, all rows of the batch).
    """

    node: Check | Same | OtherRule | Share
    group: str
    row: int
    wanted: bool


class Judge:
    """Evaluates conditions over one set of facts, each at most once."""

    def __init__(self, facts: Facts, book: RuleBook) -> None:
        self.facts = facts
        self.book = book
        self._done: dict[tuple[int, str], np.ndarray] = {}
        self._kept: list[Any] = []
        self._versions: dict[tuple[str, Any], Rule | None] = {}

    def rule(self, rule: Rule) -> np.ndarray:
        """The truth of the rule for every batch (of a rule of spirits: for every one), applied there or not.

        A rule whose section asks for something that nothing tests is never true.
        """
        key = (id(rule), "rule")
        if key not in self._done:
            truth = self.needs(rule)
            self._done[key] = np.minimum(truth, UNKNOWN).astype(np.int8) if rule.untested else truth
        return self._done[key]

    def needs(self, rule: Rule) -> np.ndarray:
        """The truth of what the rule tests, whatever it leaves untested itself."""
        key = (id(rule), "needs")
        if key not in self._done:
            whole = np.full(len(self.facts.tables[rule.of].names), TRUE, dtype=np.int8)
            self._done[key] = both(whole, *(self.truth(need.condition, rule.of) for need in rule.needs))
        return self._done[key]

    def applies(self, rule: Rule) -> np.ndarray:
        """Whether the rule is the one for the batch."""
        if rule.applies is None:
            return np.full(len(self.facts.batches), TRUE, dtype=np.int8)
        return self.truth(rule.applies)

    def truth(self, node: Any, group: str = "batch") -> np.ndarray:
        """One truth for each row of the group's table."""
        key = (id(node), group)
        if key not in self._done:
            self._done[key] = self._evaluate(node, group)
            self._kept.append(node)
        return self._done[key]

    def _evaluate(self, node: Any, group: str) -> np.ndarray:
        if isinstance(node, Both):
            return both(*(self.truth(part, group) for part in node.parts))
        if isinstance(node, Either):
            return either(*(self.truth(part, group) for part in node.parts))
        if isinstance(node, Negation):
            return negate(self.truth(node.part, group))
        if isinstance(node, Quantified):
            gather = every if node.word == "every" else some
            return gather(self.truth(node.part, node.group), self.facts.tables[node.group].starts)
        if isinstance(node, OtherRule):
            return self._referred(node)
        if isinstance(node, Share):
            return compare(node.test, *self.share(node), node.limit, node.limit, SHARE_SLACK)
        return self._taken_as_given(node, group)

    def share(self, node: Share) -> tuple[np.ndarray, np.ndarray]:
        """Least and greatest share in per cent for each batch; NaN where an amount is not known, or there is none.

        A line of several origins counts whole only where all of them pass: how much of it is whose is not known.
        """
        table = self.facts.tables[node.group]
        truth, owner = self.truth(node.part, node.group), table.owner
        weight = np.ones(len(table)) if node.by == "number" else table.weights[node.by]
        if table.units is not None and len(truth):
            least, most = (by.reduceat(truth, table.units[:-1]) for by in (np.minimum, np.maximum))
            truth = np.where(least == TRUE, TRUE, np.where(most == FALSE, FALSE, UNKNOWN))
            owner = owner[table.units[:-1]]
            weight = weight if node.by != "number" else np.ones(len(truth))
        parts = [weight * (truth == TRUE), weight * (truth != FALSE), weight]
        count = len(self.facts.batches)
        sure, may, whole = (
            np.bincount(owner, part, minlength=count) if len(owner) else np.zeros(count) for part in parts
        )
        with np.errstate(invalid="ignore", divide="ignore"):
            return 100 * sure / whole, 100 * may / whole

    def _taken_as_given(self, node: Check | Same, group: str) -> np.ndarray:
        truth = self.bare(node, group)
        return np.where(self._assumed(node, group), TRUE, truth).astype(np.int8) if node.assume else truth

    def _assumed(self, node: Check | Same, group: str) -> np.ndarray:
        """Where something is taken as given: nothing at all is said of the fact; of one value throughout, of no row.

        A value that leaves the test open (within ``unsure_within``, against a limit that is not known) is no blank.
        """
        blank = self.bare(node, group) == UNKNOWN
        if not blank.any():
            return blank
        if isinstance(node, Check):
            holder, rows = self.spread(node.fact, group)
            return blank & ~holder.is_told(node.fact)[rows]
        table = self.facts.tables[node.group]
        stated = np.bincount(table.owner, table.is_told(node.fact), minlength=len(blank))
        return blank & (stated == 0)

    def bare(self, node: Check | Same, group: str) -> np.ndarray:
        """The truth of a check before anything is assumed."""
        key = (id(node), f"bare {group}")
        if key not in self._done:
            truth = self._bare(node, group)
            if isinstance(node, Check) and node.must_be_known:
                truth = np.where(truth == UNKNOWN, FALSE, truth).astype(np.int8)
            self._done[key] = truth
        return self._done[key]

    def _bare(self, node: Check | Same, group: str) -> np.ndarray:
        if isinstance(node, Same):
            return same(self.facts.tables[node.group], node.fact)
        if node.fact.kind in ("number", "age"):
            return self._number(node, group)
        table, rows = self.spread(node.fact, group)
        if node.fact.kind == "flag":
            flags = table.flag(node.fact.name)[rows]
            return flags if node.limit else negate(flags)
        words = table.plain_text(node.fact.name)[rows]
        return self._alike(words, node.limit, group) if isinstance(node.limit, Fact) else texts_pass(node, words)

    def _alike(self, words: np.ndarray, other: Fact, group: str) -> np.ndarray:
        """Whether a text is the other fact's."""
        table, rows = self.spread(other, group)
        wanted = table.plain_text(other.name)[rows]
        known = (words != None) & (wanted != None)  # noqa: E711
        return np.where(known, np.where(words == wanted, TRUE, FALSE), UNKNOWN).astype(np.int8)

    def near_limit(self, node: Any, group: str = "batch") -> np.ndarray:
        """Where the measuring uncertainty of some number reaches over the limit it is held to: boolean by row."""
        if isinstance(node, (Both, Either)):
            return np.logical_or.reduce([self.near_limit(part, group) for part in node.parts])
        if isinstance(node, Negation):
            return self.near_limit(node.part, group)
        if isinstance(node, Quantified):
            starts = self.facts.tables[node.group].starts
            return some(np.where(self.near_limit(node.part, node.group), TRUE, FALSE).astype(np.int8), starts) == TRUE
        if isinstance(node, Check) and node.uncertainty is not None:
            return (self._number(node, group, True) == UNKNOWN) & (self.truth(node, group) != UNKNOWN)
        count = len(self.facts.batches) if group == "batch" else len(self.facts.tables[group])
        return np.full(count, False)

    def _number(self, check: Check, group: str, widened: bool = False) -> np.ndarray:
        low, high = self._bounds(check.fact, group)
        slack = check.fact.slack
        if widened and check.uncertainty is not None:
            room = 2 * np.nan_to_num(self._bounds(check.uncertainty, group)[0])
            low, high = low - room, high + room
        if check.test == "one_of" or check.test == "is":
            limits = check.limit if check.test == "one_of" else (check.limit,)
            limits = [self._bounds(limit, group)[0] if isinstance(limit, Fact) else limit for limit in limits]
            return either(*(near(low, high, limit, 0.0, slack) for limit in limits))
        if check.test == "within":
            centre = self._bounds(check.centre, group)[0] if isinstance(check.centre, Fact) else check.centre
            truth = near(low, high, centre, check.limit, slack)
            above, beyond = low > centre, near(low, high, centre, check.limit + check.unsure_within, slack)
        else:
            limit = self._limit(check.limit, group)
            truth = compare(check.test, low, high, limit[0], limit[1], slack)
            above, beyond = low > limit[1], near(low, high, limit[0], check.unsure_within, slack)
        if check.unsure_within:
            truth = np.where((truth == FALSE) & (beyond == TRUE), UNKNOWN, truth)
        if check.open_above_while is not None:
            open_ = self.spread(check.open_above_while, group)
            flags = open_[0].flag(check.open_above_while.name)[open_[1]]
            truth = np.where((truth == FALSE) & above & (flags != FALSE), UNKNOWN, truth)
        return truth.astype(np.int8)

    def _limit(self, limit: Any, group: str) -> tuple[Any, Any]:
        if isinstance(limit, Difference):
            low, high = self._bounds(limit.fact, group)
            return low + limit.plus, high + limit.plus
        return self._bounds(limit, group) if isinstance(limit, Fact) else (limit, limit)

    def _bounds(self, fact: Fact, group: str) -> tuple[np.ndarray, np.ndarray]:
        table, rows = self.spread(fact, group)
        low, high = table.number(fact.name)
        return low[rows], high[rows]

    def spread(self, fact: Fact, group: str) -> tuple[Table, Any]:
        """The table that holds the fact, and for each row of the group its row there."""
        if fact.group == "batch" and group != "batch":
            return self.facts.tables["batch"], self.facts.tables[group].owner
        return self.facts.tables[group], slice(None)

    def holder(self, fact: Fact, group: str, row: int) -> tuple[Table, int]:
        """The table and row that hold the fact for one row of a group."""
        if fact.group == "batch" and group != "batch":
            return self.facts.tables["batch"], int(self.facts.tables[group].owner[row])
        return self.facts.tables[group], row

    def _referred(self, node: OtherRule) -> np.ndarray:
        chosen = self.chosen(node.rule)
        if node.of == "spirit":
            chosen = chosen[self.facts.tables["spirit"].owner]
        result = np.full(len(chosen), UNKNOWN, dtype=np.int8)
        for number, version in enumerate(self.book.versions(node.rule)):
            here = chosen == number
            if here.any():
                result[here] = self.rule(version)[here]
        return result

    def chosen(self, rule_id: str) -> np.ndarray:
        """For each batch the position of the rule's version in force, -1 where none is."""
        places = {id(rule): number for number, rule in enumerate(self.book.versions(rule_id))}
        by_day = {day: places.get(id(self.version(rule_id, day)), -1) for day in set(self.facts.days)}
        return np.array([by_day[day] for day in self.facts.days], dtype=np.int64)

    def version(self, rule_id: str, day: Any) -> Rule | None:
        """The version of a rule in force on a day."""
        key = (rule_id, day)
        if key not in self._versions:
            standing = [rule for rule in self.book.versions(rule_id) if day is not None and rule.in_force(day)]
            self._versions[key] = standing[-1] if standing else None
        return self._versions[key]

    def members(self, node: Quantified, batch: int, truth: int) -> tuple[list[int], int]:
        """The rows that make a quantified condition what it is, MOST_ROWS at most, and how many more there are.

        Of spirits the youngest come first; else the order of the table counts, which is by name.
        """
        table = self.facts.tables[node.group]
        low, high = int(table.starts[batch]), int(table.starts[batch + 1])
        rows = low + np.flatnonzero(self.truth(node.part, node.group)[low:high] == truth)
        if len(rows) <= MOST_ROWS:
            return rows.tolist(), 0
        if node.group == "spirit" and truth == FALSE:
            rows = rows[np.argsort(table.number("age")[0][rows], kind="stable")]
        return rows[:MOST_ROWS].tolist(), len(rows) - MOST_ROWS

    def left_out(self, node: Any, batch: int) -> int:
        """How many rows a condition that does not hold has beside those that its causes name."""
        truth = int(self.truth(node)[batch])
        if isinstance(node, Quantified):
            return self.members(node, batch, truth)[1]
        return 0

    def batch_of(self, group: str, row: int) -> int:
        return row if group == "batch" else int(self.facts.tables[group].owner[row])

    def causes(self, node: Any, batch: int, wanted: bool = True) -> Iterator[Cause]:
        """What keeps the condition from being ``wanted`` in one batch: the deciding facts only."""
        yield from self._causes(node, "batch", batch, wanted)

    def _causes(self, node: Any, group: str, row: int, wanted: bool) -> Iterator[Cause]:
        truth = self.truth(node, group)[row]
        if truth == (TRUE if wanted else FALSE):
            return
        if isinstance(node, (Check, Same, Share)):
            yield Cause(node, group, row, wanted)
        elif isinstance(node, (Both, Either)):
            for part in node.parts:
                aside = isinstance(node, Either) and self.is_none(part, group, row)
                if self.truth(part, group)[row] == truth and not aside:
                    yield from self._causes(part, group, row, wanted)
        elif isinstance(node, Negation):
            yield from self._causes(node.part, group, row, not wanted)
        elif isinstance(node, Quantified):
            for position in self.members(node, row, int(truth))[0]:
                yield from self._causes(node.part, node.group, position, wanted)
        elif isinstance(node, OtherRule):
            version = self.version(node.rule, self.facts.days[self.batch_of(group, row)])
            if version is None or (version.untested and self.needs(version)[row] == TRUE):
                yield Cause(node, group, row, wanted)
            for need in version.needs if version else ():
                if self.truth(need.condition, group)[row] == truth:
                    yield from self._causes(need.condition, group, row, wanted)

    def is_none(self, part: Any, group: str, row: int) -> bool:
        """Whether an alternative is none for the row, so that nothing is told of it."""
        if isinstance(part, Check):
            return part.must_be_known or (part.quiet and bool(self.truth(part, group)[row] == FALSE))
        if isinstance(part, Negation):
            return isinstance(part.part, Check) and part.part.quiet
        return isinstance(part, Both) and any(self.is_none(inner, group, row) for inner in part.parts)

    def assumptions(self, node: Any) -> Iterator[tuple[Check | Same, np.ndarray]]:
        """The checks with something taken as given, and in which batches: for a fact unknown, or beside a known one."""
        if isinstance(node, Both):
            for part in node.parts:
                yield from self.assumptions(part)
        elif isinstance(node, Either):
            yield from self._assumptions_of_either(node)
        elif isinstance(node, Negation):
            yield from self.assumptions(node.part)
        elif isinstance(node, OtherRule):
            yield from self._assumptions_of_rule(node)
        elif isinstance(node, Quantified):
            starts = self.facts.tables[node.group].starts
            for check in self._assuming(node.part):
                if check.given:
                    yield check, self.truth(node) == TRUE
                else:
                    blank = np.where(self._assumed(check, node.group), TRUE, FALSE).astype(np.int8)
                    yield check, (some(blank, starts) == TRUE) & (starts[1:] > starts[:-1])
        elif isinstance(node, (Check, Same)) and (node.assume or node.given):
            yield node, self._assumed(node, "batch") if node.assume else self.bare(node, "batch") == TRUE

    def _assumptions_of_either(self, node: Either) -> Iterator[tuple[Check | Same, np.ndarray]]:
        """Those of alternatives; none where one of them holds with nothing taken as given."""
        found = [list(self.assumptions(part)) for part in node.parts]
        sure = [self.truth(part) == TRUE for part, taken in zip(node.parts, found, strict=True) if not taken]
        for check, where in (pair for taken in found for pair in taken):
            yield check, np.logical_and(where, ~np.logical_or.reduce(sure)) if sure else where

    def _assumptions_of_rule(self, node: OtherRule) -> Iterator[tuple[Check | Same, np.ndarray]]:
        chosen = self.chosen(node.rule)
        for number, version in enumerate(self.book.versions(node.rule)):
            if (chosen == number).any():
                for need in version.needs:
                    for check, where in self.assumptions(need.condition):
                        yield check, where & (chosen == number)

    def _assuming(self, node: Any) -> Iterator[Check]:
        if isinstance(node, (Both, Either)):
            for part in node.parts:
                yield from self._assuming(part)
        elif isinstance(node, Negation):
            yield from self._assuming(node.part)
        elif isinstance(node, Check) and (node.assume or node.given):
            yield node


SHARE_SLACK = 1e-9
"""Absorbs the last digits of a share in per cent."""
