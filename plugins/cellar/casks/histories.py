"""The stage ``cask_histories``: what is known of each filling's volume and strength, in order of time."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from pipeline import stage, unite
from pipeline.common.names import folded
from plugins import proof
from plugins.cellar.casks.changes import placed, shifts
from plugins.cellar.casks.fillings import filling_at, fillings, inventory, last_at_or_before, with_end_facts
from plugins.cellar.casks.strengths import stated_proof
from plugins.cellar.declared.frames import FILLINGS, HISTORIES

NOT_OF_THE_CASK = ("before water", "after water", "after filter", "bottling tank", "line")
SAME_GAUGE = np.timedelta64(7, "D")
BASES = ("weighed", "metered", "dipped")


@stage(gives=FILLINGS, per="cask")
def list_fillings(casks: pd.DataFrame, cask_changes: pd.DataFrame, site: Any) -> pd.DataFrame:
    """Inventory, draws and movements → every filling with its wood, its place and how it ended."""
    made = fillings(inventory(casks), cask_changes, site)
    columns = {name: made[name].to_numpy(object) for name in FILLINGS.names}
    return FILLINGS.build(columns, with_end_facts(made))


@stage(gives=HISTORIES, per="cask", links="proofs.vessel = fillings_of_casks.cask")
def gather_histories(
    casks: pd.DataFrame,
    fillings_of_casks: pd.DataFrame,
    cask_changes: pd.DataFrame,
    proofs: pd.DataFrame,
    site: Any,
) -> pd.DataFrame:
    """Filling, gauges and inventories → each filling's volumes and strengths, in order of time."""
    table = keyed(fillings_of_casks)
    stock = inventory(casks)
    parts = [_filled(stock, table, site), _gauged(proofs, table), _listed(stock, table, site)]
    points = pd.concat(parts, ignore_index=True)
    points = points[points["at"].notna() & ((points["volume_L"] > 0) | points["proof_60F"].notna())]
    points["order"] = points["kind"].map({"filled": 0, "gauged": 1, "listed": 2})
    points = points.sort_values(["place", "at", "order"], kind="stable").reset_index(drop=True)
    points = _without_restated(points)
    done = placed(cask_changes, table)
    rate = float(site["plugins.cellar.loss_percent_per_year"]) / 100.0
    points["shift"], points["comparable"] = shifts(points, done, rate)
    points["number"] = points.groupby("place").cumcount() + 1
    return HISTORIES.build(_columns(points, table), _facts(points, table))


def keyed(fillings_of_casks: pd.DataFrame) -> pd.DataFrame:
    """``fillings`` as the frame gives it, with its folded ``key`` again."""
    return fillings_of_casks.assign(key=folded(fillings_of_casks["cask"]))


def _filled(stock: pd.DataFrame, table: pd.DataFrame, site: Any) -> pd.DataFrame:
    """The volume and strength at filling, as the last inventory that states them has it."""
    return pd.DataFrame(
        {
            "place": np.arange(len(table)),
            "at": table["filled_on"],
            "kind": "filled",
            "basis": "at filling",
            "volume_L": table["entry_volume_L"],
            "volume_uncertainty_L": table["entry_volume_L"] * float(site["plugins.cellar.entry_percent"]) / 100.0,
            "proof_60F": table["entry_proof_60F"],
            "proof_uncertainty": float(site["uncertainty.unstated_proof"]),
            "obscuration_proof": np.nan,
            "instrument": None,
            "by_instrument": 0.0,
            "facts": _first_facts(stock, table),
        }
    )


def _first_facts(stock: pd.DataFrame, table: pd.DataFrame) -> list[tuple[int, ...]]:
    """The last inventory row that states each filling's entry; else its last row."""
    stated = stock[stock["entry_volume_L"].notna() | stock["entry_proof"].notna()]
    found = stated.drop_duplicates("fill_key", keep="last").set_index("fill_key")["facts"]
    wanted = table["key"] + "\x1f" + folded(table["filling"])
    found = found.reindex(wanted)
    return [one if isinstance(one, tuple) else two for one, two in zip(found, table["facts"], strict=True)]


def _gauged(proofs: pd.DataFrame, table: pd.DataFrame) -> pd.DataFrame:
    """Readings of the cask's own spirit. Strengths are apparent ones, so that gauges compare with each other."""
    rows = proofs[~proofs["purpose"].isin(NOT_OF_THE_CASK)]
    place = filling_at(folded(rows["vessel"]), rows["taken_at"], table)
    rows = rows.assign(place=place)[place >= 0]
    fraction = rows["mass_fraction"].to_numpy(float)
    spread = rows["content_uncertainty_kg"].to_numpy(float) / rows["content_mass_kg"].to_numpy(float)
    apparent = rows["proof_apparent_60F"].fillna(rows["proof_60F"])
    volume = rows["content_volume_20C_L"]
    volume = volume.fillna(
        pd.Series(proof.volume_L(rows["content_mass_kg"].to_numpy(float), fraction, proof.T_20C), index=rows.index)
    )
    return pd.DataFrame(
        {
            "place": rows["place"],
            "at": rows["taken_at"],
            "kind": "gauged",
            "basis": rows["content_basis"].where(rows["content_basis"].isin(BASES), "strength only").astype(object),
            "volume_L": volume,
            "volume_uncertainty_L": volume * spread,
            "proof_60F": apparent,
            "proof_uncertainty": rows["proof_uncertainty"].fillna(0.3),
            "obscuration_proof": rows["obscuration_proof"].where(rows["strength_basis"] == "true"),
            "instrument": rows["instrument"].astype(object),
            "by_instrument": rows["proof_by_instrument"].fillna(0.0),
            "facts": rows["facts"],
        }
    )


