"""Fillings: which spirit was in a cask on the day it was drawn, and what the inventory says of it."""

from __future__ import annotations

import pandas as pd

from pipeline.common.names import folded_or_missing as folded
from plugins.blending.common.lookups import nearest_row

DESCRIBED = ["capacity_L", "entry_volume_L", "hold", "owner", "facts"]


def inventory(casks: pd.DataFrame) -> pd.DataFrame:
    """The inventory with ``key`` (folded cask), ``filling`` (default: cask and day) and ``fill_key``.

    Sorted by cask, filling and day of the export; a blank day of the export counts as the day of filling.
    """
    table = casks.assign(key=folded(casks["cask"]))
    table = table[table["key"].notna()]
    default = table["cask"] + table["filled_on"].dt.strftime(" %Y-%m-%d").fillna("")
    filling = table["filling"].fillna(default).astype("str")
    table = table.assign(
        filling=filling,
        fill_key=table["key"] + "\x1f" + folded(filling),
        as_of=table["as_of"].fillna(table["filled_on"]),
        dated=table["gauged_on"].fillna(table["as_of"]).fillna(table["filled_on"]),
    )
    return table.sort_values(["key", "fill_key", "as_of"], kind="stable").reset_index(drop=True)


def live(draws: pd.DataFrame, stock: pd.DataFrame) -> pd.DataFrame:
    """The filling live on the day of each draw of a cask.

    Parameters: ``draws`` with ``kind``, ``key`` and ``at``; the ``inventory``. Returns on the same
    index: ``filling``, ``fill_key``, ``filled_on``, ``before_filled`` (drawn before the cask's
    first filling; that one is then taken).
    """
    latest = stock.drop_duplicates("fill_key", keep="last").sort_values(["filled_on", "fill_key"], kind="stable")
    latest = latest[["key", "filling", "fill_key", "filled_on"]].rename(columns={"key": "cask_key"})
    keys = draws["key"].where(draws["kind"] == "cask")
    days = draws["at"].dt.normalize()
    back = nearest_row(keys, days, latest, "cask_key", "filled_on")
    ahead = nearest_row(keys, days, latest, "cask_key", "filled_on", "forward")
    early = back["fill_key"].isna() & ahead["fill_key"].notna()
    made = back.where(~early, ahead)[["filling", "fill_key", "filled_on"]]
    return made.assign(filled_on=made["filled_on"].astype("datetime64[us]"), before_filled=early)


def described(draws: pd.DataFrame, stock: pd.DataFrame) -> pd.DataFrame:
    """The inventory row that describes each draw's filling: the last at or before, else the first after."""
    ordered = stock.sort_values(["as_of", "fill_key"], kind="stable")[["fill_key", "as_of", *DESCRIBED]]
    ordered = ordered.rename(columns={"fill_key": "stock_key"})
    back = nearest_row(draws["fill_key"], draws["at"], ordered, "stock_key", "as_of")
    ahead = nearest_row(draws["fill_key"], draws["at"], ordered, "stock_key", "as_of", "forward")
    return back.where(back["stock_key"].notna(), ahead)


def on_paper(draws: pd.DataFrame, stock: pd.DataFrame) -> pd.DataFrame:
    """The inventory's last strength of each draw's filling at or before its day: proof, unit, date, facts."""
    stated = stock[stock["proof"].notna()].sort_values(["dated", "as_of", "fill_key"], kind="stable")
    stated = stated[["fill_key", "dated", "proof", "proof_unit", "facts"]].rename(columns={"fill_key": "stock_key"})
    return nearest_row(draws["fill_key"], draws["at"], stated, "stock_key", "dated")
