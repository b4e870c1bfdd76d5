"""Which readings do not fit their filling's history, and which single slip would mend them.

Every rule is arithmetic over whole columns; sentences are made elsewhere, for the flagged rows only.
A reading is held against the last strength of its filling and against the median of the others,
whichever is nearer: so that one wrong gauge does not make the next, right one look wrong.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from plugins.proof import default_scale
from plugins.validation.readings.histories import Compared, compare
from plugins.validation.readings.slips import other_temperature, rewritten
from plugins.validation.readings.table import NOT_OF_THE_CASK, Table

LEAST_MISS = 2.0  # proof by which a reading must miss before a slip is looked for
TIMES_NEARER = 3.0  # trade rule: the other reading lies at least three times nearer
ROOM_DEGC = (8.0, 32.0)  # temperatures at which jars are usually read (common practice, no source)
PEERS = 4  # other readings of a day from which its usual temperature is told
HALF, DOUBLE = (0.4, 0.62), (1.6, 2.4)  # ratios at which proof and % vol may have been mixed up
NEXT_TO_NOTHING = 0.05
WEAK, STRONG = 75.0, 160.0  # proof outside which a cask's strength without any history is asked about
STRONG_REDUCED = 140.0  # after water and in the bottling tank
WATER = 0.2  # proof below which a reading is of water
ABOUT, OFTEN = 0.2, 3  # share within which a vessel's earlier strengths are alike, and on how many days
APART_K = 10.0  # from which a jar stands apart from its day's, cold or warm as that may be
SWAP_NEAR = 2.0  # proof within which a rewritten figure must come to its history


@dataclass
class Judged:
    """Findings by code: rows (places in the table) and, row by row, the strength that the slip gives back."""

    rows: dict[str, np.ndarray] = field(default_factory=dict)
    other: dict[str, np.ndarray] = field(default_factory=dict)
    words: dict[int, str] = field(default_factory=dict)
    taken: np.ndarray = field(default_factory=lambda: np.zeros(0, dtype=bool))

    def add(self, code: str, rows: np.ndarray, other: np.ndarray) -> None:
        """Rows that no earlier rule has explained; the first explanation stands."""
        fresh = ~self.taken[rows]
        self.rows[code] = np.concatenate([self.rows.get(code, np.zeros(0, dtype=np.int64)), rows[fresh]])
        self.other[code] = np.concatenate([self.other.get(code, np.zeros(0)), other[fresh]])
        self.taken[rows] = True

    def keep(self, mask: np.ndarray) -> None:
        """Forget what was found of rows outside the mask."""
        for code, rows in list(self.rows.items()):
            kept = mask[rows]
            self.rows[code], self.other[code] = rows[kept], self.other[code][kept]
        self.taken &= mask


def judge_readings(table: Table, stated: pd.DataFrame, instruments: pd.DataFrame, site: Any) -> Judged:
    """Hold every reading against its filling's history and judge it.

    ``stated``: as ``stated_strengths`` gives it. A strength that no whiskey in wood is likely to have
    is nobody's reference. Where one filling has several readings in question, the later ones are
    judged again without the first: a wrong gauge makes the next, right one jump back.
    """
    stated = stated[credible(stated["proof"].to_numpy(dtype=float))]
    trusted = credible(table.proof)
    table.hold_against(_history(table, stated, trusted))
    found = judge(table, instruments, site)
    later = _later(table, found.taken)
    if later.any():
        in_question = found.taken
        table.hold_against(_history(table, stated, trusted & (later | ~in_question)))
        found = judge(table, instruments, site)
        found.keep(in_question)
    return found


def credible(proof: np.ndarray) -> np.ndarray:
    """Strengths that may serve as a reference for a cask."""
    return (proof >= WEAK) & (proof <= STRONG)


def _history(table: Table, stated: pd.DataFrame, trusted: np.ndarray) -> Compared:
    return compare(stated, table.filling, table.at, np.where(trusted, table.proof, np.nan))


def _later(table: Table, taken: np.ndarray) -> np.ndarray:
    """Rows in question whose filling has an earlier one."""
    rows = np.flatnonzero(taken)
    rows = rows[np.lexsort((table.at[rows], table.filling[rows]))]
    later = np.zeros(len(table), dtype=bool)
    later[rows[1:]] = table.filling[rows[1:]] == table.filling[rows[:-1]]
    return later


def judge(table: Table, instruments: pd.DataFrame, site: Any) -> Judged:
    """All rules on strengths. ``table`` already holds what its readings are compared with."""
    every = np.arange(len(table))
    fixed, per_year = float(site["tolerances.jump_proof"]), float(site["tolerances.jump_proof_per_year"])
    limits = Limits(fixed, per_year, scale_of_house(site))
    found = Judged(taken=np.zeros(len(table), dtype=bool))
    looks = np.flatnonzero(table.beyond(table.proof, every, LEAST_MISS, 0.0))
    _other_temperature(table, instruments, limits, looks, found)
    _mixed_scales(table, instruments, limits, looks, found)
    _corrected_twice(table, instruments, limits, looks, found)
    far = table.beyond(table.proof[looks], looks, fixed, per_year) & ~np.isnan(table.proof[looks])
    jumps = looks[far & ~found.taken[looks]]
    _rewritten_figures(table, instruments, limits, jumps, found)
    found.add("reading.proof-jumps", jumps, np.full(len(jumps), np.nan))
    return found


def scale_of_house(site: Any) -> str:
    """The scale of a reading that states none."""
    return default_scale(site["instruments.default_scale"], site.markets)


@dataclass(frozen=True)
class Limits:
    """Change of strength that is let pass: a fixed part [proof] and one per year; the site's default scale."""

    fixed: float
    per_year: float
    default_scale: str

    def restores(self, table: Table, rows: np.ndarray, other: np.ndarray) -> np.ndarray:
        """Whether the other strength is let pass and lies at least three times nearer than the one found.

        Both are held against the last strength, or where there is none against the median of the others.
        """
        reference, years = table.reference(rows)
        now = np.nan_to_num(np.abs(table.proof[rows] - reference), nan=np.inf)
        then = np.abs(other - reference)
        return (then * TIMES_NEARER <= now) & (then <= self.fixed + self.per_year * years)


