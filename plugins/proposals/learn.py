"""What tasted trials teach: the exponent of each family, and pair terms where blends bend away from the law.

Every estimate is held back: exponents by the range that was proposed for them, pair terms (Scheffé's
quadratic terms, on the difference from the law) by a ridge. The error shown is always that of trials
left out of the fit, beside that of the plain guess "as its largest component".
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from plugins.proposals.taste import Array, Exponent, mixed

LEAST = 3  # tasted trials from which anything is fitted
SPREAD = 1.0  # standard deviation of a tasted profile about the law, in points: an assumption, held at least
BEND = 2.0  # prior standard deviation of a pair coefficient, in points (the 50/50 glass moves by a quarter of it)
GRID = np.round(np.arange(0.2, 1.51, 0.01), 2)
CHI2_95 = 3.841458820694124  # 95 % point of chi-square with one degree of freedom


@dataclass(frozen=True)
class Trial:
    """A tasted trial: names and shares of its components (of alcohol, adding up to 1), and by family what

    the components and the trial taste of: ``parts`` (k, F), ``tasted`` (F,); NaN where not known.
    """

    name: str
    components: tuple[str, ...]
    shares: Array
    parts: Array
    tasted: Array


@dataclass
class Learnt:
    """What was learnt of one family."""

    exponent: Exponent
    trials: int = 0
    pairs: dict[tuple[str, str], float] = field(default_factory=dict)
    error_left_out: float = float("nan")
    naive_error: float = float("nan")


def learn(trials: list[Trial], at: int, prior: Exponent) -> Learnt:
    """What the trials teach of the family in column ``at``; the proposal where they are too few."""
    usable = [t for t in trials if np.isfinite(t.tasted[at]) and np.isfinite(t.parts[:, at]).all()]
    if len(usable) < LEAST:
        return Learnt(prior, len(usable))
    exponent, pairs = _fit(usable, at, prior)
    misses, naive = [], []
    for left in range(len(usable)):
        others = usable[:left] + usable[left + 1 :]
        other, terms = _fit(others, at, prior)
        trial = usable[left]
        misses.append(trial.tasted[at] - predict(trial, at, other.n, terms))
        naive.append(trial.tasted[at] - trial.parts[int(np.argmax(trial.shares)), at])
    return Learnt(exponent, len(usable), pairs, _rms(misses), _rms(naive))


def _rms(values: list[float]) -> float:
    return float(np.sqrt(np.mean(np.square(values))))


def predict(trial: Trial, at: int, n: float, pairs: dict[tuple[str, str], float]) -> float:
    """The law, and what pairs of components add to it; between 0 and 10."""
    law = float(mixed(trial.shares, trial.parts[:, at : at + 1], n)[0])
    return float(np.clip(law + bend(trial.components, trial.shares, pairs), 0.0, 10.0))


def bend(components: tuple[str, ...], shares: Array, pairs: dict[tuple[str, str], float]) -> float:
    """Sum of coefficient x share x share over the known pairs."""
    place = {name: number for number, name in enumerate(components)}
    return float(
        sum(
            value * shares[place[one]] * shares[place[other]]
            for (one, other), value in pairs.items()
            if one in place and other in place
        )
    )


def _fit(trials: list[Trial], at: int, prior: Exponent) -> tuple[Exponent, dict[tuple[str, str], float]]:
    exponent = fit_exponent(trials, at, prior)
    tasted = np.array([trial.tasted[at] for trial in trials])
    law = np.array([predict(trial, at, exponent.n, {}) for trial in trials])
    return exponent, fit_pairs([(t.components, t.shares) for t in trials], tasted - law)


def fit_exponent(trials: list[Trial], at: int, prior: Exponent) -> Exponent:
    """The most probable n, and the interval in which twice the log likelihood falls by less than 3.84.

    The prior is normal about the proposal, its range taken as 95 %.
    """
    tasted = np.array([trial.tasted[at] for trial in trials])
    law = np.array([[predict(trial, at, n, {}) for trial in trials] for n in GRID])
    # whatever n does, a trial of casks that taste alike cannot tell: then the prior alone stays
    spread = max(SPREAD, float(np.sqrt(np.min(((tasted - law) ** 2).mean(axis=1)))))
    prior_spread = (prior.high - prior.low) / 3.92
    loss = (((tasted - law) / spread) ** 2).sum(axis=1) + ((GRID - prior.n) / prior_spread) ** 2
    inside = GRID[loss <= loss.min() + CHI2_95]
    best = float(GRID[int(np.argmin(loss))])
    return Exponent(best, float(inside.min()), float(inside.max()), f"fitted to {len(trials)} trials")


def fit_pairs(made: list[tuple[tuple[str, ...], Array]], left: Array) -> dict[tuple[str, str], float]:
    """Ridge estimates of pair coefficients on what the law left, for pairs that stand in at least two trials."""
    counts: dict[tuple[str, str], int] = {}
    for components, _ in made:
        names = sorted(set(components))
        for at, one in enumerate(names):
            for other in names[at + 1 :]:
                counts[one, other] = counts.get((one, other), 0) + 1
    known = sorted(pair for pair, count in counts.items() if count >= 2)
    if not known:
        return {}
    design = np.array([[bend(components, shares, {pair: 1.0}) for pair in known] for components, shares in made])
    ridge = (SPREAD / BEND) ** 2
    found = np.linalg.solve(design.T @ design + ridge * np.eye(len(known)), design.T @ left)
    return dict(zip(known, map(float, found), strict=True))
