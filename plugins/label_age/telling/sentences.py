"""Reasons in words: which cask, which date, which limit, and for what is unknown which sheet would bring it."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby
from typing import Any

import numpy as np

from plugins.label_age.facts.ages import in_words
from plugins.label_age.facts.catalogue import Fact
from plugins.label_age.facts.lines import span_of
from plugins.label_age.facts.logic import FALSE, TRUE, UNKNOWN
from plugins.label_age.facts.tables import Table
from plugins.label_age.rules.conditions import Check, Difference, OtherRule, Same, Share
from plugins.label_age.rules.evaluate import Cause, Judge
from plugins.label_age.rules.versions import Rule

MOST_NAMED = 3
ORDER_WORDS = {
    "at_least": "at least {}", "at_most": "at most {}", "more_than": "more than {}", "less_than": "less than {}",
}  # fmt: skip
STRENGTHS = ("proof", "abv_at_60F", "abv_at_20C")
LABELS = ("label_abv_60F", "label_abv_20C", "label_one_decimal")
PLACES = {"proof": 1, "abv_at_60F": 2, "abv_at_20C": 2}
"""Decimals of a strength: proof to the tenth (27 CFR 30.23), % vol as the record shows it."""


@dataclass(frozen=True)
class Told:
    """Sentences about causes, with the fact ids and the column of the first cell they speak of.

    ``parts`` are the sentences where there are several, ``plain`` wordings of the first of them, from the fullest to
    the shortest; ``missing`` are the facts that would decide a verdict, with their columns.
    """

    text: str
    facts: tuple[int, ...] = ()
    column: str = ""
    subject: str = ""
    observed: str = ""
    expected: str = ""
    plain: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()


NOTHING = Told("")


def number(value: float) -> str:
    """A number with at most four decimals and no trailing zeros."""
    return f"{value:.4f}".rstrip("0").rstrip(".")


def amount(fact: Fact, value: float) -> str:
    """A value of a fact with its unit; an age in words."""
    if fact.kind == "age":
        return in_words(value)
    return f"{number(value)} {fact.unit}".strip()


def tell(judge: Judge, causes: list[Cause]) -> Told:
    """One sentence part per fact concerned, the components named, the first cell kept."""
    parts = []
    for _, alike in groupby(sorted(causes, key=_kind_of), key=_kind_of):
        parts.append(_tell_alike(judge, list(alike)))
    if not parts:
        return Told("")
    first = parts[0]
    said = tuple(dict.fromkeys(part.text for part in parts))
    more = said if len(said) > 1 else ()
    return Told("; ".join(said), first.facts, first.column, first.subject, first.observed, first.expected, parts=more)


def _tell_alike(judge: Judge, causes: list[Cause]) -> Told:
    causes = list(dict.fromkeys(causes))
    first = causes[0].node
    if isinstance(first, Check) and is_spirit_age(first.fact):
        ages = judge.facts.tables["spirit"].number(first.fact.name)[0]
        causes.sort(key=lambda cause: (bool(np.isnan(ages[cause.row])), float(ages[cause.row])))
    node, group, row = causes[0].node, causes[0].group, causes[0].row
    if isinstance(node, OtherRule):
        version = judge.version(node.rule, judge.facts.days[judge.batch_of(group, row)])
        if version is None:
            return Told(f"rule {node.rule} has no version in force on the day that counts")
        return Told(f"nothing here tests {not_tested(version)} ({version.section})")
    if isinstance(node, Same):
        return _tell_same(judge, node, row)
    if isinstance(node, Share):
        return _tell_share(judge, node, row)
    facts, column = _cell(judge, node, group, row)
    unknown = [cause.row for cause in causes if judge.truth(cause.node, group)[cause.row] == UNKNOWN]
    if unknown:
        text = _unknown(judge, node, group, list(dict.fromkeys(unknown)))
        concerned = _unknown_fact(judge, node, group, row)
        observed = figure_of(judge, node, group, row) if concerned is node.fact else "not known"
        whom, wanted = judged(judge, concerned, group, row), wanted_of(judge, node, group, row)
        return Told(text, facts, column, whom, observed, wanted)
    wanted = either_wanted(judge, [cause for cause in causes if cause.row == row])
    text = _failures(judge, causes)
    return Told(text, facts, column, judged(judge, node.fact, group, row), figure_of(judge, node, group, row), wanted)


def _kind_of(cause: Cause) -> tuple[str, str]:
    """What makes causes alike: one fact of one group, tested once or in several ways."""
    node = cause.node
    if isinstance(node, (OtherRule, Share)):
        return f"{type(node).__name__} {id(node)}", cause.group
    return f"{type(node).__name__} {node.fact.name}", cause.group


def is_spirit_age(fact: Fact) -> bool:
    return fact.kind == "age" and fact.group == "spirit"


def either_wanted(judge: Judge, causes: list[Cause]) -> str:
    checks = [(cause, cause.node) for cause in causes]
    said = [
        wanted_of(judge, node, cause.group, cause.row, cause.wanted)
        for cause, node in checks
        if isinstance(node, Check)
    ]
    return " or ".join(dict.fromkeys(said))


def _failures(judge: Judge, causes: list[Cause]) -> str:
    """Rows that fail alike named together: same value, same demand."""
    by_row: dict[int, list[Cause]] = {}
    for cause in causes:
        by_row.setdefault(cause.row, []).append(cause)
    alike: dict[tuple[str, str], list[int]] = {}
    for row, of_row in by_row.items():
        wanted = either_wanted(judge, of_row)
        alike.setdefault((_failed(judge, of_row[0]), wanted), []).append(row)
    node, group = causes[0].node, causes[0].group
    assert isinstance(node, Check)
    said = []
    for (value, wanted), rows in list(alike.items())[:MOST_NAMED]:
        names = _listed([name_of(judge, group, row) for row in rows])
        said.append(_failure(judge, node, group, rows[0], names, value, wanted))
    more = len(alike) - MOST_NAMED
    return "; ".join(said) + (f"; and {more} more" if more > 0 else "")


def _cell(judge: Judge, node: Check, group: str, row: int) -> tuple[tuple[int, ...], str]:
    """The cell that the check speaks of: the blank one where something is unknown, else the figure measured against."""
    fact = node.centre if isinstance(node.centre, Fact) else node.fact
    if judge.truth(node, group)[row] == UNKNOWN:
        fact = _unknown_fact(judge, node, group, row)
    table, held = judge.holder(fact, group, row)
    return table.cell(fact.name, held), table.column(fact, held)


def name_of(judge: Judge, group: str, row: int) -> str:
    return str(judge.facts.tables[group].names[row])


def strength_of(judge: Judge, group: str, row: int) -> str:
    table, held = judge.facts.tables["batch"], row
    if group != "batch":
        held = int(judge.facts.tables[group].owner[row])
    return str(table.text("strength_of")[held] or "the batch")


def judged(judge: Judge, fact: Fact, group: str, row: int) -> str:
    """Whose figure was judged: the vat as gauged, the label of a bottling or as planned; else the component."""
    if fact.name in STRENGTHS:
        return strength_of(judge, group, row).partition(" (")[0]
    name = name_of(judge, group, row)
    if fact.name not in LABELS:
        return name
    return "the label as planned in the brief" if name == "the brief" else f"the label of {name}"


def figure_of(judge: Judge, node: Check, group: str, row: int) -> str:
    """The figure that was judged: a strength with the digits of PLACES, more where the verdict hangs on them."""
    table, held = judge.holder(node.fact, group, row)
    if node.fact.name not in PLACES:
        return value_of(node.fact, table, held)
    low, high = (float(bound[held]) for bound in table.number(node.fact.name))
    if low != high:
        return value_of(node.fact, table, held)
    places = PLACES[node.fact.name]
    apart = any((round(low, places) > end) != (low > end) or (round(low, places) < end) != (low < end)
                for end in _ends(judge, node, group, row))  # fmt: skip
    return f"{number(low) if apart else f'{low:.{places}f}'} {node.fact.unit}"


def _ends(judge: Judge, node: Check, group: str, row: int) -> list[float]:
    """The values at which a test of a number turns, where they are known; a slack is left out."""
    if node.test == "within":
        centre, reach = _number_of(judge, node.centre, group, row), float(node.limit)
        return [centre - reach, centre + reach]
    limits = node.limit if isinstance(node.limit, tuple) else (node.limit,)
    return [_number_of(judge, limit, group, row) for limit in limits]


def _number_of(judge: Judge, limit: Any, group: str, row: int) -> float:
    fact, plus = (limit.fact, limit.plus) if isinstance(limit, Difference) else (limit, 0.0)
    if not isinstance(fact, Fact):
        return float(fact)
    table, held = judge.holder(fact, group, row)
    return float(table.number(fact.name)[0][held]) + plus


def value_of(fact: Fact, table: Table, row: int) -> str:
    if fact.kind in ("number", "age"):
        low, high = (float(bound[row]) for bound in table.number(fact.name))
        if np.isnan(low):
            return "not known" if np.isnan(high) else f"at most {amount(fact, high)}"
        if np.isinf(high):
            return f"{amount(fact, low)} or more"
        return amount(fact, low) if low == high else f"{number(low)} to {amount(fact, high)}"
    if fact.kind == "flag":
        truth = table.flag(fact.name)[row]
        return fact.words if truth == TRUE else fact.denial if truth == FALSE else "not known"
    text = table.text(fact.name)[row]
    return "not known" if text is None else ", ".join(text) if isinstance(text, tuple) else str(text)


def _limit(judge: Judge, node: Check, group: str, row: int) -> str:
    limit = node.limit
    if isinstance(limit, Difference):
        table, held = judge.holder(limit.fact, group, row)
        return f"{number(-limit.plus)} below the {limit.fact.words} of {value_of(limit.fact, table, held)}"
    if isinstance(limit, Fact):
        table, held = judge.holder(limit, group, row)
        return f"the {limit.words} of {value_of(limit, table, held)}"
    if node.fact.kind in ("text", "texts"):
        return ", ".join(node.shown)
    if isinstance(limit, tuple):
        return ", ".join(number(item) if isinstance(item, float) else str(item) for item in limit)
    return amount(node.fact, limit) if isinstance(limit, float) else str(limit)


def wanted_of(judge: Judge, node: Check, group: str, row: int, wanted: bool = True) -> str:
    if node.fact.kind == "flag":
        return node.fact.words if bool(node.limit) == wanted else node.fact.denial
    if node.test == "within":
        said = _centre(judge, node, group, row)
        text = f"within {number(node.limit)} of {said}" if node.limit else said
    elif node.test in ORDER_WORDS:
        text = ORDER_WORDS[node.test].format(_limit(judge, node, group, row))
    elif node.test == "one_of":
        text = f"one of {_limit(judge, node, group, row)}"
    else:
        text = _limit(judge, node, group, row)
    return text if wanted else f"not {text}"


def _centre(judge: Judge, node: Check, group: str, row: int) -> str:
    """What a figure is held against that may lie within some distance of it."""
    centre = node.centre
    if not isinstance(centre, Fact):
        return amount(node.fact, centre)
    table, held = judge.holder(centre, group, row)
    return f"the {centre.words} of {value_of(centre, table, held)}"


def _failed(judge: Judge, cause: Cause) -> str:
    """The value that fails, with the dates behind an age."""
    node = cause.node
    assert isinstance(node, Check)
    table, held = judge.holder(node.fact, cause.group, cause.row)
    value = value_of(node.fact, table, held)
    if is_spirit_age(node.fact):
        return f"{value}{' old' if node.fact.name == 'age' else ''} ({span_of(table, held)})"
    return value


def _failure(judge: Judge, node: Check, group: str, row: int, names: str, value: str, wanted: str) -> str:
    if node.fact.kind == "flag":
        return f"{names} {value}"
    if node.fact.name in STRENGTHS:
        of = "" if group == "batch" else f" ({names})"
        return f"{strength_of(judge, group, row)} has {value}; {wanted} is required{of}"
    if node.fact.name == "age":
        return f"{names} is {value}; {wanted} is required"
    return f"{names}: {node.fact.words} {value}; {wanted} is required".removeprefix("the batch: ")


def _unknown(judge: Judge, node: Check, group: str, rows: list[int]) -> str:
    row = rows[0]
    concerned = _unknown_fact(judge, node, group, row)
    table, held = judge.holder(concerned, group, row)
    names = _listed([name_of(judge, group, r) for r in rows] if concerned.group != "batch" else [])
    why = table.reason_unknown(concerned.name, held)
    if concerned is node.fact and not _is_blank(judge, node, group, row):
        return undecided(judge, node, group, row, names)
    if concerned.kind == "flag":
        about = f"whether {names or table.names[held]} {concerned.words} is not known"
    else:
        about = f"the {concerned.words}{' of ' + names if names else ''} is not known"
    return f"{about} ({why})" if why else f"{about}: {concerned.whence}"


def _unknown_fact(judge: Judge, node: Check, group: str, row: int) -> Fact:
    """The blank fact among those that the check compares."""
    limit = node.limit.fact if isinstance(node.limit, Difference) else node.limit
    for fact in (node.fact, limit, node.centre):
        if isinstance(fact, Fact):
            table, held = judge.holder(fact, group, row)
            if fact.kind in ("number", "age") and np.isnan(table.number(fact.name)[0][held]):
                return fact
            if fact.kind == "text" and table.text(fact.name)[held] is None:
                return fact
    return node.fact


def _is_blank(judge: Judge, node: Check, group: str, row: int) -> bool:
    table, held = judge.holder(node.fact, group, row)
    return value_of(node.fact, table, held) == "not known"


def undecided(judge: Judge, node: Check, group: str, row: int, names: str) -> str:
    """A known fact that yet decides nothing: between bounds, near a doubtful limit, or still to come down."""
    table, held = judge.holder(node.fact, group, row)
    value, wanted = value_of(node.fact, table, held), wanted_of(judge, node, group, row)
    subject = strength_of(judge, group, row) if node.fact.name in STRENGTHS else names
    has = f"{subject} has {value}" if node.fact.name in STRENGTHS else f"{subject}: {node.fact.words} {value}"
    has = has.removeprefix(": ")
    low, high = table.number(node.fact.name)
    why = table.reason_unknown(node.fact.name, held)
    if low[held] != high[held] and why:
        return f"{has}, where {wanted} is required: {why}"
    if low[held] == high[held] and node.open_above_while is not None and not _near_doubt(judge, node, group, row):
        flags, of = judge.holder(node.open_above_while, group, row)
        bound = _centre(judge, node, group, row) if node.test == "within" else wanted
        return f"{has}, above {bound}; {flags.reason_unknown(node.open_above_while.name, of)}"
    if low[held] == high[held] and node.unsure:
        return f"{has} where {wanted} is required: {node.unsure}"
    return f"{has}, where {wanted} is required: what is stated leaves it open"


def _near_doubt(judge: Judge, node: Check, group: str, row: int) -> bool:
    if not node.unsure_within or isinstance(node.centre, Fact) or node.centre is None:
        return False
    table, held = judge.holder(node.fact, group, row)
    reach = node.limit + node.unsure_within + node.fact.slack
    return bool(abs(table.number(node.fact.name)[0][held] - node.centre) <= reach)


def _tell_share(judge: Judge, node: Share, batch: int) -> Told:
    low, high = (float(bound[batch]) for bound in judge.share(node))
    wanted = ORDER_WORDS[node.test].format(f"{number(node.limit)} %")
    what = "of the bottles tested" if node.group == "bottle" else f"of the spirit ({node.by.replace('_', ' ')})"
    if np.isnan(low):
        return Told(f"the share {what} is not known, where {wanted} is required (blends, column drawn_volume)")
    said = f"{number(low)} %" if abs(high - low) < 1e-9 else f"{number(low)} to {number(high)} %"
    return Told(f"{said} {what}; {wanted} is required", observed=said, expected=wanted)


def _tell_same(judge: Judge, node: Same, batch: int) -> Told:
    table = judge.facts.tables[node.group]
    rows = table.span(batch)
    texts, plain = table.text(node.fact.name), table.plain_text(node.fact.name)
    blank = [row for row in rows if texts[row] is None]
    kinds: dict[str, list[int]] = {}
    for row in rows:
        if texts[row] is not None:
            kinds.setdefault(plain[row], []).append(row)
    if len(kinds) > 1:
        ordered = sorted(kinds.values(), key=lambda members: (-len(members), str(texts[members[0]])))
        said = [f"{texts[m[0]]} ({_listed([str(table.names[row]) for row in m])})" for m in ordered]
        odd = ordered[-1][0]
        return Told(f"{node.fact.words} differs: {', '.join(said)}", table.cell(node.fact.name, odd), node.fact.column,
                    str(table.names[odd]), str(texts[odd]), str(texts[ordered[0][0]]))  # fmt: skip
    if not blank and kinds:
        value = texts[next(iter(kinds.values()))[0]]
        return Told(f"the {node.fact.words} is {value} throughout", observed=str(value))
    if not blank:
        return Told("no component that holds spirit is listed")
    names = _listed([str(table.names[row]) for row in blank])
    why = table.reason_unknown(node.fact.name, blank[0])
    text = f"the {node.fact.words} of {names} is not known" + (f" ({why})" if why else f": {node.fact.whence}")
    return Told(text, table.cell(node.fact.name, blank[0]), node.fact.column, str(table.names[blank[0]]), "not known",
                f"one {node.fact.words} throughout")  # fmt: skip


def not_tested(rule: Rule) -> str:
    """The demands that a rule leaves untested, in words."""
    return "; ".join(demand.says for demand in rule.untested)


def _listed(names: list[str]) -> str:
    """At most three names, then how many more, repeated kinds left out: ``casks C-1, C-2``."""
    unique = list(dict.fromkeys(names))
    shown = ", ".join(unique[:MOST_NAMED])
    more = len(unique) - MOST_NAMED
    return f"{shown} and {more} more" if more > 0 else shown
