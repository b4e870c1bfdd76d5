"""What the inventory says of a filling: the last known value of each column at or before a day."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import pandas as pd

COLUMNS = (
    "spirit", "grain", "distillery", "state", "country", "distilled_on", "distilled_proof", "distilled_proof_unit",
    "entry_proof", "entry_proof_unit", "species", "new_oak", "charred", "char", "wood_use", "held_before", "capacity_L",
    "mashed_in", "fermented_in", "matured_in", "still", "enzymes", "region",
)  # fmt: skip
FIRST_DAY = pd.Timestamp("1800-01-01")
LAST_DAY = pd.Timestamp("2200-01-01")


@dataclass(frozen=True)
class Cells:
    """Fact ids by row, looked up when they are asked for; ``rows`` are positions in ``facts``, -1 for none."""

    rows: np.ndarray
    facts: np.ndarray

    def __getitem__(self, row: int) -> tuple[int, ...] | None:
        at = int(self.rows[row])
        return self.facts[at] if at >= 0 else None


@dataclass
class Fillings:
    """For each asked filling the values of COLUMNS, and for each the row of the inventory that brings it.

    ``source`` maps a column to row positions in ``facts`` (−1: no row says it); ``row`` is the row
    that the filling was found in (−1: in none).
    """

    values: pd.DataFrame
    source: dict[str, np.ndarray]
    row: np.ndarray
    facts: np.ndarray
    filled_on: pd.Series

    def cells(self, column: str) -> Cells:
        """Fact ids of the cell of ``column``, or of the filling's row where the cell is blank."""
        return Cells(np.where(self.source[column] >= 0, self.source[column], self.row), self.facts)

    def all_facts(self) -> list[tuple[int, ...]]:
        """The ids of every inventory row that brings a value of the filling."""
        rows = np.column_stack([self.row, *self.source.values()])
        least, greatest = np.where(rows < 0, len(self.facts), rows).min(axis=1), rows.max(axis=1)
        united: list[tuple[int, ...]] = []
        for position, (low, high) in enumerate(zip(least, greatest, strict=True)):
            if high < 0:
                united.append(())
            elif low == high:
                united.append(self.facts[high])
            else:
                chosen = {int(r) for r in rows[position] if r >= 0}
                united.append(tuple(sorted({fact for r in chosen for fact in self.facts[r]})))
        return united


def folded(names: Any) -> np.ndarray:
    """Identifiers as keys compare: NFC, trimmed, without regard to case; missing stays None."""
    result = np.empty(len(names), dtype=object)
    result[:] = [_fold(name) for name in (names.tolist() if hasattr(names, "tolist") else names)]
    return result


@lru_cache(maxsize=1 << 17)
def _fold(name: Any) -> str | None:
    if name is None or str(name) in ("<NA>", "nan"):
        return None
    return unicodedata.normalize("NFC", str(name)).strip().casefold()


def look_up(casks: pd.DataFrame, cask: Any, filled_on: Any, day: Any) -> Fillings:
    """What the inventory says of fillings.

    Parameters: the frame ``casks``; per asked row the cask, the day it was filled and the day to
    look at (missing: the latest). A filling is a cask with its filling date. Rows of the
    inventory after the day count only where none is at or before it. Blank cells are filled from
    earlier rows of the same filling.
    """
    stock = casks.reset_index(drop=True)
    stock = stock.assign(
        _cask=folded(stock["cask"]), _filled=stock["filled_on"].fillna(FIRST_DAY), _day=stock["as_of"].fillna(FIRST_DAY)
    )
    stock = stock.assign(_row=np.arange(len(stock))).sort_values(["_day", "_row"], kind="stable", ignore_index=True)
    facts = np.empty(len(stock), dtype=object)
    facts[:] = list(stock["facts"])
    stated = stock[list(COLUMNS)].notna().to_numpy(dtype=bool)
    own = pd.DataFrame(np.where(stated, np.arange(len(stock), dtype="float64")[:, None], np.nan), columns=list(COLUMNS))
    brought = own.groupby([stock["_cask"], stock["_filled"]], dropna=False).ffill().fillna(-1).astype("int64")
    stock["_at"] = np.arange(len(stock))
    from_row = {c: brought[c].to_numpy() for c in COLUMNS}
    asked = pd.DataFrame({"_cask": folded(cask), "_filled": pd.Series(filled_on).to_numpy()})
    asked["_day"] = pd.Series(pd.Series(day).dt.normalize().fillna(LAST_DAY).to_numpy())
    asked["_asked"] = np.arange(len(asked))
    row = _match(asked, stock)
    sources = {c: np.where(row >= 0, from_row[c][row], -1) if len(stock) else row for c in COLUMNS}
    values = pd.DataFrame({c: _taken(stock[c], sources[c]) for c in COLUMNS})
    return Fillings(values, sources, row, facts, pd.Series(pd.Series(filled_on).to_numpy()))


def _match(asked: pd.DataFrame, stock: pd.DataFrame) -> np.ndarray:
    """Position of the stock row for each asked row: the last at or before its day, else the first after."""
    row = np.full(len(asked), -1, dtype="int64")
    wanted = asked[asked["_cask"].notna() & asked["_filled"].notna()].sort_values("_day", kind="stable")
    there = stock.loc[stock["_cask"].notna(), ["_cask", "_filled", "_day", "_at"]]
    if wanted.empty or there.empty:
        return row
    for direction in ("forward", "backward"):
        found = pd.merge_asof(wanted, there, on="_day", by=["_cask", "_filled"], direction=direction)
        hit = found["_at"].notna()
        row[found.loc[hit, "_asked"].to_numpy()] = found.loc[hit, "_at"].to_numpy(dtype="int64")
    return row


def _taken(column: pd.Series, rows: np.ndarray) -> pd.Series:
    if column.empty:
        return pd.Series([None] * len(rows), dtype=column.dtype)
    return column.take(np.where(rows >= 0, rows, 0)).reset_index(drop=True).mask(rows < 0)
