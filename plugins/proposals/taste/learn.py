"""What tasted trials teach: the exponent of each family, pair terms where blends bend away from the law, and errors.

Every estimate is held back: exponents by the range that was proposed for them, pair terms (Scheffé's quadratic
terms, on the difference from the law) by a prior about none (``posterior.py``). The error shown is always that of
trials left out of the fit, beside that of the plain guess "as its largest component". How wide intervals are is
itself learnt: the errors of left-out trials over all families say whether the panel's noise tells the whole of it.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np

from plugins.proposals.taste.posterior import Glasses, Posterior, fit
from plugins.proposals.taste.taste import Array, Exponent

LEAST = 3  # tasted trials from which anything is fitted
SPREAD = 1.0  # standard deviation of a tasted profile, in points, where nobody measured it: an assumption
HELD = 20.0  # left-out errors that the panel's own noise counts as much as, over all families
HELD_FAMILY = 12.0  # and that all families' errors count as much as, for one family
LEAST_SCALE = 0.8  # of the variance: profiles are drawn to the level, so vary a little less than the noise
Z_90 = 1.6448536269514722


@dataclass(frozen=True)
class Trial:
    """A tasted trial: names and shares of its components (of alcohol, adding up to 1), and by family what

    the components and the trial taste of: ``parts`` (k, F), ``tasted`` (F,); NaN where not known. Their standard
    deviations are ``parts_spread`` (k, F) and ``noise`` (F,); SPREAD where they are not given.
    """

    name: str
    components: tuple[str, ...]
    shares: Array
    parts: Array
    tasted: Array
    parts_spread: Array | None = None
    noise: Array | None = None


@dataclass(frozen=True)
class LeftOut:
    """A trial as predicted from the others, with the 90 % interval of its tasting, and the plain guess."""

    trial: str
    tasted: float
    predicted: float
    low: float
    high: float
    naive: float


@dataclass
class Learnt:
    """What was learnt of one family. ``casks`` names the columns of the posterior's shares."""

    exponent: Exponent
    trials: int = 0
    pairs: dict[tuple[str, str], float] = field(default_factory=dict)
    error_left_out: float = float("nan")
    naive_error: float = float("nan")
    pair_spread: dict[tuple[str, str], float] = field(default_factory=dict)
    left_out: list[LeftOut] = field(default_factory=list)
    casks: tuple[str, ...] = ()
    posterior: Posterior | None = None


def learn(trials: list[Trial], at: int, prior: Exponent) -> Learnt:
    """What the trials teach of the family in column ``at``; the proposal where they are too few."""
    used = usable(trials, at)
    if not used:
        return Learnt(prior)
    casks, glasses = glasses_of(used, at)
    made = fit(glasses, prior)
    if len(used) < LEAST:
        return Learnt(prior, len(used), casks=casks, posterior=made)
    exponent = Exponent(made.n, made.low, made.high, f"fitted to {len(used)} trials")
    left = _left_out(used, at, made)
    known = [pair for pair, count in pairs_of(used).items() if count >= 2]
    found = {pair: made.pair(casks.index(pair[0]), casks.index(pair[1])) for pair in sorted(known)}
    return Learnt(
        exponent,
        len(used),
        {pair: value for pair, (value, _) in found.items()},
        _rms([item.tasted - item.predicted for item in left]),
        _rms([item.tasted - item.naive for item in left]),
        {pair: spread for pair, (_, spread) in found.items()},
        left,
        casks,
        made,
    )


class _Asked:
    """What ``learn_all`` is asked, equal where it is the same to the last bit."""

    def __init__(self, trials: list[Trial], priors: dict[str, Exponent]) -> None:
        self.trials, self.priors = trials, priors
        arrays = ((t.shares, t.parts, t.tasted, t.parts_spread, t.noise) for t in trials)
        bits = tuple(tuple(None if one is None else one.tobytes() for one in some) for some in arrays)
        self._key = (tuple((t.name, t.components) for t in trials), bits, tuple(priors.items()))

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Asked) and self._key == other._key

    def __hash__(self) -> int:
        return hash(self._key)


