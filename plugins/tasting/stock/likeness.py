"""How like two profiles are, groups of like ones, and what goes with wood. Pure functions of arrays.

Profiles are (casks, families) in points of 0 to 10, with standard errors of the same shape.
"""

from __future__ import annotations

import numpy as np

MOST_GROUPS = 8
PRIOR_SPREAD = 2.0  # standard deviation, in points, within which effects of wood are expected
TURNS = 20
LEAST_APART = 1.5  # points by which a cask must differ from its day to be an outlier


def distances(values: np.ndarray, others: np.ndarray | None = None, weights: np.ndarray | None = None) -> np.ndarray:
    """Root mean square differences between rows, over columns weighted by ``weights``; all 0, they count alike."""
    others = values if others is None else others
    weights = np.ones(values.shape[1]) if weights is None else np.asarray(weights, dtype=float)
    weights = weights if weights.sum() > 0.0 else np.ones_like(weights)
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

    The standard deviation is of the row's own error and of the spread within days, the larger of that of its own
    day (median absolute deviation) and that of all days.
    """
    size, z, column = np.zeros(len(day), dtype=int), np.zeros(len(day)), np.full(len(day), -1)
    rests: dict[int, tuple[np.ndarray, np.ndarray]] = {}
    for label in np.unique(day[day >= 0]):
        rows = np.flatnonzero(day == label)
        size[rows] = len(rows)
        if len(rows) < least:
            continue
        for row in rows:
            rest = values[rows[rows != row]]
            middle = np.median(rest, axis=0)
            rests[int(row)] = middle, 1.4826 * np.median(np.abs(rest - middle), axis=0)
    if not rests:
        return size, z, column
    order = sorted(rests)
    apart = values[order] - np.array([rests[row][0] for row in order])
    usual = np.maximum(np.sqrt(np.mean(np.clip(apart, *np.quantile(apart, (0.02, 0.98), axis=0)) ** 2, axis=0)), 0.3)
    own = np.array([rests[row][1] for row in order])
    scores = apart / np.sqrt(errors[order] ** 2 + np.maximum(own, usual) ** 2)
    scores = np.where(np.abs(apart) >= LEAST_APART, scores, 0.0)
    column[order] = np.abs(scores).argmax(axis=1)
    z[order] = scores[np.arange(len(order)), column[order]]
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
        if label.max() == 0:
            break  # rows that are all alike cannot be parted
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


def effects(values: np.ndarray, design: np.ndarray, factors: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Effects (columns of ``design``, families) and their standard errors, each drawn to 0 where little is known.

    ``design`` (casks, columns): 1 where a cask has a level, its age in years from the stock's mean for age.
    ``factors`` numbers the factor of each column. All columns are fitted together, so that an effect is what is left
    when the others are held; levels of a factor are given as differences from the stock's mean over its
    levels. Empirical Bayes with one prior spread of 2 points.
    """
    count, columns = design.shape
    centred, centred_values = design - design.mean(axis=0), values - values.mean(axis=0)
    squares, cross = centred.T @ centred, centred.T @ centred_values
    contrast = _contrasts(design, factors)
    found, spread = np.zeros((columns, values.shape[1])), np.zeros((columns, values.shape[1]))
    for family in range(values.shape[1]):
        error = float(centred_values[:, family].var()) + 1e-9
        for _ in range(TURNS):
            inverse = np.linalg.inv(squares + np.eye(columns) * error / PRIOR_SPREAD**2)
            fitted = inverse @ cross[:, family]
            used = columns - error / PRIOR_SPREAD**2 * np.trace(inverse)
            left = centred_values[:, family] - centred @ fitted
            before, error = error, max(float((left**2).sum()) / max(count - 1 - used, 1.0), 1e-9)
            if abs(error - before) < 1e-6 * error:
                break
        found[:, family] = contrast @ fitted
        spread[:, family] = np.sqrt(np.maximum(error * np.diag(contrast @ inverse @ contrast.T), 0.0))
    return found, spread


def _contrasts(design: np.ndarray, factors: np.ndarray) -> np.ndarray:
    """Takes the mean over the casks off the levels of each factor; a factor of one column is left as it is."""
    contrast = np.eye(design.shape[1])
    for factor in np.unique(factors):
        mine = np.flatnonzero(factors == factor)
        if len(mine) > 1:
            share = design[:, mine].sum(axis=0)
            contrast[np.ix_(mine, mine)] -= (share / share.sum())[None, :]
    return contrast
