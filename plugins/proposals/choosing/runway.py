"""How many batches like a brief the stock supports, by year: a ceiling, were all of it poured in that year."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from plugins.proposals.choosing.case import Case
from plugins.proposals.choosing.problem import Prices
from plugins.proposals.choosing.solver import solve

YEARS = 8


def runway(case: Case) -> list[dict[str, Any]]:
    """Year, batches, casks that the claims allow, and what sets the number.

    The most alcohol of a mix of allowed casks that keeps the strength and lies within the target's band (fractions
    of casks allowed), over what one batch wants. Contents shrink by the setting ``evaporation_percent`` a year;
    strengths are taken to stay. Casks that are not in stock yet are not counted.
    """
    if case.due is None:
        return []
    rows = []
    known: dict[bytes, tuple[float, float]] = {}  # by the casks that are free: often the same for years
    for number in range(YEARS):
        day = case.due + pd.DateOffset(years=number)
        later = _on(case, day)
        left = (1.0 - case.settings["evaporation_percent"] / 100.0) ** number
        free = later.free(_lawful(later))
        if free.tobytes() not in known:
            known[free.tobytes()] = _most(later, strict=False), _most(later, strict=True)
        every, tasting = (most * left for most in known[free.tobytes()])
        count = int(free.sum())
        limited = "taste: the rest does not fit the target" if tasting < 0.9 * every else "claims and stock"
        rows.append({"year": int(day.year), "batches": tasting, "casks": count, "limited_by": limited})
    return rows


def _lawful(case: Case) -> list[str]:
    return [name for name in case.names if name not in ("volume", "most casks", "whole casks")]


def _on(case: Case, day: pd.Timestamp) -> Case:
    barred = dict(case.barred)
    for name, since in case.met_from.items():
        answers = since.le(day).fillna(False).to_numpy(dtype=bool)
        barred[name] = barred[name] & ~answers
    return replace(case, barred=barred)


def _most(case: Case, strict: bool) -> float:
    """Batches of which the relaxed mix is made; ``strict``: inside the band, else whatever it tastes of."""
    problem = case.problem(_lawful(case), Prices(0.0, 0.0, 0.0, 1.0))
    if not problem.size:
        return 0.0
    problem = replace(
        problem, cost=-np.ones(problem.size), high=float(problem.alcohol.sum()) + 1.0, low=0.0,
        max_casks=problem.size, most_deviation=1e-6 if strict else np.inf, least=np.zeros(problem.size),
    )  # fmt: skip
    made = solve(problem, 1, relax=True)
    return 0.0 if made.draws is None else float(made.draws @ problem.alcohol)
