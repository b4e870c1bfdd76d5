"""Good choices quickly: exchange of casks one for one from seeded beginnings, where whole casks are wanted."""

from __future__ import annotations

import numpy as np

from plugins.proposals.choosing.problem import Problem, allowed, worth
from plugins.proposals.taste.taste import Array, to_intensity, to_x

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
    """Sums over a choice that every step changes, and the value that they make."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        up, down = problem.slopes
        self.slopes = np.hstack([up, down])
        extra = problem.draw_price + problem.prices.cask
        self.tables = [self.slopes, problem.alcohol, problem.alcohol * problem.surplus, extra, np.ones(problem.size)]
        if len(problem.ratios):
            self.tables.append(problem.ratios.T)
        if len(problem.pairs):
            self.paired = np.unique(problem.pairs)
            self.one, self.other = np.searchsorted(self.paired, problem.pairs).T
            own = np.zeros((problem.size, len(self.paired)))
            own[self.paired, np.arange(len(self.paired))] = problem.alcohol[self.paired]
            shares = problem.alcohol[:, None] * np.hstack([problem.x_over, problem.x_under])
            self.tables = [np.hstack([shares, own]), *self.tables[1:]]

    def values(self, parts: list[Array]) -> Array:
        """Objective with what unkept demands count, of sums over the tables (their width last)."""
        problem = self.problem
        alcohol, water, price, casks = (part[..., 0] for part in parts[1:5])
        taste = self._bent(parts[0], alcohol) if len(problem.pairs) else parts[0]
        beyond = np.maximum(taste, 0.0).sum(axis=-1)
        short = np.maximum(problem.low - alcohol, 0.0) + np.maximum(alcohol - problem.high, 0.0)
        short = short + np.maximum(-water, 0.0) + np.maximum(casks - problem.max_casks, 0.0)
        if len(problem.ratios):
            short = short + np.maximum(-parts[5], 0.0).sum(axis=-1)
        if problem.most_deviation < np.inf:
            short = short + np.maximum(beyond - problem.most_deviation, 0.0)
        return np.asarray(problem.prices.deviation * beyond + price + SHORT * short)

    def _bent(self, sums: Array, alcohol: Array) -> Array:
        """What goes beyond the band, as ``slopes`` has it, with what pairs add to the law."""
        problem, families = self.problem, len(self.problem.weight)
        total = np.maximum(alcohol, 1e-12)[..., None]
        mean, share = sums[..., : 2 * families] / total, sums[..., 2 * families :] / total
        extra = (share[..., self.one] * share[..., self.other]) @ problem.bend
        low, high = problem.edges
        under, over = problem.per_point
        weight = problem.weight / problem.weight.sum()
        top = to_x(to_intensity(mean[..., :families], problem.n) + extra, problem.n)
        bottom = to_x(to_intensity(mean[..., families:], problem.n) + extra, problem.n)
        parts = [total * (top - high) * over * weight, total * (low - bottom) * under * weight]
        return np.concatenate(parts, axis=-1)

    def descend(self, start: Array, rounds: int) -> Array:
        inside = start > 0.5
        for _ in range(rounds):
            places, others = np.flatnonzero(inside), np.flatnonzero(~inside)
            sums = [np.atleast_1d(inside @ table) for table in self.tables]
            now = float(self.values(sums))
            step = self._best(sums, places, others)
            if step is None or step[0] > now - FINE:
                break
            for place in step[1:]:
                if place >= 0:
                    inside[place] = not inside[place]
        return inside.astype(float)

    def _best(self, sums: list[Array], places: Array, others: Array) -> tuple[float, int, int] | None:
        """Value, cask that leaves and cask that comes (-1: none) of the best step."""
        leave = np.concatenate([places, [-1]]).astype(int)
        come = np.concatenate([others, [-1]]).astype(int)
        parts = []
        for table, total in zip(self.tables, sums, strict=True):
            none = np.zeros((1, _width(table)))
            gone = np.vstack([table[places].reshape(len(places), -1), none])
            more = np.vstack([table[others].reshape(len(others), -1), none])
            parts.append(total - gone[:, None, :] + more[None, :, :])
        value = self.values(parts)
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
