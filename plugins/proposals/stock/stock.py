"""What can be drawn: the inventory's content less what was drawn and moved since, and what is not free."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from pipeline import unite
from plugins import proof
from plugins.proposals.declared.frames import STOCK

GONE = ("empty", "emptied", "dumped", "disgorged", "sold", "shipped", "destroyed", "bottled", "exported", "lost")
CASK_DIPPED = "uncertainty.dipped_cask_percent"
PAPER = "uncertainty.paper_percent"
YOUNG_DAYS = 365  # a fresh cask may well hold what was filled


def folded(names: pd.Series) -> pd.Series:
    return names.str.strip().str.casefold()


def find_stock(
    casks: pd.DataFrame,
    proofs: pd.DataFrame | None,
    components: pd.DataFrame | None,
    blends: pd.DataFrame,
    movements: pd.DataFrame,
    profiles: pd.DataFrame | None,
    site: Any,
) -> pd.DataFrame:
    """The frame STOCK: a row for each cask of the inventory, its latest filling."""
    if not len(casks):
        return STOCK.empty()
    table = _latest(casks)
    table = _strengths(table, proofs)
    table = _contents(table, proofs, site)
    table = _less_drawn(table, components)
    table = _less_moved(table, movements)
    table = _reserved(table, blends, components)
    table["why_not"] = _why_not(table, site)
    table["free"] = table["why_not"].isna()
    sampled = set() if profiles is None else set(folded(profiles["sample"]))
    table["tasted"] = table["_cask"].isin(sampled)
    amounts = proof.quantities(table["mass_kg"].to_numpy("float64"), table["mass_fraction"].to_numpy("float64"))
    for name in ("ethanol_kg", "volume_60F_gal", "volume_20C_L", "lpa"):
        table[name] = amounts[name]
    w = table["mass_fraction"].to_numpy("float64")
    table["proof_60F"], table["abv_20C"] = proof.proof_from_mass_fraction(w), proof.abv_from_mass_fraction(w)
    return STOCK.build({name: table[name].to_numpy() for name in STOCK.names}, table["facts"])


def _latest(casks: pd.DataFrame) -> pd.DataFrame:
    rows = casks.assign(_cask=folded(casks["cask"])).sort_values(["filled_on", "as_of"], kind="stable")
    rows = rows.drop_duplicates("_cask", keep="last")
    return rows.sort_values("_cask", kind="stable").reset_index(drop=True)


def _strengths(table: pd.DataFrame, proofs: pd.DataFrame | None) -> pd.DataFrame:
    """The last gauge since the filling, else the inventory's figure."""
    value = table["proof"].to_numpy("float64")
    units = table["proof_unit"].fillna("proof").to_numpy()
    table["mass_fraction"] = proof.mass_fraction_from_strength(value, units)
    told = table["proof"].notna()
    table["strength_source"] = pd.Series("inventory", index=table.index, dtype="str").where(told)
    if proofs is None or not len(proofs):
        return table
    read = proofs[proofs["mass_fraction"].notna()].assign(_cask=lambda rows: folded(rows["vessel"]))
    joined = read.merge(table[["_cask", "filled_on", "gauged_on"]], on="_cask")
    joined = joined[joined["filled_on"].isna() | (joined["taken_at"] >= joined["filled_on"])]
    # a regauge that the inventory has and the readings have not is the later word
    joined = joined[joined["gauged_on"].isna() | (joined["taken_at"].dt.normalize() >= joined["gauged_on"])]
    last = joined.sort_values("taken_at", kind="stable").drop_duplicates("_cask", keep="last").set_index("_cask")
    mine = table["_cask"].map(last["mass_fraction"])
    known = mine.notna()
    table["mass_fraction"] = mine.where(known, table["mass_fraction"])
    said = "reading " + last["instrument"].fillna("") + " " + last["taken_at"].dt.strftime("%Y-%m-%d")
    said = table["_cask"].map(said.str.replace("  ", " ")).astype("str")
    table["strength_source"] = said.where(known, table["strength_source"])
    table["facts"] = unite(table["facts"], table["_cask"].map(last["facts"]))
    return table


