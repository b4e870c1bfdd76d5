"""Readings and proofs side by side, as the checks need them: one row per reading, in the sheet's order."""

from __future__ import annotations

from collections.abc import Callable
from itertools import chain
from typing import Any, TypeVar

import numpy as np
import pandas as pd

from pipeline.common.names import coded, folded
from pipeline.contract.frames import first_facts
from plugins.validation.readings.histories import DAY_US, Compared, Fillings, microseconds
from plugins.validation.readings.slips import Readings

Made = TypeVar("Made")

# A strength read after water or in the tank is another spirit than the cask's before.
NOT_OF_THE_CASK = ("before water", "after water", "after filter", "bottling tank", "line")


def rows_of_proofs(proofs: pd.DataFrame, readings: pd.DataFrame) -> np.ndarray:
    """For each reading the row of ``proofs`` that rests on it, or -1."""
    place = np.full(len(readings), -1, dtype=np.int64)
    if not len(proofs) or not len(readings):
        return place
    fact = first_facts(readings["facts"])
    order = np.argsort(fact, kind="stable")
    rests_on = proofs["facts"].tolist()
    lengths = np.fromiter(map(len, rests_on), np.int64, len(rests_on))
    ids = np.fromiter(chain.from_iterable(rests_on), np.int64, int(lengths.sum()))
    rows = np.repeat(np.arange(len(proofs)), lengths)
    found = np.minimum(np.searchsorted(fact, ids, sorter=order), len(fact) - 1)
    hit = fact[order[found]] == ids
    place[order[found][hit]] = rows[hit]
    return place


