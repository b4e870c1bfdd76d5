"""proposals.json: what was found, as plain data with the units in the names; numbers of 12 significant digits."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd

from plugins import proof
from plugins.proposals.choosing.case import Case, added, draw_from, years_between
from plugins.proposals.choosing.conflicts import conflicts
from plugins.proposals.choosing.plans import Plan, propose
from plugins.proposals.choosing.runway import runway
from plugins.proposals.choosing.swaps import swaps
from plugins.proposals.taste.taste import Array, interval, masked, mixed

SCHEMA = "vatting.proposals/1"
BRINGS, NOTICED = 3, 0.2  # families that are told of a component, and points below which nobody notices
NOTHING_FOUND = "The bounded search found nothing that can be poured, and did not prove that there is nothing."
Row = dict[str, Any]


def document(
    case: Case,
    left_out: list[Row],
    errors: dict[str, Row],
    stock: list[Row] | None = None,
    progress: Callable[[str], None] = lambda _: None,
) -> Row:
    """The proposals of a case.

    ``errors``: by family what trials left out of the fit say of the law; ``stock``: what the casks held.
    """
    plans, clock = propose(case, progress)
    progress(f"{case.batch}: what conflicts" if not plans else f"{case.batch}: swaps and runway")
    against = [] if plans else conflicts(case)
    made = [_proposal(case, plan, letter, errors) for plan, letter in zip(plans, "ABCDEFGHIJ", strict=False)]
    return {
        "schema": SCHEMA,
        "batch": case.batch,
        "issue": case.issue,
        "status": "proposed" if plans else "infeasible",
        "brief": brief(case),
        "proposals": made,
        "why_fewer": why_fewer(case, plans, bool(against)),
        "conflicts": against,
        "left_out": left_out + _barred(case),
        "runway": runway(case) if plans else [],
        "law": [_law(case, at, errors) for at in range(len(case.aim.families))],
        "repeatable": not clock.ended,
        "stock": stock or [],
        "search": {"nodes": case.settings["nodes"], "casks": int(len(case.keep)), "objective": _objective(case)},
    }


def bytes_of(data: Any) -> bytes:
    """JSON, UTF-8, LF; equal data give equal bytes."""
    return (json.dumps(_plain(data), ensure_ascii=False, indent=2, allow_nan=False) + "\n").encode()


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {str(key): _plain(inner) for key, inner in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(inner) for inner in value]
    if value is None or isinstance(value, (str, bool)):
        return value
    if isinstance(value, (np.bool_, np.integer)):
        return value.item()
    if isinstance(value, int):
        return value
    number = float(value)
    return float(f"{number:.12g}") + 0.0 if math.isfinite(number) else None


def brief(case: Case) -> Row:
    return {
        "demands": [{"demand": item.name, "value": item.value} for item in case.demands],
        "target": case.aim.source,
        "due": None if case.due is None else case.due.strftime("%Y-%m-%d"),
        "volume_20C_L": proof.quantities(case.ethanol_kg / case.mass_fraction, case.mass_fraction)["volume_20C_L"],
        "proof_60F": proof.proof_from_mass_fraction(case.mass_fraction),
        "abv_20C": proof.abv_from_mass_fraction(case.mass_fraction),
        "bottle_size_L": case.bottle_L,
    }


def _objective(case: Case) -> str:
    prices = case.prices
    return (
        "weighted mean of points beyond the dead band"
        f" + {prices.cask:g} per cask + {prices.scarce:g} x scarce share + {prices.cost:g} x relative cost"
    )


def why_fewer(case: Case, plans: list[Plan], conflicting: bool) -> str:
    wanted = case.settings["proposals"]
    if not plans:
        return "" if conflicting else NOTHING_FOUND
    if len(plans) >= wanted:
        return ""
    count = {1: "one", 2: "two", 3: "three", 4: "four"}.get(len(plans), str(len(plans)))
    return (
        f"Only {count}: no other choice of the {len(case.keep)} casks that the demands leave was found that keeps them"
        " and differs by a quarter of its casks."
    )


def draws_of(case: Case, plan: Plan) -> tuple[Array, Array]:
    """Places among the candidates and draws."""
    used = np.flatnonzero(plan.draws > 1e-9)
    draws = plan.draws[used]
    return case.keep[used], np.where(draws < 1.0 - 1e-6, draws, 1.0)


def _proposal(case: Case, plan: Plan, letter: str, errors: dict[str, Row]) -> Row:
    places, draws = draws_of(case, plan)
    stock = case.stock.iloc[places]
    mass = stock["mass_kg"].to_numpy("float64") * draws
    w = stock["mass_fraction"].to_numpy("float64")
    ethanol = mass * w
    amounts = proof.quantities(mass, w)
    share = ethanol / ethanol.sum()
    total, alcohol = float(mass.sum()), float(ethanol.sum())
    water = max(alcohol / case.mass_fraction - total, 0.0)
    order = np.lexsort((stock["cask"].to_numpy(), -share))
    parts = [
        {
            "component": stock["cask"].iloc[at], "share": share[at], "volume_60F_gal": amounts["volume_60F_gal"][at],
            "volume_20C_L": amounts["volume_20C_L"][at], "mass_kg": mass[at],
            "proof_60F": amounts["proof_60F"][at], "abv_20C": amounts["abv_20C"][at],
            "whole": bool(draws[at] >= 1.0), "spirit": _text(stock["spirit"].iloc[at]),
            "filled_on": _day(stock["filled_on"].iloc[at]), "location": _text(stock["location"].iloc[at]),
            "brings": brings(case, places, share, int(at)),
        }
        for at in order
    ]  # fmt: skip
    expected = _entry(total + water, alcohol, mass, w, stock)
    profile, beyond = _profile(case, places, share, errors)
    return {
        "id": f"{case.batch}-P{case.issue}{letter}",
        "aim": "; ".join(plan.aims),
        "components": parts,
        "water": _water(water),
        "expected": expected,
        "vatted": _entry(total, alcohol, mass, w, stock),
        "profile": profile,
        "distance": beyond,
        "gap": plan.gap,
        "bent": bool(len(plan.problem.pairs)),
        "proved": plan.proved,
        "leads": _leads(profile),
        "masked": masked(list(profile), np.array([item["mean"] for item in profile.values()])),
        "unsure": [family for family in profile if not profile[family]["evidence"]],
        "age": _age(case, stock),
        "draw_from": draw_from(case, places),
        "label": [
            {"claim": d.name, "verdict": "met", "shares": case.asked.get(d.name, [])}
            for d in case.demands
            if d.name in case.met_from or d.name in case.ratios
        ],
        "bottles": int(math.floor(expected["volume_20C_L"] / case.bottle_L + 1e-9)) if case.bottle_L > 0 else None,
        "relative_cost": float((share * case.cost[places]).sum()),
        "cost_known": bool(stock["cost"].notna().all()),
        "scarce": float((share * case.scarce[places]).sum()),
        "swaps": swaps(case, places, draws),
        "faults": [
            {"component": case.stock["cask"].iloc[place], "off_notes": case.off_notes[place]}
            for place in places[np.argsort(-case.off_notes[places], kind="stable")]
            if case.off_notes[place] > 0.0
        ]
        if len(case.off_notes)
        else [],
    }


def brings(case: Case, places: Array, share: Array, at: int) -> list[Row]:
    """What one component does: by how much the blend would taste otherwise without it, the others in their ratio.

    The families that it moves most, in points, by the law alone; low and high go by the component's own interval.
    """
    if len(places) < 2 or share[at] >= 1.0:
        return []
    rest = np.delete(share, at) / (1.0 - share[at])
    left = mixed(rest, np.delete(case.mean[places], at, axis=0), case.n)
    ends = []
    for own in (case.mean, case.low, case.high):
        tastes = case.mean[places].copy()
        tastes[at] = own[places[at]]
        ends.append(mixed(share, tastes, case.n) - left)
    change, low, high = ends
    order = [place for place in np.argsort(-np.abs(change), kind="stable")[:BRINGS] if abs(change[place]) >= NOTICED]
    return [
        {"family": case.aim.families[place], "points": change[place], "low": low[place], "high": high[place]}
        for place in order
    ]


def _water(mass: float) -> Row:
    found = proof.quantities(mass, 0.0)
    return {"mass_kg": mass, "volume_60F_gal": found["volume_60F_gal"], "volume_20C_L": found["volume_20C_L"]}


def _entry(mass_kg: float, ethanol_kg: float, parts: Array, w: Array, stock: pd.DataFrame) -> Row:
    """A balance entry, with what the casks' contents leave unsure; strengths as gauged."""
    made = {name: float(value) for name, value in proof.quantities(mass_kg, ethanol_kg / mass_kg).items()}
    percent = stock["content_percent"].to_numpy("float64") / 100.0
    made["proof_gallons_official"] = float(proof.official_proof_gallons(made["volume_60F_gal"], made["proof_60F"]))
    made["uncertainty"] = {  # type: ignore[assignment]
        "mass_kg": float(np.sqrt(((parts * percent) ** 2).sum())) * mass_kg / float(parts.sum()),
        "ethanol_kg": float(np.sqrt(((parts * w * percent) ** 2).sum())),
        "proof_60F": None,
    }
    return {"mass_kg": mass_kg, **made}


