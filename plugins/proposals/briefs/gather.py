"""From frames to a case: the brief, its lawful and free casks, the aim and the panel's noise."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pandas as pd

from plugins import proof
from plugins.proposals.briefs.share_claims import add_ruled, add_stated
from plugins.proposals.briefs.wishes import known_families, read_aim
from plugins.proposals.choosing.case import Bends, Case, Demand, scarcity, years_between
from plugins.proposals.declared.settings import SETTINGS, TABLE
from plugins.proposals.stock.amounts import ethanol_of, in_us, strength_of, volume_of
from plugins.proposals.stock.stock import folded
from plugins.proposals.taste.off_notes import budget_of, may_exceed, off_notes
from plugins.proposals.taste.taste import Exponent, exponent
from plugins.proposals.taste.taste_stages import filled, matrix, whole_profiles

Frames = dict[str, Any]
OF_BATCH = {"proof_60F": "proof", "abv_20C": "% vol at 20 °C"}


def settings_of(site: Any) -> dict[str, Any]:
    return {item.name: site[f"{TABLE}.{item.name}"] for item in SETTINGS}


def panel_noise(frame: pd.DataFrame | None) -> dict[str, float]:
    """Standard deviation of one tasting by family. [points]"""
    if frame is None:
        return {}
    return {str(f): float(s) for f, s in zip(frame["family"], frame["spread"], strict=True) if np.isfinite(s)}


def exponents_of(frame: pd.DataFrame | None, families: tuple[str, ...]) -> list[Exponent]:
    known = {}
    if frame is not None:
        for row in frame.to_dict("records"):
            known[row["family"]] = Exponent(row["n"], row["low"], row["high"], row["source"])
    return [known.get(family, exponent(family)) for family in families]


def gather(batch: str, issue: int, frames: Frames, site: Any) -> Case:
    """The case of one brief. The brief was found complete before (``due.py``)."""
    briefs = frames["briefs"]
    brief = briefs[briefs["batch"] == batch].iloc[-1].to_dict()
    own = settings_of(site)
    stock = frames["stock"]
    stock = stock[stock["free"].fillna(False).astype(bool)].reset_index(drop=True)
    families = known_families(site, frames["profiles"])
    aim = read_aim(
        str(brief["target"]), frames["targets"], frames["profiles"], panel_noise(frames["panel_noise"]),
        own["dead_band"], families,
    )  # fmt: skip
    assert aim is not None
    mean, low, high = tastes(stock, frames["profiles"], aim.families, own)
    fraction, said = strength_of(brief, in_us(brief, site))
    litres, at, volume_said = volume_of(brief)
    ethanol = ethanol_of(brief, site)
    whole = bool(brief["whole_casks"]) if pd.notna(brief["whole_casks"]) else False
    most = int(brief["max_casks"]) if pd.notna(brief["max_casks"]) else None
    day = brief["due"] if pd.notna(brief["due"]) else site.book_date and pd.Timestamp(site.book_date)
    case = Case(
        batch, issue, stock, aim, exponents_of(frames["taste_exponents"], aim.families), mean, low, high, ethanol,
        fraction, litres, at, said, most, whole, float(brief["bottle_size_L"]), day if pd.notna(day) else None,
        settings=own,
    )  # fmt: skip
    wanted = brief.get("depart_on")
    case.depart_on = str(wanted) if pd.notna(wanted) and str(wanted) in aim.families else ""
    years = years_between(stock["filled_on"], case.due) if case.due is not None else np.full(len(stock), np.nan)
    lpa = ethanol / float(proof.density(1.0, proof.T_20C)) * 1000.0
    case.scarce = scarcity(stock, years, lpa)
    cost = stock["cost"].to_numpy("float64")
    middle = np.nanmean(cost) if np.isfinite(cost).any() else np.nan
    case.cost = np.nan_to_num(cost / middle, nan=1.0) if middle > 0 else np.ones(len(stock))
    case.evidence = evident(frames["taste_exponents"])
    case.bends = bends_of(frames.get("taste_terms"), case)
    _demands(case, brief, frames, volume_said)
    _faults(case, brief, frames["profiles"], site)
    return case


def evident(exponents: pd.DataFrame | None) -> dict[str, bool]:
    """Families of which trials left out of the fit were predicted better than by the plain guess."""
    if exponents is None:
        return {}
    better = exponents["error_left_out"] < exponents["naive_error"]
    return dict(zip(exponents["family"], map(bool, better.fillna(False)), strict=True))


def bends_of(terms: pd.DataFrame | None, case: Case) -> Bends:
    """Pair terms of the aim's families that have evidence, where both casks are candidates."""
    place = {name: at for at, name in enumerate(folded(case.stock["cask"]))}
    families = {family: at for at, family in enumerate(case.aim.families) if case.evidence.get(family)}
    found: dict[tuple[int, int], Any] = {}
    if terms is not None and len(terms):
        rows = zip(
            terms["family"], folded(terms["component"]), folded(terms["other"]), terms["coefficient"], strict=True
        )
        for family, one, other, points in rows:
            if family in families and one in place and other in place:
                pair = found.setdefault((place[one], place[other]), np.zeros(len(case.aim.families)))
                pair[families[family]] = points
    pairs = np.array(list(found), dtype=np.int64).reshape(-1, 2)
    return Bends(pairs, np.array(list(found.values())).reshape(len(pairs), len(case.aim.families)))


