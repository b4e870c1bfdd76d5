"""How far balances may miss by chance, where part of what is missing may be a loss, which has one side only.

A misfit is an error of measurement, normal with a known covariance, plus losses, each half-normal. Losses
are taken out one by one: what is left is turned into independent standard normal scores, by the chance
of a smaller misfit given those before (Rosenblatt 1952, from memory). For a sum of a normal and a
half-normal that chance is Azzalini's skew normal (1985, from memory). The scores' squares add up to
chi-square. After a loss the rest is kept as a normal with the same mean and variance.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from plugins.blending.reconciling.solver import Balances, Figures, ridged

Array = NDArray[np.float64]
NODES, WEIGHTS = np.polynomial.legendre.leggauss(64)
# Half-normal: no loss is above this many scales, and no error of measurement counts above that many.
FAR, FAR_ERROR = 7.0, 10.0
LEAST_VARIANCE = 1e-9


@dataclass(frozen=True)
class Misfits:
    """What a batch's balances may miss by: ``noise``, the covariance of errors of measurement (balances ×
    balances); ``losses``, what one unit of each loss adds to each (balances × losses); their ``scale``."""

    noise: Array
    losses: Array
    scale: Array

    @cached_property
    def turned(self) -> Array:
        """Sums of the balances: first those that no loss changes, then one for each loss, with that loss in it."""
        count, losses = self.losses.shape
        if not losses:
            return np.eye(count)
        left, _, _ = np.linalg.svd(self.losses, full_matrices=True)
        return np.vstack([left[:, losses:].T, np.linalg.pinv(self.losses)])

    @cached_property
    def mean(self) -> Array:
        """What is missed on the average, by losses."""
        return np.asarray(self.losses @ (self.scale * np.sqrt(2.0 / np.pi)), dtype=np.float64)

    @cached_property
    def weight(self) -> Array:
        """Inverse of the covariance of misfits, losses taken as normal with their mean and variance."""
        of_losses = self.losses * (self.scale**2 * (1.0 - 2.0 / np.pi)) @ self.losses.T
        return np.asarray(np.linalg.inv(ridged(self.noise + of_losses)), dtype=np.float64)

    def scores(self, misfit: Array) -> Array:
        """Independent standard normal scores of misfits. (cases × balances, both ways)"""
        turned = misfit @ self.turned.T
        free = turned.shape[1] - self.scale.size
        mean = np.zeros(turned.shape)
        noise = np.broadcast_to(ridged(self.turned @ self.noise @ self.turned.T), (*turned.shape, turned.shape[1]))
        made = np.empty(turned.shape)
        for place in range(turned.shape[1]):
            over, variance = turned[:, place] - mean[:, place], noise[:, place, place]
            if place < free:
                made[:, place] = over / np.sqrt(variance)
                error, left = over, np.zeros(over.shape)
            else:
                scale = self.scale[place - free]
                made[:, place] = score_beyond_loss(over, np.sqrt(variance), scale)
                loss, left = loss_within(over, variance, scale)
                error = over - loss
            mean, noise = _given(mean, noise, place, error, left)
        return made


def _given(mean: Array, noise: Array, place: int, error: Array, left: Array) -> tuple[Array, Array]:
    """Mean and covariance of the errors, once the one at ``place`` is known to be ``error`` with variance ``left``."""
    variance = noise[:, place, place]
    share = noise[:, :, place] / variance[:, None]
    less = (variance - left)[:, None, None] * share[:, :, None] * share[:, None, :]
    return mean + share * error[:, None], noise - less


def misfits_of(figures: Figures, balances: Balances, value: Array) -> Misfits:
    """What the balances of these figures may miss by, with slopes at ``value``."""
    slopes = balances.slopes(value)
    own = figures.own.copy()
    own[figures.losses] = 0.0
    return Misfits(
        slopes @ figures.covariance_with(slopes, own), -slopes[:, figures.losses], figures.own[figures.losses]
    )


def score_beyond_loss(over: Array, spread: Array, scale: float) -> Array:
    """Standard normal score of what is missing: an error of this standard ``spread`` and a half-normal loss.

    Both tails keep their relative accuracy, so that even an impossible misfit has a finite score.
    """
    from scipy.special import log_ndtr, ndtri_exp, owens_t

    if scale <= 0.0:
        return over / spread
    both = np.hypot(spread, scale)
    z = over / both
    above = np.exp(log_ndtr(-z)) + 2.0 * owens_t(z, scale / spread)
    with np.errstate(divide="ignore"):
        # far out the half-normal side alone counts, and twice the normal chance is exact enough
        upper = np.where(z > 8.0, log_ndtr(-z) + np.log(2.0), np.log(above))
        lower = np.where(over > 0.0, np.log1p(-np.minimum(above, 1.0)), _log_below(over, spread, scale))
    few = lower < upper
    return np.where(few, ndtri_exp(np.minimum(lower, 0.0)), -ndtri_exp(np.minimum(upper, 0.0)))


def _log_below(over: Array, spread: Array, scale: float) -> Array:
    """Log of the chance that less is missing, for a gain (``over`` up to 0), by quadrature over the loss."""
    from scipy.special import log_ndtr, logsumexp

    reach = np.minimum(FAR * scale, FAR_ERROR * spread)[:, None]
    loss = 0.5 * reach * (NODES + 1.0)
    density = np.log(WEIGHTS * reach / scale / np.sqrt(2.0 * np.pi)) - 0.5 * np.square(loss / scale)
    return np.asarray(logsumexp(density + log_ndtr((over[:, None] - loss) / spread[:, None]), axis=1))


def loss_within(over: Array, variance: Array, scale: float) -> tuple[Array, Array]:
    """Mean and variance of a half-normal loss, given that so much is missing: a normal cut off at nought."""
    from scipy.special import log_ndtr

    if scale <= 0.0:
        return np.zeros(over.shape), np.zeros(over.shape)
    both = variance + scale**2
    centre, spread = over * scale**2 / both, scale * np.sqrt(variance / both)
    at = centre / spread
    hazard = np.exp(-0.5 * at**2 - 0.5 * np.log(2.0 * np.pi) - log_ndtr(at))
    left = np.maximum(1.0 - hazard * (hazard + at), LEAST_VARIANCE)
    return centre + spread * hazard, spread**2 * left