def _contents(table: pd.DataFrame, proofs: pd.DataFrame | None, site: Any) -> pd.DataFrame:
    """Content by the inventory, or by a later weighing or dip among the readings."""
    w = table["mass_fraction"].to_numpy("float64")
    gallons = table["volume_unit"].isin(["gal", "impgal"]).to_numpy()
    at = np.where(gallons, proof.T_60F, proof.T_20C)
    table["mass_kg"] = proof.mass_from_volume(table["volume_L"].to_numpy("float64"), w, at)
    table["content_basis"] = table["volume_basis"].fillna("not stated").where(table["volume_L"].notna())
    table["content_on"] = table["as_of"].fillna(table["gauged_on"])
    old = (table["content_on"] - table["filled_on"]).dt.days > YOUNG_DAYS
    same = np.isclose(table["volume_L"].fillna(-1.0), table["entry_volume_L"].fillna(-2.0), rtol=0.002)
    original = (table["volume_basis"] == "original") | (table["volume_basis"].isna() & old & same)
    table["_original"] = original & (old | (table["volume_basis"] == "original"))
    table["content_percent"] = np.where(table["volume_basis"] == "regauge", site[PAPER], site[CASK_DIPPED])
    if proofs is not None and len(proofs):
        _weighed(table, proofs)
    return table


def _weighed(table: pd.DataFrame, proofs: pd.DataFrame) -> None:
    """A content among the readings that is no older than the inventory counts instead, in place."""
    read = proofs[proofs["content_mass_kg"].notna()].assign(_cask=lambda rows: folded(rows["vessel"]))
    joined = read.merge(table[["_cask", "filled_on", "content_on"]], on="_cask")
    day = joined["taken_at"].dt.normalize()
    joined = joined[(joined["filled_on"].isna() | (day >= joined["filled_on"])) & ~(day < joined["content_on"])]
    last = joined.sort_values("taken_at", kind="stable").drop_duplicates("_cask", keep="last").set_index("_cask")
    known = table["_cask"].isin(last.index)
    if not known.any():
        return
    mine = table.loc[known, "_cask"]
    table.loc[known, "mass_kg"] = mine.map(last["content_mass_kg"])
    table.loc[known, "content_basis"] = mine.map(last["content_basis"])
    table.loc[known, "content_on"] = mine.map(last["taken_at"].dt.normalize())
    percent = 100.0 * last["content_uncertainty_kg"] / last["content_mass_kg"]
    table.loc[known, "content_percent"] = mine.map(percent).fillna(table.loc[known, "content_percent"])
    table.loc[known, "_original"] = False
    table["facts"] = unite(table["facts"], table["_cask"].map(last["facts"]))


def _less_drawn(table: pd.DataFrame, components: pd.DataFrame | None) -> pd.DataFrame:
    """Less what went into batches since; a cask that was emptied holds nothing."""
    table["_emptied_for"] = pd.Series(None, index=table.index, dtype="str")
    if components is None or not len(components):
        return table
    drawn = components[components["kind"] == "cask"].assign(_cask=lambda rows: folded(rows["component"]))
    drawn = drawn.merge(table[["_cask", "filled_on", "content_on"]], on="_cask", suffixes=("", "_stock"))
    drawn = drawn[drawn["filled_on_stock"].isna() | ~(drawn["drawn_at"] < drawn["filled_on_stock"])]
    emptied = drawn[drawn["emptied"].fillna(False).astype(bool)]
    since = drawn[~(drawn["drawn_at"] < drawn["content_on"])]
    taken = since["mass_kg"].groupby(since["_cask"]).sum()
    table["mass_kg"] = (table["mass_kg"] - table["_cask"].map(taken).fillna(0.0)).clip(lower=0.0)
    by = emptied.drop_duplicates("_cask", keep="last").set_index("_cask")["batch"]
    table["_emptied_for"] = table["_cask"].map(by).astype("str")
    counted = pd.concat([since, emptied]).drop_duplicates(["batch", "component", "drawn_at", "line"])
    if len(counted):
        table["facts"] = unite(table["facts"], table["_cask"].map(unite(counted["facts"], by=counted["_cask"])))
    return table


