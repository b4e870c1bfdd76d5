"""Which proportions to try: designs over shares, each row one trial whose shares add up to 1.

Shares are of alcohol (of the spirit at one strength), as the taste law mixes them. Definitions: simplex lattice {q, m}
and simplex centroid of Scheffé (1958, 1963), Cox directions of Cox (1971) as J. A. Cornell tells them, from memory; the
number of centroid points as the NIST/SEMATECH handbook 5.5.4.3 prints it.
"""

from __future__ import annotations

from itertools import combinations
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[Any]  # of float64 where nothing else is said
MANY = 8  # components beyond which a bench design is too large to taste


class CannotDesign(ValueError):
    """A design that cannot be made as asked; the message says why and what to do."""


def equal_parts(q: int) -> Array:
    """One trial of ``q`` components in equal shares, (1, q)."""
    _check(q, least=2, most=10_000)
    return np.full((1, q), 1.0 / q)


def simplex_lattice(q: int, m: int) -> Array:
    """All mixtures with shares 0, 1/m, 2/m, …, 1: C(q + m - 1, m) trials, (n, q)."""
    _check(q)
    if m < 1:
        raise CannotDesign("A simplex lattice needs at least one step.")
    rows = []
    for bars in combinations(range(q + m - 1), q - 1):
        edges = (-1, *bars, q + m - 1)
        rows.append([right - left - 1 for left, right in zip(edges, edges[1:], strict=False)])
    return np.array(rows[::-1], dtype=np.float64) / m


def simplex_centroid(q: int) -> Array:
    """Each component alone, then equal shares of each pair, each three, … of all: 2^q - 1 trials, (n, q)."""
    _check(q)
    rows = np.zeros((2**q - 1, q))
    for at, some in enumerate(chosen for size in range(1, q + 1) for chosen in combinations(range(q), size)):
        rows[at, list(some)] = 1.0 / len(some)
    return rows


def dominant_base(q: int, steps: ArrayLike, base: int = 0) -> Array:
    """The base alone, then each other component added to it in each of ``steps`` (shares), (1 + (q-1)·steps, q)."""
    _check(q, least=2)
    added = np.asarray(steps, dtype=np.float64)
    if not len(added) or (added <= 0.0).any() or (added >= 1.0).any():
        raise CannotDesign("Additions are shares between 0 and 1, such as 0.05.")
    whole = np.zeros((1, q))
    whole[0, base] = 1.0
    others = [at for at in range(q) if at != base]
    return np.vstack([whole, *(cox_direction(whole[0], at, added) for at in others)])


def cox_direction(shares: ArrayLike, component: int, changes: ArrayLike) -> Array:
    """One component up or down, the others keeping their ratio, (n, q).

    x_i = s_i + d and x_j = s_j (1 - d / (1 - s_i)) for each change d (shares, may be negative).
    Raises CannotDesign where a share would leave 0..1.
    """
    start = np.asarray(shares, dtype=np.float64)
    if abs(float(start.sum()) - 1.0) > 1e-9:
        raise CannotDesign(f"Shares must add up to 1, not {start.sum():g}.")
    change = np.atleast_1d(np.asarray(changes, dtype=np.float64))
    own = start[component]
    if (own + change < -1e-12).any() or (own + change > 1.0 + 1e-12).any():
        raise CannotDesign(f"A share of {own:g} cannot change by that and stay between 0 and 1.")
    if own >= 1.0 - 1e-12 and (change < 0.0).any():
        raise CannotDesign("A component that is all there is has no others to give way to; add one of them instead.")
    left = max(1.0 - own, 1e-300)
    rows = start[None, :] * (1.0 - change[:, None] / left)
    rows[:, component] = own + change
    return np.clip(rows, 0.0, 1.0)


def leave_out(shares: ArrayLike) -> Array:
    """Each component left out in turn, the others keeping their ratio, (q, q)."""
    start = np.asarray(shares, dtype=np.float64)
    return np.vstack([cox_direction(start, at, -start[at]) for at in range(len(start))])


def strength_ladder(top: float, bottom: float, rungs: int) -> Array:
    """Strengths in % vol in equal steps from ``top`` down to ``bottom``, (rungs,); 3 to 5 rungs."""
    if not 3 <= rungs <= 5:
        raise CannotDesign("A strength ladder has 3 to 5 strengths.")
    if not 0.0 < bottom < top:
        raise CannotDesign(f"A ladder goes down: {top:g} to {bottom:g} % vol does not.")
    return np.linspace(top, bottom, rungs)


def within_bounds(low: ArrayLike, high: ArrayLike) -> Array:
    """What to choose from within bounds on the shares: extreme vertices, middles of edges, middle of all, (n, q)."""
    low, high = np.asarray(low, dtype=np.float64), np.asarray(high, dtype=np.float64)
    corners = extreme_vertices(low, high)
    on_edge = (np.abs(corners - low) < 1e-9) | (np.abs(corners - high) < 1e-9)
    q = corners.shape[1]
    rows = [*corners]
    for one, other in combinations(range(len(corners)), 2):
        same = on_edge[one] & on_edge[other] & (np.abs(corners[one] - corners[other]) < 1e-9)
        if same.sum() >= q - 2:
            rows.append((corners[one] + corners[other]) / 2.0)
    rows.append(corners.mean(axis=0))
    return _unlike(np.array(rows))


def extreme_vertices(low: ArrayLike, high: ArrayLike) -> Array:
    """Corners of the region low <= x <= high, sum 1, (n, q): all but one share at a bound (McLean, Anderson 1966)."""
    low, high = np.asarray(low, dtype=np.float64), np.asarray(high, dtype=np.float64)
    q = len(low)
    _check(q)
    if (low < 0.0).any() or (high > 1.0).any() or (low > high).any():
        raise CannotDesign("Bounds are shares between 0 and 1, the lower one first.")
    if low.sum() > 1.0 + 1e-12 or high.sum() < 1.0 - 1e-12:
        raise CannotDesign(
            f"No mixture keeps these bounds: the least add up to {low.sum():g}, the most to {high.sum():g}."
        )
    ends = np.array(np.meshgrid(*[[0.0, 1.0]] * (q - 1), indexing="ij")).reshape(q - 1, -1).T
    rows = []
    for free in range(q):
        others = [at for at in range(q) if at != free]
        made = np.empty((len(ends), q))
        made[:, others] = low[others] + ends * (high - low)[others]
        made[:, free] = 1.0 - made[:, others].sum(axis=1)
        inside = (made[:, free] >= low[free] - 1e-12) & (made[:, free] <= high[free] + 1e-12)
        rows.append(made[inside])
    return _unlike(np.vstack(rows))


def _unlike(rows: Array) -> Array:
    _, first = np.unique(np.round(rows, 9), axis=0, return_index=True)
    return rows[np.sort(first)]


def _check(q: int, least: int = 2, most: int = MANY) -> None:
    if q < least:
        raise CannotDesign(f"A design needs at least {least} components.")
    if q > most:
        raise CannotDesign(f"{q} components make too many trials to taste; choose at most {most}.")
