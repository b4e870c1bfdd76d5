"""The first sentence of a reason: what decides the verdict, short enough for a reader who knows no law."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from plugins.label_age.facts.ages import anniversary, in_words
from plugins.label_age.facts.catalogue import Fact
from plugins.label_age.facts.logic import UNKNOWN, WORDS
from plugins.label_age.rules.conditions import Check, Same
from plugins.label_age.rules.evaluate import Cause, Judge
from plugins.label_age.telling.missing import Missing
from plugins.label_age.telling.sentences import (
    LABELS,
    NOTHING,
    STRENGTHS,
    Told,
    figure_of,
    is_spirit_age,
    judged,
    name_of,
    strength_of,
    undecided,
    value_of,
    wanted_of,
)

MOST_WORDS = 25
SAID_LAST = ("wood_not_stated", "origin_not_stated", "substance", "claims")
"""Facts that only say which of several alternatives is asked for: told first of a verdict where nothing else is."""


@dataclass(slots=True)
class Why:
    """A reason: its ``opening``, the ``rest`` as text, whom it is ``told`` of, the conditions that are not known."""

    opening: str
    rest: str = ""
    told: Told = NOTHING
    asks: tuple[Any, ...] = ()


def fits(truth: int, said: str) -> bool:
    return len(f"{WORDS[truth]}: {said}".split()) <= MOST_WORDS


@lru_cache(maxsize=4096)
def opening(truth: int, *said: str) -> str:
    """``Not met: …`` with the first of the wordings that fits into MOST_WORDS; else the last, cut off."""
    known = [text for text in said if text] or ["nothing on the sheets speaks of it"]
    chosen = next((text for text in known if fits(truth, text)), None)
    if chosen is None:
        room = MOST_WORDS - len(WORDS[truth].split()) - 1
        chosen = " ".join(known[-1].split()[:room]) + " …"
    return f"{WORDS[truth].capitalize()}: {chosen}."


def why_failed(judge: Judge, causes: Iterable[Cause], told: Told) -> tuple[str, ...]:
    """Wordings of what fails first, from the fullest to the shortest."""
    failing = [
        cause
        for cause in causes
        if isinstance(cause.node, Check) and judge.truth(cause.node, cause.group)[cause.row] != UNKNOWN
    ]
    if not failing:
        return told.text, told.text.partition(";")[0], told.text.partition(":")[0]
    first = min(failing, key=lambda cause: _rank(judge, cause))
    node, group, row = first.node, first.group, first.row
    assert isinstance(node, Check)
    table, held = judge.holder(node.fact, group, row)
    name, value = judged(judge, node.fact, group, row), value_of(node.fact, table, held)
    wanted = wanted_of(judge, node, group, row, first.wanted)
    if node.fact.kind == "flag":
        return (f"{name} {value}",)
    if is_spirit_age(node.fact):
        short = _short(judge, node, row) if first.wanted else ()
        lay = f"{name} is {value} old"
        if node.fact.name != "age":
            lay = f"{name} lay {value} {node.fact.words.removeprefix('age ')}"
        return *short, f"{lay}; {wanted} is required", lay
    if node.fact.name in (*STRENGTHS, *LABELS):
        does = "has" if node.fact.name in STRENGTHS else "states"
        said = f"{name} {does} {figure_of(judge, node, group, row)}"
        note = strength_of(judge, group, row).partition(" (")[2] if node.fact.name in STRENGTHS else ""
        noted = f"{said}; {wanted} is required ({note}" if note else ""
        return noted, f"{said}; {wanted} is required", said
    of = "" if group == "batch" or name == "the brief" else f" of {name}"
    if node.fact.name == "substance":
        return f"{name} is not {' or '.join(node.shown)}", f"{name} is none of what may be in it"
    said = f"the {node.fact.words}{of} {'are' if node.fact.kind == 'texts' else 'is'} {value}"
    if node.fact.kind in ("text", "texts"):
        return *_not_the_text(judge, first, said), said
    return f"{said}; {wanted} is required", said


def _not_the_text(judge: Judge, cause: Cause, said: str) -> tuple[str, ...]:
    """Wordings of a text that is none of those asked for, or one of those shut out."""
    node = cause.node
    assert isinstance(node, Check)
    if not cause.wanted:
        return (f"{said}, which the rule shuts out",)
    if isinstance(node.limit, Fact):
        table, held = judge.holder(node.limit, cause.group, cause.row)
        return (f"{said}, not the {node.limit.words}, {value_of(node.limit, table, held)}",)
    return f"{said}, not {' or '.join(node.shown)}", f"{said}, which is not among those allowed"


def _rank(judge: Judge, cause: Cause) -> tuple[int, float]:
    """Which of several causes a reader is told first: an age, of the youngest; a number, what was done, a name."""
    fact = cause.node.fact if isinstance(cause.node, Check) else None
    if fact is None or fact.name in SAID_LAST or (fact.kind == "text" and not cause.wanted):
        return 9, 0.0
    if is_spirit_age(fact):
        age = float(judge.facts.tables["spirit"].number(fact.name)[0][cause.row])
        return (0 if fact.name == "age" else 1), age
    return {"number": 2, "age": 2, "flag": 3}.get(fact.kind, 4), 0.0


def _short(judge: Judge, node: Check, row: int) -> tuple[str, ...]:
    """How many days a spirit of one stay is short of an age, and the day on which it reaches it."""
    table = judge.facts.tables["spirit"]
    since, until = table.since[row], table.until[row]
    limit, stated = node.limit, isinstance(node.limit, Fact)
    if isinstance(limit, Fact):
        holder, held = judge.holder(limit, "spirit", row)
        limit = holder.number(limit.name)[0][held]
    plain = node.fact.name == "age" and node.test == "at_least" and isinstance(limit, float) and np.isfinite(limit)
    if not plain or np.isnat(since) or np.isnat(until) or ("_path" in table.texts and table.text("_path")[row]):
        return ()
    day = anniversary(np.array([since], dtype="datetime64[D]"), np.array([limit]))[0]
    days, age = int((day - until).astype("int64")), in_words(float(limit))
    opened = f"the label says {age}" if stated else f"it must be at least {age} old"
    lack = f"{table.names[row]} is {days} day{'' if days == 1 else 's'} short"
    return f"{opened}; {lack} and reaches {age} on {day}", f"{opened}; {lack}"


def why_missing(missing: list[Missing]) -> tuple[str, ...]:
    """Wordings of what is missing: the fact that costs the most casks with its column, and how many facts more."""
    if not missing:
        return ()
    first, more = missing[0], len(missing) - 1
    rest = f"; {more} more {'fact is' if more == 1 else 'facts are'} missing too" if more else ""
    said = f"not known is {first.words}" if first.fact.kind == "flag" else f"the {first.words} is not known"
    said = said.replace("not known is of ", "not known of ", 1)
    return f"{said} ({first.where}){rest}", f"{said} ({first.where})", f"{said}{rest}", said, first.where


def why_open(judge: Judge, causes: Iterable[Cause], told: Told) -> tuple[str, ...]:
    """Wordings of a known figure that yet decides nothing, or of what is still to come."""
    for cause in causes:
        node = cause.node
        if isinstance(node, Check) and judge.truth(node, cause.group)[cause.row] == UNKNOWN:
            if node.open_above_while is not None and (come := _to_come(judge, node, cause)):
                return come, come.partition(";")[0]
            said = undecided(judge, node, cause.group, cause.row, name_of(judge, cause.group, cause.row))
            return said, node.unsure, said.rpartition(": ")[0], said.partition(", where ")[0]
    return told.text, told.text.partition(";")[0], told.text.partition(":")[0]


def _to_come(judge: Judge, node: Check, cause: Cause) -> str:
    assert node.open_above_while is not None
    flags, of = judge.holder(node.open_above_while, cause.group, cause.row)
    return flags.reason_unknown(node.open_above_while.name, of)


def assumed_by(check: Check | Same) -> str:
    """What a check takes as given where no sheet says otherwise."""
    return check.assume or check.given


def why_met(demands: list[str], keys: str, taken: bool, stated: str) -> tuple[str, ...]:
    """Wordings of why a claim is met. ``demands`` in our words, ``keys`` the same in few, ``stated`` of an age."""
    short = f"{keys} {'are' if ' and ' in keys else 'is'} as the law asks" if keys else ""
    count = len(demands)
    every = f"all {count} demands hold" if count > 1 else "the one demand holds"
    aside = ", with something taken as given" if taken else ""
    return tuple(f"{text}{aside}" for text in (stated, "; ".join(demands), short, every) if text)
