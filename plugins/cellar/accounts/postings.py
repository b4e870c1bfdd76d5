"""What happened to spirit in wood and in vats, as postings of the ledger."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from pipeline.common.names import folded
from plugins import proof
from plugins.cellar.accounts.ledger import POSTING
from plugins.cellar.casks.changes import placed
from plugins.cellar.casks.fillings import filling_at
from plugins.cellar.casks.histories import keyed
from plugins.cellar.casks.names import NOT_STATED
from plugins.cellar.rates.rate_stage import places_of

WOOD = "in wood"
END_OF_DAY = pd.Timedelta(1, "D") - pd.Timedelta(1, "us")
MOVED_IN = ("recask", "finish", "rework", "marry", "return")
SAID = {
    "drawn": "drawn",
    "leak": "lost",
    "spill": "lost",
    "destroy": "destroyed",
    "sample": "samples",
    "ship": "shipped",
}


def posting(rows: dict[str, Any]) -> pd.DataFrame:
    """Postings with every column of POSTING; what is left out is missing."""
    made = pd.DataFrame(rows)
    for name in POSTING:
        if name not in made:
            made[name] = {"watered_L": 0.0, "bottles": 0.0, "finds": False, "gauge": False, "order": 1}.get(name)
    for name in ("pg", "lpa", "pg_official", "watered_L", "bottles"):
        made[name] = made[name].astype(float)
    return made[list(POSTING)]


def late(at: pd.Series, timed: pd.Series) -> pd.Series:
    """Moments by which to order: what has a day only comes at its end, after the gauges of that day."""
    whole = ~timed.fillna(False).astype(bool)
    return at.astype("datetime64[us]").where(~whole, at.dt.normalize() + END_OF_DAY)


def official(litres_20C: np.ndarray, strength: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Proof gallons, litres of pure alcohol, and proof gallons as law rounds them, of litres at 20 degC."""
    fraction = proof.mass_fraction_from_proof(strength)
    found = proof.quantities(proof.mass_from_volume(litres_20C, fraction, proof.T_20C), fraction)
    rounded = proof.official_proof_gallons(np.abs(np.asarray(found["volume_60F_gal"])), strength)
    return np.asarray(found["proof_gallons"]), np.asarray(found["lpa"]), np.sign(litres_20C) * rounded


def in_wood(
    fillings: pd.DataFrame,
    histories: pd.DataFrame,
    cask_changes: pd.DataFrame,
    components: pd.DataFrame,
    movements: pd.DataFrame,
) -> pd.DataFrame:
    """All postings of casks."""
    table = keyed(fillings)
    done = _changes(table, components, cask_changes)
    parts = [_found(table, histories, movements), done, _emptied(table)]
    filled = [part for part in parts if len(part)] if len(table) else []
    rows = pd.concat(filled, ignore_index=True) if filled else posting({})
    place = rows["holder"].astype(int).to_numpy()
    rows["account"] = WOOD
    for name in ("spirit", "owner", "cask"):
        rows[name] = table[name].fillna(NOT_STATED).to_numpy(object)[place]
    ended = late(table["ended_at"], table["ended_at"].dt.normalize() != table["ended_at"]).to_numpy()[place]
    after = (rows["at"].to_numpy() > ended) & rows["finds"].astype(bool).to_numpy() & (rows["order"].to_numpy(int) <= 0)
    return rows[~after]


