"""What a sample is, apart from who tasted it: an additive model with shrunken effects.

    value = general level + sample + taster + error,   error variance s² / weight

Samples and tasters are random effects, their variances found by restricted maximum likelihood
(Patterson and Thompson 1971; the equations are Henderson's mixed-model equations, with the samples
absorbed so that what is solved is as large as the number of tasters). Many variables are fitted at
once: the arrays are (variables, samples, tasters). Ragged tables are allowed; a cell of weight 0 is
not there. The test compares it with published values and with a statistics library.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np

LEAST, MOST = -9.0, 9.0  # natural logarithm of error variance over effect variance
FIRST_STEP = 2.0


@dataclass(frozen=True)
class Fit:
    """Fitted model of each variable: arrays with one entry a variable, or (variables, samples), (variables, tasters).

    ``level``: value of an average sample for an average taster. ``sample_means``: level + sample,
    ``standard_errors`` theirs; ``taster_effects`` above or below level. Variances of error (at weight 1),
    samples, tasters.
    """

    level: np.ndarray
    level_error: np.ndarray
    sample_means: np.ndarray
    standard_errors: np.ndarray
    taster_effects: np.ndarray
    error_variance: np.ndarray
    sample_variance: np.ndarray
    taster_variance: np.ndarray


@dataclass(frozen=True)
class Panel:
    """What all samples share, of each variable: ``level`` and ``taster_effects`` (variables, tasters), ``covariance``
    of level and tasters (variables, 1 + tasters, 1 + tasters) over the error variance, the error variance at weight
    1, and its ratios to the variances of samples and of tasters. ``freedom``: values beyond one of each sample."""

    level: np.ndarray
    taster_effects: np.ndarray
    covariance: np.ndarray
    error_variance: np.ndarray
    ratio_sample: np.ndarray
    ratio_taster: np.ndarray
    freedom: np.ndarray

    def of(self, variables: np.ndarray) -> Panel:
        """The panel's figures of some variables, by their places."""
        return Panel(*(getattr(self, item.name)[variables] for item in fields(self)))

    def over(self, places: np.ndarray) -> Panel:
        """The same panel over other tasters, by their places among its own; -1 is one of whom it knows nothing."""
        known, at = places >= 0, np.concatenate([[0], 1 + places])
        covariance = self.covariance[:, at[:, None], at[None, :]]
        strange = np.concatenate([[False], ~known])
        covariance[:, strange, :] = covariance[:, :, strange] = 0.0
        row = np.flatnonzero(strange)
        covariance[:, row, row] = 1.0 / self.ratio_taster[:, None]
        effects = np.where(known, self.taster_effects[:, places], 0.0)
        return replace(self, taster_effects=effects, covariance=covariance)


class _Tables:
    """Sums that the equations need, of values (variables, samples, tasters) and their weights."""

    def __init__(self, values: np.ndarray, weights: np.ndarray) -> None:
        self.weights = np.where(np.isnan(values), 0.0, weights)
        filled = np.where(self.weights > 0, values, 0.0)
        self.of_sample = self.weights.sum(axis=2)
        self.of_taster = self.weights.sum(axis=1)
        weighted = self.weights * filled
        self.sample_sums = weighted.sum(axis=2)
        self.taster_sums = weighted.sum(axis=1)
        self.squares = (weighted * filled).sum(axis=(1, 2))
        self.count = (self.weights > 0).sum(axis=(1, 2))
        self.samples = (self.of_sample > 0).sum(axis=1)
        self.tasters = (self.of_taster > 0).sum(axis=1)

    def equations(self, ratio_sample: np.ndarray, ratio_taster: np.ndarray) -> tuple[np.ndarray, ...]:
        """Matrix (1 + tasters, square), right side, y'My and absorbed diagonal at ratios of variances."""
        variables, tasters = self.of_taster.shape
        diagonal = self.of_sample + ratio_sample[:, None]
        share = self.weights / diagonal[:, :, None]
        matrix = np.zeros((variables, 1 + tasters, 1 + tasters))
        matrix[:, 1:, 1:] = -np.matmul(share.transpose(0, 2, 1), self.weights)
        index = np.arange(tasters)
        matrix[:, 1 + index, 1 + index] += self.of_taster + ratio_taster[:, None]
        cross = (self.weights * (ratio_sample[:, None] / diagonal)[:, :, None]).sum(axis=1)
        matrix[:, 0, 1:] = matrix[:, 1:, 0] = cross
        matrix[:, 0, 0] = (self.of_sample * ratio_sample[:, None] / diagonal).sum(axis=1)
        right = np.empty((variables, 1 + tasters))
        right[:, 0] = (self.sample_sums * ratio_sample[:, None] / diagonal).sum(axis=1)
        right[:, 1:] = self.taster_sums - np.einsum("fst,fs->ft", share, self.sample_sums)
        rest = self.squares - (self.sample_sums**2 / diagonal).sum(axis=1)
        return matrix, right, rest, diagonal

    def badness(self, log_sample: np.ndarray, log_taster: np.ndarray) -> np.ndarray:
        """-2 log restricted likelihood of each variable, without what does not depend on the ratios."""
        sample, taster = np.exp(log_sample), np.exp(log_taster)
        matrix, right, rest, diagonal = self.equations(sample, taster)
        solved = np.linalg.solve(matrix, right[:, :, None])[:, :, 0]
        left = np.maximum(rest - (right * solved).sum(axis=1), 1e-12)
        _, size = np.linalg.slogdet(matrix)
        tasters = self.of_taster.shape[1]
        return (
            (self.count - 1) * np.log(left)
            + size
            + np.log(diagonal).sum(axis=1)
            - diagonal.shape[1] * log_sample
            - tasters * log_taster
        )


