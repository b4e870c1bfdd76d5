"""Facts in columns: what the rules are judged on, one table for each group of the catalogue."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from plugins.label_age.facts.catalogue import Fact
from plugins.label_age.facts.logic import FALSE, UNKNOWN
from plugins.label_age.facts.words import plain


@dataclass
class Table:
    """Rows sorted by batch. ``starts`` has one entry more than there are batches.

    ``numbers`` maps a fact to (low, high), NaN unknown; ``flags`` to truths; ``texts`` to texts
    with None unknown. ``why`` says, where a fact is unknown, why (None: the cell is blank).
    ``cells`` maps a fact to the fact ids of the row that brings it, ``columns`` to that row's column
    where it is not the catalogue's; ``rows`` are the ids of the whole row. ``names`` is what a row is
    called in a sentence. What a table does not hold itself it takes from ``source``, row ``index``.
    ``units`` are offsets of what is measured as one (a line of several origins), ``weights`` their amounts;
    ``since`` and ``until`` are the days between which the ages of spirit were counted.
    """

    starts: np.ndarray
    names: np.ndarray
    rows: np.ndarray
    numbers: dict[str, tuple[np.ndarray, np.ndarray]] = field(default_factory=dict)
    flags: dict[str, np.ndarray] = field(default_factory=dict)
    texts: dict[str, np.ndarray] = field(default_factory=dict)
    why: dict[str, np.ndarray] = field(default_factory=dict)
    cells: dict[str, Any] = field(default_factory=dict)
    columns: dict[str, np.ndarray] = field(default_factory=dict)
    plain_texts: dict[str, np.ndarray] = field(default_factory=dict)
    source: Table | None = None
    index: np.ndarray = field(default_factory=lambda: np.empty(0, dtype=np.int64))
    units: np.ndarray | None = None
    weights: dict[str, np.ndarray] = field(default_factory=dict)
    since: np.ndarray = field(default_factory=lambda: np.empty(0, dtype="datetime64[D]"))
    until: np.ndarray = field(default_factory=lambda: np.empty(0, dtype="datetime64[D]"))
    _owner: np.ndarray | None = None

    def __len__(self) -> int:
        return len(self.names)

    @property
    def owner(self) -> np.ndarray:
        """Position of each row's batch."""
        if self._owner is None:
            self._owner = np.repeat(np.arange(len(self.starts) - 1), np.diff(self.starts))
        return self._owner

    def span(self, batch: int) -> range:
        return range(int(self.starts[batch]), int(self.starts[batch + 1]))

    def set_number(self, name: str, low: Any, high: Any = None) -> None:
        low = np.asarray(low, dtype="float64")
        self.numbers[name] = (low, low if high is None else np.asarray(high, dtype="float64"))

    def number(self, name: str) -> tuple[np.ndarray, np.ndarray]:
        """Bounds of a number; all unknown where no sheet brings it."""
        if name not in self.numbers:
            if self.source is not None and name in self.source.numbers:
                low, high = self.source.numbers[name]
                taken = low[self.index]
                self.numbers[name] = (taken, taken if high is low else high[self.index])
            else:
                self.set_number(name, np.full(len(self), np.nan))
        return self.numbers[name]

    def flag(self, name: str) -> np.ndarray:
        if name not in self.flags:
            held = None if self.source is None else self.source.flags.get(name)
            self.flags[name] = np.full(len(self), UNKNOWN, dtype=np.int8) if held is None else held[self.index]
        return self.flags[name]

    def text(self, name: str) -> np.ndarray:
        if name not in self.texts:
            held = None if self.source is None else self.source.texts.get(name)
            self.texts[name] = np.full(len(self), None, dtype=object) if held is None else held[self.index]
        return self.texts[name]

    def plain_text(self, name: str) -> np.ndarray:
        """Texts without regard to case, accents and punctuation, None unknown."""
        if name not in self.plain_texts:
            if self.source is not None and name not in self.texts and name in self.source.texts:
                self.plain_texts[name] = self.source.plain_text(name)[self.index]
            else:
                self.plain_texts[name] = plain_of(self.text(name))
        return self.plain_texts[name]

    def reason_unknown(self, name: str, row: int) -> str:
        reasons = self.why.get(name)
        if reasons is None and self.source is not None:
            return self.source.reason_unknown(name, int(self.index[row]))
        return "" if reasons is None or reasons[row] is None else str(reasons[row])

    def unread(self, name: str) -> np.ndarray:
        """Rows of which something is said that leaves the fact unknown: boolean."""
        reasons = self.why.get(name)
        if reasons is None and self.source is not None:
            return self.source.unread(name)[self.index]
        return np.full(len(self), False) if reasons is None else np.array([text is not None for text in reasons], bool)

    def is_told(self, fact: Fact) -> np.ndarray:
        """Rows of which something is said of a fact, be it a value, a bound, or what leaves it unknown: boolean."""
        unread = self.unread(fact.name)
        if fact.kind in ("number", "age"):
            low, high = self.number(fact.name)
            return unread | ~(np.isnan(low) & np.isnan(high))
        if fact.kind == "flag":
            return np.asarray(unread | (self.flag(fact.name) != UNKNOWN), dtype=bool)
        return np.asarray(unread | (self.text(fact.name) != None), dtype=bool)  # noqa: E711

    def cell(self, name: str, row: int) -> tuple[int, ...]:
        """Fact ids of the row of the sheet that brings the fact, or would."""
        cells = self.cells.get(name)
        if cells is not None:
            return tuple(cells[row] or self.rows[row])
        if self.source is not None and name in self.source.cells:
            return tuple(self.source.cells[name][int(self.index[row])] or self.rows[row])
        return self.rows[row]

    def column(self, fact: Fact, row: int) -> str:
        """The column of the cell that brings the fact, or would; empty where only rows are known."""
        columns = self.columns.get(fact.name)
        return fact.column if columns is None else str(columns[row])


