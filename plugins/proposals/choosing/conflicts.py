"""Why nothing can be poured: the smallest sets of demands that conflict, and what would release each."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from typing import Any

import numpy as np
import pandas as pd

from plugins import proof
from plugins.proposals.choosing.case import Case
from plugins.proposals.choosing.problem import Prices, Problem
from plugins.proposals.choosing.solver import solve

NODES = 2000


def feasible(case: Case, demanded: list[str], seconds: float = 20.0) -> bool:
    """Whether some choice keeps these demands; taste asks nothing. What the search leaves open counts as yes."""
    if "strength" in demanded and any(name in demanded for name in case.unlawful):
        return False
    problem = _bare(case.problem(demanded))
    relaxed = solve(problem, 1, seconds, relax=True)
    if relaxed.draws is None:
        return False
    solved = solve(problem, NODES, seconds)
    return solved.draws is not None or not solved.closed


def _bare(problem: Problem) -> Problem:
    return replace(problem, prices=Prices(0.0, 0.0, 0.0, 0.0), weight=np.ones_like(problem.weight))


def smallest_conflicts(case: Case) -> list[list[str]]:
    """All conflicting sets of the least number of demands."""
    names = case.names
    if feasible(case, names):
        return []
    for size in range(1, len(names) + 1):
        found = [list(some) for some in combinations(names, size) if not feasible(case, list(some))]
        if found:
            return found
    return [names]


def conflicts(case: Case) -> list[dict[str, Any]]:
    """Rows of ``conflicts``: demand, value, what would release it, and the number of its set."""
    rows: list[dict[str, Any]] = []
    value = {demand.name: demand for demand in case.demands}
    for number, names in enumerate(smallest_conflicts(case), start=1):
        for name in names:
            row = {"demand": name, "value": value[name].value, "release": release(case, name), "set": number}
            rows.append(row)
    return rows


def release(case: Case, name: str) -> str:
    """What value of this demand would do, all others kept."""
    others = [other for other in case.names if other != name]
    if not feasible(case, others):
        return f"{_first(case, name)} alone is not enough: other demands conflict too"
    if name == "volume":
        return _volume(case, others)
    if name == "strength":
        return _strength(case, others)
    if name == "most casks":
        return _casks(case, others)
    if name == "whole casks":
        return "part draws"
    if name == "keep for later":
        return _kept(case, others)
    if name in case.unlawful:
        return f"a bottling strength as {case.unlawful[name]}, or another market"
    if name in case.barred:
        return _claim(case, name, others)
    return _first(case, name)


def _first(case: Case, name: str) -> str:
    return next(demand.release for demand in case.demands if demand.name == name)


def _volume(case: Case, others: list[str]) -> str:
    """The most that the other demands allow."""
    problem = replace(_bare(case.problem(others)), prices=Prices(0.0, 0.0, 0.0, 1.0))
    most = solve(replace(problem, cost=-np.ones(problem.size), high=1e9 if problem.whole else problem.high), NODES)
    if most.draws is None:
        return "a smaller volume"
    give = case.settings["volume_tolerance_percent"] / 100.0 if case.whole else 0.0
    litres = case.volume_L * float(most.draws @ problem.alcohol) / (1.0 - give)
    return f"at most {litres:.0f} L ({litres / proof.LITRES_PER_GALLON:.1f} US gal) of finished volume"


def _strength(case: Case, others: list[str]) -> str:
    """The highest bottling strength, by halving, to a tenth of a proof."""
    low, high = 0.0, float(proof.proof_from_mass_fraction(case.mass_fraction))
    for _ in range(12):
        middle = 0.5 * (low + high)
        fraction = float(proof.mass_fraction_from_proof(middle))
        ethanol = float(proof.mass_from_volume(case.volume_L, fraction, case.at_degC)) * fraction
        trial = replace(case, mass_fraction=fraction, ethanol_kg=ethanol, unlawful={})
        low, high = (middle, high) if feasible(trial, case.names) else (low, middle)
    if low < 1.0:
        return "another bottling strength"
    shown = np.floor(low * 10.0) / 10.0
    abv = float(proof.abv_from_mass_fraction(proof.mass_fraction_from_proof(shown)))
    return f"at most {shown:.1f} proof ({abv:.1f} % vol at 20 °C)"


def _casks(case: Case, others: list[str]) -> str:
    problem = replace(_bare(case.problem(others)), prices=Prices(0.0, 1.0, 0.0, 0.0))
    least = solve(problem, NODES)
    return "more casks" if least.draws is None else f"at least {int((least.draws > 1e-9).sum())} casks"


def _kept(case: Case, others: list[str]) -> str:
    """The casks of the fewest that would have to be released."""
    problem = case.problem(others)
    kept = case.barred["keep for later"][np.flatnonzero(case.free(others))]
    priced = replace(_bare(problem), cost=kept / np.maximum(problem.alcohol, 1e-9), prices=Prices(0.0, 0.0, 0.0, 1.0))
    made = solve(priced, NODES)
    if made.draws is None:
        return "release of some of them"
    names = [name for name, draw, held in zip(problem.names, made.draws, kept, strict=True) if draw > 1e-9 and held]
    return f"release of {', '.join(names)}"


def _claim(case: Case, name: str, others: list[str]) -> str:
    """The first day by which enough casks would answer, left where they are; else doing without the claim."""
    since = case.met_from.get(name)
    if since is not None and case.due is not None:
        days = sorted({day for day in since.dropna() if day > case.due})
        low, high = 0, len(days)
        while low < high:
            middle = (low + high) // 2
            if feasible(_on(case, name, days[middle]), case.names):
                high = middle
            else:
                low = middle + 1
        if low < len(days):
            return f"a due date from {days[low]:%Y-%m-%d}, when enough casks answer; or doing without it"
    return "doing without it" if name != "tasted casks only" else "tasting more casks, or untasted: average"


def _on(case: Case, name: str, day: pd.Timestamp) -> Case:
    answers = case.met_from[name].le(day).fillna(False).to_numpy(dtype=bool)
    return replace(case, barred={**case.barred, name: case.barred[name] & ~answers})
