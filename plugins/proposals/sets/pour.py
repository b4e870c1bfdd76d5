"""From shares to draws: a tasted trial scaled to the batch, and the pour in order with running figures."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from plugins import proof
from plugins.proposals.sets.issued_sets import changes, draws_of_pour, stock_as_issued
from plugins.proposals.stock.stock import folded
from plugins.proposals.taste.taste import Array
from plugins.proposals.taste.taste_stages import alcohol_shares

HOLD_BACK = 0.05  # share of the water kept until the vat is gauged
STEPS = 3
WATER = ("water", "reduction water", "process water")
HEADSPACE = 0.03  # share of a vat left free for heat and stirring (common practice, no source)
Row = dict[str, Any]


@dataclass
class Pour:
    """What is to be poured: rows in order, and what the blender should know."""

    source: str
    lines: list[Row]
    mass_fraction: float
    notes: list[str] = field(default_factory=list)


def scale_trial(
    shares: Array, ethanol_kg: Array, wanted_kg: float, whole: bool, least: float = 0.5
) -> tuple[Array, float]:
    """Draws 0..1 of each cask that pour a trial's shares of alcohol, and the part of the batch that they make.

    ``shares`` of alcohol, ``ethanol_kg`` what each cask holds. A cask that holds too little bounds the batch
    (the shares stay). ``whole``: casks of which ``least`` or more is wanted are emptied, the others left.
    """
    draws = shares * wanted_kg / ethanol_kg
    if whole:
        draws = (draws >= least).astype(np.float64)
        return draws, float((draws * ethanol_kg).sum() / wanted_kg)
    part = min(1.0, 1.0 / float(draws.max()))
    return draws * part, part


def accepted_trial(trials: pd.DataFrame) -> pd.DataFrame | None:
    """The rows of the last accepted trial of a batch; None without one."""
    said = trials[trials["accepted"].fillna(False).astype(bool)]
    if not len(said):
        return None
    last = said.sort_values("made_at", kind="stable")["trial"].iloc[-1]
    return trials[folded(trials["trial"]) == str(last).strip().casefold()].reset_index(drop=True)


def without_water(trial: pd.DataFrame) -> pd.DataFrame:
    """A trial's rows without water, which only cuts the glass: the pour reckons its own."""
    return trial[~folded(trial["component"]).isin(WATER)].reset_index(drop=True)


def pour_of(document: Row, trials: pd.DataFrame, stock: pd.DataFrame, whole: bool, step_L: float) -> Pour | None:
    """The pour of the accepted trial, else of the first proposal; None where there is neither.

    Trials are scaled to the casks as the issued set knew them; what changed since stands beside as notes.
    """
    made = _pour_of(document, trials, stock_as_issued(document, stock), whole, step_L)
    if made is not None:
        moved = changes(draws_of_pour(made.lines), stock)
        own = (f"emptied for {document['batch']}", f"planned for {document['batch']}")
        made.notes.extend(
            f"SINCE ISSUE {document['issue']}: {name} {why}." for name, why in moved.items() if why not in own
        )
    return made


def _pour_of(document: Row, trials: pd.DataFrame, stock: pd.DataFrame, whole: bool, step_L: float) -> Pour | None:
    fraction = float(proof.mass_fraction_from_proof(document["brief"]["proof_60F"]))
    trial = accepted_trial(trials)
    if trial is not None:
        return _from_trial(document, trial, stock, fraction, whole, step_L)
    if not document["proposals"]:
        return None
    first = document["proposals"][0]
    names = [part["component"] for part in first["components"]]
    mass = np.array([part["mass_kg"] for part in first["components"]])
    w = proof.mass_fraction_from_proof(np.array([part["proof_60F"] for part in first["components"]]))
    wholes = [part["whole"] for part in first["components"]]
    notes = []
    if first["draw_from"]:
        notes.append(f"NOT BEFORE {first['draw_from']}: until then the youngest cask is too young for the claims.")
    return Pour(f"proposal {first['id']} ({first['aim']})", _lines(names, mass, w, wholes), fraction, notes)


