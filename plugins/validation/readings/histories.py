"""The history of each filling: entry, inventory and gauges, and what each reading is held against."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
import pandas as pd

from pipeline.common.names import coded, folded
from plugins.proof import mass_fraction_from_strength, proof_from_mass_fraction

DAY_US = 86_400_000_000
YEAR_DAYS = 365.25
FEWEST_OTHERS = 3  # a median of fewer follows a wrong one among them
FAR_DAY = 1_000_000  # more days than any calendar here has
ENTRY, INVENTORY, GAUGE = 0, 1, 2
COLUMNS = (
    "cask", "filled_on", "entry_proof", "entry_proof_unit", "gauged_on", "as_of", "volume_basis", "proof", "proof_unit",
)  # fmt: skip
BASES = np.array(["entry", "inventory", "gauge"], dtype=object)


def proof_of(value: pd.Series, unit: pd.Series) -> np.ndarray:
    """Stated strengths as proof at 60 °F, float64; NaN where none is stated or none is possible."""
    out = np.full(len(value), np.nan)
    stated = value.notna().to_numpy()
    fraction = mass_fraction_from_strength(value[stated].to_numpy(dtype=float), unit[stated].to_numpy(dtype=object))
    out[stated] = proof_from_mass_fraction(fraction)
    return out


def microseconds(moments: pd.Series) -> np.ndarray:
    """Moments as whole microseconds, int64."""
    return moments.to_numpy(dtype="datetime64[us]").astype(np.int64)


@dataclass(frozen=True)
class Fillings:
    """Distinct fillings in order of cask and day: folded cask, day of filling, the inventory row."""

    cask: np.ndarray
    code: np.ndarray
    filled_us: np.ndarray
    row: np.ndarray
    code_of: dict[str, int]

    @classmethod
    def of(cls, casks: pd.DataFrame) -> Fillings:
        """From the inventory; of several rows for one filling the last in the frame describes it."""
        table = pd.DataFrame({"cask": folded(casks["cask"]), "filled": microseconds(casks["filled_on"])})
        table = table[casks["filled_on"].notna().to_numpy()].drop_duplicates(["cask", "filled"], keep="last")
        table = table.sort_values(["cask", "filled"], kind="stable")
        names, code = np.unique(table["cask"].to_numpy(dtype=object).astype(str), return_inverse=True)
        return cls(
            table["cask"].to_numpy(dtype=object),
            code.astype(np.int64),
            table["filled"].to_numpy(),
            table.index.to_numpy(),
            {str(name): place for place, name in enumerate(names)},
        )

    def at(self, cask: pd.Series, moment_us: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Place of the filling that was in the cask at the moment (its day counts whole), and of its first.

        ``cask``: names as sheets write them. Both -1 for a cask that is not known; the first only is given for a
        moment before any filling.
        """
        named = coded(cask)
        code = np.array([*(self.code_of.get(name, -1) for name in named.names), -1], dtype=np.int64)[named.codes]
        if not len(self.code):
            nothing = np.full(len(cask), -1, dtype=np.int64)
            return nothing, nothing
        count = np.bincount(self.code)
        start = np.cumsum(count) - count
        first = np.where(code >= 0, start[code], -1)
        day = moment_us // DAY_US
        filled_day = self.filled_us // DAY_US
        live = np.where((first >= 0) & (filled_day[first] <= day), first, -1)
        several = np.flatnonzero((live >= 0) & (count[code] > 1))
        if several.size:
            live[several] = self._last(code[several], day[several], filled_day)
        return live, first

    def _last(self, code: np.ndarray, day: np.ndarray, filled_day: np.ndarray) -> np.ndarray:
        """Place of the last filling of each cask that was filled on the day or before; there is one."""
        first_day, span = filled_day.min(), int(filled_day.max() - filled_day.min()) + 2
        ordered = self.code * span + (filled_day - first_day)
        return np.searchsorted(ordered, code * span + np.clip(day - first_day, 0, span - 1), side="right") - 1


