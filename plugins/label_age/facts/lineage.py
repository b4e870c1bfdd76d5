"""Where the spirit of a line comes from: back through movements, heels, remainders and earlier batches, to any depth.

An *origin* is one filling of one cask. On its way to a draw it made *stays* in casks; tanks, vats and heels end a
stay and begin none. What no sheet tells is an origin of its own, with the doubt in words.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import pandas as pd

from plugins.label_age.facts.additions import MAY_HOLD_SPIRIT
from plugins.label_age.facts.wood import folded

INTO_EMPTY = ("fill", "recask", "finish", "receive", "return", "rework", "marry")
"""Reasons of a movement into a cask that, where the inventory's filling is the same spirit, explain that filling."""
LEAVES_NOTHING = ("recask", "finish", "tank hold", "marry", "rework", "ship", "destroy", "filter")
"""Reasons of a movement out of a cask that end its filling."""
PARTIAL = 0.5
"""A movement of less than this share of the cask's size leaves the rest where it was (common practice, no source)."""
USUAL_L = 200.0
DEEPEST = 100_000
INSTANT = pd.Timedelta(1, "us")


@dataclass(frozen=True)
class Stay:
    """Time in one cask: ``filled_on`` is the filling whose row of the inventory tells the wood."""

    cask: str
    filled_on: Any
    since: Any
    until: Any
    reason: str = ""


@dataclass(frozen=True)
class Origin:
    """One filling that went into a line, or (no stays) something of which ``doubt`` says why nothing is known.

    ``substance`` is set for what is no spirit (an addition on the way); ``through`` names vessels since.
    """

    stays: tuple[Stay, ...] = ()
    facts: frozenset[int] = frozenset()
    through: tuple[str, ...] = ()
    substance: str = ""
    doubt: str = ""


@dataclass
class Early:
    """A cask that a movement emptied before the blend sheet drew it."""

    cask: str
    moved_to: str
    moved_on: Any
    facts: frozenset[int]