class Table:
    """One row per reading. Arrays, all of one length:

    ``codes`` places of the folded vessels in ``names``, ``at`` microseconds, ``day`` days, ``reading``,
    ``proof`` (NaN where none could be found), ``temperature`` [degC], ``unit`` of the temperature as
    stated, ``fact`` of the row, ``proof_row``; ``filling`` in the cask at the moment (-1: none, or a
    reading that is not of the cask's spirit), ``live`` the same whatever the purpose,
    ``first_filling`` of the cask (-1: no known cask); and ``compared``,
    with the years that its two references lie away.
    """

    compared: Compared
    years: np.ndarray
    years_of_others: np.ndarray

    def __init__(self, readings: pd.DataFrame, proofs: pd.DataFrame, fillings: Fillings) -> None:
        self.readings, self.proofs = readings, proofs
        named = coded(readings["vessel"])
        self.codes, self.names = named.codes, named.names
        self._rows: dict[str, np.ndarray] | None = None
        self._known: dict[str, Any] = {}
        self.at = microseconds(readings["taken_at"])
        self.day = self.at // DAY_US
        self.reading = readings["reading"].to_numpy(dtype=float)
        self.temperature = readings["temperature_degC"].to_numpy(dtype=float)
        self.unit = readings["temperature_unit"].to_numpy(dtype=object)
        self.fact = first_facts(readings["facts"])
        self.proof_row = rows_of_proofs(proofs, readings)
        self.proof = self.of_proofs("proof_60F").astype(float)
        self.live, self.first_filling = fillings.at(readings["vessel"], self.at)
        comparable = ~readings["purpose"].isin(NOT_OF_THE_CASK).to_numpy()
        self.filling = np.where(comparable, self.live, -1)

    def __len__(self) -> int:
        return len(self.fact)

    def of_proofs(self, column: str) -> np.ndarray:
        """A column of ``proofs`` per reading; missing where the reading gave no strength."""

        def taken(table: Table) -> np.ndarray:
            values = table.proofs[column].to_numpy(dtype=object if table.proofs[column].dtype == "str" else float)
            missing = np.array([np.nan], dtype=values.dtype)
            return np.concatenate([values, missing])[table.proof_row]

        return self.once(f"proofs.{column}", taken)

    def once(self, name: str, work: Callable[[Table], Made]) -> Made:
        """What ``work`` makes of the table, made only once; nobody may change it."""
        if name not in self._known:
            self._known[name] = work(self)
        made: Made = self._known[name]
        return made

    def rows_of(self, key: str) -> np.ndarray:
        """The rows of one folded vessel in order of time."""
        if self._rows is None:
            order = np.lexsort((self.at, self.codes))
            starts = np.searchsorted(self.codes[order], np.arange(len(self.names)))
            self._rows = dict(zip(self.names, np.split(order, starts)[1:], strict=True))
        return self._rows.get(key, np.zeros(0, dtype=np.int64))

    def last_strength(self, key: str, row: int) -> float:
        """The last strength of a folded vessel before a row's moment; NaN without one."""
        rows = self.rows_of(key)
        rows = rows[(self.at[rows] < self.at[row]) & ~np.isnan(self.proof[rows])]
        return float(self.proof[rows[-1]]) if rows.size else np.nan

    def hold_against(self, compared: Compared) -> None:
        self.compared, self.years = compared, compared.years(self.at)
        self.years_of_others = compared.years_of_others()

    def misses(self, proof: np.ndarray, rows: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """How far strengths of these rows lie from the last strength and from the median of the others."""
        return np.abs(proof - self.compared.previous[rows]), np.abs(proof - self.compared.others[rows])

    def reference(self, rows: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """The last strength of these rows' fillings, else the median of the others; and the years it lies away."""
        previous, none = self.compared.previous[rows], np.isnan(self.compared.previous[rows])
        strength = np.where(none, self.compared.others[rows], previous)
        return strength, np.where(none, self.years_of_others[rows], self.years[rows])

    def beyond(self, proof: np.ndarray, rows: np.ndarray, fixed: float, per_year: float) -> np.ndarray:
        """Whether strengths of these rows miss every reference by more than a fixed part and one per year.

        False where there is no reference; a missing strength misses by any measure.
        """
        to_previous, to_others = self.misses(np.where(np.isnan(proof), np.inf, proof), rows)
        far = to_previous > fixed + per_year * np.nan_to_num(self.years[rows])
        far |= np.isnan(to_previous)
        far &= np.isnan(to_others) | (to_others > fixed + per_year * self.years_of_others[rows])
        return far & ~(np.isnan(to_previous) & np.isnan(to_others))

    def again(self, rows: np.ndarray, instruments: pd.DataFrame, default_scale: str) -> Readings:
        """What is needed to work these readings out again."""
        part = self.readings.iloc[rows]
        scale = pd.Series(self.of_proofs("scale")[rows], index=part.index, dtype=object)
        described = _described(part["instrument"], instruments)
        for stated in (part["scale"], part["reading_unit"], described["scale"]):
            scale = scale.where(scale.notna(), stated)
        method = pd.Series(self.of_proofs("method")[rows], index=part.index, dtype=object)
        return Readings(
            self.reading[rows],
            scale.where(scale.notna(), default_scale).to_numpy(dtype=object),
            self.temperature[rows],
            method.where(method.notna(), part["method"]).to_numpy(dtype=object),
            part["state"].to_numpy(dtype=object),
            described["base_temperature_degC"].to_numpy(dtype=float),
            described["glass_expansion_per_K"].to_numpy(dtype=float),
        )


def _described(names: pd.Series, instruments: pd.DataFrame) -> pd.DataFrame:
    """Scale, base temperature and glass expansion of the readings' instruments, missing where not known."""
    key = pd.Series(folded(names), index=names.index)
    table = instruments.assign(key=folded(instruments["instrument"]))
    made = {}
    for column in ("scale", "base_temperature_degC", "glass_expansion_per_K"):
        known = table.dropna(subset=[column]).drop_duplicates("key", keep="last")
        made[column] = key.map(dict(zip(known["key"], known[column], strict=True)))
    return pd.DataFrame(made, index=names.index)