def _found(table: pd.DataFrame, histories: pd.DataFrame, movements: pd.DataFrame) -> pd.DataFrame:
    """Fillings and gauges with a content; an estimate only where it is the first that is known."""
    place = places_of(histories, table)
    known = histories.assign(place=place)[(place >= 0) & histories["proof_gallons"].notna().to_numpy()]
    first = ~known["place"].duplicated()
    rows = known[first | (known["basis"] != "estimate")]
    strength = rows["proof_apparent_60F"] + rows["obscuration_proof"]
    litres = rows["volume_20C_L"].to_numpy(float)
    _, _, rounded = official(litres, strength.to_numpy(float))
    filled = (rows["kind"] == "filled").to_numpy()
    moved = pd.MultiIndex.from_arrays([folded(movements["to"]), movements["moved_at"].dt.normalize()])
    moved = moved[movements["reason"].isin(MOVED_IN).to_numpy(bool)]
    own = table.iloc[rows["place"].to_numpy()]
    by_movement = pd.MultiIndex.from_arrays([own["key"], own["filled_on"]]).isin(moved)
    entry = np.where(filled, np.where(by_movement, "moved in", "received"), "").astype(object)
    return posting(
        {
            "holder": rows["place"],
            "at": rows["at"],
            "order": np.where(filled, -1, 0),
            "finds": True,
            "entry": entry,
            "told": rows["kind"].map({"filled": "filled", "gauged": "gauged", "listed": "inventory"}),
            "basis": rows["basis"],
            "pg": rows["proof_gallons"],
            "lpa": rows["lpa"],
            "pg_official": rounded,
            "gauge": ~filled & (rows["basis"] != "estimate").to_numpy(),
            "facts": rows["facts"],
        }
    )


def _changes(table: pd.DataFrame, components: pd.DataFrame, cask_changes: pd.DataFrame) -> pd.DataFrame:
    """Draws by their own figures; movements by volume and the strength they state, else the filling's at entry."""
    draws = components[(components["kind"] == "cask") & components["proof_gallons"].notna()]
    key = folded(draws["component"])
    at = late(draws["drawn_at"], draws["drawn_at_timed"])
    place = filling_at(key, draws["drawn_at"], table)
    part = draws.assign(place=place, when=at)[place >= 0]
    rounded = proof.official_proof_gallons(part["volume_60F_gal"].to_numpy(float), part["proof_60F"].to_numpy(float))
    made = [
        posting(
            {
                "holder": part["place"],
                "at": part["when"],
                "entry": "drawn",
                "told": "drawn for " + part["batch"],
                "basis": part["drawn_basis"],
                "pg": -part["proof_gallons"],
                "lpa": -part["lpa"],
                "pg_official": -rounded,
                "batch": part["batch"],
                "facts": part["facts"],
            }
        )
    ]
    moves = placed(cask_changes[cask_changes["batch"].isna()], table)
    moves = moves[moves["removed_L"].notna()]
    strength = moves["proof_60F"].fillna(table["entry_proof_60F"].reindex(moves["place"]).set_axis(moves.index))
    pg, lpa, rounded = official(moves["removed_L"].to_numpy(float), strength.to_numpy(float))
    into = (moves["removed_L"] < 0).to_numpy()
    entry = moves["what"].map(SAID).fillna("moved out").where(~into, "moved in")
    midnight = moves["at"].dt.normalize() == moves["at"]
    made.append(
        posting(
            {
                "holder": moves["place"],
                "at": late(moves["at"], ~midnight),
                "entry": entry,
                "told": moves["what"] + np.where(into, " from ", " to ") + moves["other"].fillna("?"),
                "basis": np.where(moves["proof_60F"].isna(), "movement, strength at entry", "movement").astype(object),
                "pg": -pg,
                "lpa": -lpa,
                "pg_official": -rounded,
                "facts": moves["facts"],
            }
        )
    )
    return pd.concat(made, ignore_index=True)


def _emptied(table: pd.DataFrame) -> pd.DataFrame:
    """What the book still has when a filling ends: lost at dumping, or moved out whole."""
    done = table[table["ended_at"].notna()]
    by = done["ended_by"].fillna("")
    dumped = by.str.startswith("emptied") | by.str.contains("inventory|filled again", regex=True)
    shipped = by.str.startswith("ship")
    destroyed = by.str.startswith("destroy")
    entry = np.select([dumped, shipped, destroyed], ["", "shipped", "destroyed"], "moved out").astype(object)
    return posting(
        {
            "holder": done.index,
            "at": late(done["ended_at"], done["ended_at"].dt.normalize() != done["ended_at"]),
            "order": 5,
            "finds": True,
            "entry": entry,
            "told": by,
            "basis": "emptied",
            "pg": 0.0,
            "lpa": 0.0,
            "pg_official": 0.0,
            "facts": done["facts"],
        }
    )
