"""A mixed model in NumPy: slopes of many casks, each with a known error, partially pooled over crossed groups.

    y_c = x_c'b + sum over factors of u_factor(level of c) + a_c + e_c
    u ~ N(0, t_factor^2), a ~ N(0, t_own^2), e_c ~ N(0, s_c^2) with s_c known, b ~ N(m, diag(d)^2)

The deviations t maximise the likelihood with b and u integrated out; with a flat prior of b that is REML
(Patterson and Thompson 1971). Given them b and u are the solution of Henderson's mixed model equations (1950), and
a cask's own slope is drawn to that of its groups by t_own^2 / (t_own^2 + s_c^2) (the empirical Bayes estimator of Fay
and Herriot 1979). With few levels a likelihood often has its top at t = 0; ``scale`` adds the log of
t exp(-t^2 / 2 scale^2) for each factor, which leaves out 0 (the idea of Chung et al. 2013; the form is ours).
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

Array = np.ndarray
STEPS = (1.6, 0.8, 0.4, 0.2, 0.1, 0.05, 0.02)
MOST_ROUNDS = 12
OUTLYING = 4.0


@dataclass(frozen=True)
class Prior:
    """What is expected of b before any data: means and standard deviations (p,); ``scale`` of the deviations t."""

    mean: Array
    spread: Array
    scale: float | None = None


@dataclass
class Design:
    """Covariates x (n, p) and for each factor the level of every row (n,), with the number of levels."""

    x: Array
    codes: list[Array] = field(default_factory=list)
    levels: list[int] = field(default_factory=list)

    def columns(self) -> tuple[Array, Array]:
        """Per row the columns of the whole design that are not 0, and their values: both (n, p + factors)."""
        count, p = self.x.shape
        starts = p + np.concatenate([[0], np.cumsum(self.levels)[:-1]]).astype(int) if self.levels else []
        places = [np.broadcast_to(np.arange(p), (count, p))]
        places += [(codes + start)[:, None] for codes, start in zip(self.codes, starts, strict=True)]
        values = np.hstack([self.x, np.ones((count, len(self.codes)))])
        return np.hstack(places).astype(np.int64), values

    @property
    def width(self) -> int:
        return self.x.shape[1] + sum(self.levels)


@dataclass(frozen=True)
class Pooled:
    """The fit: ``effects`` (width,) with ``covariance``; ``between`` the t of each factor, ``own`` that of casks;
    ``used`` the rows that counted."""

    effects: Array
    covariance: Array
    between: Array
    own: float
    used: Array

    def predict(self, design: Design) -> tuple[Array, Array]:
        """Mean of each row's groups and its variance, the cask's own deviation left out."""
        places, values = design.columns()
        mean = (self.effects[places] * values).sum(axis=1)
        variance = np.zeros(len(places))
        for one in range(places.shape[1]):
            for other in range(places.shape[1]):
                part = self.covariance[places[:, one], places[:, other]]
                variance += values[:, one] * values[:, other] * part
        return mean, np.maximum(variance, 0.0)


def fit(y: Array, variance: Array, design: Design, prior: Prior, robust: bool = True) -> Pooled:
    """Fit the model to slopes ``y`` (n,) with known error ``variance`` (n,); NaN rows are left out.

    ``robust``: rows more than four predictive deviations from what the others say are left out and the model is
    fitted again, at most three times, so that a leaking cask does not hide behind the spread that it makes.
    """
    used = np.isfinite(y) & np.isfinite(variance)
    start: Array | None = None
    for _ in range(4 if robust else 1):
        fitted, start = _fit(y, variance, design, prior, used, start)
        if not robust:
            break
        keep = used & ~(np.abs(apart(y, variance, design, fitted)) > OUTLYING)
        if (keep == used).all():
            break
        used = keep
    return fitted


def apart(y: Array, variance: Array, design: Design, fitted: Pooled) -> Array:
    """How many predictive deviations each row lies from what the other rows say of it."""
    mean, spread = fitted.predict(design)
    total = variance + fitted.own**2
    share = np.where(fitted.used, np.minimum(spread / total, 0.999), 0.0)
    with np.errstate(invalid="ignore"):
        return (y - mean) / (1.0 - share) / np.sqrt(total + spread / (1.0 - share))


def posterior(y: Array, variance: Array, design: Design, fitted: Pooled) -> tuple[Array, Array]:
    """Each row's own slope drawn to its groups' and its variance; rows without a slope have their groups'."""
    mean, spread = fitted.predict(design)
    known = np.isfinite(y) & np.isfinite(variance)
    own = fitted.own**2
    pull = np.where(known, own / (own + np.where(known, variance, 1.0)), 0.0)
    drawn = mean + pull * np.where(known, y - mean, 0.0)
    left = np.where(known, pull * np.where(known, variance, 0.0), own)
    # a row left out of the fit tells nothing through the groups; its own slope is then all the more its own
    return drawn, left + (1.0 - pull) ** 2 * spread