def tastes(stock: pd.DataFrame, profiles: pd.DataFrame, families: tuple[str, ...], own: Frames) -> tuple[Any, Any, Any]:
    """Mean, low and high (n, F); of a cask without a profile the stock's average with the stock's own spread."""
    samples, names = list(folded(stock["cask"])), list(families)
    rows = whole_profiles(profiles)
    values = [matrix(rows, samples, names, end) for end in ("mean", "low", "high")]
    tasted = stock["tasted"].to_numpy(dtype=bool) & np.isin(samples, list(rows["_sample"]))
    made = filled([value[tasted] for value in values], names)
    mean, low, high = (np.full((len(stock), len(names)), np.nan) for _ in range(3))
    mean[tasted], low[tasted], high[tasted] = made
    if (~tasted).any():
        known = made[0] if tasted.any() else np.full((1, len(names)), 5.0)
        middle, spread = known.mean(axis=0), known.std(axis=0)
        mean[~tasted] = middle
        low[~tasted], high[~tasted] = np.clip(middle - 2 * spread, 0, 10), np.clip(middle + 2 * spread, 0, 10)
    return mean, low, high


def _demands(case: Case, brief: Frames, frames: Frames, volume_said: str) -> None:
    add = case.demands.append
    add(Demand("volume", volume_said, "a smaller volume"))
    add(Demand("strength", case.strength, "a lower bottling strength"))
    if case.max_casks is not None:
        add(Demand("most casks", str(case.max_casks), "more casks"))
    if case.whole:
        add(Demand("whole casks", "yes", "part draws"))
    _claims(case, brief, frames)
    keep = str(brief.get("keep") or "") if pd.notna(brief.get("keep")) else ""
    kept = {name.strip().casefold() for name in re.split(r"[,;]", keep) if name.strip()}
    if kept:
        add(Demand("keep for later", keep, "release of some of them"))
        case.barred["keep for later"] = folded(case.stock["cask"]).isin(kept).to_numpy()
    untasted = brief.get("untasted")
    if (untasted if pd.notna(untasted) else case.settings["untasted"]) != "average":
        bare = ~case.stock["tasted"].to_numpy(dtype=bool)
        if bare.any():
            add(Demand("tasted casks only", f"{int(bare.sum())} free casks have no profile", "tasting them"))
            case.barred["tasted casks only"] = bare


def _faults(case: Case, brief: Frames, profiles: pd.DataFrame, site: Any) -> None:
    """Casks whose off notes may exceed the budget are barred; where the brief says yes they are told, first of all."""
    mean, peak = off_notes(profiles, case.stock["cask"])
    case.off_notes = np.where(may_exceed(profiles, case.stock["cask"], 0.0), np.maximum(mean, peak), 0.0)
    budget = budget_of(brief, site)
    if budget is None:
        return
    faulty = may_exceed(profiles, case.stock["cask"], budget)
    if faulty.any():
        said = f"{int(faulty.sum())} free casks may have more off notes than {budget:g} points"
        case.demands.append(Demand("no faults", said, "a yes under faults on the brief"))
        case.barred["no faults"] = faulty


def _claims(case: Case, brief: Frames, frames: Frames) -> None:
    """Each claim in each market: casks that do not answer are barred, groups must not be mixed, bounds hold."""
    eligible, limits = frames["eligibility"], frames["limits"]
    mine = eligible[eligible["batch"] == case.batch]
    mine = mine.assign(_cask=folded(mine["component"]))
    names = list(folded(case.stock["cask"]))
    for (market, claim), rows in mine.groupby(["market", "claim"], sort=True):
        by = rows.drop_duplicates("_cask").set_index("_cask").reindex(names)
        name = f"{claim} ({market})"
        rule = rows["rule"].dropna()
        unsure = int((by["verdict"] == "cannot tell").sum())
        doubt = f"; of {unsure} more it cannot be told, for facts that no sheet states" if unsure else ""
        value = f"{int((by['verdict'] == 'met').sum())} free casks answer{doubt}"
        said = brief["age_statement"] if claim == "age statement" else ""
        value = f"{said}: {value}" if pd.notna(said) and said else value
        case.demands.append(Demand(name, f"{value} ({rule.iloc[0] if len(rule) else 'no section'})", "another claim"))
        case.barred[name] = (by["verdict"] != "met").to_numpy()
        case.met_from[name] = by["met_from"].reset_index(drop=True)
        if by["group"].notna().any():
            case.groups[name] = pd.factorize(by["group"])[0]
    if frames.get("claim_shares") is not None:
        add_ruled(case, frames["claim_shares"])
    add_stated(case, brief, frames["casks"])
    own = proof.quantities(1.0, case.mass_fraction)
    for row in limits[(limits["batch"] == case.batch) & limits["quantity"].isin(list(OF_BATCH))].to_dict("records"):
        name, found = f"{row['claim']} ({row['market']})", float(own[row["quantity"]])
        # a bound met by the digits of the arithmetic is met
        if found < row["low"] - 1e-6 or found > row["high"] + 1e-6:
            bound = row["low"] if found < row["low"] else row["high"]
            case.unlawful[name] = f"{row['rule']} wants {bound:g} {OF_BATCH[row['quantity']]}"
            if name not in case.names:
                case.demands.append(Demand(name, case.unlawful[name], "another market"))
