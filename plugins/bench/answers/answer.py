"""From one flight to its answers, as rows: against the best single, in order, against the standard, and the noise."""

from __future__ import annotations

from typing import Any

import numpy as np

from plugins.bench.answers import compare, ranking
from plugins.bench.answers.flights import SINGLE, STANDARD, TRIAL, Flight, fold
from plugins.bench.answers.match import match

Row = dict[str, Any]
BETTER, WORSE, NOT_SHOWN = "better", "worse", "not shown either way"
TOGETHER = "all flights"
MARGIN = 1.0  # points within which a trial matches its standard (a setting)


def against_singles(flights: list[Flight], made_of: dict[str, set[str]]) -> list[Row]:
    """Each trial against its best single component, flight by flight; last over all flights, where there are several.

    The single is the one named before tasting, else the one that did best. The choice is paid for: probabilities are
    adjusted (Holm) over all trials against the named one, or over all pairs of a trial and one of its components.
    """
    groups: dict[str, list[Flight]] = {}
    for flight in flights:
        groups.setdefault(flight.batch, []).append(flight)
    rows = []
    for own in groups.values():
        for flight in own:
            rows += _against([flight], made_of)
        both = [row["trial"] for row in rows if row["batch"] == own[0].batch]
        if len(both) > len(set(both)):
            rows += _against(own, made_of)
    return rows


def _against(flights: list[Flight], made_of: dict[str, set[str]]) -> list[Row]:
    found: dict[tuple[str, str], bool] = {}
    for flight in flights:
        for trial, single, named in _pairs(flight, made_of):
            found[trial, single] = named or found.get((trial, single), False)
    pairs = [(trial, single, named, _pair(flights, trial, single)) for (trial, single), named in found.items()]
    adjusted = compare.holm([pair.p for *_, pair in pairs])
    rows = []
    for trial in dict.fromkeys(trial for trial, *_ in pairs):
        own = [at for at, (name, _, _, pair) in enumerate(pairs) if name == trial and pair.of + pair.ties]
        if own:
            at = min(own, key=lambda place: (_merit(pairs[place][3]), pairs[place][1]))
            rows.append(_row(flights, *pairs[at], adjusted[at]))
    return rows


def _pairs(flight: Flight, made_of: dict[str, set[str]]) -> list[tuple[str, str, bool]]:
    """Trials of a flight with the singles that each is held against, and whether these were named before tasting."""
    singles = flight.samples(SINGLE)
    named = [sample for sample in singles if flight.glass(sample).named]
    made = []
    for trial in flight.samples(TRIAL):
        parts = made_of.get(trial, set())
        own = named or [s for s in singles if {s, flight.glass(s).origin, *made_of.get(s, ())} & parts]
        made += [(trial, single, bool(named)) for single in own]
    return made


def _pair(flights: list[Flight], one: str, other: str) -> compare.Pair:
    """Each taster counts once, over all flights in which both stood: by the sum of his choices."""
    choices: dict[str, list[float]] = {}
    scores: dict[str, list[float]] = {}
    for flight in flights:
        if not flight.at(one) or not flight.at(other):
            continue
        scored = flight.of(flight.scores, one) - flight.of(flight.scores, other)
        for taster, choice, score in zip(flight.tasters, flight.preferences(one, other), scored, strict=True):
            if not np.isnan(choice):
                choices.setdefault(fold(taster), []).append(float(np.sign(choice)))
            if not np.isnan(score):
                scores.setdefault(fold(taster), []).append(float(score))
    return compare.compare(
        np.array([sum(own) for own in choices.values()]), np.array([np.mean(own) for own in scores.values()])
    )


def _merit(pair: compare.Pair) -> tuple[float, float]:
    """The less a trial is preferred to it, the better is the single."""
    return (pair.preferred + 0.5 * pair.ties) / (pair.of + pair.ties), np.nan_to_num(pair.difference)


def _row(flights: list[Flight], trial: str, single: str, named: bool, pair: compare.Pair, p: float) -> Row:
    both = [flight for flight in flights if flight.at(trial) and flight.at(single)]
    shown = p <= compare.RISK and pair.preferred != pair.of - pair.preferred
    verdict = NOT_SHOWN if not shown else BETTER if pair.preferred > pair.of - pair.preferred else WORSE
    return {
        "batch": flights[0].batch, "flight": flights[0].name if len(flights) == 1 else TOGETHER,
        "trial": both[0].spelled(trial), "against": both[0].spelled(single), "named": named,
        "preferred": pair.preferred, "of": pair.of, "ties": pair.ties, "p": pair.p, "p_corrected": p,
        "low": pair.low, "high": pair.high,
        "difference": pair.difference, "difference_low": pair.difference_low, "difference_high": pair.difference_high,
        "p_score": pair.p_score, "verdict": verdict,
        "facts": tuple(sorted({fact for flight in both for fact in flight.facts})),
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
            "last_at": flight.when,
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
    """Each trial against the standard of the flight: family by family, in score, and in the difference from the

    named standard as it was rated, less that of the standard served blind; ``noise`` by family.
    """
    rows = []
    for standard in flight.samples(STANDARD)[:1]:
        tables = {**flight.values, "score": flight.scores, "rated difference": flight.rated}
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
