"""What a recipe of one's own would be: taste, strength, amounts, age, claims, and how far from target and proposals."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pandas as pd

from plugins import proof
from plugins.proposals.briefs.gather import evident, exponents_of, gather, settings_of, tastes
from plugins.proposals.choosing.case import Case, added, years_between
from plugins.proposals.stock.recipes import Recipe
from plugins.proposals.stock.stock import folded
from plugins.proposals.taste.moves import cox
from plugins.proposals.taste.off_notes import may_exceed
from plugins.proposals.taste.taste import Array, interval, mixed
from plugins.proposals.taste.taste_stages import whole_profiles

Frames = dict[str, Any]
Row = dict[str, Any]
POINT, SHOWN = 0.01, 3


class CannotTell(ValueError):
    """Why nothing can be said of a recipe, in words."""


def taste_of(recipe: Recipe, frames: Frames, site: Any, batch: str = "") -> Row:
    """The answer as plain data. ``frames``: what the book says; ``batch``: whose brief it is held against.

    Raises CannotTell where a cask has no strength, or the batch no complete brief.
    """
    rows = frames["stock"].set_index(folded(frames["stock"]["cask"]).to_numpy())
    rows = rows.loc[list(folded(pd.Series(list(recipe.parts))))].reset_index(drop=True)
    litres = np.array(list(recipe.parts.values()))
    w = rows["mass_fraction"].to_numpy("float64")
    for cask in rows["cask"][np.isnan(w)]:
        raise CannotTell(f"{cask} has no strength; drop a reading of it, or an inventory that states it.")
    mass = proof.mass_from_volume(litres, w, proof.T_20C)
    share = mass * w / (mass * w).sum()
    case = _case(batch, frames, site) if batch else None
    made: Row = {
        "recipe": recipe.parts,
        "batch": batch or None,
        "vatted": _strength(float(mass.sum()), float((mass * w).sum())),
        "faults": rows["cask"][may_exceed(frames["profiles"], rows["cask"], 0.0)].tolist(),
        "untasted": rows["cask"][~rows["tasted"].to_numpy(dtype=bool)].tolist(),
        "casks": _casks(rows, litres, mass, w, share, case),
        "age": _age(rows, case, site),
        "cost": _cost(rows, share),
    }
    made |= _tasted(rows, share, frames, site, case)
    if case is not None:
        made |= {"bottling": _bottling(case, mass, w, litres, rows)}
        made |= {"claims": _claims(case, frames, rows), "proposals": _beside(batch, frames, made["profile"])}
    return made


def _case(batch: str, frames: Frames, site: Any) -> Case:
    due = frames["proposals_due"]
    known = due.loc[(folded(due["batch"]) == batch.strip().casefold()) & due["open"].astype(bool), "batch"]
    if not len(known):
        raise CannotTell(f"{batch} has no open, complete brief that names a target; drop one, or ask without --batch.")
    return gather(str(known.iloc[-1]), 0, frames, site)


def _strength(mass: float, ethanol: float) -> Row:
    made = proof.quantities(mass, ethanol / mass)
    return {"proof_60F": float(made["proof_60F"]), "abv_20C": float(made["abv_20C"])}


def _casks(rows: pd.DataFrame, litres: Array, mass: Array, w: Array, share: Array, case: Case | None) -> list[Row]:
    """What is drawn of each cask and what stays: for a batch as much as it wants, else as much as the stock gives."""
    held = rows["volume_20C_L"].to_numpy("float64")
    scale = _scale(case, mass, w, litres, rows)
    left = held - litres * scale
    return [
        {"cask": cask, "share_of_volume": part, "share_of_alcohol": s, "abv_20C": abv, "proof_60F": p, "holds_L": has,
         "draw_L": part * scale, "left_L": stays, "enough": bool(stays >= -1e-6) if np.isfinite(stays) else None,
         "why_not_free": None if free else why}
        for cask, part, s, abv, p, has, stays, free, why in zip(
            rows["cask"], litres, share, rows["abv_20C"], rows["proof_60F"], held, left,
            rows["free"].fillna(False).astype(bool), rows["why_not"], strict=True,
        )
    ]  # fmt: skip


def _scale(case: Case | None, mass: Array, w: Array, litres: Array, rows: pd.DataFrame) -> float:
    """Litres at cask strength of the whole: what the batch's alcohol wants, else the most that the casks give."""
    if case is not None:
        return case.ethanol_kg / float((mass * w).sum())
    held = rows["volume_20C_L"].to_numpy("float64")
    return float((held / litres).min()) if np.isfinite(held).all() else float("nan")


