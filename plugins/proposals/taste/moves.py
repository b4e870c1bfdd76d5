"""What a change of a tasted trial would do: one component up or down, the others keeping their ratio, or water.

Raising component i by d from shares s gives s_i + d and s_j (1 - d / (1 - s_i)) for the others: J. A. Cornell's Cox
direction, the formula from memory. Water thins all alike: at a share w of the volume every family falls as the law
has it, to I (1 - w)^n.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from plugins.proposals.taste.posterior import Posterior
from plugins.proposals.taste.taste import Array

STEPS = (-0.30, -0.20, -0.10, -0.05, 0.05, 0.10, 0.20, 0.30)  # of a component, as shares
WATER = (0.03, 0.06, 0.10)  # of the volume
LEAST_STEP = 0.01
WATER_NAME = "water"


@dataclass(frozen=True)
class Change:
    """A change of a glass: which component, by how much (share), and the shares after it (over all casks)."""

    component: str
    points: float
    shares: Array


def cox(shares: Array, at: int, step: float) -> Array:
    """Shares after component ``at`` moved by ``step``, the others in their ratio; both ends are the simplex's."""
    share = shares[at]
    if not -share - 1e-12 <= step <= 1.0 - share + 1e-12:
        raise ValueError(f"a share of {share:g} cannot move by {step:g}")
    if share >= 1.0:
        raise ValueError("a glass of one component has no others to keep in ratio")
    moved = shares * (1.0 - step / (1.0 - share))
    moved[at] = share + step
    return np.asarray(np.clip(moved, 0.0, 1.0))


def changes(shares: Array, casks: tuple[str, ...], may: list[str]) -> list[Change]:
    """Steps of each component that may move; a fall beyond nought leaves the component out."""
    made: list[Change] = []
    for name in may:
        at = casks.index(name)
        if shares[at] >= 1.0 - 1e-9:
            continue
        steps = sorted({round(max(step, -float(shares[at])), 12) for step in STEPS})
        for step in steps:
            if abs(step) >= LEAST_STEP and step <= 1.0 - shares[at]:
                made.append(Change(name, step, cox(shares, at, step)))
    return made


def moved(made: Posterior, shares: Array, steps: list[Change]) -> tuple[Array, Array, Array]:
    """Change of a family's intensity by each step (M,), its standard deviation (M,), and the intensity before (1,)."""
    every = np.vstack([shares[None], *(step.shares[None] for step in steps)])
    mean, covariance = made.predict(every)
    mean = np.clip(mean, 0.0, 10.0)
    own = np.diag(covariance)
    spread = np.sqrt(np.maximum(own[1:] + own[0] - 2.0 * covariance[0, 1:], 0.0))
    return mean[1:] - mean[0], spread, mean[:1]


def thinned(made: Posterior, base: float) -> tuple[Array, Array]:
    """Change by each share of WATER and its standard deviation, from what the exponent leaves unsure."""
    left = 1.0 - np.array(WATER)
    change = base * (left**made.n - 1.0)
    return change, np.abs(base * left**made.n * np.log(left)) * max(made.n_spread, 0.05) * made.scale
