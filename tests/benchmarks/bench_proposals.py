"""Times and gaps of proposals for 400 casks and 20 families.

Run: ``python -m tests.benchmarks.bench_proposals [LONG [BRIEF]]``. For each brief: five proposals with the default
nodes, beside a plain model of the same brief given as long as all five took, and, with LONG seconds, beside the best
that a long search finds; BRIEF is part of a brief's name, such as "seed 0". All in points of the 0..10 scale; seconds
by the clock and of processor time, with the load of the machine.
"""

from __future__ import annotations

import os
import sys
import time
from typing import Any

import numpy as np
import pandas as pd

from plugins import proof
from plugins.proposals.choosing.case import Aim, Case, Demand
from plugins.proposals.choosing.plans import propose
from plugins.proposals.choosing.problem import Problem, deviation, worth
from plugins.proposals.choosing.solver import solve
from plugins.proposals.declared.settings import SETTINGS
from plugins.proposals.taste.taste import exponent, mixed

CASKS, BAND = 400, 0.5
FAMILIES = (
    "grain_malt", "fresh_fruit", "citrus", "sweetshop_ester", "dried_fruit_wine", "floral_leafy", "honey_wax",
    "vanilla_cream", "dark_reduced_sugars", "nut_roast", "spice", "oak_wood", "smoke_peat", "marine_medicinal",
    "off_notes", "body", "sweetness", "dry_grip", "heat", "length_balance",
)  # fmt: skip


def stock(seed: int) -> Case:
    """400 casks of a dozen styles and a brief of 25 whole casks' volume; a claim bars a third of them."""
    random = np.random.default_rng(seed)
    styles = random.gamma(1.0, 1.5, (12, len(FAMILIES)))
    taste = np.clip(styles[random.integers(0, 12, CASKS)] + random.normal(0, 1.2, (CASKS, len(FAMILIES))), 0, 10)
    w = proof.mass_fraction_from_abv(random.uniform(54, 66, CASKS))
    mass = proof.mass_from_volume(random.uniform(120, 240, CASKS), w, proof.T_20C)
    amounts = proof.quantities(mass, w)
    days = pd.to_datetime("2010-01-01") + pd.to_timedelta(random.integers(0, 4000, CASKS), "D")
    table = pd.DataFrame(
        {"cask": [f"C-{at:04d}" for at in range(CASKS)], "filled_on": days, "spirit": "Malt", "location": "A",
         "mass_kg": mass, "mass_fraction": w, "content_percent": 3.0, "cost": 1.0, "tasted": True,
         **{name: amounts[name] for name in ("ethanol_kg", "volume_20C_L", "proof_60F", "lpa")}}
    )  # fmt: skip
    exponents = [exponent(family) for family in FAMILIES]
    middle = mixed(np.full(CASKS, 1 / CASKS), taste, np.array([item.n for item in exponents]))
    target = np.clip(middle + random.normal(0, 0.7, len(FAMILIES)), 0.3, 8.0)
    aim = Aim(FAMILIES, target, np.maximum(target - BAND, 0), target + BAND, np.ones(len(FAMILIES)), "generated")
    fraction = float(proof.mass_fraction_from_abv(46.0))
    litres = 25.0 * 180.0 * 0.6 / 0.46
    names = ("volume", "strength", "most casks", "whole casks", "claim (EU)")
    return Case(
        "B", 1, table, aim, exponents, taste, np.maximum(taste - 1, 0), np.minimum(taste + 1, 10),
        float(proof.mass_from_volume(litres, fraction, proof.T_20C)) * fraction, fraction, litres, proof.T_20C, "46",
        28, True, 0.7, pd.Timestamp("2026-01-01"), demands=[Demand(name, "", "") for name in names],
        barred={"claim (EU)": random.random(CASKS) < 0.33}, scarce=random.uniform(0, 1, CASKS),
        cost=random.uniform(0.5, 1.5, CASKS), settings={item.name: item.default for item in SETTINGS},
    )  # fmt: skip


def six(case: Case) -> Case:
    """The same stock with a brief of 1,000 litres from six casks in part."""
    litres = 1000.0
    case.ethanol_kg *= litres / case.volume_L
    case.volume_L, case.max_casks, case.whole = litres, 6, False
    case.demands = [demand for demand in case.demands if demand.name != "whole casks"]
    return case


def plain(problem: Problem, seconds: float) -> tuple[float, float]:
    """Objective and deviation of the model given to HiGHS as it is, for so long."""
    made = solve(problem, 10**9, seconds)
    return (np.inf, np.inf) if made.draws is None else (worth(problem, made.draws), deviation(problem, made.draws))


def measure(name: str, case: Case, long: float) -> dict[str, Any]:
    begun, worked = time.perf_counter(), time.process_time()
    plans, _ = propose(case)
    took, worked = time.perf_counter() - begun, time.process_time() - worked
    base = case.problem()
    row: dict[str, Any] = {"brief": name, "allowed": base.size, "proposals": len(plans), "seconds": round(took, 1)}
    row |= {"processor": round(worked, 1), "load": round(os.getloadavg()[0], 1)}
    row |= {"objective": plans[0].worth, "beyond": deviation(base, plans[0].draws), "gap": plans[0].gap}
    row["worst_gap"] = max(plan.gap for plan in plans)
    row["plain"], row["plain_beyond"] = plain(base, took)
    if long:
        row["long"], row["long_beyond"] = plain(base, long)
        # the other proposals are each held against a search of a tenth of that for their own aim
        rest = [plan.worth - plain(plan.problem, long / 10.0)[0] for plan in plans[1:]]
        row["others_from_long"] = " ".join(f"{by:+.4f}" for by in rest)
    return row


def main() -> None:
    long = float(sys.argv[1]) if len(sys.argv) > 1 else 0.0
    only = sys.argv[2] if len(sys.argv) > 2 else ""
    for seed in range(3):
        briefs = {f"25 whole casks, seed {seed}": stock, f"6 part draws, seed {seed}": lambda at: six(stock(at))}
        rows = [measure(name, made(seed), long) for name, made in briefs.items() if only in name]
        if rows:
            print(pd.DataFrame(rows).round(4).to_string(index=False), flush=True)
    print(f"\npanel noise taken as the dead band: {BAND} points")


if __name__ == "__main__":
    main()