def learn_all(trials: list[Trial], priors: dict[str, Exponent]) -> dict[str, Learnt]:
    """By family, in the order of the trials' columns; intervals are as wide as the errors of left-out trials ask.

    The last answer is kept: several stages ask the same.
    """
    return dict(_learn_all(_Asked(trials, priors)))


@lru_cache(maxsize=1)
def _learn_all(asked: _Asked) -> dict[str, Learnt]:
    trials, priors = asked.trials, asked.priors
    plain = {family: learn(trials, at, prior) for at, (family, prior) in enumerate(priors.items())}
    squares = {family: _squares(made) for family, made in plain.items()}
    whole = np.concatenate([*squares.values(), np.zeros(0)])
    common = (HELD + whole.sum()) / (HELD + len(whole))
    made = {}
    for family, own in squares.items():
        found = (HELD_FAMILY * common + own.sum()) / (HELD_FAMILY + len(own))
        made[family] = _widened(
            trials, list(priors).index(family), plain[family], float(np.sqrt(max(found, LEAST_SCALE)))
        )
    return made


def _widened(trials: list[Trial], at: int, made: Learnt, scale: float) -> Learnt:
    """The same with other widths."""
    if made.posterior is None:
        return made
    wide = replace(made.posterior, scale=scale)
    left = _left_out(usable(trials, at), at, wide) if made.left_out else []
    spread = {pair: value * scale for pair, value in made.pair_spread.items()}
    return replace(made, posterior=wide, left_out=left, pair_spread=spread)


def _squares(made: Learnt) -> Array:
    if made.posterior is None or made.trials < LEAST:
        return np.zeros(0)
    error, spread = made.posterior.left_out()
    return (error / spread) ** 2


def usable(trials: list[Trial], at: int) -> list[Trial]:
    """Trials that speak of a family: tasted for it, and so were all their components."""
    return [t for t in trials if np.isfinite(t.tasted[at]) and np.isfinite(t.parts[:, at]).all()]


def glasses_of(trials: list[Trial], at: int) -> tuple[tuple[str, ...], Glasses]:
    """The casks of trials in order of name, and the trials as matrices over them."""
    casks = tuple(sorted({name for trial in trials for name in trial.components}))
    column = {name: number for number, name in enumerate(casks)}
    shares = np.zeros((len(trials), len(casks)))
    mean, spread = np.zeros(len(casks)), np.zeros(len(casks))
    for row, trial in enumerate(trials):
        for part, name in enumerate(trial.components):
            shares[row, column[name]] += trial.shares[part]
            mean[column[name]] = trial.parts[part, at]
            spread[column[name]] = SPREAD if trial.parts_spread is None else trial.parts_spread[part, at]
    noise = np.array([SPREAD if trial.noise is None else trial.noise[at] for trial in trials])
    tasted = np.array([trial.tasted[at] for trial in trials])
    return casks, Glasses(shares, mean, spread, tasted, noise)


def pairs_of(trials: list[Trial]) -> dict[tuple[str, str], int]:
    """In how many trials each pair of components stands, names in order."""
    counts: dict[tuple[str, str], int] = {}
    for trial in trials:
        names = sorted(set(trial.components))
        for at, one in enumerate(names):
            for other in names[at + 1 :]:
                counts[one, other] = counts.get((one, other), 0) + 1
    return counts


def _left_out(trials: list[Trial], at: int, made: Posterior) -> list[LeftOut]:
    error, spread = made.left_out()
    rows = []
    for trial, miss, wide in zip(trials, error, spread, strict=True):
        if len(trial.components) < 2:  # a cask under another name: what the plain guess says is true of it
            continue
        tasted = float(trial.tasted[at])
        predicted = float(np.clip(tasted - miss, 0.0, 10.0))
        low, high = (float(np.clip(tasted - miss + sign * Z_90 * wide, 0.0, 10.0)) for sign in (-1.0, 1.0))
        naive = float(trial.parts[int(np.argmax(trial.shares)), at])
        rows.append(LeftOut(trial.name, tasted, predicted, low, high, naive))
    return rows


def _rms(values: list[float]) -> float:
    return float(np.sqrt(np.mean(np.square(values)))) if values else float("nan")


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
