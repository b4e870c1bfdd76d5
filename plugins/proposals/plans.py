"""Up to five choices that differ truly, each best at something else, or as many as there are."""

from __future__ import annotations

import time
from dataclasses import dataclass, field, replace

import numpy as np

from plugins.proposals.case import Case
from plugins.proposals.problem import Problem, allowed, deviation, worth
from plugins.proposals.search import beginnings, exchange
from plugins.proposals.solver import Cut, Solved, solve
from plugins.proposals.taste import Array, to_x

SEED = 7
POOL = 36  # casks of a first search; smaller stocks are searched whole
STARTS = 16
ROUNDS = 3
NEAR = 0.25  # points by which the frugal proposals may be further from the target than the closest, at least


@dataclass
class Plan:
    """A choice: draws over the problem's casks, what it is best at, objective, bound, and whether it is proved."""

    draws: Array
    aims: list[str]
    worth: float
    bound: float
    problem: Problem
    proved: bool

    @property
    def gap(self) -> float:
        return max(self.worth - self.bound, 0.0)


@dataclass
class Clock:
    """The net under the nodes: what is left of a brief's seconds, and whether they ended anything."""

    seconds: float
    begun: float = field(default_factory=time.monotonic)
    ended: bool = False

    @property
    def left(self) -> float:
        return max(self.seconds - (time.monotonic() - self.begun), 0.05)

    def note(self, solved: Solved) -> Solved:
        self.ended = self.ended or not solved.in_time
        return solved


def best(problem: Problem, nodes: int, clock: Clock, cuts: list[Cut] | None = None) -> Plan | None:
    """The best choice that the search finds; None where there is none, or none was found."""
    relaxed = clock.note(solve(problem, 1, clock.left, cuts, relax=True))
    if relaxed.draws is None:
        return None
    bound, found = relaxed.bound, None
    if problem.size <= POOL:
        solved = clock.note(solve(problem, 20 * nodes, clock.left, cuts))
        bound = max(bound, solved.bound)
        return _plan(problem, solved.draws, bound, solved.closed) if solved.draws is not None else None
    if problem.whole and not len(problem.group) and not cuts:
        found = exchange(problem, beginnings(problem, relaxed.draws, STARTS, SEED))
    random = np.random.default_rng(SEED)
    for number in range(ROUNDS):
        if number and found is None:
            break
        keep = _pool(problem, relaxed, found, random if number else None)
        part = problem.only(keep)
        inner = [Cut(np.flatnonzero(np.isin(keep, cut.places)), _left(cut, keep)) for cut in cuts or []]
        solved = clock.note(solve(part, nodes, clock.left, inner))
        if solved.draws is not None:
            whole = np.zeros(problem.size)
            whole[keep] = solved.draws
            if found is None or worth(problem, whole) < worth(problem, found) - 1e-9:
                found = whole
        if problem.whole and number and not len(problem.group):
            break  # exchanges have seen to the rest
    if found is None:
        solved = clock.note(solve(problem, nodes, clock.left, cuts))
        found, bound = solved.draws, max(bound, solved.bound)
    return None if found is None else _plan(problem, found, bound, False)


def _left(cut: Cut, keep: Array) -> int:
    """How many of a cut's casks must still be left out, when those outside the pool are left out anyway."""
    inside = int(np.isin(cut.places, keep).sum())
    return max(cut.leave - (len(cut.places) - inside), 0)


def _plan(problem: Problem, draws: Array, bound: float, proved: bool) -> Plan:
    value = worth(problem, draws)
    return Plan(draws, [], value, min(bound, value), problem, proved)


def _pool(problem: Problem, relaxed: Solved, found: Array | None, random: np.random.Generator | None) -> Array:
    """Casks for a search: those of the choice so far and of the relaxed one, then by reduced cost, with luck."""
    assert relaxed.draws is not None and relaxed.reduced is not None
    order = np.lexsort((np.arange(problem.size), relaxed.reduced, -relaxed.draws))
    first = np.flatnonzero(found > 1e-9) if found is not None else np.zeros(0, dtype=int)
    rest = order[~np.isin(order, first)]
    if random is not None:
        scale = max(float(np.quantile(relaxed.reduced, 0.25)), 1e-9)
        chance = np.exp(-np.clip(relaxed.reduced[rest] / scale, 0.0, 30.0))
        rest = random.choice(rest, size=min(POOL, len(rest)), replace=False, p=chance / chance.sum())
    return np.sort(np.concatenate([first, rest])[: max(POOL, len(first) + 8)])


