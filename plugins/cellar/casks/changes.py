"""The stage ``cask_changes``: what was taken out of a cask or put into it, by draws for batches and by movements."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from pipeline import stage
from pipeline.common.names import folded
from plugins import proof
from plugins.cellar.casks.fillings import filling_at
from plugins.cellar.casks.strengths import stated_proof
from plugins.cellar.declared.frames import CHANGES

NEW_MAKE_ABV = 62.0  # what a weight without a strength is taken for; 10 % vol more are 2 % of volume
GALLONS = ("gal", "gallon", "us gal")
ENDS = ("recask", "finish", "tank hold", "marry", "rework", "ship", "destroy", "filter")
"""Reasons of a movement that leave nothing in the cask unless it says how much was moved."""
BEGINS = ("fill", "recask", "finish", "receive", "tank hold")
"""Reasons of a movement into an empty cask: no change of a filling, but its beginning."""


@stage(gives=CHANGES)
def note_changes(components: pd.DataFrame, movements: pd.DataFrame) -> pd.DataFrame:
    """Draws and movements → what was taken out of each cask or put into it, in order of time."""
    rows = pd.concat([_draws(components), *_moves(movements)], ignore_index=True)
    rows = rows[rows["at"].notna() & rows["cask"].notna()]
    key = pd.Series(folded(rows["cask"]), index=rows.index)
    rows = rows.assign(key=key).sort_values(["key", "at"], kind="stable").reset_index(drop=True)
    rows["number"] = rows.groupby("key").cumcount() + 1
    return CHANGES.build({name: rows[name] for name in CHANGES.names}, rows["facts"])


def placed(cask_changes: pd.DataFrame, table: pd.DataFrame) -> pd.DataFrame:
    """The changes of fillings, with ``place`` (row of ``fillings_of_casks`` with its key), in order of it and time."""
    rows = cask_changes[~cask_changes["begins"]]
    rows = rows.assign(place=filling_at(folded(rows["cask"]), rows["at"], table))
    return rows[rows["place"] >= 0].sort_values(["place", "at"], kind="stable").reset_index(drop=True)


def _draws(components: pd.DataFrame) -> pd.DataFrame:
    drawn = components[components["kind"] == "cask"]
    return pd.DataFrame(
        {
            "cask": drawn["component"],
            "at": drawn["drawn_at"],
            "what": "drawn",
            "batch": drawn["batch"].astype(object),
            "other": drawn["batch"].astype(object),
            "into": False,
            "begins": False,
            "emptied": drawn["emptied"].fillna(False).astype(bool),
            "removed_L": drawn["volume_20C_L"],
            "proof_60F": drawn["proof_60F"],
            "facts": drawn["facts"],
        }
    )


def _moves(movements: pd.DataFrame) -> list[pd.DataFrame]:
    """Movements out of and into casks."""
    litres, strength = moved(movements)
    nobody_says = movements["volume_L"].isna() & movements["gross_weight_kg"].isna()
    made = []
    for own, other, into in (("from", "to", False), ("to", "from", True)):
        rows = {
            "cask": movements[own],
            "at": movements["moved_at"],
            "what": movements["reason"].astype(object),
            "batch": None,
            "other": movements[other].astype(object),
            "into": into,
            "begins": movements["reason"].isin(BEGINS) & into,
            "emptied": movements["reason"].isin(ENDS) & nobody_says & (not into),
            "removed_L": -litres if into else litres,
            "proof_60F": strength,
            "facts": movements["facts"],
        }
        made.append(pd.DataFrame(rows))
    return made


def moved(movements: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    """Litres at 20 degC and proof at 60 degF of each movement; NaN where it does not say."""
    strength = stated_proof(movements["proof"], movements["proof_unit"])
    fraction = proof.mass_fraction_from_proof(strength)
    assumed = np.where(np.isnan(fraction), proof.mass_fraction_from_abv(NEW_MAKE_ABV), fraction)
    at = movements["volume_temperature_degC"].to_numpy(float)
    in_gallons = movements["volume_unit"].isin(GALLONS).to_numpy()
    at = np.where(np.isnan(at), np.where(in_gallons, proof.T_60F, proof.T_20C), at)
    by_volume = proof.mass_from_volume(movements["volume_L"].to_numpy(float), assumed, at)
    weight = (movements["gross_weight_kg"] - movements["tare_weight_kg"]).to_numpy(float)
    by_weight = proof.mass_from_weight(weight, proof.density(assumed, proof.T_20C))
    mass = np.where(np.isnan(by_weight), by_volume, by_weight)
    return np.asarray(proof.volume_L(mass, assumed, proof.T_20C), dtype=float), strength


def shifts(points: pd.DataFrame, done: pd.DataFrame, rate: float) -> tuple[np.ndarray, np.ndarray]:
    """How a filling's points compare with what is in it now.

    Parameters: points (columns place, at, volume_L), in order of place and time; what ``placed`` gives; the share lost
    a year [1/year]. Returns per point the natural logarithm by which its volume must be changed for what was taken or
    put in after it, and whether it can be compared at all (nobody left out how much). What stood in the cask before a
    change is the last point's volume, less a year's share for each year since.
    """
    shift, sure = np.zeros(len(points)), np.ones(len(points), dtype=bool)
    by_place: dict[int, list[tuple[Any, float]]] = {}
    part = done[~done["emptied"].astype(bool)]
    removed_L = part["removed_L"].mask(part["what"] == "sample", part["removed_L"].fillna(0.0))
    for place, moment, removed in zip(part["place"].tolist(), part["at"].tolist(), removed_L.tolist(), strict=True):
        by_place.setdefault(place, []).append((moment, removed))
    if not by_place:
        return shift, sure
    rows_of: Any = points.groupby("place").indices
    at, volume = points["at"].to_numpy("datetime64[us]"), points["volume_L"].to_numpy(float)
    for place, events in by_place.items():
        rows = rows_of.get(place, np.zeros(0, dtype=int))
        standing = np.nan
        for moment, removed in sorted(events):
            before = rows[at[rows] <= np.datetime64(moment)]
            known = before[~np.isnan(volume[before])]
            if known.size:
                years = (np.datetime64(moment) - at[known[-1]]) / np.timedelta64(1, "D") / 365.25
                standing = volume[known[-1]] * np.exp(shift[known[-1]] - rate * years)
            rest = standing - removed
            if np.isnan(rest) or rest <= 0.0:
                sure[before] = False
                continue
            shift[before] += np.log(rest / standing)
    return shift, sure