def _fit(
    y: Array, variance: Array, design: Design, prior: Prior, used: Array, start: Array | None
) -> tuple[Pooled, Array]:
    part = Design(design.x[used], [codes[used] for codes in design.codes], design.levels)
    work = _Equations(y[used], variance[used], part, prior)
    typical = prior.scale or (float(np.std(work.y)) if work.y.size > 1 else float(prior.spread[0])) or 1.0
    at = np.full(len(design.levels) + 1, np.log(0.4 * typical)) if start is None else start
    at = _climb(work.minus_log_likelihood, at, np.log(typical) - 9.0, np.log(typical) + 4.0)
    deviations = np.exp(at)
    effects, covariance = work.solve(deviations)
    return Pooled(effects, covariance, deviations[:-1], float(deviations[-1]), used), at


def _climb(cost: object, at: Array, low: float, high: float) -> Array:
    """Compass search with steps that shrink: the same from run to run, and no derivative."""
    assert callable(cost)
    best = cost(at)
    for step in STEPS:
        for _ in range(MOST_ROUNDS):
            moved = False
            for axis in range(len(at)):
                for sign in (1.0, -1.0):
                    tried = at.copy()
                    tried[axis] = np.clip(tried[axis] + sign * step, low, high)
                    found = cost(tried)
                    if found < best - 1e-9:
                        at, best, moved = tried, found, True
                        break
            if not moved:
                break
    return at


class _Equations:
    """Henderson's mixed model equations for one set of rows."""

    def __init__(self, y: Array, variance: Array, design: Design, prior: Prior) -> None:
        self.y, self.variance, self.design, self.prior = y, variance, design, prior
        self.places, self.values = design.columns()

    def minus_log_likelihood(self, log_deviations: Array) -> float:
        deviations = np.exp(log_deviations)
        total = self.variance + deviations[-1] ** 2
        matrix, right = self._system(deviations)
        try:
            triangle = np.linalg.cholesky(matrix)
        except np.linalg.LinAlgError:
            return float("inf")
        half = np.linalg.solve(triangle, right)
        levels = np.array(self.design.levels, dtype=float)
        value = np.log(total).sum() + 2.0 * np.log(np.diag(triangle)).sum()
        value += 2.0 * (levels * log_deviations[:-1]).sum() + (self.y**2 / total).sum() - half @ half
        if self.prior.scale is not None:
            scale = np.full(len(deviations), self.prior.scale)
            value -= 2.0 * (log_deviations - 0.5 * (deviations / scale) ** 2).sum()
        return float(value)

    def solve(self, deviations: Array) -> tuple[Array, Array]:
        matrix, right = self._system(deviations)
        covariance = np.linalg.inv(matrix)
        return covariance @ right, covariance

    def _system(self, deviations: Array) -> tuple[Array, Array]:
        width = self.design.width
        weight = 1.0 / (self.variance + deviations[-1] ** 2)
        matrix, right = np.zeros(width * width), np.zeros(width)
        count = self.places.shape[1]
        for one in range(count):
            scaled = weight * self.values[:, one]
            right += np.bincount(self.places[:, one], scaled * self.y, width)
            for other in range(count):
                at = self.places[:, one] * width + self.places[:, other]
                matrix += np.bincount(at, scaled * self.values[:, other], width * width)
        made = matrix.reshape(width, width)
        sure = 1.0 / self.prior.spread**2
        p = len(sure)
        made[np.arange(p), np.arange(p)] += sure
        right[:p] += sure * self.prior.mean
        of_factor = np.repeat(deviations[:-1], np.array(self.design.levels, dtype=int))
        made[np.arange(p, width), np.arange(p, width)] += 1.0 / of_factor**2
        return made, right
