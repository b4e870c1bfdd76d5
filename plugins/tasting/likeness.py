"""How like two profiles are, groups of like ones, and what goes with wood. Pure functions of arrays.

Profiles are (casks, families) in points of 0 to 10, with standard errors of the same shape.
"""

from __future__ import annotations

import numpy as np

MOST_GROUPS = 8
PRIOR_SPREAD = 2.0  # standard deviation, in points, within which effects of wood are expected
TURNS = 20


def distances(values: np.ndarray, others: np.ndarray | None = None, weights: np.ndarray | None = None) -> np.ndarray:
    """Root mean square differences between rows, over columns weighted by ``weights``."""
    others = values if others is None else others
    weights = np.ones(values.shape[1]) if weights is None else np.asarray(weights, dtype=float)
    scale = np.sqrt(weights / weights.sum())
    left, right = values * scale, others * scale
    squares = (left**2).sum(axis=1)[:, None] + (right**2).sum(axis=1)[None] - 2.0 * left @ right.T
    return np.sqrt(np.maximum(squares, 0.0))


def nearest(values: np.ndarray, count: int) -> tuple[np.ndarray, np.ndarray]:
    """For each row the ``count`` nearest others, nearest first, and their distances."""
    apart = distances(values)
    np.fill_diagonal(apart, np.inf)
    count = min(count, len(values) - 1)
    order = np.argsort(apart, axis=1, kind="stable")[:, : max(count, 0)]
    return order, np.take_along_axis(apart, order, axis=1)


def day_outliers(values: np.ndarray, errors: np.ndarray, day: np.ndarray, least: int) -> tuple[np.ndarray, ...]:
    """For each row: how many share its day, the largest difference from the median of those, in standard
    deviations, and on which column; 0 and -1 where fewer than ``least`` share it.

    The standard deviation is of the row's own error and of the others' spread (median absolute deviation).
    """
    size, z, column = np.zeros(len(day), dtype=int), np.zeros(len(day)), np.full(len(day), -1)
    for label in np.unique(day[day >= 0]):
        rows = np.flatnonzero(day == label)
        size[rows] = len(rows)
        if len(rows) < least:
            continue
        for row in rows:
            rest = values[rows[rows != row]]
            middle = np.median(rest, axis=0)
            spread = 1.4826 * np.median(np.abs(rest - middle), axis=0)
            apart = (values[row] - middle) / np.sqrt(errors[row] ** 2 + spread**2)
            column[row] = int(np.abs(apart).argmax())
            z[row] = apart[column[row]]
    return size, z, column


def groups(values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Group of each row, largest first from 0, and the silhouette of each row (Rousseeuw 1987).

    Ward's method, cut where the mean silhouette is highest, at 2 to 8 groups.
    """
    from scipy.cluster.hierarchy import fcluster, linkage

    apart = distances(values)
    tree = linkage(values, "ward")
    best = (-2.0, np.zeros(len(values), dtype=int), np.zeros(len(values)))
    for count in range(2, min(MOST_GROUPS, len(values) - 1) + 1):
        label = fcluster(tree, count, "maxclust") - 1
        width = silhouette(apart, label)
        if width.mean() > best[0] + 1e-12:
            best = (float(width.mean()), label, width)
    _, label, width = best
    size = np.bincount(label)
    order = np.argsort(-size, kind="stable")
    rank = np.empty_like(order)
    rank[order] = np.arange(len(order))
    return rank[label], width


def silhouette(apart: np.ndarray, label: np.ndarray) -> np.ndarray:
    """How much nearer each row is to its own group than to the next: 1 well apart, below 0 in the wrong one."""
    count = label.max() + 1
    member = np.eye(count)[label]
    sizes = member.sum(axis=0)
    sums = apart @ member
    own = sums[np.arange(len(label)), label] / np.maximum(sizes[label] - 1, 1)
    means = sums / np.maximum(sizes, 1)
    means[np.arange(len(label)), label] = np.inf
    means[:, sizes == 0] = np.inf
    other = means.min(axis=1)
    width = (other - own) / np.maximum(np.maximum(own, other), 1e-12)
    return np.where(sizes[label] > 1, width, 0.0)


def effects(values: np.ndarray, design: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Effects (columns of ``design``, families) and their standard errors, each drawn to 0 where little is known.

    ``design`` (casks, columns): 1 where a cask has a level, its age in years from the stock's mean for age. All
    columns are fitted together, so that an effect is what is left when the others are held. The level of the
    stock is fitted beside them and not shrunk. Empirical Bayes with one prior spread of 2 points.
    """
    count, columns = design.shape
    centred = design - design.mean(axis=0)
    centred_values = values - values.mean(axis=0)
    error = centred_values.var(axis=0) + 1e-9
    found, spread = np.zeros((columns, values.shape[1])), np.zeros((columns, values.shape[1]))
    for _ in range(TURNS):
        before = error.copy()
        for family in range(values.shape[1]):
            matrix = centred.T @ centred + np.eye(columns) * error[family] / PRIOR_SPREAD**2
            inverse = np.linalg.inv(matrix)
            found[:, family] = inverse @ centred.T @ centred_values[:, family]
            spread[:, family] = np.sqrt(np.maximum(error[family] * np.diag(inverse), 0.0))
            used = columns - (error[family] / PRIOR_SPREAD**2) * np.trace(inverse)
            left = centred_values[:, family] - centred @ found[:, family]
            error[family] = max(float((left**2).sum()) / max(count - 1 - used, 1.0), 1e-9)
        if np.abs(error - before).max() < 1e-6 * error.max():
            break
    return found, spread
