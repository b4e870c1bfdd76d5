"""How long a bench card takes: ``python -m tests.benchmarks.bench_card``. Target: under 2 s on one core."""

from __future__ import annotations

from time import process_time

import numpy as np

from plugins.bench.cards.card import Asked, Recipe, plan_card
from plugins.bench.cards.card_workbook import card_bytes
from plugins.bench.cards.designs import within_bounds
from plugins.bench.cards.measure import Bench
from plugins.bench.cards.optimal import d_optimal

TASTERS = ("Ada", "Ben", "Cleo", "Dov", "Eve", "Fay")
FAMILIES = ("smoke_peat", "body", "dry_grip", "honey_wax", "oak_wood", "spice")


def recipes(trials: int) -> list[Recipe]:
    """Trials of seven of twenty casks, and a best single one."""
    random = np.random.default_rng(1)
    names = [f"C-{at:03d}" for at in range(20)]
    strengths = {name: float(random.uniform(50.0, 65.0)) for name in names}
    made = []
    for at in range(trials):
        chosen = random.choice(20, 7, replace=False)
        parts = {
            names[cask]: float(share) for cask, share in zip(chosen, random.dirichlet(np.ones(7) * 3.0), strict=True)
        }
        made.append(Recipe(f"T-{at}", parts, strengths))
    return [*made, Recipe("T-best", {names[0]: 1.0}, strengths, "best single")]


def main() -> None:
    """Print processor times."""
    for trials in (5, 60):
        start = process_time()
        card = plan_card(Asked("F", "B", TASTERS, FAMILIES), recipes(trials), Bench())
        data = card_bytes(card)
        print(f"{trials} trials x {len(TASTERS)} tasters, card and workbook: {process_time() - start:.2f} s (target 2)")
        print(f"  {len(card['glasses'])} glasses in {len(card['flights'])} flights, {len(data)} bytes")
    for q, model in ((5, "linear"), (5, "quadratic"), (7, "quadratic")):
        start = process_time()
        mixtures = within_bounds([0.05] * q, [0.5] * q)
        runs = q if model == "linear" else q * (q + 1) // 2
        d_optimal(mixtures, runs, model)
        said = f"{runs} of {len(mixtures)} mixtures of {q} casks, {model}"
        print(f"D-optimal, {said}: {process_time() - start:.2f} s")


if __name__ == "__main__":
    main()
