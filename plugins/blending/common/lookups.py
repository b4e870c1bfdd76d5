"""Looking up by key: the nearest earlier or later row, or the one row of that key."""

from __future__ import annotations

from typing import Literal

import numpy as np
import pandas as pd


def nearest_row(
    keys: pd.Series,
    moments: pd.Series,
    found: pd.DataFrame,
    key: str,
    on: str,
    direction: Literal["backward", "forward"] = "backward",
) -> pd.DataFrame:
    """Rows of ``found`` whose ``key`` is the asked one and whose ``on`` is the nearest at or before.

    Parameters: asked keys and moments (one index, no missing moments), the table, the names of its
    key and moment columns, and ``backward`` (at or before) or ``forward`` (at or after). Returns the
    table's columns on the asked index, all missing where nothing was found. Of rows with an equal
    moment the last counts (backward) or the first (forward), so ``found`` comes sorted.
    """
    left = pd.DataFrame({"_key": keys.astype("str"), "_at": moments.astype("datetime64[us]")})
    left = left.assign(_row=np.arange(len(left))).dropna(subset=["_key"]).sort_values("_at", kind="stable")
    right = found[found[on].notna() & found[key].notna()]
    right = right.assign(_key=right[key].astype("str"), _on=right[on].astype("datetime64[us]"))
    right = right.sort_values("_on", kind="stable")
    joined = pd.merge_asof(left, right, left_on="_at", right_on="_on", by="_key", direction=direction)
    joined = joined.set_index("_row").reindex(np.arange(len(keys))).set_axis(keys.index)
    return joined.drop(columns=["_key", "_at", "_on"])


def looked_up(keys: pd.Series, by_key: pd.Series) -> pd.Series:
    """``by_key`` (of unique index) at the keys, on the keys' index and in its own dtype; missing where unknown."""
    return by_key.reindex(keys).set_axis(keys.index)
