"""When a cask leaks or disappoints: the nearest replacements, each with what it changes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from plugins import proof
from plugins.proposals.choosing.case import Case, added, draw_from, years_between
from plugins.proposals.taste.taste import Array, mixed, to_intensity, to_x

SHOWN, TRIED = 5, 10  # replacements that are told, and of how many the exact distance decides


@dataclass(frozen=True)
class Swap:
    """A cask of a choice (its number there) and one that may stand in: alcohol it gives, points that it moves, mass."""

    at: int
    other: int
    gives: float
    moved: Array
    mass: float
    distance: float


def swaps(case: Case, places: Array, draws: Array) -> dict[str, list[dict[str, Any]]]:
    """For each cask of a choice the casks that could stand in for it, nearest in taste first.

    A replacement gives the same alcohol where it holds enough, else all that it has (whole casks: all). Only
    casks that every claim and demand allows, that break no group and no share; the blend must still reach its
    strength. What whole casks add to or take from the volume is told.
    """
    keep = np.setdiff1d(case.keep, places)
    used = case.stock["ethanol_kg"].to_numpy("float64")[places] * draws
    found = [swap for at in range(len(places)) for swap in _nearest(case, places, used, keep, at)]
    told = _told(case, places, used, found)
    names = case.stock["cask"].to_numpy()
    made: dict[str, list[dict[str, Any]]] = {str(names[place]): [] for place in places}
    for swap, row in zip(found, told, strict=True):
        made[str(names[places[swap.at]])].append(row)
    return made


def _nearest(case: Case, places: Array, used: Array, keep: Array, at: int) -> list[Swap]:
    """The few of ``keep`` that can stand in for one cask and move the taste least."""
    ethanol, w = (case.stock[name].to_numpy("float64") for name in ("ethanol_kg", "mass_fraction"))
    rest = np.delete(np.arange(len(places)), at)
    fits = np.ones(len(keep), dtype=bool)
    for groups in case.groups.values():
        fits &= groups[keep] == groups[places[at]]
    others = keep[fits]
    gives = ethanol[others] if case.whole else np.minimum(ethanol[others], used[at])
    total = used[rest].sum() + gives
    mass = (used[rest] / w[places[rest]]).sum() + gives / w[others]
    fits = total / mass >= case.mass_fraction
    for row in (row for rows in case.ratios.values() for row in rows):
        kept = (row[places[rest]] * used[rest] / ethanol[places[rest]]).sum()
        fits &= kept + row[others] * gives / ethanol[others] >= -1e-9
    others, gives, total, mass = (part[fits] for part in (others, gives, total, mass))
    x, before = to_x(case.mean, case.n), _tastes(case, places, used)
    taste = to_intensity((used[rest] @ x[places[rest]] + gives[:, None] * x[others]) / total[:, None], case.n)
    after = np.clip(taste + _added(case, places[rest], used[rest], others, gives) / total[:, None] ** 2, 0.0, 10.0)
    near = np.argsort(((after - before) ** 2).sum(axis=1), kind="stable")[:TRIED]
    found = []
    for other, poured in zip(others[near], gives[near], strict=True):
        instead, now = places.copy(), used.copy()
        instead[at], now[at] = other, poured
        moved = _tastes(case, instead, now) - before
        distance = float(np.sqrt(np.mean(moved**2)))
        found.append(Swap(at, int(other), float(poured), moved, float((now / w[instead]).sum()), distance))
    names = case.stock["cask"].to_numpy()
    return sorted(found, key=lambda swap: (swap.distance, names[swap.other]))[:SHOWN]


def _tastes(case: Case, places: Array, ethanol: Array) -> Array:
    share = ethanol / ethanol.sum()
    return np.clip(mixed(share, case.mean[places], case.n) + added(case, places, share), 0.0, 10.0)


def _added(case: Case, places: Array, used: Array, others: Array, gives: Array) -> Array:
    """Points that pairs which bend add with each of the ``others``, times the square of all alcohol. (others, F)"""
    amount, own = np.zeros(len(case.stock)), np.zeros((len(case.stock), len(case.aim.families)))
    amount[places] = used
    together = np.zeros(len(case.aim.families))
    if len(case.bends.pairs):
        one, other = case.bends.pairs.T
        together = (amount[one] * amount[other]) @ case.bends.points
        np.add.at(own, one, amount[other][:, None] * case.bends.points)
        np.add.at(own, other, amount[one][:, None] * case.bends.points)
    return np.asarray(together + gives[:, None] * own[others])


def _told(case: Case, places: Array, used: Array, found: list[Swap]) -> list[dict[str, Any]]:
    """What each replacement changes, of the cask and of the batch."""
    if not found:
        return []
    stock, before = case.stock, float(used.sum())
    filled, w = stock["filled_on"], stock["mass_fraction"].to_numpy("float64")
    costly = stock["cost"].notna().to_numpy()
    others = np.array([swap.other for swap in found])
    gives, mass = (np.array([getattr(swap, name) for swap in found]) for name in ("gives", "mass"))
    total = before - used[[swap.at for swap in found]] + gives
    own = proof.quantities(gives / w[others], w[others])
    then = float(proof.proof_from_mass_fraction(before / float((used / w[places]).sum())))
    now = proof.proof_from_mass_fraction(total / mass)
    years = years_between(filled, case.due) if case.due is not None else np.full(len(stock), np.nan)
    younger = (filled.iloc[others] > filled.iloc[places].max()).to_numpy()
    rows = []
    for i, swap in enumerate(found):
        instead, poured = places.copy(), used.copy()
        instead[swap.at], poured[swap.at] = swap.other, swap.gives
        most = int(np.argmax(np.abs(swap.moved)))
        cost = [float((part * case.cost[who]).sum() / part.sum()) for part, who in ((used, places), (poured, instead))]
        rows.append(
            {
                "with": stock["cask"].iloc[swap.other],
                "distance": swap.distance,
                "moves": {case.aim.families[most]: float(swap.moved[most])},
                "volume_20C_L": float(own["volume_20C_L"][i]),
                "volume_60F_gal": float(own["volume_60F_gal"][i]),
                "before_proof_60F": then,
                "vatted_proof_60F": float(now[i]),
                "alcohol_change_percent": 100.0 * (float(poured.sum()) - before) / before,
                "younger": bool(younger[i]),
                "age_years": years[swap.other],
                "draw_from": draw_from(case, instead),
                "relative_cost_change": cost[1] - cost[0],
                "cost_known": bool(costly[swap.other] and costly[places[swap.at]]),
            }
        )
    return rows
