"""Better part draws: the best draws of a few casks by a linear programme, and casks traded one for one.

For given casks the best draws are a small linear programme. Its dual values price every cask left out; those that
promise most are tried in the place of each cask inside. Pairs that bend away from the law move the band by what
they add, again and again until the draws stay.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from plugins.proposals.choosing.problem import Problem, allowed, bends, worth
from plugins.proposals.choosing.solver import Cut
from plugins.proposals.taste.taste import Array

TRIED = 10  # casks from outside that are tried in a pass
PASSES = 12
SETTLED = 4  # times that draws are fitted again to what pairs add
FINE = 1e-9


@dataclass(frozen=True)
class Fit:
    """The best draws of some casks, what they are worth, and what a draw of each cask outside would change."""

    draws: Array
    worth: float
    reduced: Array


def trade(problem: Problem, start: Array, cuts: list[Cut], left: Any) -> Array:
    """Draws that trading casks one for one leads to from ``start``; never worth less. ``left()`` is time left."""
    best = _fitted(problem, np.flatnonzero(start > FINE))
    if best is None:
        return start
    if worth(problem, start) < best.worth and allowed(problem, start):
        best = replace(best, draws=start, worth=worth(problem, start))
    for _ in range(PASSES):
        step = best
        inside = np.flatnonzero(best.draws > FINE)
        for come in _promising(problem, best, inside):
            for leave in (*inside, -1):
                casks = np.sort(np.append(inside[inside != leave], come) if come >= 0 else inside[inside != leave])
                if 0 < len(casks) <= problem.max_casks and _may(problem, casks, cuts):
                    found = _fitted(problem, casks)
                    step = found if found is not None and found.worth < step.worth - FINE else step
        if step is best or left() <= 0.1:
            break
        best = step
    return best.draws


def priced(problem: Problem, casks: Array) -> Array | None:
    """What a draw of each cask would change beside the best draws of these; None where these cannot be drawn."""
    fit = _fit(problem, casks, problem.law)
    return None if fit is None else fit.reduced


def _promising(problem: Problem, fit: Fit, inside: Array) -> list[int]:
    """Casks outside, the best priced first, with those that bend with one inside; -1: none comes."""
    outside = np.setdiff1d(np.arange(problem.size), inside)
    order = outside[np.argsort(fit.reduced[outside], kind="stable")][:TRIED]
    bent = problem.pairs[np.isin(problem.pairs, inside).any(axis=1)] if len(problem.pairs) else problem.pairs
    return [*dict.fromkeys([*order.tolist(), *np.setdiff1d(bent, inside).tolist()]), -1]


def _may(problem: Problem, casks: Array, cuts: list[Cut]) -> bool:
    """Whether groups and cuts allow these casks."""
    if any(int(np.isin(cut.places, casks).sum()) > len(cut.places) - cut.leave for cut in cuts):
        return False
    return not any(len(set(groups[casks])) > 1 for groups in problem.group)


def _fitted(problem: Problem, casks: Array) -> Fit | None:
    """The best draws of these casks found, pairs that bend counted."""
    fit = _fit(problem, casks, problem)
    if fit is None or not len(problem.pairs) or not np.isin(problem.pairs, casks).all(axis=1).any():
        return fit
    best = fit if allowed(problem, fit.draws) else None
    for _ in range(SETTLED):
        extra = bends(problem, fit.draws[None, :])[0]
        low, high = problem.band_low - extra, problem.band_high - extra
        moved = replace(problem, band_low=np.maximum(low, 0.0), band_high=np.maximum(high, 0.0))
        again = _fit(problem, casks, moved)
        if again is None:
            break
        if allowed(problem, again.draws) and (best is None or again.worth < best.worth - FINE):
            best = again
        if np.abs(again.draws - fit.draws).max() < 1e-6:
            break
        fit = again
    return best


def _fit(problem: Problem, casks: Array, law: Problem) -> Fit | None:
    """The best draws of these casks by the law and band of ``law``, worth what ``problem`` says."""
    from scipy.optimize import linprog

    families, count = len(problem.weight), len(casks)
    up, down = law.slopes
    columns = [np.hstack([up, down]), problem.alcohol[:, None], -problem.alcohol[:, None],
               -(problem.alcohol * problem.surplus)[:, None]]  # fmt: skip
    most = [np.zeros(2 * families), np.array([problem.high, -problem.low, 0.0])]
    if len(problem.ratios):
        columns.append(-problem.ratios.T)
        most.append(np.zeros(len(problem.ratios)))
    table = np.hstack(columns)
    slack = np.zeros((table.shape[1], 2 * families))
    slack[: 2 * families] = -np.eye(2 * families)
    rows, right = np.hstack([table[casks].T, slack]), np.concatenate(most)
    if law.most_deviation < np.inf:
        rows = np.vstack([rows, np.concatenate([np.zeros(count), np.ones(2 * families)])])
        right = np.append(right, law.most_deviation)
    cost = np.concatenate([problem.draw_price[casks], np.full(2 * families, problem.prices.deviation)])
    bounds = np.zeros((count + 2 * families, 2))
    bounds[:count, 0], bounds[:count, 1], bounds[count:, 1] = problem.least[casks], 1.0, np.inf
    made = linprog(cost, rows, right, bounds=bounds, method="highs")
    if made.x is None:
        return None
    draws = np.zeros(problem.size)
    draws[casks] = made.x[:count]
    prices = made.ineqlin.marginals[: table.shape[1]]
    return Fit(draws, worth(problem, draws), problem.draw_price - table @ prices)