def fit(
    values: np.ndarray, weights: np.ndarray | None = None, most_shrunk: float | None = None, within: float = 0.05
) -> Fit:
    """Fit all variables.

    ``values``: (variables, samples, tasters), NaN where a taster did not taste. ``weights``: the same shape;
    none: 1. ``most_shrunk``: largest ratio of error to sample variance, which bounds how far a sample is drawn
    to the level. ``within``: how near the logarithm of the ratios must be.
    """
    weights = np.ones_like(values) if weights is None else weights
    return samples_of(panel_of(values, weights, most_shrunk, within), values, weights)


def panel_of(values: np.ndarray, weights: np.ndarray, most_shrunk: float | None = None, within: float = 0.05) -> Panel:
    """What all samples share, fitted; parameters as in ``fit``."""
    tables = _Tables(values, weights)
    log_sample, log_taster = _ratios(tables, within)
    if most_shrunk is not None:
        log_sample = np.minimum(log_sample, np.log(most_shrunk))
    sample, taster = np.exp(log_sample), np.exp(log_taster)
    matrix, right, rest, _ = tables.equations(sample, taster)
    inverse = np.linalg.inv(matrix)
    solved = np.einsum("fij,fj->fi", inverse, right)
    error = np.maximum(rest - (right * solved).sum(axis=1), 0.0) / np.maximum(tables.count - 1, 1)
    freedom = tables.count - tables.samples
    return Panel(solved[:, 0], solved[:, 1:], inverse, error, sample, taster, freedom)


def samples_of(panel: Panel, values: np.ndarray, weights: np.ndarray) -> Fit:
    """Each sample by what a panel's tasters are known to do: other samples of the table count for nothing."""
    tables = _Tables(values, weights)
    diagonal = tables.of_sample + panel.ratio_sample[:, None]
    lean = np.concatenate(
        [(panel.ratio_sample[:, None] / diagonal)[:, :, None], -tables.weights / diagonal[:, :, None]], axis=2
    )  # how a sample's mean leans on level and tasters
    expected = np.einsum("fst,ft->fs", tables.weights, panel.taster_effects)
    deviation = (tables.sample_sums - tables.of_sample * panel.level[:, None] - expected) / diagonal
    doubt = 1.0 / diagonal + np.einsum("fsi,fij,fsj->fs", lean, panel.covariance, lean)
    error = panel.error_variance
    return Fit(
        panel.level,
        np.sqrt(error * panel.covariance[:, 0, 0]),
        panel.level[:, None] + deviation,
        np.sqrt(error[:, None] * doubt),
        panel.taster_effects,
        error,
        error / panel.ratio_sample,
        error / panel.ratio_taster,
    )


def _ratios(tables: _Tables, within: float) -> tuple[np.ndarray, np.ndarray]:
    """The ratios of variances that are likeliest: steps along each axis, halved where no step helps."""
    count = len(tables.count)
    at = np.zeros((2, count))
    best = tables.badness(at[0], at[1])
    step = np.full(count, FIRST_STEP)
    while (step > within).any():
        moved = np.zeros(count, dtype=bool)
        for axis in (0, 1):
            for sign in (-1.0, 1.0):
                tried = at.copy()
                tried[axis] = np.clip(at[axis] + sign * step, LEAST, MOST)
                bad = tables.badness(tried[0], tried[1])
                better = bad < best - 1e-10
                at[:, better] = tried[:, better]
                best = np.where(better, bad, best)
                moved |= better
        step = np.where(moved, step, step / 2)
    return at[0], at[1]
