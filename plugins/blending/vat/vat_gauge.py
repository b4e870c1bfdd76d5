"""Which reading gauges a batch: the last of the brief's vessel after the last draw or water and
before the first bottling, or before the next batch goes into that vessel.

A bottling has a day and no time of day. A reading dated to that day without a time comes before it.
A timed one of that day may be of the tank before bottling or of what was left after it. It counts
where its purpose says bottling tank, after water or after filter; else only where the vessel has no
earlier reading at all since the last addition (a gauge on the morning of bottling), and never as a
check. A check on the line is never a gauge.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline import stage
from pipeline.common.names import coded
from pipeline.common.names import folded_or_missing as folded
from plugins.blending.common.lookups import looked_up
from plugins.blending.common.moments import DAY, NEVER, TICK
from plugins.blending.components.draws import briefs_by_batch
from plugins.blending.components.gauges import gauges
from plugins.blending.declared.frames import VAT_WINDOWS

AFTER_BY_PURPOSE = ("after water", "after filter", "bottling tank")
NOT_AFTER = ("entry", "dump", "before water")
LINE, CHECK = "line", "check"
Places = NDArray[np.intp]


@stage(gives=VAT_WINDOWS)
def vat_windows(components: pd.DataFrame, briefs: pd.DataFrame, bottlings: pd.DataFrame) -> pd.DataFrame:
    """Until when each batch lay in its vessel: the one thing in its account that another batch decides."""
    table = _of_batches(components, briefs, bottlings)
    until = np.minimum((table["bottled_on"] + (DAY - TICK)).fillna(NEVER), _next_batch(table))
    facts = components["facts"].groupby(components["batch"]).first()
    return VAT_WINDOWS.build({"batch": list(table.index), "until": np.asarray(until)}, facts.reindex(table.index))


def windows(
    components: pd.DataFrame, briefs: pd.DataFrame, bottlings: pd.DataFrame, until: pd.DataFrame
) -> pd.DataFrame:
    """When each batch (index) lay in its vessel: from its last addition until bottling or the next batch.

    ``until`` is the frame ``vat_windows``.

    Columns: ``vessel_key`` (folded; missing without a brief or a vessel), ``vessel``, ``vessel_empty``,
    ``brief_facts``, ``first`` and ``last`` (addition), ``last_timed``, ``bottled_on`` (first), ``until``.
    """
    table = _of_batches(components, briefs, bottlings)
    table["until"] = looked_up(table.index.to_series(), until.set_index("batch")["until"])
    return table


def _of_batches(components: pd.DataFrame, briefs: pd.DataFrame, bottlings: pd.DataFrame) -> pd.DataFrame:
    """What ``windows`` gives, but for ``until``."""
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
    table["bottled_on"] = looked_up(keys, bottled)
    return table


def _next_batch(table: pd.DataFrame) -> pd.Series:
    """Just before the first draw of the next batch that goes into the same vessel."""
    dated = table.dropna(subset=["vessel_key", "first"]).sort_values(["vessel_key", "first"], kind="stable")
    following = dated.groupby("vessel_key")["first"].shift(-1) - TICK
    # Batches that start in one moment cannot be told apart by time.
    following = following.where(following >= dated["last"])
    return following.reindex(table.index).fillna(NEVER).astype("datetime64[us]")


def vat_gauges(batches: pd.DataFrame, proofs: pd.DataFrame, unstated_proof: float) -> pd.DataFrame:
    """The gauges of each batch's vessel that lie after its last addition and before its end.

    Parameters: what ``windows`` gives; the frame ``proofs``; the uncertainty of a reading that
    states none. Returns the columns of ``gauges`` with ``batch``, in order of batch, time and use;
    checks on the line are left out.
    """
    return _vat_gauges(batches, _of_vessels(proofs, set(batches["vessel_key"].dropna())), unstated_proof)


def _of_vessels(proofs: pd.DataFrame, keys: set[str]) -> pd.DataFrame:
    return proofs[coded(proofs["vessel"]).rows_of(keys)].reset_index(drop=True)


def _vat_gauges(batches: pd.DataFrame, proofs: pd.DataFrame, unstated_proof: float) -> pd.DataFrame:
    found = gauges(proofs, set(batches["vessel_key"].dropna()), unstated_proof)
    dated = batches[batches["last"].notna() & batches["vessel_key"].isin(found["key"])]
    batch, gauge = _candidates(dated, found)
    window = dated.iloc[batch].reset_index(names="batch")
    rows = found.iloc[gauge].reset_index(drop=True).assign(batch=window["batch"], bottled_on=window["bottled_on"])
    after = rows[_counts(rows, window)]
    return after[_before_bottling(after)].drop(columns="bottled_on").reset_index(drop=True)


def _candidates(dated: pd.DataFrame, found: pd.DataFrame) -> tuple[Places, Places]:
    """Places of batches and of gauges of their vessels from the day of the last addition until the end."""
    of_vessel = {key: part.index.to_numpy() for key, part in found.groupby("key", sort=False)}
    times = found["taken_at"].to_numpy()
    low, high = dated["last"].dt.normalize().to_numpy(), dated["until"].to_numpy()
    pairs = [np.empty((2, 0), dtype=np.intp)]
    for place, key in enumerate(dated["vessel_key"]):
        places = of_vessel[key]
        start = np.searchsorted(times[places], low[place])
        kept = places[start : np.searchsorted(times[places], high[place], side="right")]
        pairs.append(np.vstack([np.full(kept.size, place), kept]))
    both = np.hstack(pairs)
    return both[0], both[1]


def _counts(rows: pd.DataFrame, window: pd.DataFrame) -> pd.Series:
    """Whether gauges count, given their batch's window, row by row.

    A gauge dated without a time on the day of the last addition counts by what it was taken for.
    """
    at, timed, purpose = rows["taken_at"], rows["timed"].astype(bool), rows["purpose"]
    last, last_timed = window["last"], window["last_timed"].astype(bool)
    same_day = at.dt.normalize() == last.dt.normalize()
    said_after = ~timed & same_day & purpose.isin(AFTER_BY_PURPOSE)
    doubtful = same_day & ~(timed & last_timed) & purpose.isin(NOT_AFTER)
    return ((at >= last) | said_after) & ~doubtful


def _before_bottling(rows: pd.DataFrame) -> pd.Series:
    """Whether readings since the last addition are of the vat before bottling, as the module's rule says."""
    at, purpose = rows["taken_at"], rows["purpose"]
    that_day = rows["timed"].astype(bool) & (at.dt.normalize() == rows["bottled_on"])
    earliest = at == at.groupby(rows["batch"]).transform("min")
    by_purpose = purpose.isin(AFTER_BY_PURPOSE)
    return (purpose != LINE) & (~that_day | by_purpose | (earliest & (purpose != CHECK)))


def last_checks(
    batches: pd.DataFrame, proofs: pd.DataFrame, bottlings: pd.DataFrame, unstated_proof: float
) -> pd.DataFrame:
    """Per batch (index) the last reading of its vessel at the bottling tank or on the line while bottled."""
    found = gauges(proofs, set(batches["vessel_key"].dropna()), unstated_proof)
    found = found[found["purpose"].isin(["bottling tank", LINE])]
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
