"""When a cask leaks or disappoints: the nearest replacements, each with what it changes."""

from __future__ import annotations

from typing import Any

import numpy as np

from plugins import proof
from plugins.proposals.choosing.case import Case, added, draw_from, years_between
from plugins.proposals.taste.taste import Array, mixed

SHOWN = 5


def swaps(case: Case, places: Array, draws: Array) -> dict[str, list[dict[str, Any]]]:
    """For each cask of a choice the casks that could stand in for it, nearest in taste first.

    A replacement gives the same alcohol where it holds enough, else all that it has (whole casks: all). Only
    casks that every claim and demand allows, that break no group and no share; the blend must still reach its
    strength. What whole casks add to or take from the volume is told.
    """
    keep = np.setdiff1d(case.keep, places)
    stock = case.stock
    ethanol, w = stock["ethanol_kg"].to_numpy("float64"), stock["mass_fraction"].to_numpy("float64")
    used = ethanol[places] * draws
    before = _tastes(case, places, used)
    names = stock["cask"].to_numpy()
    made: dict[str, list[dict[str, Any]]] = {}
    for at, place in enumerate(places):
        rows = []
        for other in keep:
            if any(groups[other] != groups[place] for groups in case.groups.values()):
                continue
            gives = float(ethanol[other]) if case.whole else float(min(ethanol[other], used[at]))
            now = used.copy()
            now[at] = gives
            mass = float((now / np.where(np.arange(len(now)) == at, w[other], w[places])).sum())
            if float(now.sum()) / mass < case.mass_fraction:
                continue
            instead = places.copy()
            instead[at] = other
            if any(float((row[instead] * now / ethanol[instead]).sum()) < -1e-9 for row in _shares(case)):
                continue
            moved = _tastes(case, instead, now) - before
            rows.append((float(np.sqrt(np.mean(moved**2))), names[other], other, moved, now, mass))
        rows.sort(key=lambda row: (row[0], row[1]))
        made[str(names[place])] = [_row(case, places, at, row, used) for row in rows[:SHOWN]]
    return made


def _tastes(case: Case, places: Array, ethanol: Array) -> Array:
    share = ethanol / ethanol.sum()
    return np.clip(mixed(share, case.mean[places], case.n) + added(case, places, share), 0.0, 10.0)


def _shares(case: Case) -> list[Array]:
    return [row for rows in case.ratios.values() for row in rows]


def _row(case: Case, places: Array, at: int, row: Any, used: Array) -> dict[str, Any]:
    """What one replacement changes, of the cask and of the batch."""
    distance, name, other, moved, now, mass = row
    stock, before = case.stock, float(used.sum())
    instead = places.copy()
    instead[at] = other
    filled = stock["filled_on"]
    most = int(np.argmax(np.abs(moved)))
    w = stock["mass_fraction"].to_numpy("float64")
    then = before / float((used / w[places]).sum())
    cost = [float((part * case.cost[who]).sum() / part.sum()) for part, who in ((used, places), (now, instead))]
    years = years_between(filled, case.due) if case.due is not None else np.full(len(stock), np.nan)
    own = proof.quantities(float(now[at]) / w[other], w[other])
    return {
        "with": name,
        "distance": distance,
        "moves": {case.aim.families[most]: float(moved[most])},
        "volume_20C_L": float(own["volume_20C_L"]),
        "volume_60F_gal": float(own["volume_60F_gal"]),
        "before_proof_60F": float(proof.proof_from_mass_fraction(then)),
        "vatted_proof_60F": float(proof.proof_from_mass_fraction(float(now.sum()) / mass)),
        "alcohol_change_percent": 100.0 * (float(now.sum()) - before) / before,
        "younger": bool(filled.iloc[other] > filled.iloc[places].max()),
        "age_years": years[other],
        "draw_from": draw_from(case, instead),
        "relative_cost_change": cost[1] - cost[0],
        "cost_known": bool(stock["cost"].iloc[[other, places[at]]].notna().all()),
    }
