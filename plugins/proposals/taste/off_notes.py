"""Casks whose off notes may exceed what a brief lets pass: its fault budget, none unless it says otherwise."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from plugins.proposals.stock.stock import folded
from plugins.proposals.taste.taste import Array
from plugins.proposals.taste.taste_stages import whole_profiles

FAMILY = "off_notes"
LEAST = 1.0  # points: less is what the silence of a few tasters leaves open of any cask
PLAIN = 5.0  # what a plain word of one taster counts; common practice, no source


def off_notes(profiles: pd.DataFrame | None, casks: pd.Series) -> tuple[Array, Array]:
    """Mean of the off notes of each cask, and the strongest that a single taster named; 0 where nobody named one."""
    if profiles is None or not len(profiles):
        return np.zeros(len(casks)), np.zeros(len(casks))
    rows = whole_profiles(profiles)
    rows = rows[rows["family"] == FAMILY].drop_duplicates("_sample", keep="last").set_index("_sample")
    mine = rows.reindex(list(folded(casks)))
    return tuple(mine[name].fillna(0.0).to_numpy("float64") for name in ("mean", "peak"))  # type: ignore[return-value]


def may_exceed(profiles: pd.DataFrame | None, casks: pd.Series, budget: float) -> Array:
    """Casks (bool) whose mean is a point or more above the budget, or of which one taster named a fault plainly."""
    mean, peak = off_notes(profiles, casks)
    return np.asarray((mean >= budget + LEAST) | (peak >= budget + PLAIN))


def budget_of(brief: dict[str, Any], site: Any) -> float | None:
    """The fault budget of a brief in points, else the house's; None where the brief says yes to faults."""
    if pd.notna(brief.get("faults")) and bool(brief["faults"]):
        return None
    own = brief.get("fault_budget")
    return float(own) if own is not None and pd.notna(own) else float(site["plugins.proposals.fault_budget"])