def _profile(case: Case, places: Array, share: Array, errors: dict[str, Row]) -> tuple[dict[str, Row], float]:
    """What a choice should taste of: the law, what pairs add, and the error of trials left out; deviation."""
    mean, low, high = case.mean[places], case.low[places], case.high[places]
    extra = added(case, places, share)
    middle = np.clip(mixed(share, mean, case.n) + extra, 0.0, 10.0)
    bottom, top = (np.clip(end + extra, 0.0, 10.0) for end in interval(share, mean, low, high, case.exponents))
    beyond = np.maximum(middle - case.aim.high, 0.0) + np.maximum(case.aim.low - middle, 0.0)
    rows = {
        family: {
            "mean": middle[at], "low": bottom[at], "high": top[at], "target": case.aim.target[at],
            "band_low": case.aim.low[at], "band_high": case.aim.high[at], "pairs_add": extra[at],
            "error_left_out": errors.get(family, {}).get("error_left_out"),
            "evidence": bool(case.evidence.get(family)),
        }
        for at, family in enumerate(case.aim.families)
    }  # fmt: skip
    return rows, float((beyond * case.aim.weight).sum() / case.aim.weight.sum())


def held_at_issue(stock: pd.DataFrame) -> list[Row]:
    """What each cask of known content held, for what is scaled from this issue later."""
    known = stock[stock["mass_kg"].gt(0.0) & stock["mass_fraction"].notna()]
    return [
        {"component": name, "mass_kg": mass, "mass_fraction": w}
        for name, mass, w in zip(known["cask"], known["mass_kg"], known["mass_fraction"], strict=True)
    ]