@dataclass
class Lineage:
    """Looks up what was in a cask or vessel at a moment.

    Frames: components (all batches, with a column ``_substance``), casks, movements, briefs, bottlings.
    """

    components: pd.DataFrame
    casks: pd.DataFrame
    movements: pd.DataFrame
    briefs: pd.DataFrame
    bottlings: pd.DataFrame
    early: dict[tuple[str, Any], Early] = field(default_factory=dict)
    _known: dict[tuple[str, Any, str], tuple[Origin, ...]] = field(default_factory=dict)
    _open: set[tuple[str, Any, str]] = field(default_factory=set)
    _first: dict[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._fillings = _fillings(self.casks)
        self._names = {key: rows[0]["name"] for key, rows in self._fillings.items()}
        rows = _records(self.movements, ["moved_at", "moved_at_timed", "from", "to", "reason", "volume_L", "facts"])
        for row, out_of, into in zip(rows, folded(self.movements["from"]), folded(self.movements["to"]), strict=True):
            row["at"] = end_of(row["moved_at"], row["moved_at_timed"])
            row["from_key"], row["to_key"] = out_of or "", into or ""
        rows.sort(key=lambda row: (row["at"], row["from_key"], row["to_key"], str(row["reason"]), str(row["volume_L"])))
        self._into, self._out = _by(rows, "to_key"), _by(rows, "from_key")
        self._vessel = {b: v or "" for b, v in zip(self.briefs["batch"], folded(self.briefs["vessel"]), strict=True)}
        self._lines: dict[str, list[dict[str, Any]]] | None = None
        self._vats: dict[str, list[str]] = {}
        for batch, vessel in self._vessel.items():
            self._vats.setdefault(vessel, []).append(batch)
        self._empty = {b: said for b, said in zip(self.briefs["batch"], self.briefs["vessel_empty"], strict=True)}
        self._brief_facts = dict(zip(self.briefs["batch"], self.briefs["facts"], strict=True))
        left = _records(self.bottlings, ["batch", "bottled_on", "remainder_to", "facts"])
        self._left = _by([r | {"to_key": fold_one(r["remainder_to"])} for r in left if r["remainder_to"]], "to_key")

    def of_line(self, line: dict[str, Any]) -> tuple[Origin, ...]:
        """Origins of one line with ``batch``, ``component``, ``kind``, ``at`` (its earliest draw) and ``first``.

        ``first`` is the moment before which a heel lay in the vat.
        """
        if line["kind"] == "heel":
            vessel = self._vessel.get(line["batch"], "")
            if vessel in ("", None):
                return (Origin(doubt="the brief names no vessel whose heel it could be"),)
            before = line["first"] if not pd.isna(line["first"]) else line["at"]
            return self.contents(vessel, before - INSTANT if not pd.isna(before) else before, str(line["batch"]))
        return self.contents(fold_one(line["component"]), line["at"], str(line["batch"]))

    def contents(self, key: str, at: Any, without: str = "") -> tuple[Origin, ...]:
        """What a cask or vessel held at a moment; ``without`` names a batch whose own draws do not count."""
        if pd.isna(at):
            return (Origin(doubt=f"no sheet says when {self._spelt(key)} was drawn (blends, column drawn_at)"),)
        asked = (key, at, without)
        if asked in self._known:
            return self._known[asked]
        if asked in self._open:
            return (Origin(doubt=f"the movements lead round in a circle at {self._spelt(key)}"),)
        self._open.add(asked)
        found = self._in_cask(key, at) if key in self._fillings else self._in_vessel(key, at, without)
        self._open.discard(asked)
        self._known[asked] = merged(found)
        return self._known[asked]

    def name(self, key: str) -> str:
        return self._names.get(key, key)

    def _in_cask(self, key: str, at: Any) -> list[Origin]:
        live = [row for row in self._fillings[key] if row["filled_on"] <= at]
        filling = live[-1] if live else self._fillings[key][0]
        start = filling["filled_on"]
        into = [m for m in self._into.get(key, ()) if start <= m["at"] <= at]
        gone = self._gone(key, start, at, into)
        until = _day(min(at, gone["at"]) if gone else at)
        wood = {"cask": self.name(key), "filled_on": start, "until": until}
        found, explained = [], False
        for moved in into:
            day = _day(moved["moved_at"])
            for origin in self._source(moved, day):
                same = bool(origin.stays) and origin.stays[0].filled_on == start
                explained |= moved["reason"] in INTO_EMPTY and (day == _day(start) or same)
                stay = Stay(since=day, reason=str(moved["reason"]), **wood)
                facts = origin.facts | set(moved["facts"]) | set(filling["facts"])
                found.append(replace(origin, stays=(*origin.stays, stay), facts=frozenset(facts)))
        emptied = into and any(
            start <= m["at"] <= into[0]["at"] and m["reason"] in LEAVES_NOTHING for m in self._out.get(key, ())
        )
        if explained or (emptied and found):
            return found
        base = Origin((Stay(since=_day(start), **wood),), frozenset(filling["facts"]))
        return [base, *found]

    def _source(self, moved: dict[str, Any], day: Any) -> tuple[Origin, ...]:
        """What a movement brought; new spirit from no known cask or vessel begins with it when it is a filling."""
        key = moved["from_key"]
        known = key in self._fillings or key in self._into or key in self._vats or key in self._left
        if known:
            return self.contents(key, moved["at"])
        if moved["reason"] == "fill":
            return ()
        said = f"no sheet says what {moved['from']} held on {day.date()} (movements, column from)"
        return (Origin(doubt=said),)

    def _gone(self, key: str, start: Any, at: Any, into: list[dict[str, Any]]) -> dict[str, Any] | None:
        """The movement that left nothing in the cask before the draw, if nothing came in since."""
        last_in = max([m["at"] for m in into], default=start)
        out = [m for m in self._out.get(key, ()) if self._ends(key, m) and last_in < m["at"]]
        early = [m for m in out if _day(m["at"]) < _day(at)]
        if not early:
            return None
        moved = early[0]
        self.early[key, at] = Early(self.name(key), moved["to"], _day(moved["moved_at"]), frozenset(moved["facts"]))
        return moved

    def _ends(self, key: str, moved: dict[str, Any]) -> bool:
        """Whether a movement out of a cask left nothing in it: by its reason, and by its volume where one is stated."""
        size = self._fillings[key][-1]["capacity_L"]
        size = USUAL_L if size is None else size
        part = moved["volume_L"] is not None and moved["volume_L"] < PARTIAL * size
        return moved["reason"] in LEAVES_NOTHING and not part

    def _in_vessel(self, key: str, at: Any, without: str) -> list[Origin]:
        began, facts, sure = self._last_empty(key, at, without)
        found: list[Origin] = []
        for moved in self._into.get(key, ()):
            if began <= moved["at"] <= at:
                found += self._passed(self._source(moved, _day(moved["moved_at"])), key, moved["facts"])
        for batch in self._vats.get(key, ()):
            if batch != without:
                found += self._of_batch(batch, key, began, at)
        for left in self._left.get(key, ()):
            when = end_of(left["bottled_on"], False)
            if began <= when <= at and self._vessel.get(left["batch"]) != key:
                found += self._passed(self._of_batch(left["batch"], key, pd.Timestamp.min, when), key, left["facts"])
        if not found:
            return [Origin(doubt=f"no sheet says what {self._spelt(key)} held (movements, or the brief of its batch)")]
        if not sure:
            said = f"no sheet says that {self._spelt(key)} was empty before (briefs, column vessel_empty)"
            found.append(Origin(doubt=said))
        return [replace(origin, facts=origin.facts | facts) for origin in found]

    def _last_empty(self, key: str, at: Any, without: str) -> tuple[Any, frozenset[int], bool]:
        """The last moment at which the vessel was said to be empty, the ids of that brief, and whether one says so.

        Where none does, what the last batch in it was given is looked at; what else lay there is in doubt.
        """
        best, facts, latest = pd.Timestamp.min, frozenset[int](), pd.Timestamp.min
        for batch in self._vats.get(key, ()):
            first = self._first_draw(batch)
            if batch == without or first is None or not first <= at:
                continue
            latest = max(latest, first)
            said = self._empty.get(batch)
            if best < first and said is not None and not pd.isna(said) and said:
                best, facts = first, frozenset(self._brief_facts[batch])
        return (best, facts, True) if best > pd.Timestamp.min else (latest, facts, False)

    def _first_draw(self, batch: str) -> Any:
        if batch not in self._first:
            days = [line["drawn_at"].normalize() for line in self.lines(batch) if not pd.isna(line["drawn_at"])]
            self._first[batch] = min(days, default=None)
        return self._first[batch]

    def lines(self, batch: str) -> list[dict[str, Any]]:
        if self._lines is None:
            columns = ["batch", "component", "kind", "drawn_at", "drawn_at_timed", "_substance", "facts"]
            self._lines = _by(_records(self.components, columns), "batch")
        return self._lines.get(batch, [])

    def _of_batch(self, batch: str, key: str, began: Any, at: Any) -> list[Origin]:
        found: list[Origin] = []
        lines = self.lines(batch)
        first = min(
            (r["drawn_at"] for r in lines if r["kind"] != "heel" and not pd.isna(r["drawn_at"])), default=pd.NaT
        )
        for line in lines:
            when = end_of(line["drawn_at"], line["drawn_at_timed"])
            if line["kind"] == "heel" and self._vessel.get(batch) == key:
                continue  # what lay in this vessel is found by what went into it
            if line["_substance"] == "water" or (not pd.isna(when) and not began <= when <= at):
                continue
            substance = line["_substance"]
            made: tuple[Origin, ...] = ()
            if substance not in ("spirit", None):
                made = (Origin(substance=f"{substance}\x1f{line['component']}"),)
            if substance in MAY_HOLD_SPIRIT and line["kind"] == "addition":
                made += (Origin(doubt=f"the age of the addition {line['component']} stands on no sheet"),)
            elif substance in ("spirit", None):
                made = self.of_line({**line, "at": when, "first": first})
            found += self._passed(made, key, line["facts"])
        return found

    def _passed(self, origins: Any, key: str, facts: Any) -> list[Origin]:
        here = self._spelt(key)
        return [
            replace(o, through=tuple(dict.fromkeys((*o.through, here))), facts=o.facts | set(facts)) for o in origins
        ]

    def _spelt(self, key: str) -> str:
        """The vessel's name as a sheet writes it."""
        if key not in self._names:
            moved = [m["to"] for m in self._into.get(key, ())] + [m["from"] for m in self._out.get(key, ())]
            vats = [v for v in self.briefs["vessel"].dropna() if fold_one(v) == key]
            self._names[key] = str(next(iter([*vats, *moved]), key))
        return self._names[key]


def merged(found: list[Origin]) -> tuple[Origin, ...]:
    """Each origin once, however many ways it came: with the ids and the vessels of all of them."""
    made: dict[Any, tuple[Origin, set[int], dict[str, None]]] = {}
    for origin in found:
        key = (origin.stays, origin.substance, origin.doubt)
        _, facts, through = made.setdefault(key, (origin, set(), {}))
        facts |= origin.facts
        through.update(dict.fromkeys(origin.through))
    return tuple(replace(o, facts=frozenset(facts), through=tuple(way)) for o, facts, way in made.values())


@contextmanager
def deep_recursion() -> Iterator[None]:
    """Vats filled from vats for years make long chains; frames of Python 3.11 and later do not use the C stack."""
    before = sys.getrecursionlimit()
    sys.setrecursionlimit(max(before, DEEPEST))
    try:
        yield
    finally:
        sys.setrecursionlimit(before)


def end_of(moment: Any, timed: Any) -> Any:
    """The last instant that a moment may mean: a day without a time ends at midnight."""
    if pd.isna(moment):
        return pd.NaT
    return moment if timed is True else moment.normalize() + pd.Timedelta(1, "D") - INSTANT


def fold_one(name: Any) -> str:
    return str(folded([name])[0] or "")


def _day(moment: Any) -> Any:
    return moment.normalize()


def _fillings(casks: pd.DataFrame) -> dict[str, list[dict[str, Any]]]:
    """Each cask's fillings by their day, with the ids of the last row of the inventory on each."""
    ordered = casks.sort_values(["filled_on", "as_of"], kind="stable") if len(casks) else casks
    table = pd.DataFrame(
        {
            "key": folded(ordered["cask"]),
            "name": ordered["cask"].to_numpy(),
            "filled_on": ordered["filled_on"].to_numpy(),
        }
    )
    table["capacity_L"] = ordered["capacity_L"].to_numpy(float)
    table["facts"] = np.array([*ordered["facts"], None], dtype=object)[:-1]
    table = table[table["key"].notna() & table["filled_on"].notna()].drop_duplicates(["key", "filled_on"], keep="last")
    return _by(_records(table, ["key", "name", "filled_on", "capacity_L", "facts"]), "key")


def _records(table: pd.DataFrame, columns: list[str]) -> list[dict[str, Any]]:
    values = []
    for column in columns:
        found = table[column]
        values.append(list(found) if found.dtype == object or str(found.dtype).startswith("datetime") else
                      [None if pd.isna(v) else v for v in found])  # fmt: skip
    return [dict(zip(columns, row, strict=True)) for row in zip(*values, strict=True)]


def _by(rows: list[dict[str, Any]], key: str) -> dict[str, list[dict[str, Any]]]:
    grouped: dict[str, list[dict[str, Any]]] = {}
    for row in rows:
        grouped.setdefault(row[key], []).append(row)
    return grouped
