"""Is a glass better than another? Exact counts of tasters, with an interval, and what would settle it.

Each taster counts once for a pair of glasses, however often he tasted them: by the sum of his own differences. Ties
prefer neither and are left out of the count, as in the sign test. Sources: exact binomial; interval of a share by
Clopper and Pearson (1934); Holm (1979) where several glasses are compared. The tests compare with published tables.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from math import comb

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

RISK = 0.05
POWER = 0.8
MOST_TASTERS = 400  # beyond that the glasses are as good as alike
EXACT = 18  # tasters up to whom all 2^n signs of the differences are tried
SAMPLED = 20_000
LEAST_APART = 0.25 * 2.0**0.5  # points, deviation of a difference of two tastings: common practice, no source


@dataclass(frozen=True)
class Pair:
    """One glass against another: tasters who preferred it, of those who preferred either, and what that shows.

    ``p`` is two-sided and exact; ``low`` and ``high`` the 95 % interval of the share who prefer it. ``difference`` is
    the mean difference in score over ``scored`` tasters, with its 95 % interval by t, and ``p_score`` the exact
    probability from all signs. NaN where there is none.
    """

    preferred: int
    of: int
    ties: int
    p: float
    low: float
    high: float
    difference: float = float("nan")
    difference_low: float = float("nan")
    difference_high: float = float("nan")
    p_score: float = float("nan")
    scored: int = 0

    @property
    def share(self) -> float:
        return self.preferred / self.of if self.of else float("nan")


def tail(more: int, of: int, share: float = 0.5) -> float:
    """Probability of ``more`` or more of ``of`` where each is chosen with probability ``share``."""
    return float(sum(comb(of, k) * share**k * (1.0 - share) ** (of - k) for k in range(more, of + 1)))


def two_sided(more: int, of: int) -> float:
    """Probability of a split as uneven, either way, where nobody prefers anything; 1 of none."""
    return min(1.0, 2.0 * tail(max(more, of - more), of)) if of else 1.0


def share_interval(more: int, of: int, level: float = 0.95) -> tuple[float, float]:
    """Clopper and Pearson's interval of a share; the whole range of none."""
    from scipy.special import betaincinv

    if not of:
        return 0.0, 1.0
    rest = (1.0 - level) / 2.0
    low = 0.0 if more == 0 else float(betaincinv(more, of - more + 1, rest))
    high = 1.0 if more == of else float(betaincinv(more + 1, of - more, 1.0 - rest))
    return low, high


def compare(differences: Array, scores: Array | None = None) -> Pair:
    """``differences`` (n,): for each taster above 0 where the glass was preferred, below where the other, 0 a tie.

    ``scores`` (m,): differences in score of those who scored both.
    """
    better, worse = int((differences > 0).sum()), int((differences < 0).sum())
    of = better + worse
    low, high = share_interval(better, of)
    made = Pair(better, of, len(differences) - of, two_sided(better, of), low, high)
    if scores is None or not len(scores):
        return made
    mean, ends = float(scores.mean()), mean_interval(scores, least=LEAST_APART)
    return Pair(
        *(made.preferred, made.of, made.ties, made.p, made.low, made.high),
        mean, ends[0], ends[1], sign_flips(scores), len(scores),
    )  # fmt: skip


def mean_interval(values: Array, level: float = 0.95, least: float = 0.0) -> tuple[float, float]:
    """Student's interval of a mean; NaN of fewer than two. ``least``: what their deviation is taken for at least."""
    from scipy.special import stdtrit

    if len(values) < 2:
        return float("nan"), float("nan")
    wide = float(stdtrit(len(values) - 1, 0.5 + level / 2.0)) * max(float(values.std(ddof=1)), least)
    wide /= np.sqrt(len(values))
    return float(values.mean()) - wide, float(values.mean()) + wide


def sign_flips(values: Array) -> float:
    """Two-sided probability of so large a mean were each difference as likely the other way round.

    All 2^n signs of up to 18 differences; beyond, 20 000 drawn with a fixed seed.
    """
    found = abs(float(values.sum()))
    if len(values) <= EXACT:
        signs = 1.0 - 2.0 * ((np.arange(2 ** len(values))[:, None] >> np.arange(len(values))) & 1)
    else:
        signs = np.random.default_rng(1).choice([-1.0, 1.0], (SAMPLED, len(values)))
    return float((np.abs(signs @ values) >= found - 1e-9).mean())


def holm(p: list[float]) -> list[float]:
    """Probabilities adjusted for their number."""
    made, most = [0.0] * len(p), 0.0
    for step, at in enumerate(sorted(range(len(p)), key=lambda place: p[place])):
        most = max(most, min(1.0, p[at] * (len(p) - step)))
        made[at] = most
    return made


def least_shown(of: int, risk: float = RISK) -> int | None:
    """Fewest of ``of`` who must prefer one glass to show a preference (two-sided); None where all are too few."""
    return _fewest(of, risk)[-1] if of else None


@cache
def _fewest(most: int, risk: float) -> list[int | None]:
    """``least_shown`` of 1, 2, … ``most`` tasters.

    In whole numbers: of ``of`` tasters, ``ways`` of their 2^of choices have ``least`` or more for the glass.
    """
    found: list[int | None] = []
    least, ways = 1, 1
    for of in range(1, most + 1):
        while least <= of and 2 * ways > risk * 2**of:
            ways -= comb(of, least)
            least += 1
        found.append(least if least <= of else None)
        ways = 2 * ways + comb(of, least - 1)  # Pascal's triangle: of one taster more
    return found


@cache
def to_settle(share: float, risk: float = RISK, power: float = POWER, most: int = MOST_TASTERS) -> int | None:
    """Tasters of a fresh tasting that would show a preference of this share, 4 times in 5; None beyond ``most``.

    The number from which on the power does not fall below again: binomial power is saw-toothed.
    """
    from scipy.special import bdtrc

    share = max(share, 1.0 - share)
    counts = np.arange(1, most + 1)
    least = np.array([fewest or most + 1 for fewest in _fewest(most, risk)])
    reached = np.where(least > counts, 0.0, bdtrc(np.minimum(least, counts + 1) - 1, counts, share))
    below = np.flatnonzero(reached < power)
    if not len(below):
        return 1
    return None if below[-1] == len(counts) - 1 else int(counts[below[-1] + 1])


def tasters_to_settle(preferred: int, of: int) -> int | None:
    """Tasters of a fresh tasting that would settle it were the true share as seen, drawn to even by two tasters."""
    return to_settle((preferred + 1.0) / (of + 2.0)) if of else None
