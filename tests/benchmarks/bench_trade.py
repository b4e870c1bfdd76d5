"""The trade's stages against named baselines in the same run. Run: python -m tests.benchmarks.bench_trade.

Each line has the median of three runs and the ratio to its baseline.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from typing import Any

import pandas as pd
from rapidfuzz import fuzz

from plugins.blending import plugin as blending
from plugins.tasting.words.matching import find_all
from plugins.validation.readings.reading_checks import doubt_readings
from tests.blending.sheets import KINDS, frame, work
from tests.blending.test_door import big
from tests.tasting.test_words import LEXICON, random_notes
from tests.validation.test_rates import SITE, honest


def median(work_once: Callable[[], Any], runs: int = 3) -> float:
    taken = []
    for _ in range(runs):
        start = time.perf_counter()
        work_once()
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)


def said(what: str, ours: float, baseline: str, base: float) -> None:
    print(f"{what}: {ours:.3f} s; {baseline}: {base:.3f} s; ratio {ours / base:.2f}")


def reconcile() -> None:
    """One batch of 400 components with an open balance: all slips are tried."""
    made = big(400)
    frames = {name: frame(kind, getattr(made, name)) for name, kind in KINDS.items()}
    worked, site = work(frames, made.site()), made.site()

    def stages() -> None:
        for stage in blending.stages():
            needs = [need.name for need in stage.needs]
            stage(**{name: site if name == "site" else worked.frames[name] for name in needs})

    blends = frames["blends"]
    base = median(lambda: [row.to_dict() for _, row in blends.iterrows()])
    said("400 components reconciled", median(stages), "walking the same lines with iterrows", base)


def check() -> None:
    """100,000 honest readings of 25,000 casks."""
    stock = honest(100_000, seed=1)
    proofs = stock.proofs(SITE)
    needed = [stock.frames[name] for name in ("casks", "vessels", "instruments", "briefs", "blends")]

    def checks() -> None:
        doubt_readings(stock.frames["readings"], proofs, *needed, SITE)

    ours = median(checks)

    def previous() -> pd.Series:
        ordered = proofs.sort_values(["vessel", "taken_at"], kind="stable")
        return ordered.groupby("vessel")["proof_60F"].diff()

    said("100,000 readings checked", ours, "sorting them and taking each cask's differences", median(previous))


def read_notes() -> None:
    """2,000 notes of twelve words, others each time: notes that were read once are remembered."""
    every = random_notes(6000)
    heaps = iter([every[at : at + 2000] for at in range(0, len(every), 2000)])
    notes = every[:200]
    terms = [term.term for term in LEXICON.terms]

    def loop() -> None:
        for note in notes:
            for term in terms:
                fuzz.partial_ratio(term, note)

    said(
        "2,000 notes read",
        median(lambda: find_all(next(heaps), LEXICON)),
        "200 of them asked for each term",
        median(loop),
    )


if __name__ == "__main__":
    reconcile()
    check()
    read_notes()
