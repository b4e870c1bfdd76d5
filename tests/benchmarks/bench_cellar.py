"""The cellar's stages on 10,000 casks with 1 to 20 gauges. Run: python -m tests.benchmarks.bench_cellar.

Beside it what a plain loop of one least-squares line a cask costs in the same run; then how often 95 % intervals hold
the hidden truth, and how often a planted loss is told, with the honest casks told by mistake.
"""

from __future__ import annotations

import time

import numpy as np

from pipeline.testing import site_with
from plugins.cellar.accounts.ledger import lines, months
from plugins.cellar.rates import forecasts
from tests.cellar.house import BOOK_DATE, rates_of, simulate
from tests.cellar.test_ledger import postings
from tests.cellar.test_rates import LOSS, rates, share_within, with_leak

SITE = site_with({}, book_date=BOOK_DATE)


def fitted() -> None:
    made = simulate(0, casks=10_000, gauges=(0, 19))
    start = time.perf_counter()
    found, _ = rates_of(made.histories, made.fillings, SITE)
    forecasts.reckon_contents(found, made.fillings, made.histories, SITE)
    ahead = forecasts.forecast_casks(found, made.fillings, made.histories, SITE)
    forecasts.look_out(found, made.fillings, made.histories, SITE)
    ours = time.perf_counter() - start
    start = time.perf_counter()
    for _, own in made.histories.groupby("cask"):
        if len(own) > 1:
            days = (own["at"] - own["at"].iloc[0]).dt.days.to_numpy(float)
            np.polyfit(days, np.log(own["volume_20C_L"].to_numpy()), 1)
    loop = time.perf_counter() - start
    print(
        f"10,000 casks, {len(made.histories)} gauges: rates, house curve, {len(ahead)} forecasts, dates: {ours:.2f} s"
    )
    print(f"a loop of np.polyfit over the casks' volumes alone: {loop:.2f} s; ratio {ours / loop:.2f}")


def booked() -> None:
    rng = np.random.default_rng(0)
    rows = [
        {"holder": int(h), "day": int(d), "finds": True, "pg": float(v), "entry": "", "spirit": f"S{h % 5}"}
        for h, d, v in zip(
            rng.integers(0, 10_000, 60_000), rng.integers(0, 3650, 60_000), rng.uniform(0, 60, 60_000), strict=True
        )
    ]
    given = postings(rows)
    start = time.perf_counter()
    totals = months(lines(given).assign(gauged=0.0))
    print(f"60,000 postings of 10,000 holders into {len(totals)} month totals: {time.perf_counter() - start:.2f} s")


def held(stocks: int = 40, casks: int = 300) -> None:
    """Coverage, and detection of a single loss by its size; every figure with the number of cases behind it."""
    parts: list[list[float]] = []
    for seed in range(stocks):
        made = simulate(seed, casks=casks)
        found, _ = rates_of(made.histories, made.fillings, SITE)
        now = forecasts.reckon_contents(found, made.fillings, made.histories, SITE)
        parts.append(
            [
                share_within(found["loss_percent_per_year_low"], 100 * made.loss, found["loss_percent_per_year_high"]),
                share_within(found["strength_per_year_low"], made.change, found["strength_per_year_high"]),
                share_within(now["volume_20C_L_low"], np.exp(made.log_now), now["volume_20C_L_high"]),
                share_within(now["proof_60F_low"], made.proof_now, now["proof_60F_high"]),
            ]
        )
    means, spread = np.mean(parts, axis=0), np.std(parts, axis=0) / np.sqrt(stocks)
    for name, mean, off in zip(
        ("loss", "change of strength", "content now", "strength now"), means, spread, strict=True
    ):
        print(f"95 % intervals of {name} hold {100 * mean:.1f} ± {196 * off:.1f} in 100 ({stocks * casks} casks)")
    for share in (0.0, 0.05, 0.10, 0.15, 0.20, 0.30):
        told = leaks = honest = intervals = 0
        for seed in range(10):
            made = simulate(seed, casks=casks, gauges=(1, 2))
            picked = np.arange(0, casks, 30)
            names = set(made.fillings["cask"].iloc[picked])
            named = {one.subject for one in rates(with_leak(made, picked, share))[1] if one.code == LOSS}
            told, leaks = told + len(named & names), leaks + len(names)
            honest, intervals = honest + len(named - names), intervals + len(made.histories) - len(made.fillings)
        beside = f"others told: {honest} of {intervals} intervals"
        print(f"{100 * share:.0f} % lost beyond evaporation: {told} of {leaks} told; {beside}")


if __name__ == "__main__":
    fitted()
    booked()
    held()