def _leads(profile: dict[str, Row]) -> list[str]:
    return sorted(profile, key=lambda family: (-profile[family]["mean"], family))[:4]


def _age(case: Case, stock: pd.DataFrame) -> Row:
    """The youngest by filling date, at the due date; the law of ages is the label plugin's."""
    youngest = stock["filled_on"].max()
    if case.due is None or stock["filled_on"].isna().any():
        return {"youngest_component": None, "years": None, "filled_on": None}
    at = int(np.argmax(stock["filled_on"].to_numpy()))
    years = years_between(stock["filled_on"].iloc[[at]], case.due)[0]
    return {"youngest_component": stock["cask"].iloc[at], "years": int(years), "filled_on": _day(youngest)}


def _barred(case: Case) -> list[Row]:
    """Free casks that a demand rules out, with the first demand that does."""
    rows = []
    for at, cask in enumerate(case.stock["cask"]):
        reasons = [name for name, barred in case.barred.items() if barred[at]]
        if reasons:
            rows.append({"component": cask, "reason": f"does not answer: {', '.join(reasons)}"})
    return rows


def _law(case: Case, at: int, errors: dict[str, Row]) -> Row:
    family, rule = case.aim.families[at], case.exponents[at]
    known = errors.get(family, {})
    return {
        "family": family, "n": rule.n, "low": rule.low, "high": rule.high, "source": rule.source,
        "trials": known.get("trials", 0), "error_left_out": known.get("error_left_out"),
        "naive_error": known.get("naive_error"),
    }  # fmt: skip


def _day(value: Any) -> str | None:
    return None if pd.isna(value) else value.strftime("%Y-%m-%d")


def _text(value: Any) -> str | None:
    return None if pd.isna(value) else str(value)
