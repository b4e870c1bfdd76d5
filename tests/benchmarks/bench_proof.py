"""One million hydrometer corrections, vectorised, against a root finder applied row by row.

Run it from the repository: ``python -m tests.benchmarks.bench_proof``. Readings of 0 to 200 proof at -20 to
40 °C, glass included. It prints the rates (medians) of both in this one run, their ratio, how far they differ,
whether both find no strength for the same readings, and the time of the stage on 100,000 readings.
"""

from __future__ import annotations

import statistics
import time

import numpy as np
import pandas as pd
from scipy.optimize import brentq

from pipeline.testing import site_with
from plugins.proof import T_60F, density, proof_from_mass_fraction, read_strength
from plugins.proof.alcoholometry.instruments import GLASS_PER_K
from plugins.proof.alcoholometry.oiml_r22 import A, B, C
from plugins.proof.declared.kinds import INSTRUMENTS, READINGS, VESSELS
from plugins.proof.gauging.correct import correct_proof

CORRECTIONS, SAMPLE, STAGE_ROWS, REPEATS = 1_000_000, 2_000, 100_000, 5


def term_by_term(p: float, t: float) -> float:
    """The formula in plain Python, by Horner's scheme."""
    tau = t - 20.0
    total = 0.0
    for power in range(len(A) - 1, 0, -1):
        mixing = 0.0
        for row in C[::-1]:
            mixing = (mixing + (row[power - 1] if len(row) >= power else 0.0)) * tau
        total = (total + A[power] + mixing) * p
    water = 0.0
    for b in B[::-1]:
        water = (water + b) * tau
    return total + A[0] + water


def row_by_row(row: pd.Series) -> float:
    """True proof of one reading with two root searches; NaN where no mixture fits."""
    ethanol = term_by_term(1.0, T_60F)
    mark = brentq(lambda w: 200 * w * term_by_term(w, T_60F) / ethanol - row["reading"], 0.0, 1.0, xtol=1e-13)
    jar = row["temperature"]
    rho = term_by_term(mark, T_60F) / (1 + GLASS_PER_K * (jar - T_60F))
    if not term_by_term(1.0, jar) <= rho <= term_by_term(0.0, jar):
        return float("nan")
    w = brentq(lambda w: term_by_term(w, jar) - rho, 0.0, 1.0, xtol=1e-13)
    return 200 * w * term_by_term(w, T_60F) / ethanol


def main() -> None:
    rng = np.random.default_rng(2)
    reading, temperature = rng.uniform(0.0, 200.0, CORRECTIONS), rng.uniform(-20.0, 40.0, CORRECTIONS)
    density(0.5, 20.0), read_strength(100.0, "proof", 20.0)
    seconds = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        vectorised = proof_from_mass_fraction(read_strength(reading, "proof", temperature))
        seconds.append(time.perf_counter() - start)
    fast = CORRECTIONS / statistics.median(seconds)
    sample = pd.DataFrame({"reading": reading[:SAMPLE], "temperature": temperature[:SAMPLE]})
    start = time.perf_counter()
    slow_proof = sample.apply(row_by_row, axis=1)
    slow = SAMPLE / (time.perf_counter() - start)
    print(f"vectorised {fast:,.0f}/s, brentq by DataFrame.apply {slow:,.0f}/s, ratio {fast / slow:,.0f}")
    apart = np.abs(vectorised[:SAMPLE] - slow_proof.to_numpy())
    none = np.isnan(vectorised[:SAMPLE]), slow_proof.isna().to_numpy()
    print(f"largest difference {np.nanmax(apart):.2g} proof")
    print(f"{none[0].sum()} of {SAMPLE:,} have no strength; the two disagree on {(none[0] != none[1]).sum()}")
    found = ~np.isnan(vectorised)
    usual = (found & (reading > 60.0)).nonzero()[0][:STAGE_ROWS]
    stage = statistics.median(_stage(reading[usual], temperature[usual]) for _ in range(REPEATS))
    print(f"stage on {STAGE_ROWS:,} readings {stage:.2f} s")


def _stage(reading: np.ndarray, temperature: np.ndarray) -> float:
    columns = {
        "vessel": [f"C-{number:06d}" for number in range(STAGE_ROWS)],
        "taken_at": np.datetime64("2026-03-02", "us") + np.arange(STAGE_ROWS).astype("timedelta64[m]"),
        "taken_at_timed": [True] * STAGE_ROWS,
        "reading": reading[:STAGE_ROWS],
        "temperature_degC": temperature[:STAGE_ROWS],
        "instrument": ["H-2"] * STAGE_ROWS,
    }
    readings = READINGS.frame().build(columns, [(fact,) for fact in range(STAGE_ROWS)])
    start = time.perf_counter()
    proofs, _ = correct_proof(readings, INSTRUMENTS.frame().empty(), VESSELS.frame().empty(), site_with())
    assert len(proofs) == STAGE_ROWS
    return time.perf_counter() - start


if __name__ == "__main__":
    main()
