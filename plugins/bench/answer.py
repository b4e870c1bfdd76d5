"""From one flight to its answers, as rows: against the best single, in order, against the standard, and the noise."""

from __future__ import annotations

from typing import Any

import numpy as np

from plugins.bench import compare, ranking
from plugins.bench.flights import SINGLE, STANDARD, TRIAL, Flight
from plugins.bench.match import match

Row = dict[str, Any]
BETTER, WORSE, NOT_SHOWN = "better", "worse", "not shown either way"
MARGIN = 1.0  # points within which a trial matches its standard (a setting)


def against_singles(flight: Flight, made_of: dict[str, set[str]]) -> list[Row]:
    """Each trial against its best single component: the one named before tasting, else the one that did best.

    The choice is paid for: probabilities are adjusted (Holm) over all trials against the named one, or over all
    pairs of a trial and one of its single components.
    """
    named = [sample for sample in flight.samples(SINGLE) if flight.glass(sample).named]
    pairs = []
    for trial in flight.samples(TRIAL):
        parts = made_of.get(trial, set())
        own = named or [s for s in flight.samples(SINGLE) if {s, flight.glass(s).origin, *made_of.get(s, ())} & parts]
        pairs += [(trial, single, _pair(flight, trial, single)) for single in own]
    adjusted = compare.holm([pair.p for _, _, pair in pairs])
    rows = []
    for trial in flight.samples(TRIAL):
        mine = [(at, single) for at, (name, single, pair) in enumerate(pairs) if name == trial and pair.of + pair.ties]
        if not mine:
            continue
        at, single = min(mine, key=lambda item: (_merit(pairs[item[0]][2]), item[1]))
        rows.append(_row(flight, trial, single, pairs[at][2], adjusted[at], bool(named)))
    return rows


def _pair(flight: Flight, one: str, other: str) -> compare.Pair:
    return compare.compare(flight.preferences(one, other), flight.differences(flight.scores, one, other))


def _merit(pair: compare.Pair) -> tuple[float, float]:
    """The less a trial is preferred to it, the better is the single."""
    return (pair.preferred + 0.5 * pair.ties) / (pair.of + pair.ties), np.nan_to_num(pair.difference)


def _row(flight: Flight, trial: str, single: str, pair: compare.Pair, p: float, named: bool) -> Row:
    shown = p <= compare.RISK and pair.preferred != pair.of - pair.preferred
    verdict = NOT_SHOWN if not shown else BETTER if pair.preferred > pair.of - pair.preferred else WORSE
    return {
        "batch": flight.batch, "flight": flight.name, "trial": flight.spelled(trial),
        "against": flight.spelled(single), "named": named, "preferred": pair.preferred, "of": pair.of,
        "ties": pair.ties, "p": pair.p, "p_corrected": p, "low": pair.low, "high": pair.high,
        "difference": pair.difference, "difference_low": pair.difference_low, "difference_high": pair.difference_high,
        "p_score": pair.p_score, "verdict": verdict, "facts": flight.facts,
        "to_settle": None if shown else compare.tasters_to_settle(pair.preferred, pair.of),
    }  # fmt: skip


def in_order(flight: Flight) -> list[Row]:
    """The samples of a flight by Bradley and Terry's strength, with intervals; two glasses of one count as one."""
    samples = list(dict.fromkeys(glass.sample for glass in flight.glasses))
    whole = flight.order()
    places = np.column_stack([flight.of(whole, sample) for sample in samples])
    places = places[(~np.isnan(places)).sum(axis=1) >= 2]
    if len(samples) < 2 or not len(places):
        return []
    chance = ranking.friedman(places)
    found = ranking.strengths(ranking.wins_of(places))
    order = np.argsort(-found.strength, kind="stable")
    rows = []
    for rank, at in enumerate(order, start=1):
        odds, error = found.against(int(order[0]), int(at))
        spread = float(np.sqrt(max(found.covariance[at, at], 0.0)))
        ends = [float(found.strength[at]) + sign * 1.959963984540054 * spread for sign in (0.0, -1.0, 1.0)]
        wins, low, high = (1.0 / (1.0 + np.exp(-end)) for end in ends)
        rows.append({
            "batch": flight.batch, "flight": flight.name, "sample": flight.spelled(samples[at]),
            "role": flight.glass(samples[at]).role, "rank": rank, "wins": wins, "low": low, "high": high,
            "with_first": bool(odds <= 1.959963984540054 * error), "tasters": len(places),
            "friedman_p": chance.p, "kendall_w": chance.w, "method": chance.method, "facts": flight.facts,
        })  # fmt: skip
    return rows


def noise_of(flight: Flight) -> list[Row]:
    """How far apart tasters put two glasses of the same."""
    rows = []
    order = flight.order()
    for sample in dict.fromkeys(glass.sample for glass in flight.glasses if glass.again == 2):
        one, other = flight.at(sample)[:2]
        apart, by_lot, placed = ranking.apart(order, one, other)
        scored = flight.scores[:, one] - flight.scores[:, other]
        scored = scored[~np.isnan(scored)]
        both = int((~np.isnan(order[:, one]) & ~np.isnan(order[:, other])).sum())
        rows.append({
            "batch": flight.batch, "flight": flight.name, "sample": flight.spelled(sample),
            "tasters": max(placed, both), "places_apart": apart, "by_lot": by_lot,
            "score_spread": float(np.sqrt((scored**2).mean() / 2.0)) if len(scored) else float("nan"),
            "facts": flight.facts,
        })  # fmt: skip
    return rows


def against_standard(flight: Flight, noise: dict[str, tuple[float, int]], margin: float = MARGIN) -> list[Row]:
    """Each trial against the standard of the flight, family by family and in score; ``noise`` by family."""
    rows = []
    for standard in flight.samples(STANDARD)[:1]:
        tables = {**flight.values, "score": flight.scores}
        for trial in flight.samples(TRIAL):
            for family, table in tables.items():
                found = match(flight.differences(table, trial, standard), margin, *noise.get(family, (np.nan, 0)))
                if not found.tasters:
                    continue
                rows.append({
                    "batch": flight.batch, "flight": flight.name, "trial": flight.spelled(trial),
                    "standard": flight.spelled(standard), "family": family, "difference": found.difference,
                    "low": found.low, "high": found.high, "tasters": found.tasters, "verdict": found.verdict,
                    "facts": flight.facts,
                })  # fmt: skip
    return rows
