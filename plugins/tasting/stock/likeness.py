"""How like two profiles are, groups of like ones, and what goes with wood. Pure functions of arrays.

Profiles are (casks, families) in points of 0 to 10, with standard errors of the same shape.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import takewhile

import numpy as np

CELLS = 1 << 21  # distances worked out at once
SAME = 1e-12  # of a distance: nearer to each other, two are the same
MANY = 5_000  # rows of which all distances would take much memory
MOST_GROUPS = 8
PRIOR_SPREAD = 2.0  # standard deviation, in points, within which effects of wood are expected
TURNS = 20
LEAST_APART = 1.5  # points by which a cask must differ from its day to be an outlier


def distances(values: np.ndarray, others: np.ndarray, weights: np.ndarray | None = None) -> np.ndarray:
    """Root mean square differences between rows, over columns weighted by ``weights``; all 0, they count alike."""
    from scipy.spatial.distance import cdist

    weights = np.ones(values.shape[1]) if weights is None else np.asarray(weights, dtype=float)
    weights = weights if weights.sum() > 0.0 else np.ones_like(weights)
    scale = np.sqrt(weights / weights.sum())
    return cdist(values * scale, others * scale)


def nearest(values: np.ndarray, count: int) -> tuple[np.ndarray, np.ndarray]:
    """For each row the ``count`` nearest others, nearest first, of equal ones the first, and their distances."""
    from scipy.spatial import cKDTree
    from scipy.spatial.distance import cdist

    rows, count = len(values), max(min(count, len(values) - 1), 0)
    far, order = cKDTree(values).query(values, min(count + 2, rows))  # itself, those wanted, and one to see ties by
    far, order = far.reshape(rows, -1), order.reshape(rows, -1)
    by_row = np.argsort(order, axis=1)
    far, order = np.take_along_axis(far, by_row, axis=1), np.take_along_axis(order, by_row, axis=1)
    by_far = np.argsort(far, axis=1, kind="stable")
    far, order = np.take_along_axis(far, by_far, axis=1), np.take_along_axis(order, by_far, axis=1)
    if rows > count + 1:
        tied = np.flatnonzero(far[:, count + 1] <= far[:, count] * (1.0 + SAME))
        far, order = far[:, :-1], order[:, :-1]
        for part in _parts(len(tied), rows):
            apart = cdist(values[tied[part]], values)
            order[tied[part]] = np.argsort(apart, axis=1, kind="stable")[:, : count + 1]
            far[tied[part]] = np.take_along_axis(apart, order[tied[part]], axis=1)
    others = order != np.arange(rows)[:, None]
    others[others.all(axis=1), -1] = False  # of many that are alike it may not be among the first itself
    kept = order[others].reshape(rows, count), far[others].reshape(rows, count)
    return kept[0], kept[1] / np.sqrt(values.shape[1])


def _parts(rows: int, others: int) -> Iterator[slice]:
    """Rows in parts whose distances to the others take some megabytes."""
    step = max(1, CELLS // max(others, 1))
    return (slice(first, first + step) for first in range(0, rows, step))


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


def groups(values: np.ndarray) -> np.ndarray:
    """Group of each row, largest first from 0.

    Ward's method, cut where the mean silhouette (Rousseeuw 1987) is highest, at 2 to 8 groups.
    """
    from scipy.cluster.hierarchy import fcluster, linkage

    from plugins.tasting.stock.ward import ward_tree

    tree = linkage(values, "ward") if len(values) <= MANY else ward_tree(values)
    labels = [fcluster(tree, count, "maxclust") - 1 for count in range(2, min(MOST_GROUPS, len(values) - 1) + 1)]
    labels = list(takewhile(lambda label: label.max() > 0, labels))  # rows that are all alike cannot be parted
    best, label = -2.0, np.zeros(len(values), dtype=int)
    for cut, width in zip(labels, silhouettes(values, labels), strict=True):
        if width.mean() > best + 1e-12:
            best, label = float(width.mean()), cut
    size = np.bincount(label)
    order = np.argsort(-size, kind="stable")
    rank = np.empty_like(order)
    rank[order] = np.arange(len(order))
    return rank[label]


def silhouettes(values: np.ndarray, labels: list[np.ndarray]) -> list[np.ndarray]:
    """How much nearer each row is to its own group than to the next: 1 well apart, below 0 in the wrong one.

    One for each way of grouping, since all are told from the same distances.
    """
    member = np.hstack([np.zeros((len(values), 0)), *(np.eye(label.max() + 1)[label] for label in labels)])
    sums = np.empty_like(member)
    for part in _parts(len(values), len(values)):
        sums[part] = distances(values[part], values) @ member
    ends = np.cumsum([label.max() + 1 for label in labels])[:-1]
    parts = np.split(sums, ends, axis=1) if labels else []
    return [_silhouette(own, label) for own, label in zip(parts, labels, strict=True)]


def _silhouette(sums: np.ndarray, label: np.ndarray) -> np.ndarray:
    """From each row's distances to all rows of each group, added up; one group alone stands apart from nothing."""
    if sums.shape[1] == 1:
        return np.zeros(len(label))
    sizes = np.bincount(label)
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
