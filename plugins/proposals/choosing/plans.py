"""Up to five choices that differ truly, each best at something else, or as many as there are."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np

from plugins.proposals.choosing.case import Case
from plugins.proposals.choosing.measurable import measurable
from plugins.proposals.choosing.problem import Problem, allowed, deviation, loosened, worth
from plugins.proposals.choosing.search import beginnings, exchange
from plugins.proposals.choosing.solver import Cut, Solved, solve
from plugins.proposals.choosing.trade import priced, trade
from plugins.proposals.taste.taste import Array, to_x

SEED = 7
POOL = 36  # casks of a first search; smaller stocks are searched whole
WIDER = 50  # casks of the searches after it
STARTS = 16
BUSY = 8.0  # times that a search may take longer by the clock than of processor time
FIRST_ROUNDS, ROUNDS = 12, 3  # searches of some casks, for the closest and for each further one
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
    """The net under the nodes: what is left of a brief's seconds, and whether they ended anything.

    Seconds are of processor time, so that a busy machine proposes the same, only later.
    """

    seconds: float
    begun: float = field(default_factory=time.process_time)
    ended: bool = False

    @property
    def left(self) -> float:
        return max(self.seconds - (time.process_time() - self.begun), 0.05)

    @property
    def net(self) -> float:
        """Seconds by the clock for one search, which knows no other: many times what is left."""
        return BUSY * self.left

    def note(self, solved: Solved) -> Solved:
        self.ended = self.ended or not solved.in_time
        return solved


def best(
    problem: Problem, nodes: int, clock: Clock, cuts: list[Cut] | None = None, start: Array | None = None
) -> Plan | None:
    """The best choice that the search finds; None where there is none, or none was found.

    ``start``: a choice of an earlier search, from which it may set out; without one it searches for longer.

    The programme goes by the law alone; exchanges and trades then count the pairs that bend too, and the bound is
    that of the loosened problem, below every choice with them.
    """
    law, cuts = problem.law, cuts or []
    relaxed = clock.note(solve(law, 1, clock.net, cuts, relax=True))
    if relaxed.draws is None:
        return None
    bent = bool(len(problem.pairs))
    bound = clock.note(solve(loosened(problem), 1, clock.net, cuts, relax=True)).bound if bent else relaxed.bound
    if problem.size <= POOL:
        solved = clock.note(solve(law, 20 * nodes, clock.net, cuts))
        bound = bound if bent else max(bound, solved.bound)
        found = solved.draws if solved.draws is None or not bent else _polished(problem, solved.draws, cuts, clock)
        return _plan(problem, found, bound, solved.closed and not bent) if found is not None else None
    found = _searched(problem, relaxed, nodes, clock, cuts, start)
    if found is None:
        solved = clock.note(solve(law, nodes, clock.net, cuts))
        found, bound = solved.draws, bound if bent else max(bound, solved.bound)
        found = found if found is None else _polished(problem, found, cuts, clock)
    return None if found is None or not allowed(problem, found) else _plan(problem, found, bound, False)


def _searched(
    problem: Problem, relaxed: Solved, nodes: int, clock: Clock, cuts: list[Cut], start: Array | None
) -> Array | None:
    """Exchanges, programmes of some casks, and exchanges again; None where nothing was found."""
    law, found = problem.law, None
    rounds = FIRST_ROUNDS if start is None else ROUNDS
    if start is not None and not cuts and allowed(problem, start):
        found = start
    if problem.whole and not len(problem.group) and not cuts:
        found = exchange(problem, beginnings(law, relaxed.draws, STARTS, SEED) + ([] if found is None else [found]))
        rounds //= 2  # exchanges have seen to most
    random, searched = np.random.default_rng(SEED), set()
    for number in range(rounds):
        if number and found is None or clock.left <= 0.1:
            break
        keep = _pool(law, relaxed, found, random if number else None, WIDER if number else POOL)
        if keep.tobytes() in searched:  # of a small stock they are all, time and again
            continue
        searched.add(keep.tobytes())
        part = law.only(keep)
        inner = [Cut(np.flatnonzero(np.isin(keep, cut.places)), _left(cut, keep)) for cut in cuts]
        solved = clock.note(solve(part, 2 * nodes, clock.net, inner))
        if solved.draws is not None:
            whole = np.zeros(problem.size)
            whole[keep] = solved.draws
            if found is None or worth(problem, whole) < worth(problem, found) - 1e-9:
                found = whole if not problem.whole else _polished(problem, whole, cuts, clock)
    return found if found is None or problem.whole else _polished(problem, found, cuts, clock)


def _polished(problem: Problem, draws: Array, cuts: list[Cut], clock: Clock) -> Array:
    """A choice bettered one cask at a time, with the pairs that bend."""
    if not problem.whole:
        return trade(problem, draws, cuts, lambda: clock.left)
    if len(problem.group) or cuts:
        return draws
    better = exchange(problem, [draws])
    return draws if better is None else better


def _left(cut: Cut, keep: Array) -> int:
    """How many of a cut's casks must still be left out, when those outside the pool are left out anyway."""
    inside = int(np.isin(cut.places, keep).sum())
    return max(cut.leave - (len(cut.places) - inside), 0)