def _listed(stock: pd.DataFrame, table: pd.DataFrame, site: Any) -> pd.DataFrame:
    """What inventories state: a regauge counts as one, an estimate is shown and starts a forecast where nothing else
    does; the volume at filling that an export repeats is left out."""
    known = pd.Index(table["key"] + "\x1f" + folded(table["filling"]))
    rows = stock.assign(place=known.get_indexer(pd.Index(stock["fill_key"])))
    rows = rows[(rows["place"] >= 0) & ~rows["gone"]]
    repeats = (rows["volume_L"] - rows["entry_volume_L"]).abs() <= 0.01
    basis = rows["volume_basis"].fillna("")
    regauged = (basis == "regauge") | ((basis == "") & rows["gauged_on"].notna())
    original = (basis == "original") | ((basis == "") & rows["gauged_on"].isna() & repeats)
    volume = rows["volume_L"].mask(original)
    percent = np.where(
        regauged, float(site["plugins.cellar.stated_percent"]), float(site["plugins.cellar.estimate_percent"])
    )
    return pd.DataFrame(
        {
            "place": rows["place"],
            "at": rows["gauged_on"].where(regauged | volume.isna(), rows["day"]).fillna(rows["day"]),
            "kind": "listed",
            "basis": np.where(volume.isna(), "strength only", np.where(regauged, "stated", "estimate")).astype(object),
            "volume_L": volume,
            "volume_uncertainty_L": volume * percent / 100.0,
            "proof_60F": stated_proof(rows["proof"], rows["proof_unit"]),
            "proof_uncertainty": float(site["uncertainty.paper_proof"]),
            "obscuration_proof": np.nan,
            "instrument": None,
            "by_instrument": 0.0,
            "facts": rows["facts"],
        }
    )


def _without_restated(points: pd.DataFrame) -> pd.DataFrame:
    """Inventories repeat gauges: a listed strength, or regauged volume, close to a reading that has one, or said
    before to the digit, tells nothing new."""
    listed = (points["kind"] == "listed").to_numpy()
    place, at = points["place"].to_numpy(), points["at"].to_numpy("datetime64[us]")
    new_strength, new_volume = points["proof_60F"].to_numpy(float).copy(), points["volume_L"].to_numpy(float).copy()
    estimate = (points["basis"] == "estimate").to_numpy()
    for column, values in (("proof_60F", new_strength), ("volume_L", new_volume)):
        read = points[~listed & points[column].notna()]
        near = _nearest_days(place, at, read["place"].to_numpy(), read["at"].to_numpy("datetime64[us]"))
        repeated = points.duplicated(["place", column, "basis", "at"], keep="first").to_numpy() if column else listed
        again = listed & ((near <= 7.0) | (repeated & listed))
        values[again & ~(estimate & (column == "volume_L") & ~repeated)] = np.nan
    points = points.assign(proof_60F=new_strength, volume_L=new_volume)
    return points[points["proof_60F"].notna() | points["volume_L"].notna()].reset_index(drop=True)


def _nearest_days(place: np.ndarray, at: np.ndarray, have_place: np.ndarray, have_at: np.ndarray) -> np.ndarray:
    """Days from each (place, moment) to the nearest of the given ones of the same place; infinite where none is."""
    near = np.full(len(place), np.inf)
    if not len(have_place):
        return near
    order = np.lexsort((have_at, have_place))
    have_place, have_at = have_place[order], have_at[order]
    before = last_at_or_before(have_place, have_at.astype(np.int64), place, at.astype(np.int64))
    for beside in (before, before + 1):
        there = np.clip(beside, 0, len(have_place) - 1)
        same = (there == beside) & (have_place[there] == place)
        days = np.abs(at - have_at[there]) / np.timedelta64(1, "D")
        near = np.where(same, np.minimum(near, days), near)
    return near


def _columns(points: pd.DataFrame, table: pd.DataFrame) -> dict[str, Any]:
    place = points["place"].to_numpy(int)
    obscured = points["obscuration_proof"].groupby(points["place"]).transform("last").fillna(0.0).to_numpy(float)
    obscured = np.where(points["kind"] == "filled", 0.0, obscured)  # new make hides nothing
    strength = points["proof_60F"].to_numpy(float)
    fraction = proof.mass_fraction_from_proof(strength + obscured)
    mass = proof.mass_from_volume(
        points["volume_L"].to_numpy(float), proof.mass_fraction_from_proof(strength), proof.T_20C
    )
    amount = proof.quantities(mass, fraction)
    return {
        "cask": table["cask"].to_numpy(object)[place],
        "filling": table["filling"].to_numpy(object)[place],
        "number": points["number"],
        "at": points["at"],
        "kind": points["kind"],
        "basis": points["basis"],
        "instrument": points["instrument"],
        "volume_20C_L": points["volume_L"],
        "volume_uncertainty_L": points["volume_uncertainty_L"].where(points["volume_L"].notna()),
        "proof_apparent_60F": strength,
        "proof_uncertainty": points["proof_uncertainty"].where(points["proof_60F"].notna()),
        "proof_by_instrument": points["by_instrument"],
        "obscuration_proof": obscured,
        "abv_20C": proof.abv_from_mass_fraction(fraction),
        "proof_gallons": amount["proof_gallons"],
        "lpa": amount["lpa"],
        "log_shift": points["shift"],
        "comparable": points["comparable"],
    }


def _facts(points: pd.DataFrame, table: pd.DataFrame) -> pd.Series:
    own = table["facts"].reindex(points["place"]).set_axis(points.index)
    bare = points["facts"].map(lambda facts: isinstance(facts, tuple))
    return unite(points["facts"].where(bare, own), points["facts"])
