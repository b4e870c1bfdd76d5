"""What tasted trials say of one family: the power law with everything that is not sure about it, in closed form.

A trial is tasted as ``law(shares, casks' intensities, n) + pairs + noise``. The casks' intensities are known as well
as the panel tastes, n as well as its range says, each pair of casks may bend the law by coefficient x share x share,
and the trial's own tasting has the panel's noise. All are taken as normal and the law as straight between the ends of
one standard deviation, so that trials and predictions are jointly normal: what is known of a glass follows from
matrices, and the errors of trials left out follow without fitting again (R. Christensen, Plane Answers, from memory;
the tests compare with fits from which the trial is truly left out).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from plugins.proposals.taste.taste import Array, Exponent, to_intensity, to_x

BEND = 2.0  # prior standard deviation of a pair coefficient, in points (the 50/50 glass moves by a quarter of it)
GRID = np.round(np.arange(0.2, 1.51, 0.01), 2)
COARSE = GRID[::5]
FAR = 16.0  # twice the log of how much less likely an exponent is that is not looked at closely
PRIOR_WIDTHS = 3.92  # the proposed range of an exponent is taken as 95 %


@dataclass(frozen=True)
class Glasses:
    """Tasted trials of one family: ``shares`` (T, C) of C casks, what the casks taste of and how well that is known

    (``mean`` and ``spread``, C), what the trials were ``tasted`` as and the standard deviation of that (``noise``, T).
    """

    shares: Array
    mean: Array
    spread: Array
    tasted: Array
    noise: Array


@dataclass(frozen=True)
class Posterior:
    """What is known of a family after its trials; made by ``fit``. ``scale`` widens all that is not sure."""

    glasses: Glasses
    n: float
    n_spread: float
    low: float
    high: float
    inverse: Array  # of the covariance of the trials (T, T)
    solved: Array  # inverse @ what the law left (T,)
    moves: Array  # what each cask's and the exponent's standard deviation moves the trials by (T, C + 1)
    scale: float = 1.0

    def predict(self, shares: Array) -> tuple[Array, Array]:
        """Intensity of glasses with ``shares`` (M, C): means (M,) and covariance (M, M), without a tasting's noise."""
        known = self.glasses
        middle, moves = _law(shares, known, self.n, self.n_spread)
        across = _covariance(moves, self.moves, shares, known.shares)
        mean = middle + across @ self.solved
        own = _covariance(moves, moves, shares, shares)
        return mean, self.scale**2 * (own - across @ self.inverse @ across.T)

    def left_out(self) -> tuple[Array, Array]:
        """Error (T,) of each trial predicted from the others, and its standard deviation with the tasting's noise."""
        own = np.diag(self.inverse)
        return self.solved / own, self.scale / np.sqrt(own)

    def pair(self, one: int, other: int) -> tuple[float, float]:
        """Coefficient of a pair of casks and its standard deviation."""
        shares = self.glasses.shares
        across = BEND**2 * shares[:, one] * shares[:, other]
        spread = BEND**2 - across @ self.inverse @ across
        return float(across @ self.solved), self.scale * float(np.sqrt(max(float(spread), 0.0)))


def fit(glasses: Glasses, prior: Exponent) -> Posterior:
    """What the trials teach of a family whose exponent is proposed as ``prior``."""
    prior_spread = (prior.high - prior.low) / PRIOR_WIDTHS
    apart = ((GRID - prior.n) / prior_spread) ** 2
    rough = np.interp(GRID, COARSE, [_loss(glasses, n) for n in COARSE]) + apart
    loss = np.full(len(GRID), np.inf)
    near = np.flatnonzero(rough <= rough.min() + FAR)
    loss[near] = [_loss(glasses, GRID[at]) + apart[at] for at in near]
    weight = np.exp(-0.5 * (loss - loss.min()))
    weight /= weight.sum()
    n = float(GRID[int(np.argmin(loss))])
    spread = float(np.sqrt((weight * (GRID - n) ** 2).sum()))
    reached = np.cumsum(weight)
    low, high = (float(GRID[int(np.searchsorted(reached, end))]) for end in (0.025, 0.975))
    return at_exponent(glasses, n, spread, min(low, n), max(high, n))


def at_exponent(glasses: Glasses, n: float, spread: float, low: float = 0.0, high: float = 0.0) -> Posterior:
    """What the trials say where the exponent is ``n`` with standard deviation ``spread``."""
    middle, moves = _law(glasses.shares, glasses, n, spread)
    covariance = _covariance(moves, moves, glasses.shares, glasses.shares) + np.diag(glasses.noise**2)
    inverse = np.linalg.inv(covariance)
    inverse = 0.5 * (inverse + inverse.T)
    left = glasses.tasted - middle
    return Posterior(glasses, n, spread, low, high, inverse, inverse @ left, moves)


def _loss(glasses: Glasses, n: float) -> float:
    """Minus twice the log likelihood at one exponent."""
    middle, moves = _law(glasses.shares, glasses, n, 0.0)
    covariance = _covariance(moves, moves, glasses.shares, glasses.shares) + np.diag(glasses.noise**2)
    lower = np.linalg.cholesky(covariance)
    left = np.linalg.solve(lower, glasses.tasted - middle)
    return float(left @ left + 2.0 * np.log(np.diag(lower)).sum())


def _law(shares: Array, known: Glasses, n: float, n_spread: float) -> tuple[Array, Array]:
    """The law's intensity (M,) and how far each cask's standard deviation, and last that of n, moves it (M, C + 1).

    The move is half the way between the two ends: where a cask may have none of a family, the slope at none says
    nothing of what a little of it would do.
    """
    x = to_x(known.mean, n)
    base = shares @ x
    ends = [to_x(np.clip(known.mean + sign * known.spread, 0.0, 10.0), n) for sign in (-1.0, 1.0)]
    below, above = (to_intensity(np.maximum(base[:, None] + shares * (end - x), 0.0), n) for end in ends)
    moves = np.zeros((len(shares), len(x) + 1))
    moves[:, :-1] = 0.5 * (above - below)
    if n_spread > 0.0:
        least, most = max(n - n_spread, GRID[0]), n + n_spread
        one, other = (to_intensity(shares @ to_x(known.mean, at), at) for at in (least, most))
        moves[:, -1] = (other - one) * n_spread / (most - least)
    return to_intensity(base, n), moves


def _covariance(moves: Array, others: Array, shares: Array, other_shares: Array) -> Array:
    """Covariance between two sets of glasses: casks and exponent by their moves, and all pairs at once.

    The sum over pairs of (share x share) x (share x share) is half of (S S')² less the squares' own part.
    """
    pairs = 0.5 * ((shares @ other_shares.T) ** 2 - (shares**2) @ (other_shares**2).T)
    return moves @ others.T + BEND**2 * pairs
