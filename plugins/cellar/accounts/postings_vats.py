"""Postings of vats: what was drawn into a batch, watered, gauged, bottled, and what remained."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from pipeline.common.names import folded
from plugins import proof
from plugins.cellar.accounts.postings import END_OF_DAY, SAID, late, official, posting
from plugins.cellar.casks.changes import moved
from plugins.cellar.casks.fillings import filling_at
from plugins.cellar.casks.names import NOT_STATED
from plugins.cellar.casks.strengths import stated_proof

VATS = "in vats"
GALLONS = ("gal", "gallon", "us gal")


def in_vats(
    components: pd.DataFrame,
    balances: pd.DataFrame,
    bottlings: pd.DataFrame,
    briefs: pd.DataFrame,
    movements: pd.DataFrame,
    proofs: pd.DataFrame,
    table: pd.DataFrame,
) -> pd.DataFrame:
    """All postings of batches and of vessels that hold no batch; ``table``: ``keyed`` fillings of casks."""
    parts = [
        *_components(components, briefs),
        _gauges(balances, proofs, components),
        *_bottled(bottlings, balances),
        *_moves(movements, table, set(folded(briefs["vessel"]))),
    ]
    rows = pd.concat([part for part in parts if len(part)] or [posting({})], ignore_index=True)
    product = dict(zip(folded(briefs["batch"]), briefs["product"].fillna(NOT_STATED), strict=True))
    rows["account"] = VATS
    rows["spirit"] = [product.get(key, NOT_STATED) for key in folded(rows["batch"])]
    rows["owner"] = NOT_STATED
    return rows


def _components(components: pd.DataFrame, briefs: pd.DataFrame) -> list[pd.DataFrame]:
    known = components[components["proof_gallons"].notna() | (components["kind"] == "water")]
    kind = known["kind"].to_numpy(object)
    rounded = np.nan_to_num(
        proof.official_proof_gallons(known["volume_60F_gal"].to_numpy(float), known["proof_60F"].to_numpy(float))
    )
    into = posting(
        {
            "holder": "batch " + folded(known["batch"]),
            "at": late(known["drawn_at"], known["drawn_at_timed"]),
            "entry": np.select([kind == "water", kind == "addition"], ["watered", "added"], "drawn in").astype(object),
            "told": known["component"],
            "basis": known["drawn_basis"],
            "pg": known["proof_gallons"].fillna(0.0),
            "lpa": known["lpa"].fillna(0.0),
            "pg_official": rounded,
            "watered_L": known["volume_20C_L"].where(known["kind"] == "water", 0.0).fillna(0.0),
            "batch": known["batch"],
            "facts": known["facts"],
        }
    )
    vessel = (kind == "vessel") | (kind == "heel")
    before = _batch_before(components, briefs)
    part, gone = known[vessel], into[vessel]
    heel_of = pd.Series([before.get(key, "") for key in folded(part["batch"])], index=part.index, dtype=object)
    holder = np.where(part["kind"] == "heel", "batch " + heel_of, "vessel " + folded(part["component"]))
    out = gone.assign(
        holder=holder,
        entry="moved out",
        told="taken into " + part["batch"],
        pg=-gone["pg"],
        lpa=-gone["lpa"],
        pg_official=-gone["pg_official"],
        batch=heel_of.where(part["kind"] == "heel", None),
        vessel=part["component"].astype(object).where(part["kind"] != "heel", None),
        order=0,
    )
    return [into, out[out["holder"] != "batch "]]


def _batch_before(components: pd.DataFrame, briefs: pd.DataFrame) -> dict[str, str]:
    """For each batch (folded) the one that was in its vessel before it."""
    begun = pd.Series(components["drawn_at"].to_numpy(), index=folded(components["batch"])).groupby(level=0).min()
    table = pd.DataFrame({"batch": folded(briefs["batch"]), "vessel": folded(briefs["vessel"])})
    table = table[table["vessel"] != ""].assign(begun=begun.reindex(table["batch"]).set_axis(table.index))
    table = table.dropna(subset=["begun"]).sort_values(["vessel", "begun"], kind="stable")
    table["before"] = table.groupby("vessel")["batch"].shift(1)
    table = table.dropna(subset=["before"])
    return dict(zip(table["batch"], table["before"], strict=True))


def _gauges(balances: pd.DataFrame, proofs: pd.DataFrame, components: pd.DataFrame) -> pd.DataFrame:
    """The gauge of each batch that counts. Its moment is that of the vessel's last reading on which it rests."""
    rows = balances[(balances["entry"] == "gauged") & balances["proof_gallons"].notna()]
    last = components.groupby("batch")["drawn_at"].max()
    taken = [_moment(row, proofs, last) for row in rows.to_dict("records")]
    return posting(
        {
            "holder": "batch " + folded(rows["batch"]),
            "at": pd.Series(taken, index=rows.index, dtype="datetime64[us]"),
            "order": 3,
            "finds": True,
            "entry": "",
            "told": "gauged in " + rows["vessel"].fillna("the vat"),
            "basis": rows["basis"].str.split(";").str[0],
            "pg": rows["proof_gallons"],
            "lpa": rows["lpa"],
            "pg_official": rows["proof_gallons_official"],
            "batch": rows["batch"],
            "gauge": True,
            "facts": rows["facts"],
        }
    )


