"""Sums over groups and rows whose bits hang on nothing but what is summed.

A group's sum by pandas, and a row's by a matrix product, may differ in the last bit when other groups or rows stand
beside them. Here each is added up by itself from its first row to its last, so that a group gives the same figure
among all others, among some, or alone.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


def sum_by(values: ArrayLike, codes: ArrayLike, count: int) -> Array:
    """The sum of each group's values, added up in the order of the rows.

    ``values`` is (rows,) or (rows, columns), in any unit; NaN counts as nothing. ``codes`` (rows,) names the group
    of each row, 0 to ``count`` − 1; a row of −1 is in none. Returns (count,) or (count, columns); 0.0 where a group
    has no rows. Raises ValueError where a code is not below ``count`` or shapes do not fit.
    """
    table, groups = _checked(values, codes, count)
    return _added(np.where(np.isnan(table), 0.0, table), groups, count).reshape(count, *np.shape(values)[1:])


def mean_by(values: ArrayLike, codes: ArrayLike, count: int) -> Array:
    """The mean of each group's values, of those that are not NaN; NaN where there is none. Arguments as ``sum_by``."""
    table, groups = _checked(values, codes, count)
    known = ~np.isnan(table)
    sums, numbers = (_added(part, groups, count) for part in (np.where(known, table, 0.0), known.astype(np.float64)))
    with np.errstate(invalid="ignore"):
        return (sums / numbers).reshape(count, *np.shape(values)[1:])


def row_dot(matrix: ArrayLike, weights: ArrayLike) -> Array:
    """Each row's values times weights, added up from the first column to the last.

    ``matrix`` is (rows, columns); ``weights`` (columns,), or (rows, columns) for each row its own. Returns (rows,).
    Raises ValueError where shapes do not fit.
    """
    table = np.asarray(matrix, dtype=np.float64)
    if table.ndim != 2:
        raise ValueError(f"row_dot needs a matrix, not {table.ndim} dimensions")
    products = table * np.broadcast_to(np.asarray(weights, dtype=np.float64), table.shape)
    total = np.zeros(len(table))
    for column in range(table.shape[1]):
        total += products[:, column]
    return total


def _checked(values: ArrayLike, codes: ArrayLike, count: int) -> tuple[Array, NDArray[np.int64]]:
    """Values as (rows, columns), and codes, of the rows that are in some group."""
    table = np.asarray(values, dtype=np.float64)
    groups = np.asarray(codes, dtype=np.int64)
    if table.ndim not in (1, 2) or groups.shape != table.shape[:1]:
        raise ValueError(f"values of shape {table.shape} do not fit codes of shape {groups.shape}")
    if len(groups) and (groups.max() >= count or groups.min() < -1):
        raise ValueError(f"codes reach from {groups.min()} to {groups.max()}, of {count} groups")
    inside = groups >= 0
    table = table[:, None] if table.ndim == 1 else table
    return (table, groups) if inside.all() else (table[inside], groups[inside])


def _added(table: Array, groups: NDArray[np.int64], count: int) -> Array:
    sums = [np.bincount(groups, table[:, column], count) for column in range(table.shape[1])]
    return np.column_stack(sums) if sums else np.zeros((count, 0))