def plain_of(texts: np.ndarray) -> np.ndarray:
    """Texts, or tuples of them, in plain words; each distinct one is worked out once."""
    known: dict[Any, Any] = {None: None}
    for text in texts:
        if text not in known:
            known[text] = tuple(plain(t) for t in text) if isinstance(text, tuple) else plain(text)
    made = np.empty(len(texts), dtype=object)
    made[:] = [known[text] for text in texts]
    return made


@dataclass
class Facts:
    """All facts of some batches: one Table for each group, and the ids that rest behind them.

    ``batches`` are the batch ids, sorted; ``days`` the day (datetime.date or None) whose law
    judges each; ``day_is`` says what day that is. ``origins`` maps an origin (``brief``,
    ``components``, ``gauge``, ``bottlings``, ``fill``) to one tuple of fact ids per batch.
    """

    batches: list[str]
    days: list[Any]
    day_is: list[str]
    tables: dict[str, Table]
    origins: dict[str, list[tuple[int, ...]]]
    _united: dict[tuple[int, frozenset[str]], tuple[int, ...]] = field(default_factory=dict)

    def rests_on(self, batch: int, origins: frozenset[str]) -> tuple[int, ...]:
        """Sorted ids of what the batch's facts of these origins rest on."""
        key = (batch, origins)
        if key not in self._united:
            self._united[key] = tuple(sorted({fact for origin in origins for fact in self.origins[origin][batch]}))
        return self._united[key]


def ids_of(frame: pd.DataFrame) -> np.ndarray:
    """The fact ids of each row of a frame."""
    made = np.empty(len(frame), dtype=object)
    made[:] = frame["facts"].to_numpy(object)
    return made


def group_starts(owner: np.ndarray, groups: int) -> np.ndarray:
    """Offsets of groups of consecutive rows from each row's group number, which must be sorted."""
    return np.searchsorted(owner, np.arange(groups + 1))


def objects(values: Any) -> np.ndarray:
    """An object array of texts, flags, moments or tuples with None for what is missing."""
    made = np.empty(len(values), dtype=object)
    if isinstance(values, pd.Series):
        made[:] = values.to_numpy(object)
        made[values.isna().to_numpy()] = None
    else:
        made[:] = [None if value is None or value is pd.NA or value != value else value for value in values]
    return made


def said_where(where: np.ndarray, text: str) -> np.ndarray:
    """The sentence where it holds, else None: objects by row."""
    made = np.full(len(where), None, dtype=object)
    made[where] = text
    return made


def mapped(values: pd.Series, meaning: Callable[[Any], Any]) -> np.ndarray:
    """What each value means, each distinct one asked once; None where it is missing."""
    code, known = pd.factorize(values)
    return objects([*map(meaning, known), None])[code]


def not_stated(values: pd.DataFrame, columns: tuple[str, ...]) -> np.ndarray:
    """FALSE where any of the columns is stated; else open, so that a rule may take the usual as given."""
    told = np.logical_or.reduce([values[column].notna().to_numpy(bool) for column in columns])
    return np.where(told, FALSE, UNKNOWN).astype(np.int8)


def united(rows: np.ndarray, starts: np.ndarray) -> list[tuple[int, ...]]:
    """The sorted ids of each group of rows."""
    spans = zip(starts[:-1].tolist(), starts[1:].tolist(), strict=True)
    return [tuple(sorted(set().union(*rows[low:high]))) for low, high in spans]


def rows_of(frame: pd.DataFrame, position: pd.Series, order: list[str]) -> pd.DataFrame:
    """The rows of the batches asked for, sorted by batch and then by the stated order."""
    rows = frame.assign(_batch=frame["batch"].map(position))
    rows = rows[rows["_batch"].notna()].astype({"_batch": "int64"})
    return rows.sort_values(["_batch", *order], kind="stable", ignore_index=True)


def same_rows(one: pd.DataFrame, other: pd.DataFrame, columns: list[str]) -> tuple[np.ndarray, np.ndarray]:
    """One code for each row of both frames, equal where the columns are equal; a blank equals a blank."""
    code = np.zeros(len(one) + len(other), dtype=np.int64)
    for column in columns:
        part, known = pd.factorize(pd.concat([one[column], other[column]], ignore_index=True), use_na_sentinel=True)
        code = code * (len(known) + 1) + part + 1
        code = pd.factorize(code)[0].astype(np.int64)
    return code[: len(one)], code[len(one) :]
