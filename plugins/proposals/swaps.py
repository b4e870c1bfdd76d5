"""When a cask leaks or disappoints: the nearest replacements, each with what it changes."""

from __future__ import annotations

from typing import Any

import numpy as np

from plugins import proof
from plugins.proposals.case import Case
from plugins.proposals.taste import Array, mixed

SHOWN = 5


def swaps(case: Case, places: Array, draws: Array) -> dict[str, list[dict[str, Any]]]:
    """For each cask of a choice the casks that could stand in for it, nearest in taste first.

    A replacement gives the same alcohol where it holds enough, else all that it has (whole casks: all). Only
    casks that every demand allows and that break no group; the blend must still reach its strength.
    """
    keep = np.setdiff1d(case.keep, places)
    stock = case.stock
    ethanol, w = stock["ethanol_kg"].to_numpy("float64"), stock["mass_fraction"].to_numpy("float64")
    used = ethanol[places] * draws
    before = mixed(used / used.sum(), case.mean[places], case.n)
    oldest = stock["filled_on"].iloc[places].max()
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
            tastes = case.mean[places].copy()
            tastes[at] = case.mean[other]
            moved = mixed(now / now.sum(), tastes, case.n) - before
            rows.append((float(np.sqrt(np.mean(moved**2))), names[other], other, moved, now, mass))
        rows.sort(key=lambda row: (row[0], row[1]))
        made[str(names[place])] = [_row(case, place, row, used, oldest) for row in rows[:SHOWN]]
    return made


def _row(case: Case, place: int, row: Any, used: Array, youngest: Any) -> dict[str, Any]:
    distance, name, other, moved, now, mass = row
    filled = case.stock["filled_on"].iloc[other]
    most = int(np.argmax(np.abs(moved)))
    before = float(used.sum())
    return {
        "with": name,
        "distance": distance,
        "moves": {case.aim.families[most]: float(moved[most])},
        "vatted_proof_60F": float(proof.proof_from_mass_fraction(float(now.sum()) / mass)),
        "alcohol_change_percent": 100.0 * (float(now.sum()) - before) / before,
        "younger": bool(filled > youngest),
        "relative_cost_change": float(case.cost[other] - case.cost[place]),
    }
