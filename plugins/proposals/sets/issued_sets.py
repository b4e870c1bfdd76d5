"""Issued sets read back; those of earlier versions get what they had not yet, as not known."""

from __future__ import annotations

import json
from typing import Any

import pandas as pd

from plugins import proof
from plugins.proposals.stock.stock import folded

Row = dict[str, Any]
MATTERS = 0.02  # share of a draw by which stock may fall short before it is said
MATTERS_PROOF = 1.0  # proof by which a cask may have moved since


def read_set(text: str) -> Row:
    """A set as issued."""
    made: Row = json.loads(text)
    made.setdefault("stock", [])
    for item in made["proposals"]:
        item.setdefault("bent", False)
        item.setdefault("faults", [])
        for part in item["components"]:
            part.setdefault("brings", [])
        for row in item["profile"].values():
            for name, value in (("pairs_add", 0.0), ("error_left_out", None), ("evidence", False)):
                row.setdefault(name, value)
        for row in item["label"]:
            row.setdefault("shares", [])
        for swaps in item["swaps"].values():
            for row in swaps:
                for name in ("age_years", "before_proof_60F", "volume_20C_L", "draw_from"):
                    row.setdefault(name, None)
                row.setdefault("cost_known", False)
    return made


def stock_as_issued(document: Row, now: pd.DataFrame) -> pd.DataFrame:
    """The casks as the set knew them, with the columns of ``stock`` that a scaling needs, and casks that came later.

    ``later`` says which; a set of an earlier version knew none, so that all are as they are now.
    """
    then = pd.DataFrame(document["stock"], columns=["component", "mass_kg", "mass_fraction"])
    rows = pd.DataFrame({"cask": then["component"].astype("str")})
    rows["mass_kg"], rows["mass_fraction"] = then["mass_kg"].astype("float64"), then["mass_fraction"].astype("float64")
    w = rows["mass_fraction"].to_numpy("float64")
    amounts = proof.quantities(rows["mass_kg"].to_numpy("float64"), w)
    rows["ethanol_kg"], rows["volume_20C_L"] = amounts["ethanol_kg"], amounts["volume_20C_L"]
    rows["later"] = False
    fresh = now[~folded(now["cask"]).isin(set(folded(rows["cask"])))] if len(rows) else now
    more = fresh[["cask", "mass_kg", "mass_fraction", "ethanol_kg", "volume_20C_L"]].assign(later=bool(len(rows)))
    return pd.concat([rows, more], ignore_index=True) if len(rows) else more.reset_index(drop=True)


def changed(part: Row, cask: Row | None) -> str:
    """Why a draw is no longer as it was proposed; empty if it is."""
    if cask is None:
        return "is no longer in stock"
    if cask["free"] is not True:
        return str(cask["why_not"])
    if cask["mass_kg"] < part["mass_kg"] * (1.0 - MATTERS):
        return f"holds {cask['volume_20C_L']:.0f} L of the {part['volume_20C_L']:.0f} L proposed"
    if part["whole"] and cask["mass_kg"] > part["mass_kg"] * (1.0 + MATTERS):
        return f"holds {cask['volume_20C_L']:.0f} L, not {part['volume_20C_L']:.0f} L"
    if abs(cask["proof_60F"] - part["proof_60F"]) > MATTERS_PROOF:
        return f"stands at {cask['proof_60F']:.1f} proof, not {part['proof_60F']:.1f}"
    return ""


def changes(parts: list[Row], stock: pd.DataFrame) -> dict[str, str]:
    """Casks of these draws that are no longer as they were, each with why."""
    names = folded(stock["cask"]) if len(stock) else pd.Series(dtype="str")
    rows: list[Row] = stock.to_dict("records")  # type: ignore[assignment]
    now = dict(zip(names, rows, strict=True))
    said = {part["component"]: changed(part, now.get(str(part["component"]).strip().casefold())) for part in parts}
    return {name: why for name, why in sorted(said.items()) if why}


def draws_of_pour(lines: list[Row]) -> list[Row]:
    """Draws of a pour as ``changes`` takes them."""
    made = []
    for line in lines:
        amounts = proof.quantities(line["mass_kg"], line["mass_fraction"])
        made.append(line | {"proof_60F": float(amounts["proof_60F"]), "volume_20C_L": float(amounts["volume_20C_L"])})
    return made