def _age(rows: pd.DataFrame, case: Case | None, site: Any) -> Row:
    day = case.due if case is not None and case.due is not None else pd.Timestamp(site.book_date or "NaT")
    if rows["filled_on"].isna().any() or pd.isna(day):
        return {"years": None, "youngest": None, "on": None}
    years = years_between(rows["filled_on"], day)
    at = int(np.argmin(years))
    return {"years": int(years[at]), "youngest": rows["cask"].iloc[at], "on": day.strftime("%Y-%m-%d")}


def _cost(rows: pd.DataFrame, share: Array) -> float | None:
    cost = rows["cost"].to_numpy("float64")
    return float((share * cost).sum()) if np.isfinite(cost).all() else None


def _tasted(rows: pd.DataFrame, share: Array, frames: Frames, site: Any, case: Case | None) -> Row:
    """Predicted taste by family with its interval, and what a hundredth more of each cask would move."""
    known = whole_profiles(frames["profiles"])
    mine = sorted(set(known.loc[known["_sample"].isin(folded(rows["cask"])), "family"]))
    families = tuple(dict.fromkeys([*(case.aim.families if case else ()), *mine]))
    if not families:
        return {"profile": {}, "distance": None, "one_point_more": {}}
    exponents = exponents_of(frames["taste_exponents"], families)
    mean, low, high = tastes(rows, frames["profiles"], families, settings_of(site))
    n = np.array([item.n for item in exponents])
    middle, (bottom, top) = mixed(share, mean, n), interval(share, mean, low, high, exponents)
    extra = _bends(rows, share, case, len(families))
    sure = evident(frames["taste_exponents"])
    ends = [np.clip(end + extra, 0.0, 10.0) for end in (middle, bottom, top)]
    profile = {
        family: {
            **{name: float(end[at]) for name, end in zip(("mean", "low", "high"), ends, strict=True)},
            "evidence": bool(sure.get(family)),
            **_wanted(case, at),
        }
        for at, family in enumerate(families)
    }
    moves = {}
    for at, cask in enumerate(rows["cask"]) if len(rows) > 1 else ():
        change = mixed(cox(share, at, min(POINT, 1.0 - float(share[at]))), mean, n) - middle
        order = np.argsort(-np.abs(change), kind="stable")[:SHOWN]
        moves[cask] = {families[place]: float(change[place]) for place in order if abs(change[place]) >= 0.005}
    return {"profile": profile, "distance": _distance(profile, case), "one_point_more": moves}


def _bends(rows: pd.DataFrame, share: Array, case: Case | None, count: int) -> Array:
    """What pairs that bend add to the families of the aim; nothing of the others."""
    made = np.zeros(count)
    if case is not None and len(case.bends.pairs):
        place = {name: at for at, name in enumerate(folded(case.stock["cask"]))}
        at = [place.get(name, -1) for name in folded(rows["cask"])]
        if min(at) >= 0:
            made[: len(case.aim.families)] = added(case, np.array(at), share)
    return made


def _wanted(case: Case | None, at: int) -> Row:
    if case is None or at >= len(case.aim.families):
        return {}
    aim = case.aim
    return {"target": float(aim.target[at]), "band_low": float(aim.low[at]), "band_high": float(aim.high[at])}


