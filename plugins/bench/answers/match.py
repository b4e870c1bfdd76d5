"""Does a trial match the standard? The difference by taster, against what the panel can tell apart at all.

A trial *matches* where the 90 % interval of the difference lies within the margin (two one-sided tests at 5 %,
Schuirmann 1987, from memory), *differs* where the 95 % interval leaves nought out, and otherwise it is not shown either
way. The spread of few tasters' differences is steadied by the panel's own noise, from blind duplicates.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from plugins.bench.answers.compare import LEAST_APART, Array

MATCHES, DIFFERS, NOT_SHOWN = "matches", "differs", "not shown either way"


@dataclass(frozen=True)
class Match:
    """Mean difference with its 95 % interval, and the verdict against the margin."""

    difference: float
    low: float
    high: float
    tasters: int
    verdict: str


def match(differences: Array, margin: float, noise: float = float("nan"), pairs: int = 0) -> Match:
    """``differences`` (n,) of the trial from the standard, one a taster.

    ``noise``: standard deviation of one tasting by ``pairs`` glasses tasted twice; it counts as that many degrees of
    freedom. Without it and with one taster there is no interval. Tasters or glasses that agree to the point leave
    LEAST_APART: figures written in whole or half points hide what is smaller.
    """
    from scipy.special import stdtrit

    n = len(differences)
    if not n:
        return Match(float("nan"), float("nan"), float("nan"), 0, NOT_SHOWN)
    mean = float(differences.mean())
    held = float(pairs) if np.isfinite(noise) else 0.0
    free = held + n - 1
    if free < 1:
        return Match(mean, float("nan"), float("nan"), n, NOT_SHOWN)
    squares = float(((differences - mean) ** 2).sum()) + (held * 2.0 * noise**2 if held else 0.0)
    error = np.sqrt(max(squares / free, LEAST_APART**2) / n)
    wide, narrow = (float(stdtrit(free, share)) * error for share in (0.975, 0.95))
    verdict = NOT_SHOWN
    if abs(mean) + narrow <= margin:
        verdict = MATCHES
    elif abs(mean) > wide:
        verdict = DIFFERS
    return Match(mean, mean - wide, mean + wide, n, verdict)


def worst(verdicts: list[str]) -> str:
    """The verdict on all families together: it differs where one does, and matches only where all do."""
    if not verdicts:
        return NOT_SHOWN
    if DIFFERS in verdicts:
        return DIFFERS
    return MATCHES if all(verdict == MATCHES for verdict in verdicts) else NOT_SHOWN
