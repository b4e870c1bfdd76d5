"""From a drawn batch back to its proposal and trial, and forward to its rating."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from plugins.proposals.stock.stock import folded
from plugins.proposals.taste.taste_stages import whole_profiles


def trace(
    parts: pd.DataFrame,
    predicted: pd.DataFrame,
    trials: pd.DataFrame,
    components: pd.DataFrame,
    profiles: pd.DataFrame | None,
) -> list[dict[str, Any]]:
    """Rows of LINEAGE: one for each family of the nearest proposal of each drawn batch that had proposals."""
    rated = whole_profiles(profiles) if profiles is not None else None
    rows: list[dict[str, Any]] = []
    for batch, proposed in parts.groupby("batch", sort=True):
        drawn = components[(components["batch"] == batch) & (components["ethanol_kg"] > 0.0)]
        if not len(drawn):
            continue
        proposal, shared = nearest(proposed, drawn)
        accepted = trials[(trials["batch"] == batch) & trials["accepted"].fillna(False).astype(bool)]
        trial = str(accepted["trial"].iloc[-1]) if len(accepted) else None
        facts = {fact for ids in [*drawn["facts"], *accepted["facts"]] for fact in ids}
        mine = rated[rated["_sample"] == str(batch).casefold()].set_index("family") if rated is not None else None
        for taste in predicted[predicted["id"] == proposal].to_dict("records"):
            found = float("nan")
            own = facts | set(taste["facts"])
            if mine is not None and taste["family"] in mine.index:
                found = float(mine.loc[taste["family"], "mean"])
                own |= set(mine.loc[taste["family"], "facts"])
            inside = taste["low"] <= found <= taste["high"] if np.isfinite(found) else None
            rows.append(
                {
                    "batch": batch, "family": taste["family"], "proposal": proposal, "shared": shared, "trial": trial,
                    "predicted": taste["mean"], "low": taste["low"], "high": taste["high"], "rated": found,
                    "inside": inside, "facts": tuple(sorted(own)),
                }
            )  # fmt: skip
    return rows


def nearest(proposed: pd.DataFrame, drawn: pd.DataFrame) -> tuple[str, float]:
    """The proposal that shares most of the drawn alcohol, and the share; of equals the first."""
    ethanol = drawn["ethanol_kg"].groupby(folded(drawn["component"])).sum()
    share = ethanol / ethanol.sum()
    best, most = "", -1.0
    for name, rows in proposed.groupby("id", sort=True):
        own = rows.set_index(folded(rows["component"]))["share"]
        both = pd.concat([share, own], axis=1).fillna(0.0).min(axis=1).sum()
        if both > most + 1e-12:
            best, most = str(name), float(both)
    return best, most
