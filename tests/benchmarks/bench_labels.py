"""All label verdicts of a large house.

20,000 batches of 50 components each, every market that has rules, with the claims a brief makes; the ages, the
verdicts with their reasons, and the findings. The aim is under 30 s on two cores, and 1.5 GB.
"""

from __future__ import annotations

import resource
import time
from collections.abc import Iterator

import numpy as np
import pandas as pd

from pipeline import Frame
from pipeline.common.collector import patient_collector
from pipeline.testing import site_with
from plugins.blending.declared.frames import BALANCES, COMPONENTS
from plugins.blending.declared.kinds import BOTTLINGS, BRIEFS, CASKS
from plugins.blending.declared.kinds_movements import MOVEMENTS
from plugins.label_age import stages
from tests.benchmarks.processes import Figure, in_a_fresh_process
from tests.label_age.kit import BOOK_DATE, shipped

MARKETS = "US, EU, UK, IE, CA, JP, AU"
CLAIMS = {False: ("straight bourbon; bottled in bond", "straight bourbon"), True: ("single malt", "whisky")}
STOCK, BATCHES, COMPONENTS_EACH = 100_000, 20_000, 50


def table(frame: Frame, count: int, first: int, **columns: object) -> pd.DataFrame:
    made = {name: columns.get(name, [None] * count) for name in frame.names}
    return frame.build(made, [(first + number,) for number in range(count)])


def house(batches: int, components: int) -> dict[str, pd.DataFrame]:
    """Frames of an invented house: batches of bourbon, and one in five of malt; one in ten has an odd cask in it."""
    random = np.random.default_rng(7)
    names = np.array([f"C-{number:06d}" for number in range(STOCK)])
    filled = np.datetime64("2012-01-01") + random.integers(0, 4017, STOCK).astype("timedelta64[D]")
    malt = random.random(STOCK) < 0.2
    batch = np.repeat([f"B-{number:05d}" for number in range(batches)], components)
    of_malt = random.random(batches) < 0.2
    pools = {kind: np.flatnonzero(malt == kind) for kind in (False, True)}
    drawn = np.concatenate([random.choice(pools[bool(kind)], components) for kind in of_malt])
    odd = np.flatnonzero(random.random(batches) < 0.1) * components
    drawn[odd] = random.integers(0, STOCK, len(odd))
    filled[drawn[odd]] = np.datetime64("2023-06-01")
    casks = table(
        CASKS.frame(),
        STOCK,
        10_000_000,
        cask=names,
        as_of=np.full(STOCK, "2025-12-31"),
        spirit=np.where(malt, "malt", "bourbon"),
        grain=np.where(malt, "malted barley 100", "corn 70, rye 20, malted barley 10"),
        distillery=np.where(random.random(STOCK) < 0.9, "Alder Hollow", "Stony Ford"),
        state=np.full(STOCK, "Northmark"),
        country=np.full(STOCK, "US"),
        distilled_on=filled - np.timedelta64(2, "D"),
        distilled_proof=np.full(STOCK, 140.0),
        filled_on=filled,
        entry_proof=np.where(random.random(STOCK) < 0.99, 120.0, 126.0),
        species=np.full(STOCK, "American oak"),
        new_oak=~malt,
        charred=np.full(STOCK, True),
        wood_use=np.where(malt, "refill", "virgin"),
        capacity_L=np.full(STOCK, 200.0),
    )
    lines = table(
        COMPONENTS,
        len(batch),
        20_000_000,
        batch=batch,
        component=names[drawn],
        kind=np.full(len(batch), "cask"),
        filled_on=filled[drawn],
        drawn_at=np.full(len(batch), "2026-02-10"),
        drawn_at_timed=np.full(len(batch), False),
        line=np.tile(np.arange(components).astype(str), batches),
        proof_gallons=np.full(len(batch), 20.0),
    )
    ids = [f"B-{number:05d}" for number in range(batches)]
    briefs = table(
        BRIEFS.frame(),
        batches,
        40_000_000,
        batch=ids,
        market=np.full(batches, MARKETS),
        claims=[CLAIMS[bool(kind)][number % 2] for number, kind in enumerate(of_malt)],
        age_statement=np.resize([None, "3 years", "2 years"], batches),
        bottling_abv=np.full(batches, 50.0),
        bottle_size_L=np.full(batches, 0.7),
        vessel=np.full(batches, "VAT-1"),
    )
    bottlings = table(
        BOTTLINGS.frame(),
        batches,
        41_000_000,
        batch=ids,
        bottled_on=np.datetime64("2026-02-11") + random.integers(0, 900, batches).astype("timedelta64[D]"),
        bottle_size_L=np.full(batches, 0.7),
        bottles=np.full(batches, 600.0),
        label_abv=np.full(batches, 50.0),
    )
    balances = table(
        BALANCES,
        batches,
        42_000_000,
        batch=ids,
        entry=np.full(batches, "gauged"),
        proof_60F=100.0 + random.normal(0, 0.1, batches),
        abv_20C=50.05 + random.normal(0, 0.05, batches),
        proof_uncertainty=np.full(batches, 0.1),
    )
    movements = MOVEMENTS.frame().empty()
    return {
        "casks": casks,
        "movements": movements,
        "components": lines,
        "briefs": briefs,
        "bottlings": bottlings,
        "balances": balances,
    }


def judged(batches: int, components: int) -> tuple[int, float, float]:
    """How many verdicts there are, the seconds they took, and the peak memory of this process [MB]."""
    with patient_collector():  # as a run of the house has it
        return judge(batches, components)


def judge(batches: int, components: int) -> tuple[int, float, float]:
    frames = house(batches, components)
    site = site_with(book_date=BOOK_DATE, data={"rules": shipped()})
    start, spent = time.perf_counter(), time.process_time()
    stays, _ = stages.follow_stays(
        *(frames[name] for name in ("components", "casks", "movements", "briefs", "bottlings"))
    )
    stages.age_of_components(stays)
    aged = time.perf_counter()
    labels, findings = stages.judge_labels(
        frames["components"],
        stays,
        frames["casks"],
        frames["briefs"],
        frames["bottlings"],
        site,
        balances=frames["balances"],
    )
    done = time.perf_counter()
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"{batches:,} batches of {components} components, {len(labels):,} verdicts, {len(findings):,} findings: "
        f"ages {aged - start:.1f} s, verdicts {done - aged:.1f} s, together {done - start:.1f} s "
        f"({time.process_time() - spent:.1f} s of one core)"
    )
    return len(labels), done - start, peak


def figures() -> Iterator[Figure]:
    """Verdicts of 20,000 batches of 50 components, in a process that does nothing else."""
    count, seconds, peak = in_a_fresh_process(judged, BATCHES, COMPONENTS_EACH)
    yield Figure(f"{count:,} label verdicts", seconds, "s", 30)
    yield Figure("  their memory", peak, "MB", 1500)