def propose(case: Case, progress: list[str] | None = None) -> tuple[list[Plan], Clock]:
    """Choices by aim; those that come out alike are one with two aims, and others near the target fill up."""
    clock = Clock(case.settings["seconds"])
    nodes, most = case.settings["nodes"], case.settings["proposals"]
    base = case.problem()
    closest = best(base, nodes, clock)
    if closest is None:
        return [], clock
    closest.aims = ["closest to the target"]
    plans = [closest]
    room = deviation(base, closest.draws) + NEAR
    for aim, problem in _others(case, base, room):
        if len(plans) >= most:
            break
        _add(plans, aim, problem, nodes, clock)
    for _ in range(most - len(plans)):
        cuts = [_cut(plan.draws) for plan in plans]
        plan = best(base, nodes, clock, cuts)
        if plan is None:
            break
        plan.aims = ["another way near the target"]
        plans.append(plan)
    return plans, clock


def _others(case: Case, base: Problem, room: float) -> list[tuple[str, Problem]]:
    prices = base.prices
    few = replace(base, prices=replace(prices, deviation=0.05, cask=0.1), most_deviation=room)
    spare = replace(base, prices=replace(prices, deviation=0.05, scarce=1.0), most_deviation=room)
    keep = case.keep
    wide = replace(base, x_over=to_x(case.high, case.n)[keep], x_under=to_x(case.low, case.n)[keep])
    made = [("fewest casks", few), ("spends least of scarce stock", spare)]
    departing = depart(case, base)
    if departing is not None:
        made.append(departing)
    made.append(("holds best if the tasting was off", wide))
    return made


def depart(case: Case, base: Problem) -> tuple[str, Problem] | None:
    """The target moved on one family: that of the brief, else the weightiest that the stock can move."""
    aroma = np.arange(len(case.aim.families))
    if not base.size:
        return None
    reach = np.quantile(case.mean[case.keep], 0.9, axis=0) - case.aim.high
    at = int(aroma[np.argmax(case.aim.weight * np.maximum(reach, 0.0))])
    if case.depart_on:
        at = case.aim.families.index(case.depart_on)
    step = case.settings["departure"]
    up = case.aim.target[at] + step <= 10.0 and (case.depart_on or reach[at] > 0)
    move = np.zeros(len(case.aim.families))
    move[at] = step if up else -step
    low, high = np.clip(base.band_low + move, 0.0, 10.0), np.clip(base.band_high + move, 0.0, 10.0)
    name = case.aim.families[at]
    return f"departs from the target: {'more' if up else 'less'} {name}", replace(base, band_low=low, band_high=high)


def _add(plans: list[Plan], aim: str, problem: Problem, nodes: int, clock: Clock) -> None:
    plan = best(problem, nodes, clock)
    if plan is None:
        return
    used = plan.draws > 1e-9
    for other in plans:
        # one that is as good at the aim already has it too: a second one would only look like a choice
        if np.array_equal(used, other.draws > 1e-9) or _as_good(other.draws, problem, plan):
            other.aims.append(aim)
            return
    if any(not _differs(used, other.draws > 1e-9) for other in plans):
        cuts = [_cut(other.draws) for other in plans]
        apart = best(problem, nodes, clock, cuts)
        if apart is not None and apart.worth <= plan.worth + max(0.1 * abs(plan.worth), 0.02):
            plan = apart
    plan.aims = [aim]
    plans.append(plan)


def _as_good(draws: Array, problem: Problem, plan: Plan) -> bool:
    """Whether another choice keeps the problem and is worth no less, but for a hundredth."""
    return allowed(problem, draws) and worth(problem, draws) <= plan.worth + max(0.01 * abs(plan.worth), 1e-6)


def leave_out(casks: int) -> int:
    """How many casks of an earlier choice another must do without to differ truly: a quarter, at least one."""
    return max(1, casks // 4)


def _cut(draws: Array) -> Cut:
    places = np.flatnonzero(draws > 1e-9)
    return Cut(places, leave_out(len(places)))


def _differs(used: Array, other: Array) -> bool:
    return int((other & ~used).sum()) >= leave_out(int(other.sum())) or int((used & ~other).sum()) >= leave_out(
        int(used.sum())
    )
