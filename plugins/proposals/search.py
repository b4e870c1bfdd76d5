"""Good choices quickly: exchange of casks one for one from seeded beginnings, where whole casks are wanted."""

from __future__ import annotations

import numpy as np

from plugins.proposals.problem import Problem, allowed, worth
from plugins.proposals.taste import Array

FINE = 1e-9
SHORT = 50.0  # points that an unkept demand counts, so that the search finds its way back


def exchange(problem: Problem, starts: list[Array], rounds: int = 200) -> Array | None:
    """The best allowed choice that exchanges lead to from the starts; None where none is allowed.

    Each step takes the best of: one cask for another, one more, one less. For whole casks and without groups.
    """
    best: tuple[float, Array] | None = None
    search = _Search(problem)
    for start in starts:
        draws = search.descend(start, rounds)
        if allowed(problem, draws):
            value = worth(problem, draws)
            if best is None or value < best[0] - FINE:
                best = (value, draws)
    return None if best is None else best[1]


class _Search:
    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        up, down = problem.slopes
        self.slopes = np.hstack([up, down])
        self.extra = problem.draw_price + problem.prices.cask
        self.water = problem.alcohol * problem.surplus

    def values(self, taste: Array, alcohol: Array, water: Array, price: Array, casks: Array) -> Array:
        """Objective with what unkept demands count; arrays broadcast, taste has families last."""
        problem = self.problem
        beyond = np.maximum(taste, 0.0).sum(axis=-1)
        short = np.maximum(problem.low - alcohol, 0.0) + np.maximum(alcohol - problem.high, 0.0)
        short = short + np.maximum(-water, 0.0) + np.maximum(casks - problem.max_casks, 0.0)
        if problem.most_deviation < np.inf:
            short = short + np.maximum(beyond - problem.most_deviation, 0.0)
        return np.asarray(problem.prices.deviation * beyond + price + SHORT * short)

    def descend(self, start: Array, rounds: int) -> Array:
        problem = self.problem
        inside = start > 0.5
        for _ in range(rounds):
            places, others = np.flatnonzero(inside), np.flatnonzero(~inside)
            sums = [
                inside @ self.slopes, float(inside @ problem.alcohol), float(inside @ self.water),
                float(inside @ self.extra), float(len(places)),
            ]  # fmt: skip
            now = float(self.values(*(np.asarray(part) for part in sums)))
            step = self._best(sums, places, others)
            if step is None or step[0] > now - FINE:
                break
            for place in step[1:]:
                if place >= 0:
                    inside[place] = not inside[place]
        return inside.astype(float)

    def _best(self, sums: list, places: Array, others: Array) -> tuple[float, int, int] | None:
        """Value, cask that leaves and cask that comes (-1: none) of the best step."""
        leave = np.concatenate([places, [-1]]).astype(int)
        come = np.concatenate([others, [-1]]).astype(int)
        parts = []
        for table, total in zip((self.slopes, self.problem.alcohol, self.water, self.extra), sums[:4], strict=True):
            gone = np.vstack([table[places].reshape(len(places), -1), np.zeros((1, _width(table)))])
            more = np.vstack([table[others].reshape(len(others), -1), np.zeros((1, _width(table)))])
            parts.append(np.asarray(total).reshape(1, 1, -1) - gone[:, None, :] + more[None, :, :])
        count = sums[4] - (leave >= 0)[:, None] + (come >= 0)[None, :]
        value = self.values(parts[0], parts[1][..., 0], parts[2][..., 0], parts[3][..., 0], count)
        at = int(np.argmin(value))
        row, column = divmod(at, len(come))
        return float(value[row, column]), int(leave[row]), int(come[column])


def _width(table: Array) -> int:
    return table.shape[1] if table.ndim > 1 else 1


def beginnings(problem: Problem, relaxed: Array | None, count: int, seed: int) -> list[Array]:
    """Choices to begin with: the relaxed solution rounded, and seeded draws that lean towards it."""
    random = np.random.default_rng(seed)
    lean = np.full(problem.size, 0.05) if relaxed is None else np.clip(relaxed, 0.0, 1.0) + 0.01
    made = []
    for number in range(count):
        order = np.argsort(-lean, kind="stable") if number == 0 else np.argsort(-(lean * random.random(problem.size)))
        draws = np.zeros(problem.size)
        for place in order[: problem.max_casks]:
            if float(draws @ problem.alcohol) >= problem.low:
                break
            draws[place] = 1.0
        made.append(draws)
    return made