def _plan(problem: Problem, draws: Array, bound: float, proved: bool) -> Plan:
    value = worth(problem, draws)
    return Plan(draws, [], value, min(bound, value), problem, proved)


def _pool(
    problem: Problem, relaxed: Solved, found: Array | None, random: np.random.Generator | None, size: int
) -> Array:
    """Casks for a search: those of the choice so far, then by price, drawn with luck after the first search.

    Prices are the reduced costs of the relaxed programme and, for part draws, those that the choice so far gives.
    """
    assert relaxed.draws is not None and relaxed.reduced is not None
    order = np.lexsort((np.arange(problem.size), relaxed.reduced, -relaxed.draws))
    first = np.flatnonzero(found > 1e-9) if found is not None else np.zeros(0, dtype=int)
    rest = order[~np.isin(order, first)]
    if random is not None:
        chance = _likely(relaxed.reduced[rest])
        near = None if problem.whole else priced(problem, first)
        chance = chance if near is None else chance + _likely(near[rest])
        rest = random.choice(rest, size=min(size, len(rest)), replace=False, p=chance / chance.sum())
    return np.sort(np.concatenate([first, rest])[: max(size, len(first) + 8)])


def _likely(reduced: Array) -> Array:
    """Chances of casks by reduced cost, adding up to 1; none is nothing."""
    above = reduced - min(float(reduced.min()), 0.0)
    scale = max(float(np.quantile(above, 0.25)), 1e-9)
    chance = np.exp(-np.clip(above / scale, 0.0, 30.0))
    return np.asarray(chance / chance.sum())


def propose(case: Case, progress: Callable[[str], None] = lambda _: None) -> tuple[list[Plan], Clock]:
    """Choices by aim; those that come out alike are one with two aims, and others near the target fill up.

    ``progress`` is told of each proposal before it is looked for.
    """
    clock = Clock(case.settings["seconds"])
    nodes, most = case.settings["nodes"], case.settings["proposals"]
    base = case.problem()

    def tell(aim: str) -> None:
        progress(f"{case.batch}, {len(plans) + 1} of {most}: {aim}, {base.size} casks")

    plans: list[Plan] = []
    tell("closest to the target")
    closest = best(base, nodes, clock)
    if closest is None:
        return [], clock
    closest.aims = ["closest to the target"]
    plans.append(closest)
    room = deviation(base, closest.draws) + NEAR
    for aim, problem in _others(case, base, room):
        if len(plans) >= most:
            break
        tell(aim)
        _add(plans, aim, problem, nodes, clock)
    for _ in range(most - len(plans)):
        cuts = [_cut(plan.draws) for plan in plans]
        tell("another way near the target")
        plan = best(base, nodes, clock, cuts, closest.draws)
        if plan is None:
            break
        plan.aims = ["another way near the target"]
        plans.append(plan)
    return _as_measured(case, plans), clock


def _as_measured(case: Case, plans: list[Plan]) -> list[Plan]:
    """The plans with draws that can be measured, worth what these are; one that then breaks a demand is left out."""
    litres = case.stock["volume_20C_L"].to_numpy("float64")[case.keep]
    made = []
    for plan in plans:
        draws = measurable(plan.problem, plan.draws, litres, case.settings["measure_L"])
        if draws is not None:
            value = worth(plan.problem, draws)
            proved = plan.proved and value <= plan.worth + 1e-9
            made.append(replace(plan, draws=draws, worth=value, proved=proved))
    return made


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
    plan = best(problem, nodes, clock, start=plans[0].draws)
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
        apart = best(problem, nodes, clock, cuts, plans[0].draws)
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