def _from_trial(
    document: Row, trial: pd.DataFrame, stock: pd.DataFrame, fraction: float, whole: bool, step_L: float
) -> Pour | None:
    name = trial["trial"].iloc[0]
    trial = without_water(trial)
    shares = alcohol_shares(trial) if len(trial) else None
    held = stock.set_index(folded(stock["cask"])).reindex(folded(trial["component"]))
    if shares is None or held["ethanol_kg"].isna().any():
        return None  # findings say why: no strength, or a component that is no cask in stock
    ethanol, w = held["ethanol_kg"].to_numpy("float64"), held["mass_fraction"].to_numpy("float64")
    brief = document["brief"]
    wanted = float(proof.mass_from_volume(brief["volume_20C_L"], fraction, proof.T_20C)) * fraction
    draws, part = scale_trial(shares, ethanol, wanted, whole)
    litres = held["volume_20C_L"].to_numpy("float64")
    if step_L > 0:
        draws = np.where(draws < 1.0, np.minimum(np.round(draws * litres / step_L) * step_L / litres, 1.0), draws)
    keep = draws > 0.0
    made = ethanol * draws
    if not keep.any():
        nothing = (
            "Nothing of this trial is poured: of no cask is half or more wanted, and the brief asks for whole casks."
        )
        return Pour(f"trial {name}, accepted", [], fraction, [nothing])
    notes = [] if abs(part - 1.0) < 0.005 else [f"It makes {100 * part:.0f} % of the batch that the brief asks."]
    moved = made / made.sum() - shares
    if np.abs(moved).max() > 0.01:
        at = int(np.argmax(np.abs(moved)))
        notes.append(
            f"Whole casks change the shares by up to {100 * moved[at]:+.0f} % ({trial['component'].iloc[at]})."
        )
    later = list(trial["component"][held["later"].astype(bool).to_numpy()])
    if later:
        notes.append(f"Not in the issued set, taken as in stock now: {', '.join(later)}.")
    names = list(trial["component"][keep])
    mass = (held["mass_kg"].to_numpy("float64") * draws)[keep]
    return Pour(f"trial {name}, accepted", _lines(names, mass, w[keep], list(draws[keep] >= 1.0)), fraction, notes)


def _lines(names: list[str], mass: Array, w: Array, whole: list[bool]) -> list[Row]:
    return [
        {"component": name, "mass_kg": float(m), "mass_fraction": float(f), "whole": bool(e)}
        for name, m, f, e in zip(names, mass, w, whole, strict=True)
    ]


def pour_steps(pour: Pour, level: Any = None, heel_L: float = 0.0) -> list[Row]:
    """Casks in order, then the water in steps with the last part held back, each with what is in the vat after it.

    Running volumes are of the rested mix at 20 °C, with contraction; ``level`` maps litres to a depth or None.
    """
    rows: list[Row] = []
    mass = alcohol = 0.0
    for line in pour.lines:
        mass, alcohol = mass + line["mass_kg"], alcohol + line["mass_kg"] * line["mass_fraction"]
        rows.append(_step(line["component"], line["mass_kg"], line["mass_fraction"], mass, alcohol, level, heel_L))
        rows[-1]["note"] = "empty it" if line["whole"] else "part draw: measure"
    if not rows:
        return rows
    rows[-1]["note"] += "; stir, rest, GAUGE before water"
    steps = proof.reduction_steps(mass, alcohol / mass, pour.mass_fraction, STEPS, HOLD_BACK)
    if not np.isfinite(steps.water_kg).all() or steps.water_kg.sum() < 0.05:
        return rows
    for number, water in enumerate(steps.water_kg, start=1):
        mass += float(water)
        rows.append(_step("water", float(water), 0.0, mass, alcohol, level, heel_L))
        last = number == len(steps.water_kg)
        rows[-1]["note"] = (
            "HELD BACK: only after the gauge, and only as much as it asks" if last else "slowly, stirring"
        )
    rows[-2]["note"] = "slowly, stirring; stir, rest to 20 °C, GAUGE"
    return rows


def _step(name: str, mass: float, w: float, total: float, alcohol: float, level: Any, heel_L: float) -> Row:
    own, after = proof.quantities(mass, w), proof.quantities(total, alcohol / total)
    litres = float(after["volume_20C_L"])
    return {
        "component": name,
        "volume_20C_L": float(own["volume_20C_L"]), "volume_60F_gal": float(own["volume_60F_gal"]),
        "proof_60F": float(own["proof_60F"]) if w > 0 else None,
        "abv_20C": float(own["abv_20C"]) if w > 0 else None,
        "running_L": litres, "running_gal": float(after["volume_60F_gal"]), "running_lpa": float(after["lpa"]),
        "running_proof_gallons": float(after["proof_gallons"]), "running_proof": float(after["proof_60F"]),
        "running_abv": float(after["abv_20C"]),
        "level_cm": None if level is None else level(litres + heel_L),
    }  # fmt: skip


def vat_of(name: Any, vessels: pd.DataFrame) -> tuple[Any, float | None]:
    """(litres → depth in cm or None, capacity in litres or None) of a vat by its dip table."""
    if pd.isna(name) or not len(vessels):
        return None, None
    rows = vessels[folded(vessels["vessel"]) == str(name).strip().casefold()]
    held = rows["capacity_L"].dropna()
    capacity = float(held.iloc[-1]) if len(held) else None
    table = rows[rows["depth_cm"].notna() & rows["volume_at_depth_L"].notna()].sort_values("depth_cm")
    if len(table) < 2:
        return None, capacity
    depth, litres = table["depth_cm"].to_numpy("float64"), table["volume_at_depth_L"].to_numpy("float64")

    def level(amount: float) -> float | None:
        return float(np.interp(amount, litres, depth)) if litres[0] <= amount <= litres[-1] else None

    return level, capacity
