"""The fillings that the book knows: one row per filling of a cask, with its wood, its place and its end."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from pipeline import unite
from pipeline.common.names import folded
from plugins.cellar.casks.names import compiled, places
from plugins.cellar.casks.strengths import stated_proof
from plugins.cellar.declared.settings import PLACE

GONE = r"\b(?:empt|dump|disgorg|gone|closed|destroyed|shipped|sold|bottled)"
DESCRIBED = ("spirit", "owner", "species", "wood_use", "location", "capacity_L", "entry_volume_L", "hold")
FAR = np.iinfo(np.int64).max


def inventory(casks: pd.DataFrame) -> pd.DataFrame:
    """The inventory with ``key`` (folded cask), ``fill_key``, ``day`` (as_of, else filled_on) and ``gone``.

    In order of filling and day. Rows without a cask or a day of filling are left out: they cannot be told apart.
    """
    rows = casks[casks["cask"].notna() & casks["filled_on"].notna()]
    filling = rows["filling"].fillna(rows["cask"] + rows["filled_on"].dt.strftime(" %Y-%m-%d")).astype("str")
    key = folded(rows["cask"])
    status = rows["status"].fillna("").str.contains(GONE, case=False, regex=True).astype(bool)
    made = rows.assign(
        key=key,
        filling=filling,
        fill_key=pd.Series(key + "\x1f" + folded(filling), index=rows.index, dtype="str"),
        day=rows["as_of"].fillna(rows["filled_on"]),
        gone=status | rows["volume_L"].eq(0.0),
    )
    return made.sort_values(["fill_key", "day"], kind="stable").reset_index(drop=True)


def fillings(stock: pd.DataFrame, cask_changes: pd.DataFrame, site: Any) -> pd.DataFrame:
    """One row per filling, in order of cask and day of filling.

    Parameters: ``inventory``, cask_changes. Columns: key, fill_key, cask, filling, filled_on, next_on
    (the cask's next filling, NaT), the columns of DESCRIBED (last stated), entry_proof_60F, warehouse, floor,
    wood, listed_on (last inventory that lists it), gone (its last row says so), ended_at (NaT while it is in the
    cask), ended_by, facts (of its last row) and end_facts.
    """
    last = stock.groupby("fill_key", sort=False)[list(DESCRIBED)].last()  # the last that is stated
    rows = stock.drop_duplicates("fill_key", keep="last").set_index("fill_key")
    made = rows[["key", "cask", "filling", "filled_on", "day", "gone", "facts"]].rename(columns={"day": "listed_on"})
    made[list(DESCRIBED)] = last.reindex(made.index)
    entry = stock.assign(entry=stated_proof(stock["entry_proof"], stock["entry_proof_unit"]))
    made["entry_proof_60F"] = entry.groupby("fill_key", sort=False)["entry"].last().reindex(made.index)
    made[["warehouse", "floor"]] = places(made["location"], compiled(site["plugins.cellar.place_pattern"]) or _plain())
    words = made["species"].fillna("wood not stated") + ", " + made["wood_use"].fillna("fill not stated")
    made["wood"] = words.astype(object)
    made = made.reset_index().sort_values(["key", "filled_on", "fill_key"], kind="stable").reset_index(drop=True)
    made["next_on"] = made.groupby("key")["filled_on"].shift(-1)
    return _ended(made, cask_changes)


def _plain() -> Any:
    return compiled(PLACE)


def filling_at(keys: np.ndarray, moments: pd.Series, table: pd.DataFrame) -> np.ndarray:
    """The place in ``fillings`` of the filling that was in each cask at each moment; -1 where none was."""
    known = pd.Index(table["key"].unique())
    cask = known.get_indexer(pd.Index(keys))
    own = known.get_indexer(pd.Index(table["key"]))
    days = _us(table["filled_on"])
    at = _us(moments)
    order = np.lexsort((days, own))
    place = last_at_or_before(own[order], days[order], cask, at)
    found = np.where(place >= 0, order[np.maximum(place, 0)], -1) if len(order) else np.full(len(keys), -1)
    right = (found >= 0) & (cask >= 0)
    right &= np.where(found >= 0, own[np.maximum(found, 0)] == cask, False) if len(own) else False
    return np.where(right, found, -1)


def last_at_or_before(own: np.ndarray, days: np.ndarray, cask: np.ndarray, at: np.ndarray) -> np.ndarray:
    """searchsorted over pairs (cask, moment): one column of integers that keeps their order."""
    _, rank = np.unique(np.concatenate([days, at]), return_inverse=True)
    width = int(rank.max(initial=0)) + 1
    have = own.astype(np.int64) * width + rank[: len(days)]
    want = cask.astype(np.int64) * width + rank[len(days) :]
    return np.searchsorted(have, want, side="right") - 1


def _us(moments: pd.Series) -> np.ndarray:
    """Microseconds; a missing moment lies before all others."""
    return moments.to_numpy("datetime64[us]").astype(np.int64)


def _ended(made: pd.DataFrame, cask_changes: pd.DataFrame) -> pd.DataFrame:
    """Fills in when and how each filling ended: emptied for a batch, moved out, filled again, or listed as gone."""
    ends = cask_changes[cask_changes["emptied"]].sort_values("at", kind="stable")
    drawn = "emptied for " + ends["other"].astype(object)
    ends = ends.assign(by=drawn.where(ends["what"] == "drawn", ends["what"] + " to " + ends["other"]))
    ends["place"] = filling_at(folded(ends["cask"]), ends["at"], made)
    last = ends[ends["place"] >= 0].drop_duplicates("place", keep="last").set_index("place")
    made["ended_at"] = last["at"].reindex(made.index).astype("datetime64[us]")
    made["ended_by"] = last["by"].reindex(made.index).astype(object)
    made["end_facts"] = last["facts"].reindex(made.index).astype(object)
    for when, at, by in (
        (made["gone"], made["listed_on"], "no longer in the cask by the inventory"),
        (made["next_on"].notna(), made["next_on"], "the cask was filled again"),
    ):
        new = when & made["ended_at"].isna()
        made["ended_at"] = made["ended_at"].mask(new, at)
        made["ended_by"] = made["ended_by"].mask(new, by)
        made["end_facts"] = made["end_facts"].mask(new, made["facts"])
    made["end_facts"] = made["end_facts"].where(made["end_facts"].notna(), made["facts"])
    return made


def with_end_facts(made: pd.DataFrame) -> pd.Series:
    """What a filling's row rests on, its end included."""
    return unite(made["facts"], made["end_facts"])