@dataclass(frozen=True)
class Compared:
    """What each reading is held against, row by row; NaN and -1 where there is nothing.

    ``previous`` is the last strength of the filling before the reading, ``basis`` how it is known
    (place in ``BASES``), ``source`` the row of the inventory or of the readings that says so.
    ``others`` is the median of all other strengths of the filling, where there are at least three;
    ``span_us`` the longest time from the reading to any strength of the filling.
    """

    previous: np.ndarray
    previous_us: np.ndarray
    basis: np.ndarray
    source: np.ndarray
    others: np.ndarray
    span_us: np.ndarray

    def of(self, rows: np.ndarray) -> Compared:
        """The same of these rows only."""
        return Compared(*(getattr(self, item.name)[rows] for item in fields(self)))

    def years(self, moment_us: np.ndarray) -> np.ndarray:
        """Years since the previous strength; NaN without one."""
        return np.where(self.basis >= 0, (moment_us - self.previous_us) / (DAY_US * YEAR_DAYS), np.nan)

    def years_of_others(self) -> np.ndarray:
        """Years over which the other strengths are spread, seen from the reading."""
        return self.span_us / (DAY_US * YEAR_DAYS)


def stated_strengths(casks: pd.DataFrame, fillings: Fillings) -> pd.DataFrame:
    """What the inventory says of each filling's strength: columns filling, at, proof, basis, source.

    Entry counts as just before the day of filling, so that the same day's reading comes after it; an
    inventory strength as the end of its day, for it may be that day's own gauge.
    """
    filled = microseconds(casks["filled_on"])
    place, _ = fillings.at(casks["cask"], filled)
    rows = np.arange(len(casks))
    entry = pd.DataFrame(
        {"filling": place, "at": filled - 1, "proof": proof_of(casks["entry_proof"], casks["entry_proof_unit"])}
    )
    entry = entry.assign(basis=ENTRY, source=rows)
    dated = casks["gauged_on"].fillna(casks["as_of"])
    measured = ~casks["volume_basis"].eq("original").fillna(False).to_numpy(dtype=bool) & dated.notna().to_numpy()
    now = pd.DataFrame(
        {
            "filling": place,
            "at": microseconds(dated) + DAY_US - 1,
            "proof": proof_of(casks["proof"], casks["proof_unit"]),
        }
    )
    now = now.assign(basis=INVENTORY, source=rows)[measured & (dated >= casks["filled_on"]).to_numpy()]
    # An export without a date of gauge that still shows the entry strength says nothing new.
    undated = casks["gauged_on"].isna().to_numpy()[now["source"].to_numpy()]
    stale = undated & np.isclose(now["proof"], entry["proof"].to_numpy()[now["source"].to_numpy()], atol=0.05)
    both = pd.concat([entry, now[~stale]], ignore_index=True)
    both = both[both["proof"].notna() & (both["filling"] >= 0)]
    return both.drop_duplicates(["filling", "at", "basis"], keep="last")


def inventory_says(casks: pd.DataFrame) -> tuple[Fillings, pd.DataFrame]:
    """The fillings of the inventory, of its ``COLUMNS``, and what it states of their strengths."""
    fillings = Fillings.of(casks)
    return fillings, stated_strengths(casks, fillings)


