"""The stage ``lineages``: from a bottle's batch to casks and gauges, and from a cask to every batch it went into."""

from __future__ import annotations

import pandas as pd

from pipeline import stage, unite
from pipeline.common.names import folded
from plugins.cellar.declared.frames_stock import LINEAGES

KEYS = ["batch", "component", "drawn_at", "line"]


@stage(gives=LINEAGES)
def trace_lineage(
    components: pd.DataFrame,
    fillings_of_casks: pd.DataFrame,
    bottlings: pd.DataFrame,
    stays: pd.DataFrame | None = None,
) -> pd.DataFrame:
    """Components, and where their spirit lay → one row per batch, line and cask."""
    lines = components[components["kind"] != "water"].copy()
    total = lines.groupby("batch")["lpa"].transform("sum")
    lines["share_percent"] = 100.0 * lines["lpa"] / total.where(total > 0)
    lines["gauge"] = lines["strength_source"]
    rows = lines[[*KEYS, "kind", "filled_on", "lpa", "share_percent", "gauge", "facts"]]
    rows = _with_stays(rows, stays)
    direct = (rows["kind"] == "cask") & rows["cask"].isna()
    rows["cask"] = rows["cask"].mask(direct, rows["component"])
    rows["filled_on"] = rows["since"].fillna(rows["filled_on"].where(direct))
    known = pd.DataFrame(
        {
            "key": folded(fillings_of_casks["cask"]),
            "filled_on": fillings_of_casks["filled_on"],
            "filling": fillings_of_casks["filling"],
            "of_filling": fillings_of_casks["facts"],
        }
    ).drop_duplicates(["key", "filled_on"], keep="last")
    rows = rows.assign(key=folded(rows["cask"])).merge(known, on=["key", "filled_on"], how="left")
    rows = rows.merge(_runs(bottlings), left_on=pd.Series(folded(rows["batch"])), right_index=True, how="left")
    rows = rows.sort_values(["batch", "drawn_at", "component", "cask"], kind="stable").reset_index(drop=True)
    rows["number"] = rows.groupby("batch").cumcount() + 1
    facts = unite(rows["facts"], rows["of_filling"], rows["of_runs"])
    return LINEAGES.build({name: rows[name] for name in LINEAGES.names}, facts)


def _with_stays(rows: pd.DataFrame, stays: pd.DataFrame | None) -> pd.DataFrame:
    """Each line by the casks that its spirit lay in, back through movements, vats and earlier batches."""
    if stays is None or not len(stays):
        empty = pd.Series(index=rows.index, dtype=object)
        since = pd.Series(index=rows.index, dtype="datetime64[us]")
        return rows.assign(cask=empty, since=since, through=empty, doubt=empty)
    part = stays[[*KEYS, "cask", "filled_on", "through", "doubt", "facts"]].rename(
        columns={"filled_on": "since", "facts": "of_stay"}
    )
    made = rows.assign(line=rows["line"].fillna("")).merge(
        part.assign(line=part["line"].fillna("")), on=KEYS, how="left"
    )
    return made.assign(facts=unite(made["facts"], made["of_stay"]), cask=made["cask"].astype(object))


def _runs(bottlings: pd.DataFrame) -> pd.DataFrame:
    """Per folded batch its bottling runs in words, and the facts of them."""
    rows = bottlings.sort_values(["batch", "bottled_on", "run"], kind="stable")
    key = folded(rows["batch"])
    lot = rows["lot_code"].where(rows["lot_code"].isna(), " lot " + rows["lot_code"])
    words = rows["bottled_on"].dt.strftime("%Y-%m-%d") + lot.fillna("").astype(object)
    united = unite(rows["facts"], by=pd.Series(key, index=rows.index))
    told = words.groupby(key).agg("; ".join) if len(rows) else pd.Series(dtype=object)
    return pd.DataFrame({"bottled": told.reindex(united.index), "of_runs": united})