def _moment(row: dict[Any, Any], proofs: pd.DataFrame, last: pd.Series) -> Any:
    rests, key = set(row["facts"]), folded(pd.Series([row["vessel"]]))[0]
    mine = proofs[folded(proofs["vessel"]) == key]
    moments = [at for at, facts in zip(mine["taken_at"], mine["facts"], strict=True) if rests.issuperset(facts)]
    return max(moments) if moments else last[row["batch"]] + END_OF_DAY


def _bottled(bottlings: pd.DataFrame, balances: pd.DataFrame) -> list[pd.DataFrame]:
    """Each run's bottles, samples and breakage at the batch's own strength and volume per bottle; then what remains."""
    total = balances[balances["entry"] == "bottled"].assign(key=lambda rows: folded(rows["batch"])).set_index("key")
    rows = bottlings.assign(key=folded(bottlings["batch"]))
    rows = rows[rows["key"].isin(total.index)].sort_values(["key", "bottled_on", "run"], kind="stable")
    nominal = rows["bottles"] * rows["bottle_size_L"]
    whole = nominal.groupby(rows["key"]).transform("sum")
    own = total.reindex(rows["key"]).set_index(rows.index)
    made = []
    for order, (entry, count) in enumerate(
        (("bottled", rows["bottles"]), ("samples", rows["samples"]), ("destroyed", rows["destroyed"])), start=4
    ):
        share = (count.fillna(0.0) * rows["bottle_size_L"] / whole).to_numpy(float)
        gallons = own["volume_60F_gal"].to_numpy(float) * share
        part = posting(
            {
                "holder": "batch " + rows["key"],
                "at": rows["bottled_on"] + END_OF_DAY,
                "order": order,
                "entry": entry,
                "told": count.fillna(0).astype(int).astype(str) + " bottles",
                "basis": "bottles by their size",
                "pg": -own["proof_gallons"] * share,
                "lpa": -own["lpa"] * share,
                "pg_official": -proof.official_proof_gallons(gallons, own["proof_60F"].to_numpy(float)),
                "batch": own["batch"],
                "facts": rows["facts"],
            }
        )
        made.append(part[(count.fillna(0.0) > 0).to_numpy()])
    return [*made, *_remainders(rows, own)]


