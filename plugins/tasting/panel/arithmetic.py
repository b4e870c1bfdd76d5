"""Arithmetic of a panel: complete tables, differences of tasters, order, noise. Pure functions."""

from __future__ import annotations

import numpy as np
import pandas as pd

from plugins.tasting.profiles.impressions import TWO_ENDED

SCORE = "score"


def observations(tasted: pd.DataFrame, impressions: pd.DataFrame) -> pd.DataFrame:
    """One value per tasting and family (stage ``all``), and per tasting and score: tasting, family, value.

    A family that a tasting does not name in words, but some other of its session does, counts as 0, unless the
    session's sheet asks for it; ``body`` and ``length_balance`` only where named.
    """
    said = impressions[impressions["stage"] == "all"][["tasting", "family", "value", "session", "source"]]
    speaks = said.loc[said["source"] == "words", ["tasting", "session"]].drop_duplicates("tasting")
    asked = said.loc[said["source"] == "figure", ["session", "family"]].drop_duplicates()
    families = said[~said["family"].isin(TWO_ENDED)][["session", "family"]].drop_duplicates()
    families = families.merge(asked, on=["session", "family"], how="left", indicator="asked")
    free = families.loc[families["asked"] == "left_only", ["session", "family"]]
    silent = speaks.merge(free, on="session")[["tasting", "family"]].assign(value=0.0)
    scored = tasted.loc[tasted["score"].notna(), ["tasting", "score"]].rename(columns={"score": "value"})
    parts = [said[["tasting", "family", "value"]], scored.assign(family=SCORE), silent]
    return pd.concat([part for part in parts if len(part)] or parts, ignore_index=True).drop_duplicates(
        ["tasting", "family"], keep="first"
    )


def table_of(rows: np.ndarray, columns: np.ndarray, values: np.ndarray) -> np.ndarray:
    """Labels of rows and columns with values → a table of means, labels sorted, NaN where there is no value."""
    row_labels, row = np.unique(rows, return_inverse=True)
    column_labels, column = np.unique(columns, return_inverse=True)
    sums, counts = np.zeros((2, len(row_labels), len(column_labels)))
    np.add.at(sums, (row, column), values)
    np.add.at(counts, (row, column), 1.0)
    return np.where(counts > 0, sums / np.maximum(counts, 1.0), np.nan)


def complete(table: np.ndarray, tasters: int, samples: int) -> tuple[np.ndarray, np.ndarray]:
    """Rows and columns of the largest complete part of a ragged table (samples, tasters), found by leaving out
    the taster with most gaps until enough samples are complete; empty where there is none."""
    known = ~np.isnan(table)
    columns = np.arange(table.shape[1])
    best: tuple[int, np.ndarray, np.ndarray] = (0, np.arange(0), np.arange(0))
    while len(columns) >= tasters:
        rows = np.flatnonzero(known[:, columns].all(axis=1))
        if len(rows) >= samples and len(rows) * len(columns) > best[0]:
            best = (len(rows) * len(columns), rows, columns)
        gaps = (~known[:, columns]).sum(axis=0)
        columns = np.delete(columns, int(gaps.argmax()))
    return best[1], best[2]


def holm(p: np.ndarray) -> np.ndarray:
    """Probabilities adjusted for their number (Holm 1979); NaN stays."""
    adjusted = np.full(len(p), np.nan)
    known = np.flatnonzero(~np.isnan(p))
    order = known[np.argsort(p[known], kind="stable")]
    steps = p[order] * (len(order) - np.arange(len(order)))
    adjusted[order] = np.minimum(np.maximum.accumulate(steps), 1.0)
    return adjusted


def from_others(table: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Per taster of a ragged table (samples, tasters): samples in common, mean difference, its standard error."""
    known = ~np.isnan(table)
    filled = np.where(known, table, 0.0)
    others = known.sum(axis=1, keepdims=True) - known
    both = known & (others > 0)
    rest = (filled.sum(axis=1, keepdims=True) - filled) / np.maximum(others, 1)
    apart = np.where(both, filled - rest, 0.0)
    count = both.sum(axis=0)
    mean = apart.sum(axis=0) / np.maximum(count, 1)
    spread = np.where(both, (apart - mean) ** 2, 0.0).sum(axis=0) / np.maximum(count - 1, 1)
    return count, mean, np.sqrt(spread / np.maximum(count, 1))


def slope(place: np.ndarray, value: np.ndarray, sample: np.ndarray, taster: np.ndarray) -> tuple[float, float, int]:
    """Change of a value per place in the flight, with samples and tasters taken out, its standard error and
    degrees of freedom; NaN where place cannot be told from sample (all were served in one order)."""
    others = np.hstack([_membership(sample), _membership(taster)[:, 1:]])
    basis, _, rank, _ = np.linalg.lstsq(others, np.column_stack([place, value]), rcond=None)
    left = np.column_stack([place, value]) - others @ basis
    squares = float((left[:, 0] ** 2).sum())
    degrees = len(value) - int(rank) - 1
    if squares < 1e-6 * len(value) or degrees < 3:
        return float("nan"), float("nan"), degrees
    per_place = float((left[:, 0] * left[:, 1]).sum() / squares)
    error = float(((left[:, 1] - per_place * left[:, 0]) ** 2).sum()) / degrees
    return per_place, float(np.sqrt(error / squares)), degrees


def _membership(names: np.ndarray) -> np.ndarray:
    """1 where a row is of a name, else 0: (rows, names), the names in order."""
    known, place = np.unique(names.astype(str), return_inverse=True)
    return np.asarray(place[:, None] == np.arange(len(known)), dtype=float)


def t_bound(degrees: np.ndarray) -> np.ndarray:
    """97.5 % points of Student's t."""
    from scipy.special import stdtrit

    return np.asarray(stdtrit(np.maximum(degrees, 1), 0.975))


def t_probability(t: np.ndarray, degrees: np.ndarray) -> np.ndarray:
    """Two-sided probability of so large a t."""
    from scipy.special import stdtr

    return np.asarray(2.0 * stdtr(np.maximum(degrees, 1), -np.abs(t)))
