"""A problem as a mixed-integer programme for HiGHS, as SciPy brings it, bounded by nodes.

HiGHS searches one node after another from a fixed seed, so equal problems with equal nodes give equal choices.
Pairs that bend away from the law are left aside here (``search.py`` and ``trade.py`` see to them).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from plugins.proposals.choosing.problem import Problem
from plugins.proposals.taste.taste import Array

if TYPE_CHECKING:
    from scipy import sparse

INF = float("inf")


@dataclass
class Rows:
    """Linear rows low <= matrix @ columns <= high."""

    parts: list[sparse.csr_matrix] = field(default_factory=list)
    low: list[float] = field(default_factory=list)
    high: list[float] = field(default_factory=list)

    def add(self, matrix: Any, low: Any, high: Any) -> None:
        from scipy import sparse

        part = sparse.csr_matrix(matrix)
        self.parts.append(part)
        self.low.extend(np.broadcast_to(low, part.shape[0]))
        self.high.extend(np.broadcast_to(high, part.shape[0]))


@dataclass(frozen=True)
class Solved:
    """``draws`` None where nothing was found; ``bound`` is a value that no choice can go below.

    ``closed``: whether HiGHS proved it (optimal, or that there is nothing); ``in_time``: whether it ended by
    itself or by nodes, so that it can be repeated. ``reduced``: reduced costs of the casks, where relaxed.
    """

    draws: Array | None
    bound: float
    closed: bool
    in_time: bool = True
    reduced: Array | None = None


@dataclass(frozen=True)
class Cut:
    """Of the casks of an earlier choice at least so many must be left out."""

    places: Array
    leave: int


def solve(
    problem: Problem,
    nodes: int,
    seconds: float = 60.0,
    cuts: list[Cut] | None = None,
    relax: bool = False,
    gap: float = 1e-6,
    below: float = INF,
) -> Solved:
    """The best choice found, and a bound.

    ``nodes``: search nodes; ``seconds``: a net under it; ``relax``: fractions of casks are allowed
    everywhere, for the bound and the reduced costs; ``below``: only choices worth less than that are looked for.
    """
    from scipy import sparse
    from scipy.optimize import Bounds, LinearConstraint, linprog, milp

    size = problem.size
    if not size:
        return Solved(None, INF, True)
    cost, upper, whole, rows = _programme(problem, cuts or [])
    if below < INF:
        rows.add(cost[None, :], -INF, below)
    matrix = sparse.vstack(rows.parts).tocsr()
    low, high = np.array(rows.low), np.array(rows.high)
    if relax:
        parts = sparse.vstack([matrix[high < INF], -matrix[low > -INF]])
        bounds = np.column_stack([np.zeros(len(upper)), upper])
        made = linprog(cost, parts, np.concatenate([high[high < INF], -low[low > -INF]]), bounds=bounds, method="highs")
        if made.x is None:
            return Solved(None, INF, made.status == 2)
        dual = made.lower.marginals + made.upper.marginals
        reduced = dual[:size] + (dual[size : 2 * size] if not problem.whole else 0.0)
        return Solved(made.x[:size], float(made.fun), True, True, reduced)
    options = {"node_limit": nodes, "time_limit": float(seconds), "mip_rel_gap": gap}
    made = milp(
        cost, integrality=whole, bounds=Bounds(0.0, upper), constraints=LinearConstraint(matrix, low, high),
        options=options,
    )  # fmt: skip
    stopped = (made.mip_node_count or 0) >= nodes  # SciPy tells that like what it does not know
    if made.x is None and (made.status == 2 or made.status == 4 and not stopped):
        return Solved(None, INF, True)
    in_time = made.status != 1  # no other bound of time or iterations is set
    bound = -INF if made.mip_dual_bound is None else float(made.mip_dual_bound)
    if made.x is None:
        return Solved(None, bound, False, in_time)
    draws = np.array(made.x[:size])
    if problem.whole:
        draws = np.round(draws)
    draws[draws < 1e-7] = 0.0
    return Solved(draws, bound, made.status == 0, in_time)


def _programme(problem: Problem, cuts: list[Cut]) -> tuple[Array, Array, Array, Rows]:
    """Costs, upper bounds and kinds of the columns (draws, choices, beyond the band, groups), and the rows."""
    from scipy import sparse

    n, families = problem.size, len(problem.weight)
    split = not problem.whole  # draws and choices are two columns where casks may be drawn in part
    counts = [int(groups.max()) + 1 for groups in problem.group]
    taste = n * (2 if split else 1)
    first_group = taste + 2 * families
    total = first_group + sum(counts)
    rows = Rows()
    blank = sparse.csr_matrix

    def row(values: Array, at: int = 0) -> Any:
        return blank((values, (np.zeros(len(values), dtype=int), np.arange(len(values)) + at)), shape=(1, total))

    rows.add(row(problem.alcohol), problem.low, problem.high)
    rows.add(row(problem.alcohol * problem.surplus), 0.0, INF)
    for ratio in problem.ratios:
        rows.add(row(ratio), 0.0, INF)
    chosen = n if split else 0
    rows.add(row(np.ones(n), chosen), 0.0, float(problem.max_casks))
    up, down = problem.slopes
    minus = -sparse.eye(2 * families)
    padding = blank((2 * families, taste - n)), blank((2 * families, total - first_group))
    rows.add(sparse.hstack([sparse.csr_matrix(np.hstack([up, down]).T), padding[0], minus, padding[1]]), -INF, 0.0)
    if problem.most_deviation < INF:
        rows.add(row(np.ones(2 * families), taste), 0.0, problem.most_deviation)
    if split:
        eye, rest = sparse.eye(n), blank((n, total - 2 * n))
        rows.add(sparse.hstack([eye, -eye, rest]), -INF, 0.0)
        rows.add(sparse.hstack([eye, -sparse.diags(problem.least), rest]), 0.0, INF)
    for cut in cuts:
        places = np.asarray(cut.places, dtype=int)
        matrix = blank((np.ones(len(places)), (np.zeros(len(places), dtype=int), places + chosen)), shape=(1, total))
        rows.add(matrix, 0.0, float(len(places) - cut.leave))
    at = first_group
    for groups, count in zip(problem.group, counts, strict=True):
        member = blank(
            (np.concatenate([np.ones(n), -np.ones((groups >= 0).sum())]),
             (np.concatenate([np.arange(n), np.flatnonzero(groups >= 0)]),
              np.concatenate([np.arange(n) + chosen, at + groups[groups >= 0]]))),
            shape=(n, total),
        )  # fmt: skip
        rows.add(member, -INF, 0.0)
        rows.add(row(np.ones(count), at), 0.0, 1.0)
        at += count
    cost, upper, whole = np.zeros(total), np.ones(total), np.ones(total)
    cost[:n] = problem.draw_price
    cost[chosen : chosen + n] += problem.prices.cask
    cost[taste:first_group] = problem.prices.deviation
    upper[taste:first_group] = INF
    whole[taste:first_group] = 0
    if split:
        whole[:n] = 0
    return cost, upper, whole, rows
