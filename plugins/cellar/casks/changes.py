"""What was taken from a filling or put into it: draws for batches, and movements of casks."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from pipeline.common.names import folded
from plugins import proof
from plugins.cellar.casks.fillings import ENDS, filling_at, stated_proof

NEW_MAKE_ABV = 62.0  # what a weight without a strength is taken for; 10 % vol more are 2 % of volume
GALLONS = ("gal", "gallon", "us gal")
COLUMNS = ["place", "at", "removed_L", "proof_60F", "what", "batch", "other", "emptied", "facts"]


def changes(made: pd.DataFrame, components: pd.DataFrame, movements: pd.DataFrame) -> pd.DataFrame:
    """One row per draw or movement, in order of filling and time.

    Columns: place (row of ``fillings``), at, removed_L (litres at 20 degC; negative when something was put in;
    NaN: nobody says how much), proof_60F (of what was moved, NaN unknown), what (drawn, or the movement's reason),
    batch, other (where it went or came from), emptied, facts.
    """
    rows = pd.concat([_draws(components), *_moves(movements)], ignore_index=True)
    rows = rows[rows["at"].notna()]
    rows["place"] = filling_at(rows["key"].to_numpy(object), rows["at"], made)
    rows = rows[rows["place"] >= 0]
    return rows.sort_values(["place", "at"], kind="stable")[COLUMNS].reset_index(drop=True)


def _draws(components: pd.DataFrame) -> pd.DataFrame:
    drawn = components[components["kind"] == "cask"]
    return pd.DataFrame(
        {
            "key": folded(drawn["component"]),
            "at": drawn["drawn_at"],
            "removed_L": drawn["volume_20C_L"],
            "proof_60F": drawn["proof_60F"],
            "what": "drawn",
            "batch": drawn["batch"].astype(object),
            "other": drawn["batch"].astype(object),
            "emptied": drawn["emptied"].fillna(False).astype(bool),
            "facts": drawn["facts"],
        }
    )


def _moves(movements: pd.DataFrame) -> list[pd.DataFrame]:
    """Movements out of and into casks; filling an empty cask is no change, but its beginning."""
    litres, strength = moved(movements)
    made = []
    for own, other, sign in (("from", "to", 1.0), ("to", "from", -1.0)):
        rows = pd.DataFrame(
            {
                "key": folded(movements[own]),
                "at": movements["moved_at"],
                "removed_L": sign * litres,
                "proof_60F": strength,
                "what": movements["reason"].astype(object),
                "batch": None,
                "other": movements[other].astype(object),
                "emptied": movements["reason"].isin(ENDS) & np.isnan(litres) if sign > 0 else False,
                "facts": movements["facts"],
            }
        )
        into_empty = movements["reason"].isin(["fill", "recask", "finish", "receive", "tank hold"])
        made.append(rows if sign > 0 else rows[~into_empty.to_numpy()])
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

    Parameters: points (columns place, at, volume_L), in order of place and time; ``changes`` that did not empty the
    cask; the share lost a year [1/year]. Returns per point the natural logarithm by which its volume must be changed
    for what was taken or put in after it, and whether it can be compared at all (nobody left out how much). What
    stood in the cask before a change is the last point's volume, less a year's share for each year since.
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
