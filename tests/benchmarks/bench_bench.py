"""The analysis of a large bench on one core. Run: python -m tests.benchmarks.bench_bench.

60 trials of 12 casks in flights of eight, six tasters, figures for 20 families: the taste model, comparisons, orders,
faults, remedies and the page, from frames as the tasting stages give them. The target is five seconds.
"""

from __future__ import annotations

import time
from typing import Any

import numpy as np
import pandas as pd

from plugins.bench.answers import answer_stages as stages
from plugins.bench.answers.analysis import analysis
from plugins.bench.answers.answer_reports import plain
from plugins.bench.answers.page import page
from plugins.bench.returned.parts import read_parts
from plugins.proposals.declared.kinds import TARGETS
from plugins.proposals.taste.learn import _learn_all
from plugins.proposals.taste.taste_stages import model_pairs, model_taste
from plugins.proposals.taste.taught_stages import judge_model, model_moves
from plugins.tasting.declared.kinds import FAMILIES
from plugins.tasting.panel.panel_stages import measure_noise
from tests.bench.kit import BATCH, brief, trial_sheet
from tests.tasting.frames_for_tests import Tasted, known, tastings

TRIALS, TASTERS, CASKS, FLIGHT = 60, 6, 12, 8


def sheets() -> tuple[pd.DataFrame, Tasted]:
    """The trials' sheet and the panel's tastings of casks and trials, each flight with its duplicate."""
    rng = np.random.default_rng(8)
    casks = {f"C-{at:02}": rng.uniform(0.0, 8.0, len(FAMILIES)) for at in range(CASKS)}
    parts = {
        f"T-{at:02}": dict(zip(rng.choice(list(casks), 3, replace=False), (50.0, 30.0, 20.0), strict=True))
        for at in range(TRIALS)
    }
    glasses = [("C", name, taste) for name, taste in casks.items()]
    for at, (name, part) in enumerate(parts.items()):
        taste = np.sum([ml * casks[cask] for cask, ml in part.items()], axis=0) / 100.0
        glasses += [(f"F-{at // FLIGHT}", name, taste)] * (2 if at % FLIGHT == 0 else 1)
        if at % FLIGHT == 0:
            glasses += [(f"F-{at // FLIGHT}", next(iter(part)), casks[next(iter(part))])]
    rows: list[dict[str, Any]] = []
    for number, (session, name, taste) in enumerate(glasses):
        for taster in range(TASTERS):
            said = np.clip(taste + rng.normal(0.0, 0.8, len(taste)), 0.0, 10.0).round(1)
            row: dict[str, Any] = {
                "sample": name,
                "taster": f"taster {taster}",
                "session": session,
                "replicate": str(number),
            }
            row |= {"score": float(rng.uniform(4, 9)), "palate": "too dry" if number % 3 == 0 else "thin"}
            rows.append(row | dict(zip(FAMILIES, map(float, said), strict=True)))
    return trial_sheet(parts), Tasted(tastings(*rows), names=known(tuple(casks), (), (BATCH,)))


def answers(trials: pd.DataFrame, made: Tasted, noise: pd.DataFrame, target: pd.DataFrame) -> bytes:
    """Everything from frames to the page, with the processor time of each step printed."""
    clock = [time.process_time()]

    def lap(said: str) -> None:
        clock.append(time.process_time())
        print(f"  {said}: {clock[-1] - clock[-2]:.2f} s")

    taste = (trials, made.profiles, noise)
    parts = read_parts(trials, made.site)[0]
    frames: dict[str, Any] = {"trial_parts": parts, "profiles": made.profiles, "scores": made.scores, "lineage": None}
    frames |= {"taste_exponents": model_taste(target, *taste)[0], "taste_terms": model_pairs(*taste)}
    lap("exponents and pairs")
    moves, frames["taste_left_out"] = model_moves(*taste), judge_model(*taste)
    lap(f"left out, and {len(moves)} moves")
    flights = (made.tasted, trials, made.impressions, brief())
    frames["trial_comparisons"] = stages.compare_with_singles(*flights)
    frames["trial_orders"], frames["flight_noise"] = stages.order_flights(*flights), stages.measure_flights(*flights)
    frames["trial_matches"] = stages.match_standard(*flights, made.site, None, None, noise)
    lap("flights")
    faults = stages.find_faults(made.tasted, made.mentions, trials, brief(), target, made.profiles, parts)
    frames |= {"trial_faults": faults, "remedies": stages.find_remedies(faults, moves, trials, parts)}
    lap(f"{len(faults)} faults and {len(frames['remedies'])} remedies")
    text = page(plain(analysis(BATCH, frames)), "House", [])
    lap(f"page of {len(text) // 1000} kB")
    print(f"{TRIALS} trials x {TASTERS} tasters x {len(FAMILIES)} families: {clock[-1] - clock[0]:.2f} s (target 5)")
    return text


def main() -> None:
    """One run to warm up, one that counts."""
    trials, made = sheets()
    noise = measure_noise(made.tasted, made.impressions)
    target = TARGETS.frame().build({"target": ["HOUSE-1"], "family": ["body"], "intensity": [5.0]}, [(7001,)])
    answers(trials, made, noise, target)
    _learn_all.cache_clear()  # the taste model is fitted anew in the run that counts
    answers(trials, made, noise, target)


if __name__ == "__main__":
    main()
