"""Shares that claims ask for: those of label rules, and percentages that a brief states in plain words."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pandas as pd

from plugins.proposals.choosing.case import Case, Demand
from plugins.proposals.stock.stock import folded
from plugins.proposals.taste.taste import Array

MARGIN = 0.1  # percentage points by which a share keeps off its bound, for what draws can be measured to
STATED = re.compile(
    r"^\s*(?P<way>at least|not less than|no less than|minimum|min|at most|not more than|no more than|maximum|max)"
    r"\s+(?P<percent>\d+(?:[.,]\d+)?)\s*(?:%|per ?cent)\s*(?:of\s+)?(?P<what>.+?)\s*$",
    re.IGNORECASE,
)
MOST = ("at most", "not more than", "no more than", "maximum", "max")
AMOUNTS = {"proof_gallons": "ethanol_kg", "lpa": "ethanol_kg", "mass_kg": "mass_kg",
           "volume_60F_gal": "volume_20C_L", "volume_20C_L": "volume_20C_L"}  # fmt: skip
DESCRIBED = ("spirit", "distillery", "held_before", "wood_use", "species", "country", "peat")


def stated_share(claim: str) -> tuple[float | None, float | None, str] | None:
    """Least and greatest share in per cent, and of what, of a claim such as "at least 40 % sherry"; else None."""
    found = STATED.match(claim)
    if not found:
        return None
    percent = float(found["percent"].replace(",", "."))
    if percent > 100.0:
        return None
    most = re.sub(r"\s+", " ", found["way"].lower()) in MOST
    return (None, percent, found["what"]) if most else (percent, None, found["what"])


def counting(what: str, stock: pd.DataFrame, casks: pd.DataFrame) -> Array:
    """Which casks of the stock (bool) are what a stated share speaks of, by the words of the inventory."""
    rows = casks.assign(_cask=folded(casks["cask"])).sort_values(["filled_on", "as_of"], kind="stable")
    rows = rows.drop_duplicates("_cask", keep="last").set_index("_cask").reindex(folded(stock["cask"]))
    words = r"\b" + re.escape(what.strip().casefold()) + r"\b"
    found = np.zeros(len(stock), dtype=bool)
    for name in DESCRIBED:
        if name in rows:
            found |= rows[name].astype("str").str.casefold().str.contains(words, regex=True, na=False).to_numpy(bool)
    return found


def stated_claims(brief: dict[str, Any]) -> list[str]:
    """The brief's claims that state a share."""
    claims = re.split(r"[,;]", str(brief["claims"])) if pd.notna(brief["claims"]) else []
    return [claim.strip() for claim in claims if stated_share(claim)]


def add_stated(case: Case, brief: dict[str, Any], casks: pd.DataFrame) -> None:
    """Shares that the brief states become demands, of the pure alcohol."""
    for claim in stated_claims(brief):
        low, high, what = stated_share(claim) or (None, None, "")
        counts = counting(what, case.stock, casks)
        case.demands.append(
            Demand(claim, f"of the alcohol; {int(counts.sum())} free casks are {what}", "another share")
        )
        case.ratios[claim] = [ratio(case, "lpa", counts, counts, low, high)]


def add_ruled(case: Case, shares: pd.DataFrame) -> None:
    """Shares that rules ask for become part of their claim's demand; what cannot be told counts on neither side."""
    mine = shares[shares["batch"] == case.batch]
    mine = mine.assign(_cask=folded(mine["component"]))
    names = list(folded(case.stock["cask"]))
    for (market, claim, demand), rows in mine.groupby(["market", "claim", "demand"], sort=True):
        by = rows.drop_duplicates("_cask").set_index("_cask").reindex(names)
        first = rows.iloc[0]
        low, high = (None if pd.isna(first[end]) else float(first[end]) for end in ("low", "high"))
        sure, may = (by["verdict"] == "met").to_numpy(bool), (by["verdict"] != "not met").to_numpy(bool)
        name = f"{claim} ({market})"
        if name not in case.names:
            case.demands.append(Demand(name, str(first["rule"]), "another claim"))
        case.ratios.setdefault(name, []).append(
            ratio(case, str(first["by"]), sure, may, low, high, bool(first["beyond"]))
        )
        case.asked.setdefault(name, []).append(str(demand))


def ratio(
    case: Case, by: str, sure: Array, may: Array, low: float | None, high: float | None, beyond: bool = False
) -> Array:
    """Coefficients (n,) of the draws whose sum may not be below nought; in shares of the batch's alcohol."""
    if not beyond and (low == 0.0 or (high is not None and high >= 100.0)):
        return np.zeros(len(case.stock))  # asks nothing
    amount = case.stock[AMOUNTS.get(by, "ethanol_kg")].to_numpy("float64")
    ethanol = case.stock["ethanol_kg"].to_numpy("float64")
    scale = ethanol.sum() / max(float(amount.sum()), 1e-12) / case.ethanol_kg
    if low is not None:
        part = min(low + MARGIN, 100.0) / 100.0
        return np.asarray(amount * scale * (sure - part))
    part = max((high or 0.0) - MARGIN, 0.0) / 100.0
    return np.asarray(amount * scale * (part - may))
