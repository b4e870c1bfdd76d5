"""Which reading gauges a batch: the last of the brief's vessel after the last draw or water and
before the first bottling, or before the next batch goes into that vessel.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from plugins.blending.draws import briefs_by_batch
from plugins.blending.gauges import gauges
from plugins.blending.lookups import looked_up
from plugins.blending.moments import DAY, NEVER, TICK
from plugins.blending.names import folded

AFTER_BY_PURPOSE = ("after water", "after filter", "bottling tank")
NOT_AFTER = ("entry", "dump", "before water")


@dataclass(frozen=True)
class Window:
    """When a batch lay in its vessel: from the last addition until bottling or the next batch."""

    last: pd.Timestamp
    last_timed: bool
    until: pd.Timestamp


def windows(components: pd.DataFrame, briefs: pd.DataFrame, bottlings: pd.DataFrame) -> pd.DataFrame:
    """Per batch (index): ``vessel_key``, ``vessel``, ``vessel_empty``, ``brief_facts`` and ``window``.

    A batch without a brief or a vessel has a missing ``vessel_key``.
    """
    brief = briefs_by_batch(briefs)
    known = components["drawn_at"].notna()
    dated = components[known].assign(timed=components["drawn_at_timed"].fillna(False).astype(bool))
    by = dated.sort_values(["drawn_at", "timed"], kind="stable").groupby("batch", sort=True)
    table = pd.DataFrame(index=pd.Index(sorted(set(components["batch"])), name="batch"))
    keys = folded(table.index.to_series())
    for name in ("vessel_key", "vessel", "vessel_empty", "facts"):
        table["brief_facts" if name == "facts" else name] = looked_up(keys, brief[name])
    table["first"], table["last"] = by["drawn_at"].min(), by["drawn_at"].max()
    table["last_timed"] = by["timed"].last()
    bottled = bottlings["bottled_on"].groupby(folded(bottlings["batch"])).min()
    table["until"] = looked_up(keys, bottled + (DAY - TICK)).fillna(NEVER)
    table["until"] = np.minimum(table["until"], _next_batch(table))
    return table


def _next_batch(table: pd.DataFrame) -> pd.Series:
    """Just before the first draw of the next batch that goes into the same vessel."""
    dated = table.dropna(subset=["vessel_key", "first"]).sort_values(["vessel_key", "first"], kind="stable")
    following = dated.groupby("vessel_key")["first"].shift(-1) - TICK
    # Batches that start in one moment cannot be told apart by time.
    following = following.where(following >= dated["last"])
    return following.reindex(table.index).fillna(NEVER).astype("datetime64[us]")


def vat_gauges(batches: pd.DataFrame, proofs: pd.DataFrame, unstated_proof: float) -> dict[str, pd.DataFrame]:
    """Per batch the gauges of its vessel that lie after its last addition and before its end.

    Parameters: what ``windows`` gives; the frame ``proofs``; the uncertainty of a reading that
    states none. Batches without any are left out; rows are in order of time and use, the line's
    own checks left out.
    """
    keys = set(batches["vessel_key"].dropna())
    found = gauges(proofs, keys, unstated_proof)
    found = found[found["purpose"] != "line"]
    of_vessel = dict(iter(found.groupby("key", sort=False)))
    made: dict[str, pd.DataFrame] = {}
    dated = batches[batches["last"].notna()]
    for batch, row in zip(dated.index, dated.to_dict("records"), strict=True):
        rows = of_vessel.get(row["vessel_key"])
        if rows is None:
            continue
        kept = _within(rows, Window(row["last"], bool(row["last_timed"]), row["until"]))
        if len(kept):
            made[str(batch)] = kept
    return made


def _within(rows: pd.DataFrame, window: Window) -> pd.DataFrame:
    """A gauge dated without a time on the day of the last addition counts by what it was taken for."""
    at, timed, purpose = rows["taken_at"], rows["timed"].astype(bool), rows["purpose"]
    low, high = at.searchsorted(window.last.normalize()), at.searchsorted(window.until, side="right")
    at, timed, purpose = at.iloc[low:high], timed.iloc[low:high], purpose.iloc[low:high]
    same_day = at.dt.normalize() == window.last.normalize()
    said_after = ~timed & same_day & purpose.isin(AFTER_BY_PURPOSE)
    doubtful = same_day & ~(timed & window.last_timed) & purpose.isin(NOT_AFTER)
    return rows.iloc[low:high][((at >= window.last) | said_after) & ~doubtful]


def last_checks(
    batches: pd.DataFrame, proofs: pd.DataFrame, bottlings: pd.DataFrame, unstated_proof: float
) -> pd.DataFrame:
    """Per batch (index) the last reading of its vessel at the bottling tank or on the line while bottled."""
    found = gauges(proofs, set(batches["vessel_key"].dropna()), unstated_proof)
    found = found[found["purpose"].isin(["bottling tank", "line"])]
    last_run = (bottlings["bottled_on"] + (DAY - TICK)).groupby(folded(bottlings["batch"])).max()
    asked = batches.assign(end=looked_up(folded(batches.index.to_series()), last_run)).dropna(
        subset=["vessel_key", "end", "first"]
    )
    pairs = asked.reset_index().merge(found, left_on="vessel_key", right_on="key", suffixes=("_brief", ""))
    pairs = pairs[(pairs["taken_at"] >= pairs["first"].dt.normalize()) & (pairs["taken_at"] <= pairs["end"])]
    return (
        pairs.sort_values(["batch", "taken_at", "rank"], kind="stable")
        .drop_duplicates("batch", keep="last")
        .set_index("batch")
    )
