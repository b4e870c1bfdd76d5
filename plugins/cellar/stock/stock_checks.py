"""The stage ``stock_checks``: the last inventory of each warehouse against what the book says is there."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from pipeline import Finding, stage, unite
from pipeline.common.names import folded
from plugins.cellar.casks.fillings import inventory
from plugins.cellar.casks.names import compiled, places
from plugins.cellar.declared.frames_stock import CHECKS
from plugins.cellar.declared.settings import PLACE
from plugins.cellar.rates.rate_stage import places_of
from plugins.cellar.rates.rates import Z95, years
from plugins.cellar.stock.stock_findings import tell

NOT_FOUND = r"\b(?:not found|missing|absent|not there|cannot find)\b"
NOT_COUNTED = r"^\s*not counted\b"
OF_A_RECOUNT = r"^\s*(?:present|not found|empty|not counted)\s*$"
WHOLE = 0.5
"""An export that lists less than this share of what should lie in a warehouse is a part of it, such as a recount."""
BROUGHT = ("fill", "recask", "finish", "receive", "return", "rework", "marry")


@stage(gives=CHECKS)
def check_stock(
    casks: pd.DataFrame,
    fillings_of_casks: pd.DataFrame,
    cask_histories: pd.DataFrame,
    cask_rates: pd.DataFrame,
    movements: pd.DataFrame,
    site: Any,
) -> tuple[pd.DataFrame, list[Finding]]:
    """Inventories against the book → casks missing, unknown, emptied and still listed, or of another volume."""
    rows = listed(casks, fillings_of_casks, site)
    if not len(rows):
        return CHECKS.empty(), []
    wholes = whole_exports(rows, fillings_of_casks)
    current = rows.merge(wholes[["warehouse", "last"]], on="warehouse", how="left")
    current = current[current["day"] >= current["last"].fillna(pd.Timestamp.min)]
    current = current.drop_duplicates("place", keep="last").reset_index(drop=True)
    checked = _compared(current, fillings_of_casks, cask_histories, cask_rates, site)
    _emptied(checked, fillings_of_casks)
    _unknown(checked, rows, wholes, movements)
    gone = checked["status"].str.contains(NOT_FOUND, case=False, regex=True).to_numpy(bool)
    checked.loc[gone, ["verdict", "why"]] = ["missing", "its row says that it was not found"]
    every = pd.concat([checked, _missing(checked, wholes, fillings_of_casks)], ignore_index=True)
    every = every.sort_values(["warehouse", "floor", "cask"], kind="stable").reset_index(drop=True)
    columns = {name: every[name].to_numpy(object) for name in CHECKS.names if name != "as_of"}
    return CHECKS.build({**columns, "as_of": every["day"]}, every["facts"]), tell(every)


def listed(casks: pd.DataFrame, fillings: pd.DataFrame, site: Any) -> pd.DataFrame:
    """Inventory rows that say a filling is there, with place (row of fillings), warehouse, floor and status.

    Rows that a recount sheet left as "not counted" are none.
    """
    stock = inventory(casks)
    known = pd.Index(folded(fillings["cask"]) + "\x1f" + folded(fillings["filling"]))
    status = stock["status"].fillna("").astype("str")
    rows = stock.assign(place=known.get_indexer(pd.Index(stock["fill_key"])), status=status)
    rows = rows[(rows["place"] >= 0) & ~rows["gone"] & ~status.str.contains(NOT_COUNTED, case=False, regex=True)]
    pattern = compiled(site["plugins.cellar.place_pattern"]) or compiled(PLACE)
    assert pattern is not None
    where = rows["location"].fillna(fillings["location"].reindex(rows["place"]).set_axis(rows.index))
    rows = rows.assign(location=where)
    rows[["warehouse", "floor"]] = places(where, pattern)
    return rows.sort_values(["place", "day"], kind="stable").reset_index(drop=True)


def whole_exports(rows: pd.DataFrame, fillings: pd.DataFrame) -> pd.DataFrame:
    """The last two days of each warehouse on which an export listed at least half of what should lie there.

    Columns warehouse, last, before (NaT where there was none).
    """
    recounted = rows["status"].str.contains(OF_A_RECOUNT, case=False, regex=True).astype(bool)
    counted = rows[~recounted].groupby(["warehouse", "day"])["place"].nunique().reset_index(name="listed")
    begun = fillings["filled_on"].to_numpy("datetime64[us]")
    ended = fillings["ended_at"].to_numpy("datetime64[us]")
    ended = np.where(np.isnat(ended), np.datetime64("9999-01-01", "us"), ended)
    here = fillings["warehouse"].to_numpy(object)
    pairs = zip(counted["warehouse"], counted["day"].to_numpy("datetime64[us]"), strict=True)
    should = [int(((here == warehouse) & (begun <= day) & (ended > day)).sum()) for warehouse, day in pairs]
    whole = counted[counted["listed"] >= WHOLE * np.maximum(np.array(should), 1)].sort_values(["warehouse", "day"])
    days = whole.groupby("warehouse")["day"]
    made = pd.DataFrame(
        {"last": days.last(), "before": days.nth([-2]).set_axis(whole["warehouse"][days.nth([-2]).index])}
    )
    return made.rename_axis("warehouse").reset_index()


def _compared(
    current: pd.DataFrame, fillings: pd.DataFrame, histories: pd.DataFrame, rates: pd.DataFrame, site: Any
) -> pd.DataFrame:
    """Listed volumes against the last measured volume before them, less what casks like it lose since."""
    basis = current["volume_basis"].fillna("").to_numpy(str)
    gauged = current["gauged_on"].notna().to_numpy()
    repeats = ((current["volume_L"] - current["entry_volume_L"]).abs() <= 0.01).to_numpy(bool)
    stated = (basis == "regauge") | ((basis == "") & gauged)
    original = (basis == "original") | ((basis == "") & ~gauged & repeats)
    percent = np.where(
        stated, float(site["plugins.cellar.stated_percent"]), float(site["plugins.cellar.estimate_percent"])
    )
    at = current["gauged_on"].where(stated, current["day"]).fillna(current["day"])
    before = _before(current, at, fillings, histories)
    order = places_of(rates, fillings)
    by_place = rates.assign(place=order).set_index("place").reindex(current["place"])
    rate = by_place["neighbours_percent_per_year"].to_numpy(float) / 100.0
    rate_spread = (by_place["neighbours_percent_per_year_high"].to_numpy(float) / 100.0 - rate) / Z95
    season = float(site["plugins.cellar.season_percent"]) / 100.0
    span = np.maximum(years(at.to_numpy()) - years(before["at"].to_numpy()), 0.0)
    with np.errstate(invalid="ignore", divide="ignore"):
        own = before["volume_uncertainty_L"].to_numpy(float) / before["volume_20C_L"].to_numpy(float)
        middle = np.log(before["volume_20C_L"].to_numpy(float)) + before["moved"].to_numpy(float) - rate * span
        spread = np.sqrt(own**2 + 2 * season**2 + (span * rate_spread) ** 2)
        volume = current["volume_L"].mask(original).to_numpy(float)
        apart = (np.log(volume) - middle) / np.hypot(spread, percent / 100.0)
        off = np.abs(np.expm1(np.log(volume) - middle)) * 100.0
    differs = (np.abs(apart) > float(site["plugins.cellar.apart_spreads"])) & (
        off > float(site["plugins.cellar.apart_percent"])
    )
    known = np.isfinite(apart)
    why = np.select(
        [known, original, np.isnan(volume)],
        ["against the measured volume before it", "the inventory repeats the volume at filling", "no volume listed"],
        "no measured volume before it",
    )
    return current.assign(
        listed_L=current["volume_L"],
        book_L=np.exp(middle),
        book_low_L=np.exp(middle - Z95 * spread),
        book_high_L=np.exp(middle + Z95 * spread),
        apart=apart,
        verdict=np.select([differs, known], ["differs", "agrees"], "not compared").astype(object),
        why=why.astype(object),
        measured_on=before["at"].to_numpy(),
        facts=unite(current["facts"], before["facts"]),
    )


def _before(current: pd.DataFrame, at: pd.Series, fillings: pd.DataFrame, histories: pd.DataFrame) -> pd.DataFrame:
    """The last comparable measured point at or before each row that rests on another row; and what moved since."""
    place = places_of(histories, fillings)
    good = (place >= 0) & histories["comparable"].to_numpy(bool) & histories["volume_20C_L"].notna().to_numpy()
    points = histories.assign(place=place, fact=[facts[0] for facts in histories["facts"]])[good]
    own = points.set_index("fact")["log_shift"]
    measured = points[points["basis"] != "estimate"].rename(columns={"facts": "point_facts"})
    left = pd.DataFrame({"place": current["place"], "when": at.astype("datetime64[us]")})
    left["fact"] = [facts[0] for facts in current["facts"]]
    left = left.reset_index().merge(measured, on="place", how="left", suffixes=("", "_point"))
    left = left[(left["at"] <= left["when"]) & ((left["fact_point"] != left["fact"]) | (left["kind"] == "filled"))]
    last = left.sort_values(["index", "at"], kind="stable").drop_duplicates("index", keep="last").set_index("index")
    last = last.reindex(current.index)
    shift = pd.Series([facts[0] for facts in current["facts"]], index=current.index).map(
        own[~own.index.duplicated(keep="last")]
    )
    moved = (last["log_shift"] - shift.fillna(last["log_shift"])).to_numpy(float)
    names = ["at", "volume_20C_L", "volume_uncertainty_L"]
    return last[names].assign(moved=moved, facts=last["point_facts"].astype(object))


def _emptied(checked: pd.DataFrame, fillings: pd.DataFrame) -> None:
    ended = fillings["ended_at"].reindex(checked["place"]).set_axis(checked.index)
    by = fillings["ended_by"].reindex(checked["place"]).set_axis(checked.index)
    late = (ended < checked["day"]).fillna(False) & ~by.fillna("").str.contains("inventory|filled again", regex=True)
    checked.loc[late, "verdict"] = "emptied"
    checked.loc[late, "why"] = by[late] + " on " + ended[late].dt.strftime("%Y-%m-%d")


def _unknown(checked: pd.DataFrame, rows: pd.DataFrame, wholes: pd.DataFrame, movements: pd.DataFrame) -> None:
    """Fillings older than the export before, which did not list them, and which no movement brought since."""
    first = rows.groupby("place")["day"].first().reindex(checked["place"]).set_axis(checked.index)
    before = _looked_up(checked["warehouse"], wholes.set_index("warehouse")["before"])
    new = (first > before) & (checked["filled_on"] < before) & (first == checked["day"])
    brought = movements[movements["reason"].isin(BROUGHT)]
    arrived = pd.DataFrame({"key": folded(brought["to"]), "at": brought["moved_at"]}).groupby("key")["at"].max()
    came = _looked_up(checked["key"], arrived)
    new &= ~(came > before).fillna(False)
    new = new.fillna(False).astype(bool)
    checked.loc[new, "verdict"] = "unknown"
    checked.loc[new, "why"] = (
        "filled before the inventory of " + before[new].dt.strftime("%Y-%m-%d") + ", which lacks it"
    )


def _missing(checked: pd.DataFrame, wholes: pd.DataFrame, fillings: pd.DataFrame) -> pd.DataFrame:
    """Fillings that should lie in a warehouse on the day of its last whole export, which does not list them."""
    last = _looked_up(fillings["warehouse"], wholes.set_index("warehouse")["last"])
    gone = (
        (fillings["listed_on"] < last) & (fillings["filled_on"] <= last) & ~(fillings["ended_at"] <= last).fillna(False)
    )
    gone &= ~fillings.index.isin(checked["place"])
    rows = fillings[gone.fillna(False).astype(bool)]
    return pd.DataFrame(
        {
            **{
                name: rows[name] for name in ("cask", "filling", "warehouse", "floor", "location", "filled_on", "facts")
            },
            "day": last[rows.index],
            "verdict": "missing",
            "why": "last listed on " + rows["listed_on"].dt.strftime("%Y-%m-%d"),
            **{name: np.nan for name in ("listed_L", "book_L", "book_low_L", "book_high_L", "apart")},
        }
    )


def _looked_up(keys: pd.Series, days: pd.Series) -> pd.Series:
    """The day of each key, NaT where there is none; also where no key has one."""
    return days.astype("datetime64[us]").reindex(keys.to_numpy(object)).set_axis(keys.index)
