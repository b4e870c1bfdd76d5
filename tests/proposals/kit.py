"""What these tests share: small problems, cases without sheets, and optima by trying everything."""

from __future__ import annotations

from itertools import combinations
from typing import Any

import numpy as np
import pandas as pd
from scipy.optimize import linprog

from plugins import proof
from plugins.proposals.choosing.case import Aim, Case, Demand
from plugins.proposals.choosing.problem import Prices, Problem, allowed, worth
from plugins.proposals.declared.settings import SETTINGS
from plugins.proposals.taste.taste import Exponent, exponent, to_x


def problem(seed: int, n: int = 9, families: int = 3, whole: bool = True, **given: Any) -> Problem:
    """A small problem of random casks; about a third of them make the batch."""
    random = np.random.default_rng(seed)
    exponents = np.array([0.5, 0.6, 1.0])[np.arange(families) % 3]
    x = to_x(random.uniform(0, 7, (n, families)), exponents)
    middle = random.uniform(1.5, 5.0, families)
    values: dict[str, Any] = {
        "names": tuple(f"C-{at}" for at in range(n)),
        "alcohol": random.uniform(0.15, 0.5, n),
        "surplus": random.uniform(-0.2, 0.6, n),
        "x_over": x,
        "x_under": x,
        "band_low": middle - 0.5,
        "band_high": middle + 0.5,
        "n": exponents,
        "weight": random.uniform(0.5, 2.0, families),
        "scarce": random.uniform(0, 1, n),
        "cost": random.uniform(0.5, 1.5, n),
        "least": np.full(n, 0.3),
        "group": np.zeros((0, n), dtype=np.int64),
        "low": 0.9 if whole else 0.99,
        "high": 1.1 if whole else 1.01,
        "max_casks": 5,
        "whole": whole,
        "prices": Prices(1.0, 0.01, 0.05, 0.05),
    }
    return Problem(**(values | given))


def brute(problem: Problem) -> float:
    """The least objective over all subsets; inf where none is allowed. Part draws: a linear programme for each."""
    best = np.inf
    for size in range(1, problem.max_casks + 1):
        for some in combinations(range(problem.size), size):
            draws = np.zeros(problem.size)
            draws[list(some)] = 1.0
            if problem.whole:
                if allowed(problem, draws, 1e-9):
                    best = min(best, worth(problem, draws))
            else:
                best = min(best, _part(problem, list(some)))
    return best


def _part(problem: Problem, some: list[int]) -> float:
    """The best part draws of just these casks, by a linear programme of its own."""
    for groups in problem.group:
        if len(set(groups[some])) > 1:
            return np.inf
    families, count = len(problem.weight), len(some)
    up, down = problem.slopes
    taste = np.vstack([up[some].T, down[some].T])
    rows = [
        np.hstack([taste, -np.eye(2 * families)]),
        np.hstack([[problem.alcohol[some]], np.zeros((1, 2 * families))]),
        np.hstack([[-problem.alcohol[some]], np.zeros((1, 2 * families))]),
        np.hstack([[-(problem.alcohol * problem.surplus)[some]], np.zeros((1, 2 * families))]),
    ]
    most = np.concatenate([np.zeros(2 * families), [problem.high, -problem.low, 0.0]])
    cost = np.concatenate([problem.draw_price[some], np.full(2 * families, problem.prices.deviation)])
    bounds = [(problem.least[at], 1.0) for at in some] + [(0.0, None)] * (2 * families)
    made = linprog(cost, np.vstack(rows), most, bounds=bounds)
    return float(made.fun) + problem.prices.cask * count if made.status == 0 else np.inf


def case(seed: int = 1, n: int = 12, whole: bool = True, litres: float = 500.0, **given: Any) -> Case:
    """A case of random casks of about 180 L at 58 to 64 % vol, wanted at 46 % vol, with three families."""
    random = np.random.default_rng(seed)
    w = proof.mass_fraction_from_abv(random.uniform(58, 64, n))
    mass = proof.mass_from_volume(random.uniform(150, 220, n), w, proof.T_20C)
    amounts = proof.quantities(mass, w)
    filled = pd.to_datetime([f"{2012 + int(year)}-03-01" for year in random.integers(0, 8, n)]).astype("datetime64[us]")
    stock = pd.DataFrame(
        {
            "cask": [f"C-{at:02d}" for at in range(n)], "filled_on": filled, "spirit": "Single malt",
            "location": "A", "mass_kg": mass, "mass_fraction": w, "content_percent": 3.0, "cost": 1.0,
            "tasted": True, **{name: amounts[name] for name in ("ethanol_kg", "volume_20C_L", "proof_60F", "lpa")},
        }
    )  # fmt: skip
    families = ("body", "fresh_fruit", "smoke_peat")
    mean = random.uniform(0, 7, (n, 3))
    target = np.array([3.0, 3.0, 2.0])
    aim = Aim(families, target, target - 0.5, target + 0.5, np.ones(3), "house profile X")
    fraction = float(proof.mass_fraction_from_abv(46.0))
    made = Case(
        "B-1", 1, stock, aim, [exponent(f) for f in families], mean, np.maximum(mean - 1, 0), np.minimum(mean + 1, 10),
        float(proof.mass_from_volume(litres, fraction, proof.T_20C)) * fraction, fraction, litres, proof.T_20C,
        "46 % vol at 20 °C", 5, whole, 0.7, pd.Timestamp("2026-06-01"),
        demands=[Demand("volume", f"{litres:g} L", "a smaller volume"), Demand("strength", "46 % vol", "a lower one"),
                 Demand("most casks", "5", "more casks"), Demand("whole casks", "yes", "part draws")],
        scarce=random.uniform(0, 1, n), cost=random.uniform(0.5, 1.5, n),
        settings={item.name: item.default for item in SETTINGS},
    )  # fmt: skip
    for name, value in given.items():
        setattr(made, name, value)
    return made


__all__ = ["Exponent", "brute", "case", "problem"]