def _shift(table: Table, rows: np.ndarray, plain: np.ndarray, other: np.ndarray) -> np.ndarray:
    """The strength as other: what was found, with certificate and solids, moved by what the slip changes."""
    return np.where(np.isnan(table.proof[rows]), other, table.proof[rows] + other - plain)


def _other_temperature(
    table: Table, instruments: pd.DataFrame, limits: Limits, looks: np.ndarray, found: Judged
) -> None:
    other_degC = other_temperature(table.temperature[looks], table.unit[looks])
    likelier, unusual = likelier_temperature(table, looks, other_degC)
    rows, other_degC, unusual = looks[likelier], other_degC[likelier], unusual[likelier]
    if not rows.size:
        return
    again = table.again(rows, instruments, limits.default_scale)
    other = _shift(table, rows, again.proof(), again.with_other_temperature(other_degC))
    fits = limits.restores(table, rows, other)
    # Where the whole day was so cold or warm, one cask's history is no proof; most of the day's must say so.
    of_day = _share_of_day(table, rows, fits)
    fits &= unusual | (of_day >= 0.5)
    found.add("reading.temperature-other-scale", rows[fits], other[fits])


def likelier_temperature(table: Table, rows: np.ndarray, other_degC: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Whether the other temperature is the likelier one, and whether the stated stands apart from its day's.

    Likelier than a room's; where the day's other readings say what is usual, and that is a room's
    temperature, likelier than theirs.
    """
    stated = table.temperature[rows]
    usual, count = table.once("day_temperature", day_temperature)
    usual, many = usual[rows], count[rows] >= PEERS
    low, high = ROOM_DEGC
    of_room = np.clip(stated, low, high)
    room_says = np.abs(other_degC - np.clip(other_degC, low, high)) < np.abs(stated - of_room)
    day_says = np.abs(other_degC - usual) < np.abs(stated - usual)
    usual_is_room = many & (usual >= low) & (usual <= high)
    apart = ~many | day_says | (np.abs(stated - usual) > APART_K)
    return np.where(usual_is_room, day_says, room_says), apart


def day_temperature(table: Table) -> tuple[np.ndarray, np.ndarray]:
    """For each reading the median temperature of its day, and how many other readings state one."""
    day, _ = pd.factorize(table.day)
    stated = ~np.isnan(table.temperature)
    count = np.bincount(day, weights=stated).astype(np.int64)
    middle = pd.Series(table.temperature).groupby(day).median().to_numpy()
    return middle[day], count[day] - 1


def _share_of_day(table: Table, rows: np.ndarray, fits: np.ndarray) -> np.ndarray:
    """For each row the share of its day's readings with a history that the slip would mend."""
    has = ~np.isnan(table.compared.previous) | ~np.isnan(table.compared.others)
    days, inverse = np.unique(table.day, return_inverse=True)
    judged = np.bincount(inverse[has], minlength=len(days))
    mended = np.bincount(inverse[rows[fits]], minlength=len(days))
    return (mended / np.maximum(judged, 1))[inverse[rows]]


def _mixed_scales(table: Table, instruments: pd.DataFrame, limits: Limits, looks: np.ndarray, found: Judged) -> None:
    """Proof and % vol mixed up, a share of 1 or a density in a column of either: what fits the history is said."""
    ratio = table.proof[looks] / table.reference(looks)[0]
    odd = (
        ((ratio > HALF[0]) & (ratio < HALF[1]))
        | ((ratio > DOUBLE[0]) & (ratio < DOUBLE[1]))
        | (ratio < NEXT_TO_NOTHING)
        | np.isnan(table.proof[looks])
    )
    rows = looks[odd]
    if not rows.size:
        return
    for words, other in table.again(rows, instruments, limits.default_scale).on_other_scales():
        fits = limits.restores(table, rows, other) & ~found.taken[rows]
        found.words.update(dict.fromkeys(rows[fits].tolist(), words))
        found.add("reading.scale-mixed", rows[fits], other[fits])


def _corrected_twice(table: Table, instruments: pd.DataFrame, limits: Limits, looks: np.ndarray, found: Judged) -> None:
    """A hydrometer reading without a stated state that fits its history only if it was corrected before.

    The change of strength since the last gauge must be too large for the years between; else every
    cask that loses strength in a warm room would be asked about.
    """
    state = table.readings["state"].isna().to_numpy()[looks]
    method = table.of_proofs("method")[looks] == "hydrometer"
    far = table.beyond(table.proof[looks], looks, LEAST_MISS, limits.per_year) & ~np.isnan(table.proof[looks])
    rows = looks[state & method & far]
    if not rows.size:
        return
    again = table.again(rows, instruments, limits.default_scale)
    other = _shift(table, rows, again.proof(), again.without_correction())
    size = np.abs(other - table.proof[rows])
    fits = limits.restores(table, rows, other) & (size > LEAST_MISS)
    found.add("reading.maybe-corrected-twice", rows[fits], other[fits])


def _rewritten_figures(
    table: Table, instruments: pd.DataFrame, limits: Limits, jumps: np.ndarray, found: Judged
) -> None:
    """Words for jumps that a swap of digits or a moved decimal sign would explain."""
    tries = rewritten(table.reading[jumps])
    if not tries.place.size:
        return
    rows = jumps[tries.place]
    again = table.again(jumps, instruments, limits.default_scale)[tries.place]
    other = _shift(table, rows, again.proof(), again.proof(reading=tries.reading))
    reference, years = table.reference(rows)
    off = np.abs(other - reference)
    fits = limits.restores(table, rows, other) & (off <= SWAP_NEAR + limits.per_year * years)
    best = np.lexsort((off, tries.place))
    for place in best[fits[best]]:
        found.words.setdefault(
            int(rows[place]), f"{tries.reading[place]:.6g} ({tries.slip[place]}) would give {other[place]:.1f}."
        )


def strange_without_history(table: Table) -> np.ndarray:
    """Readings that nothing can be held against and that no whisky is likely to show.

    Of a cask: those without any other strength. Of a vessel: those that are not what it mostly showed before; what is
    nearly water is water.
    """
    alone = np.isnan(table.compared.previous) & np.isnan(table.compared.others) & (table.filling >= 0)
    of_cask = alone & ((table.proof < WEAK) | (table.proof > STRONG))
    top = np.where(table.readings["purpose"].isin(NOT_OF_THE_CASK), STRONG_REDUCED, STRONG)
    of_vessel = (table.filling < 0) & (table.first_filling < 0)
    of_vessel |= (table.filling < 0) & (table.live >= 0)
    of_vessel &= ((table.proof > WATER) & (table.proof < WEAK)) | (table.proof > top)
    return np.flatnonzero(of_cask | (of_vessel & ~_usual_there(table, np.flatnonzero(of_vessel))))


def _usual_there(table: Table, rows: np.ndarray) -> np.ndarray:
    """Whether a vessel was read about as weak or strong on three earlier days, and mostly so."""
    usual = np.zeros(len(table), dtype=bool)
    for row in rows.tolist():
        own = table.rows_of(table.names[table.codes[row]])
        before = own[(table.day[own] < table.day[row]) & ~np.isnan(table.proof[own])]
        alike = before[np.abs(table.proof[before] / table.proof[row] - 1.0) < ABOUT]
        usual[row] = len(np.unique(table.day[alike])) >= OFTEN and 2 * len(alike) > len(before)
    return usual
