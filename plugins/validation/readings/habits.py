"""Slips that one instrument's day shares: where one reading proves nothing, a dozen that lean one way do.

A lab that corrects its readings in the book and then writes the corrected strength beside the jar's
temperature is off by a few proof, by as much as the correction. One cask's drift may hide that. Over a
day the part b of the correction that the changes since the last gauge contain is fitted (weighted
least squares through zero, variance of a change = 0.3² + (2 proof × years)², the house's usual drift
taken out): b is 0 for readings as read and 1 for readings corrected before.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from plugins.proof import T_20C, T_60F
from plugins.validation.readings.table import Table

FEWEST = 6  # readings with a last gauge from which an instrument's day is judged
SCATTER, DRIFT_PER_YEAR = 0.3, 2.0  # proof (common practice, no source)
PROOF_PER_K = -0.7  # what correcting moves a strength per kelvin near 120 proof, computed; only to choose days
CERTAIN, LIKELY = 4.0, 3.0  # standard errors that b must lie above 0
ABOUT_ONE = 2.5  # standard errors that b may lie from 1


@dataclass(frozen=True)
class _Changes:
    """Readings with a last gauge: rows of the table, change since [proof], its variance, day and instrument."""

    rows: np.ndarray
    change: np.ndarray
    variance: np.ndarray
    group: np.ndarray

    def __getitem__(self, mask: np.ndarray) -> _Changes:
        return _Changes(self.rows[mask], self.change[mask], self.variance[mask], self.group[mask])


def leaning_days(table: Table, instruments: pd.DataFrame, default_scale: str, taken: np.ndarray) -> list[np.ndarray]:
    """Rows of each instrument's day whose readings, of no stated state, were corrected before by this fit."""
    found = _changes(table, taken)
    base = np.where(table.of_proofs("scale")[found.rows] == "%vol", T_20C, T_60F)
    rough = PROOF_PER_K * (table.temperature[found.rows] - base)
    found = found[np.isin(found.group, _groups(found, rough, LIKELY))]
    if not found.rows.size:
        return []
    again = table.again(found.rows, instruments, default_scale)
    moved = again.proof() - again.without_correction()
    return [found.rows[found.group == group] for group in _groups(found, moved, CERTAIN)]


def _changes(table: Table, taken: np.ndarray) -> _Changes:
    """Hydrometer readings in proof or % vol without a stated state, with what they changed since the last gauge."""
    hydrometer = table.of_proofs("method") == "hydrometer"
    strength = pd.Series(table.of_proofs("scale")).isin(("proof", "%vol")).to_numpy()
    change = table.proof - table.compared.previous
    known = ~np.isnan(change) & ~taken
    rows = np.flatnonzero(known & hydrometer & strength & table.readings["state"].isna().to_numpy())
    aged = known & (table.years > 0.25)
    usual = float(np.median(change[aged] / table.years[aged])) if aged.any() else 0.0
    years = table.years[rows]
    instrument, _ = pd.factorize(table.readings["instrument"].iloc[rows])
    group = table.day[rows] * (instrument.max(initial=0) + 2) + instrument + 1
    return _Changes(rows, change[rows] - usual * years, SCATTER**2 + (DRIFT_PER_YEAR * years) ** 2, group)


def _groups(found: _Changes, moved: np.ndarray, errors: float) -> np.ndarray:
    """The groups in which the fitted part lies so many standard errors above 0 and about at 1."""
    if not found.rows.size:
        return found.group
    groups, place, count = np.unique(found.group, return_inverse=True, return_counts=True)
    square = np.maximum(np.bincount(place, weights=moved**2 / found.variance), 1e-12)
    part = np.bincount(place, weights=moved * found.change / found.variance) / square
    error = 1.0 / np.sqrt(square)
    return groups[(count >= FEWEST) & (part > errors * error) & (np.abs(part - 1.0) < ABOUT_ONE * error + 0.25)]
