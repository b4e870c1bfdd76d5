"""Draws as they can be measured: part draws rounded to the house's step, and checked again with every demand."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

import numpy as np

from plugins.proposals.choosing.problem import Problem, allowed, worth
from plugins.proposals.taste.taste import Array

WHOLE = 1.0 - 1e-6
MOVES = (-2, -1, 1, 2)  # steps by which a rounded draw is moved where the demands want it


def measurable(problem: Problem, draws: Array, litres: Array, step: float) -> Array | None:
    """The draws rounded to ``step`` [L] of casks that hold so many ``litres``; None where no such draws near them keep
    every demand. Casks that are emptied are not rounded."""
    part = np.flatnonzero((draws > 1e-9) & (draws < WHOLE))
    if not len(part) or step <= 0.0:
        return draws
    made = draws.copy()
    made[part] = np.clip(np.round(draws[part] * litres[part] / step) * step / litres[part], 0.0, 1.0)
    if allowed(problem, made):
        return made
    good = [tried for tried in _beside(made, part, step / litres) if allowed(problem, tried)]
    return min(good, key=lambda tried: worth(problem, tried)) if good else None


def _beside(draws: Array, part: Array, step: Array) -> Iterator[Array]:
    """Draws with one or two of the part draws moved by a step or two."""
    for at in part:
        for move in MOVES:
            yield _moved(draws, {int(at): move}, step)
    for one, other in combinations(part.tolist(), 2):
        for first in MOVES:
            for second in MOVES:
                yield _moved(draws, {one: first, other: second}, step)


def _moved(draws: Array, moves: dict[int, int], step: Array) -> Array:
    made = draws.copy()
    for at, move in moves.items():
        made[at] = min(max(made[at] + move * step[at], 0.0), 1.0)
    return made