def _remainders(rows: pd.DataFrame, own: pd.DataFrame) -> list[pd.DataFrame]:
    """What the last run left, where it says so, and where it went."""
    last = rows.drop_duplicates("key", keep="last")
    left = last[last["remainder_volume_L"].notna()]
    strength = stated_proof(left["remainder_proof"], left["remainder_proof_unit"])
    strength = np.where(np.isnan(strength), own["proof_60F"].reindex(left.index).to_numpy(float), strength)
    at = np.where(left["remainder_volume_unit"].isin(GALLONS), proof.T_60F, proof.T_20C)
    fraction = proof.mass_fraction_from_proof(strength)
    mass = proof.mass_from_volume(left["remainder_volume_L"].to_numpy(float), fraction, at)
    pg, lpa, rounded = official(np.asarray(proof.volume_L(mass, fraction, proof.T_20C)), strength)
    common = {"at": left["bottled_on"] + END_OF_DAY, "basis": "remainder as stated", "facts": left["facts"]}
    batch = own["batch"].reindex(left.index)
    found = posting(
        {
            **common,
            "holder": "batch " + left["key"],
            "order": 8,
            "finds": True,
            "entry": "",
            "told": "remainder after bottling",
            "pg": pg,
            "lpa": lpa,
            "pg_official": rounded,
            "batch": batch,
        }
    )
    goes = left["remainder_to"].notna().to_numpy()
    made = [found]
    for sign, holder, entry in (
        (-1.0, "batch " + left["key"], "moved out"),
        (1.0, "vessel " + folded(left["remainder_to"]), "moved in"),
    ):
        rest = posting(
            {
                **common,
                "holder": holder,
                "order": 9,
                "entry": entry,
                "told": "remainder to " + left["remainder_to"].fillna("?"),
                "pg": sign * pg,
                "lpa": sign * lpa,
                "pg_official": sign * rounded,
                "batch": batch if sign < 0 else None,
                "vessel": None if sign < 0 else left["remainder_to"],
            }
        )
        made.append(rest[goes])
    return made


def _moves(movements: pd.DataFrame, table: pd.DataFrame, vats: set[str]) -> list[pd.DataFrame]:
    """Movements between casks and vessels, into vessels from outside, and out of vessels; those between two vessels
    change no account, and a batch's own vat is told by its blend sheet. What leaves a cask without a strength has
    that of its filling at entry, on both sides."""
    litres, stated = moved(movements)
    source, goal = folded(movements["from"]), folded(movements["to"])
    entry_proof = np.append(table["entry_proof_60F"].to_numpy(float), np.nan)
    strength = np.where(np.isnan(stated), entry_proof[filling_at(source, movements["moved_at"], table)], stated)
    pg, lpa, rounded = official(litres, strength)
    casks = table["key"].unique().tolist()
    from_cask, to_cask = np.isin(source, casks), np.isin(goal, casks)
    reason = movements["reason"].to_numpy(object)
    known = np.isfinite(pg)
    out = known & ~from_cask & ~np.isin(source, list(vats)) & (to_cask | np.isin(reason, list(SAID)))
    into = (
        known
        & ~to_cask
        & ~np.isin(goal, list(vats))
        & (from_cask | (reason == "receive"))
        & ~np.isin(reason, list(SAID))
    )
    basis = np.where(np.isnan(stated), "movement, strength at entry", "movement").astype(object)
    midnight = movements["moved_at"].dt.normalize() == movements["moved_at"]
    made = []
    for picked, own, sign, entry in (
        (out, "from", -1.0, movements["reason"].map(SAID).fillna("moved out")),
        (into, "to", 1.0, pd.Series(np.where(reason == "receive", "received", "moved in"), index=movements.index)),
    ):
        rows = posting(
            {
                "holder": "vessel " + folded(movements[own]),
                "at": late(movements["moved_at"], ~midnight),
                "entry": entry.astype(object),
                "told": movements["reason"] + " " + movements["from"] + " to " + movements["to"],
                "basis": basis,
                "pg": sign * pg,
                "lpa": sign * lpa,
                "pg_official": sign * rounded,
                "vessel": movements[own],
                "facts": movements["facts"],
            }
        )
        made.append(rows[picked])
    return made
