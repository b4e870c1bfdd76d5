"""Facts in columns: what the rules are judged on, one table for each group of the catalogue."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from plugins.label_age.catalogue import Fact
from plugins.label_age.logic import UNKNOWN
from plugins.label_age.words import plain


@dataclass
class Table:
    """Rows sorted by batch. ``starts`` has one entry more than there are batches.

    ``numbers`` maps a fact to (low, high), NaN unknown; ``flags`` to truths; ``texts`` to texts
    with None unknown. ``why`` says, where a fact is unknown, why (None: the cell is blank).
    ``cells`` maps a fact to the fact ids of the row that brings it, ``columns`` to that row's column
    where it is not the catalogue's; ``rows`` are the ids of the whole row. ``names`` is what a row is
    called in a sentence.
    """

    starts: np.ndarray
    names: np.ndarray
    rows: np.ndarray
    numbers: dict[str, tuple[np.ndarray, np.ndarray]] = field(default_factory=dict)
    flags: dict[str, np.ndarray] = field(default_factory=dict)
    texts: dict[str, np.ndarray] = field(default_factory=dict)
    why: dict[str, np.ndarray] = field(default_factory=dict)
    cells: dict[str, np.ndarray] = field(default_factory=dict)
    columns: dict[str, np.ndarray] = field(default_factory=dict)
    plain_texts: dict[str, np.ndarray] = field(default_factory=dict)

    def __len__(self) -> int:
        return len(self.names)

    @property
    def owner(self) -> np.ndarray:
        """Position of each row's batch."""
        return np.repeat(np.arange(len(self.starts) - 1), np.diff(self.starts))

    def span(self, batch: int) -> range:
        return range(int(self.starts[batch]), int(self.starts[batch + 1]))

    def set_number(self, name: str, low: Any, high: Any = None) -> None:
        low = np.asarray(low, dtype="float64")
        self.numbers[name] = (low, low if high is None else np.asarray(high, dtype="float64"))

    def number(self, name: str) -> tuple[np.ndarray, np.ndarray]:
        """Bounds of a number; all unknown where no sheet brings it."""
        if name not in self.numbers:
            self.set_number(name, np.full(len(self), np.nan))
        return self.numbers[name]

    def flag(self, name: str) -> np.ndarray:
        if name not in self.flags:
            self.flags[name] = np.full(len(self), UNKNOWN, dtype=np.int8)
        return self.flags[name]

    def text(self, name: str) -> np.ndarray:
        if name not in self.texts:
            self.texts[name] = np.full(len(self), None, dtype=object)
        return self.texts[name]

    def plain_text(self, name: str) -> np.ndarray:
        """Texts without regard to case, accents and punctuation, None unknown."""
        if name not in self.plain_texts:
            known: dict[Any, Any] = {None: None}
            texts = self.text(name)
            for text in texts:
                if text not in known:
                    known[text] = tuple(plain(t) for t in text) if isinstance(text, tuple) else plain(text)
            made = np.empty(len(texts), dtype=object)
            made[:] = [known[text] for text in texts]
            self.plain_texts[name] = made
        return self.plain_texts[name]

    def reason_unknown(self, name: str, row: int) -> str:
        reasons = self.why.get(name)
        return "" if reasons is None or reasons[row] is None else str(reasons[row])

    def cell(self, name: str, row: int) -> tuple[int, ...]:
        """Fact ids of the row of the sheet that brings the fact, or would."""
        cells = self.cells.get(name)
        found = cells[row] if cells is not None else None
        return found if found else self.rows[row]

    def column(self, fact: Fact, row: int) -> str:
        """The column of the cell that brings the fact, or would; empty where only rows are known."""
        columns = self.columns.get(fact.name)
        return fact.column if columns is None else str(columns[row])

    def take(self, rows: np.ndarray) -> Table:
        """The rows chosen by a boolean mask, with the same batches."""
        before = np.concatenate([[0], np.cumsum(rows)]).astype("int64")
        picked = Table(before[self.starts], self.names[rows], self.rows[rows])
        picked.numbers = {name: (low[rows], high[rows]) for name, (low, high) in self.numbers.items()}
        for mine, theirs in (
            (self.flags, picked.flags), (self.texts, picked.texts), (self.why, picked.why), (self.cells, picked.cells),
            (self.columns, picked.columns),
        ):  # fmt: skip
            theirs.update({name: values[rows] for name, values in mine.items()})
        return picked


@dataclass
class Facts:
    """All facts of some batches: one Table for each group, and the ids that rest behind them.

    ``batches`` are the batch ids, sorted; ``days`` the day (datetime.date or None) whose law
    judges each; ``day_is`` says what day that is. ``origins`` maps an origin (``brief``,
    ``components``, ``gauge``, ``bottlings``) to one tuple of fact ids per batch.
    """

    batches: list[str]
    days: list[Any]
    day_is: list[str]
    tables: dict[str, Table]
    origins: dict[str, list[tuple[int, ...]]]
    _united: dict[tuple[int, frozenset[str]], tuple[int, ...]] = field(default_factory=dict)

    def rests_on(self, batch: int, origins: set[str]) -> tuple[int, ...]:
        """Sorted ids of what the batch's facts of these origins rest on."""
        key = (batch, frozenset(origins))
        if key not in self._united:
            self._united[key] = tuple(sorted({fact for origin in origins for fact in self.origins[origin][batch]}))
        return self._united[key]


def group_starts(owner: np.ndarray, groups: int) -> np.ndarray:
    """Offsets of groups of consecutive rows from each row's group number, which must be sorted."""
    return np.searchsorted(owner, np.arange(groups + 1))


def objects(values: Any) -> np.ndarray:
    """An object array of texts, flags, moments or tuples with None for what is missing."""
    made = np.empty(len(values), dtype=object)
    if isinstance(values, pd.Series):
        made[:] = values.astype(object).to_numpy()
        made[values.isna().to_numpy()] = None
    else:
        made[:] = [None if value is None or value is pd.NA or value != value else value for value in values]
    return made