def _less_moved(table: pd.DataFrame, movements: pd.DataFrame) -> pd.DataFrame:
    """Less what was moved out since; of a cask that something was moved into, the content is not known."""
    table["_moved"] = pd.Series(None, index=table.index, dtype="str")
    if not len(movements):
        return table
    for side, says in (("from", "spirit was moved out of it on {day} and no sheet says how much"),
                       ("to", "spirit was moved into it on {day}, after the inventory")):  # fmt: skip
        moved = movements.assign(_cask=folded(movements[side]))
        moved = moved.merge(table[["_cask", "content_on"]], on="_cask")
        moved = moved[(moved["moved_at"] > moved["content_on"]) & (moved["reason"] != "sample")]
        if side == "from":
            known = moved[moved["volume_L"].notna()]
            w = known["_cask"].map(table.set_index("_cask")["mass_fraction"]).to_numpy("float64")
            mass = proof.mass_from_volume(known["volume_L"].to_numpy("float64"), w, proof.T_20C)
            out = pd.Series(mass, index=known.index).groupby(known["_cask"]).sum()
            table["mass_kg"] = (table["mass_kg"] - table["_cask"].map(out).fillna(0.0)).clip(lower=0.0)
        if not len(moved):
            continue
        unknown = moved[moved["volume_L"].isna()] if side == "from" else moved[moved["reason"] != "fill"]
        last = unknown.sort_values("moved_at", kind="stable").drop_duplicates("_cask", keep="last").set_index("_cask")
        said = last["moved_at"].dt.strftime("%Y-%m-%d").map(lambda day, says=says: says.format(day=day))
        table["_moved"] = table["_moved"].fillna(table["_cask"].map(said.astype("str")))
        table["facts"] = unite(table["facts"], table["_cask"].map(unite(moved["facts"], by=moved["_cask"])))
    return table


def _reserved(table: pd.DataFrame, blends: pd.DataFrame, components: pd.DataFrame | None) -> pd.DataFrame:
    """Batches whose blend sheet plans a cask without having drawn it yet."""
    table["reserved_for"] = pd.Series(None, index=table.index, dtype="str")
    amounts = blends["drawn_volume_L"].notna() | blends["drawn_weight_kg"].notna()
    planned = blends[blends["planned_volume_L"].notna() & ~amounts & ~blends["emptied"].fillna(False).astype(bool)]
    if not len(planned):
        return table
    planned = planned.assign(_cask=folded(planned["component"]))
    by = planned.groupby("_cask")["batch"].agg(lambda names: ", ".join(sorted(set(names))))
    table["reserved_for"] = table["_cask"].map(by).astype("str")
    table["facts"] = unite(table["facts"], table["_cask"].map(unite(planned["facts"], by=planned["_cask"])))
    return table


def _why_not(table: pd.DataFrame, site: Any) -> pd.Series:
    """The first reason why a cask may not be drawn from; missing where there is none."""
    house = str(site.house or "").strip().casefold()
    owner = table["owner"].fillna("").str.strip()
    mine = (owner == "") | (owner.str.casefold() == house) | (house == "")
    hold = table["hold"].fillna("").str.strip()
    status = table["status"].fillna("").str.strip().str.casefold()
    none = (table["mass_kg"] <= 0.0) | (table["volume_L"] == 0.0)
    reasons = (
        (table["_emptied_for"].notna(), "emptied for " + table["_emptied_for"].fillna("")),
        (status.isin(GONE), "the inventory says: " + status),
        (~mine, "owned by " + owner),
        (~hold.str.casefold().isin(["", "no", "none", "n"]), "on hold: " + hold),
        (table["reserved_for"].notna(), "planned for " + table["reserved_for"].fillna("")),
        (table["_moved"].notna(), table["_moved"].fillna("")),
        (table["mass_fraction"].isna(), pd.Series("its strength is not known", index=table.index)),
        (
            table["_original"].astype(bool),
            pd.Series("the inventory gives its original gauge, not what is in it now", index=table.index),
        ),
        (table["mass_kg"].isna(), pd.Series("its content is not known", index=table.index)),
        (none, pd.Series("nothing is left in it", index=table.index)),
    )
    said = pd.Series(None, index=table.index, dtype="str")
    for which, words in reversed(reasons):
        said = said.mask(which.fillna(False).astype(bool), words.astype("str"))
    return said
