"""What a cask's strength is likely to be, from its earlier gauge, the inventory or its filling."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline.common.names import folded_or_missing as folded
from plugins.blending.common.lookups import looked_up, nearest_row
from plugins.blending.common.moments import TICK
from plugins.blending.components.fillings import inventory
from plugins.blending.components.gauges import gauges
from plugins.blending.components.strengths import DAYS_PER_YEAR, stated_proof

OWN_SPREAD, ENTRY_SPREAD = 1.0, 2.0
ROOM_SHARE, MOST_ROOM = 0.03, 100.0


def likely_strength(components: pd.DataFrame, proofs: pd.DataFrame, casks: pd.DataFrame, drift: float) -> pd.DataFrame:
    """On the components' index ``proof`` before the draw and its ``spread``; NaN where nothing is known.

    The last gauge of the filling before the one that was used; else the inventory's entry proof.
    The spread grows by twice the yearly ``drift`` [proof] (common practice, no source).
    """
    key = folded(components["component"]).where(components["kind"].isin(["cask", "vessel"]))
    found = gauges(proofs, set(key.dropna()), OWN_SPREAD).rename(columns={"key": "gauge_key"})
    at = components["gauged_at"].fillna(components["drawn_at"])
    asked = (at - TICK).fillna(pd.Timestamp(1900, 1, 1)).astype("datetime64[us]")
    earlier = nearest_row(key, asked, found, "gauge_key", "taken_at")
    stale = (earlier["taken_at"] < components["filled_on"]).fillna(False).astype(bool)
    strength = earlier["proof_60F"].astype("float64").mask(stale)
    spread = OWN_SPREAD + 2 * drift * _years(at, earlier["taken_at"])
    entry = components["filling"].astype(object).map(_entry_proofs(casks, components["filling"])).astype("float64")
    at_entry = ENTRY_SPREAD + 2 * drift * _years(at, components["filled_on"])
    known = strength.notna()
    return pd.DataFrame({"proof": strength.where(known, entry), "spread": spread.where(known, at_entry)})


def _years(late: pd.Series, early: pd.Series) -> pd.Series:
    return (late - early.astype("datetime64[us]")).dt.days / DAYS_PER_YEAR


def _entry_proofs(casks: pd.DataFrame, fillings: pd.Series) -> dict[str, float]:
    stock = inventory(casks)
    stock = stock[stock["filling"].isin(fillings.dropna())]
    values = stated_proof(stock["entry_proof"], stock["entry_proof_unit"])
    rows = pd.DataFrame({"filling": stock["filling"], "proof": values}).dropna()
    return dict(zip(rows["filling"], rows["proof"], strict=True))


def fit(read: np.ndarray, corrected: np.ndarray, likely: np.ndarray, spread: np.ndarray) -> np.ndarray:
    """How much less the corrected strength departs from history than the one read, in squared spreads."""
    with np.errstate(invalid="ignore"):
        gain = ((corrected - likely) / spread) ** 2 - ((read - likely) / spread) ** 2
    return np.nan_to_num(gain)


def capacity_fit(tries: pd.DataFrame, components: pd.DataFrame, casks: pd.DataFrame) -> np.ndarray:
    """How much less a corrected quantity departs from what its cask can hold than the one read, in squared spreads.

    ``tries``: row (of components), mass and more [kg]. What a cask may hold above its capacity is spread
    by ``ROOM_SHARE`` of it; a cask of unknown capacity tells nothing.
    """
    stock = casks.assign(key=folded(casks["cask"]))
    room = stock.groupby("key")["capacity_L"].max()
    rows = components.reindex(tries["row"])
    holds = looked_up(folded(rows["component"]), room).to_numpy("float64")
    with np.errstate(invalid="ignore", divide="ignore"):
        litres = (rows["volume_20C_L"] / rows["mass_kg"]).to_numpy("float64")
        read = tries["mass"].to_numpy("float64") * litres
        over = [np.maximum(amount / holds - 1.0, 0.0) for amount in (read + tries["more"].to_numpy() * litres, read)]
        gain = (over[0] / ROOM_SHARE) ** 2 - (over[1] / ROOM_SHARE) ** 2
    return np.clip(np.nan_to_num(gain), -MOST_ROOM, MOST_ROOM)