def compare(stated: pd.DataFrame, filling: np.ndarray, moment_us: np.ndarray, proof: np.ndarray) -> Compared:
    """Hold readings against the history of their fillings.

    ``stated``: as ``stated_strengths`` gives it. ``filling``: place of each reading's filling, -1 for
    none; ``proof`` NaN where the reading gives none: it is compared, but nothing with it.
    An inventory strength of a day on which the filling was gauged is left out: it is that gauge.
    """
    count = len(filling)
    gauged = filling * FAR_DAY + moment_us // DAY_US
    same = (stated["basis"] == INVENTORY).to_numpy(dtype=bool, copy=True)
    of_day = stated[same]
    at_day = of_day["filling"].to_numpy(dtype=np.int64) * FAR_DAY + of_day["at"].to_numpy(dtype=np.int64) // DAY_US
    same[same] = pd.Series(at_day).isin(gauged).to_numpy()
    stated = stated[~same]
    group = np.concatenate([stated["filling"].to_numpy(dtype=np.int64), filling])
    at = np.concatenate([stated["at"].to_numpy(dtype=np.int64), moment_us])
    value = np.concatenate([stated["proof"].to_numpy(dtype=float), proof])
    basis = np.concatenate([stated["basis"].to_numpy(dtype=np.int64), np.full(count, GAUGE)])
    source = np.concatenate([stated["source"].to_numpy(dtype=np.int64), np.arange(count)])
    usable = ~np.isnan(value) & (group >= 0)
    before = _last_before(group, at, usable)[len(stated) :]
    others = _median_of_others(group, value, usable)[len(stated) :]
    none = (before < 0) | (filling < 0)

    def taken(array: np.ndarray, missing: float) -> np.ndarray:
        return np.where(none, missing, array[before])

    return Compared(
        taken(value, np.nan),
        taken(at, 0).astype(np.int64),
        taken(basis, -1).astype(np.int64),
        taken(source, -1).astype(np.int64),
        np.where(filling < 0, np.nan, others),
        _longest(group, at, usable)[len(stated) :],
    )


def _last_before(group: np.ndarray, at: np.ndarray, usable: np.ndarray) -> np.ndarray:
    """For each row the row of the same group with the latest earlier moment that is usable, or -1."""
    order = np.lexsort((at, group))
    g, t = group[order], at[order]
    starts = np.ones(len(order), dtype=bool)
    starts[1:] = (g[1:] != g[:-1]) | (t[1:] != t[:-1])
    run_start = np.maximum.accumulate(np.where(starts, np.arange(len(order)), 0))
    last_usable = np.maximum.accumulate(np.where(usable[order], np.arange(len(order)), -1))
    found = np.where(run_start > 0, last_usable[np.maximum(run_start - 1, 0)], -1)
    found = np.where((found >= 0) & (g[np.maximum(found, 0)] == g), found, -1)
    out = np.empty(len(order), dtype=np.int64)
    out[order] = np.where(found >= 0, order[np.maximum(found, 0)], -1)
    return out


def _longest(group: np.ndarray, at: np.ndarray, usable: np.ndarray) -> np.ndarray:
    """For each row the longest time to a usable moment of its group; 0 where there is none."""
    codes = group + 1
    size = int(codes.max(initial=0)) + 1
    first, last = np.full(size, np.iinfo(np.int64).max), np.full(size, np.iinfo(np.int64).min)
    np.minimum.at(first, codes[usable], at[usable])
    np.maximum.at(last, codes[usable], at[usable])
    none = last[codes] < first[codes]
    return np.where(none, 0, np.maximum(at - np.where(none, at, first[codes]), np.where(none, at, last[codes]) - at))


def _median_of_others(group: np.ndarray, value: np.ndarray, usable: np.ndarray) -> np.ndarray:
    """For each row the median of the usable values of its group without its own; NaN below three others."""
    rows = np.flatnonzero(usable)
    rows = rows[np.lexsort((value[rows], group[rows]))]
    ordered = value[rows]
    count = np.bincount(group[rows] + 1, minlength=int(group.max(initial=-1)) + 2)
    begin, total = (np.cumsum(count) - count)[group + 1], count[group + 1]
    rank = np.full(len(group), np.iinfo(np.int64).max)
    rank[rows] = np.arange(len(rows)) - begin[rows]
    others = total - usable
    low, high = (others - 1) // 2, others // 2
    low, high = low + (low >= rank), high + (high >= rank)
    limit = max(len(ordered) - 1, 0)
    if not len(ordered):
        return np.full(len(group), np.nan)
    middle = (ordered[np.clip(begin + low, 0, limit)] + ordered[np.clip(begin + high, 0, limit)]) / 2
    return np.where(others >= FEWEST_OTHERS, middle, np.nan)