def _distance(profile: dict[str, Row], case: Case | None) -> float | None:
    """Weighted mean of what goes beyond the band, in points; None without a target."""
    if case is None:
        return None
    rows = [profile[family] for family in case.aim.families]
    beyond = [max(row["mean"] - row["band_high"], row["band_low"] - row["mean"], 0.0) for row in rows]
    return float(np.dot(beyond, case.aim.weight) / case.aim.weight.sum())


def _bottling(case: Case, mass: Array, w: Array, litres: Array, rows: pd.DataFrame) -> Row:
    scale = case.ethanol_kg / float((mass * w).sum())
    total, alcohol = float(mass.sum()) * scale, case.ethanol_kg
    water = alcohol / case.mass_fraction - total
    made = {
        name: float(v)
        for name, v in proof.quantities(total + max(water, 0.0), alcohol / (total + max(water, 0.0))).items()
    }
    return {
        "wanted": case.strength, "proof_60F": made["proof_60F"], "abv_20C": made["abv_20C"],
        "volume_20C_L": made["volume_20C_L"], "volume_60F_gal": made["volume_60F_gal"],
        "bottles": int(made["volume_20C_L"] / case.bottle_L + 1e-9) if case.bottle_L > 0 else None,
        "water_L": float(proof.quantities(water, 0.0)["volume_20C_L"]) if water >= 0.0 else None,
    }  # fmt: skip


def _claims(case: Case, frames: Frames, rows: pd.DataFrame) -> list[Row]:
    """Each claim of the brief, market by market: met only where every cask answers, no group is mixed and the brief's
    strength is lawful.

    A claim with shares of its own is for the batch's label check to settle, and is told so.
    """
    eligible = frames["eligibility"]
    mine = eligible[eligible["batch"] == case.batch]
    mine = mine.assign(_cask=folded(mine["component"]))
    ruled = frames.get("claim_shares")
    shares = set() if ruled is None else set(zip(ruled["batch"], ruled["market"], ruled["claim"], strict=True))
    made = []
    for (market, claim), some in mine.groupby(["market", "claim"], sort=True):
        by = some.drop_duplicates("_cask").set_index("_cask").reindex(list(folded(rows["cask"])))
        wrong = rows["cask"][(by["verdict"] == "not met").to_numpy()].tolist()
        unsure = rows["cask"][(by["verdict"] != "met").to_numpy()].tolist()
        mixed_groups = by["group"].notna().any() and by["group"].nunique(dropna=False) > 1
        verdict = "not met" if wrong or mixed_groups else "cannot tell" if unsure else "met"
        why = "casks of several groups" if mixed_groups and not wrong else ", ".join(wrong or unsure)
        if verdict == "met" and (some["batch"].iloc[0], market, claim) in shares:
            verdict, why = "cannot tell", "it asks shares, which the label check of the batch settles"
        if f"{claim} ({market})" in case.unlawful:
            verdict, why = "not met", case.unlawful[f"{claim} ({market})"]
        made.append({"claim": claim, "market": market, "verdict": verdict, "why": why})
    told = {f"{row['claim']} ({row['market']})" for row in made}
    for name, why in case.unlawful.items():
        if name not in told:
            claim, _, market = name.rpartition(" (")
            made.append({"claim": claim, "market": market.rstrip(")"), "verdict": "not met", "why": why})
    return made


def _beside(batch: str, frames: Frames, profile: dict[str, Row]) -> list[Row]:
    """How far each issued proposal tastes from the recipe: mean difference over its families, in points."""
    sets = frames["proposal_sets"]
    found = sets.loc[folded(sets["batch"]) == batch.strip().casefold(), "document"]
    items = json.loads(found.iloc[-1])["proposals"] if len(found) else []
    made = []
    for item in items:
        both = [family for family in item["profile"] if family in profile]
        apart = [abs(item["profile"][family]["mean"] - profile[family]["mean"]) for family in both]
        made.append({"id": item["id"], "aim": item["aim"], "points_apart": float(np.mean(apart)) if apart else None})
    return made
