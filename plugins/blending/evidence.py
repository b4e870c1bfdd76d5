"""The figures on the sheets that stand behind an open balance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from plugins import proof

READING = ["reading", "scale", "temperature_degC", "temperature_unit", "method", "state"]
CONTENT = ["net_weight_kg", "net_weight_unit", "volume_L", "volume_unit"]
QUANTITY = ["drawn_weight_kg", "drawn_weight_unit", "drawn_volume_L", "drawn_volume_unit"]


@dataclass(frozen=True)
class Evidence:
    """Lines of figures. Each has batch, component, row (of components; NaN for the vat's gauge), side
    (drawn or gauged), by_volume, mass and fraction (apparent) of what it measures, share (its part in a
    mean) and fact.

    ``readings``: of draws and of the vat; ``strengths``: stated on the blend sheet; ``draws``: quantities
    of draws and water; ``contents``: quantities of the vat's gauge.
    """

    readings: pd.DataFrame
    strengths: pd.DataFrame
    draws: pd.DataFrame
    contents: pd.DataFrame


def evidence(
    open_pairs: pd.DataFrame,
    components: pd.DataFrame,
    blends: pd.DataFrame,
    readings: pd.DataFrame,
    proofs: pd.DataFrame,
) -> Evidence:
    """The lines behind the batches of ``open_pairs`` (as ``imbalance.pairs`` gives them)."""
    drawn = _drawn(components[components["batch"].isin(open_pairs.index) & components["mass_kg"].notna()])
    gauged = _gauged(open_pairs)
    sheet = blends.assign(fact=blends["facts"].str[0]).set_index("fact")
    draws = _by_fact(drawn, sheet.index)
    draws = draws.join(sheet[[*QUANTITY, "drawn_proof", "drawn_proof_unit"]], on="fact")
    draws["by_volume"] = draws["drawn_weight_kg"].isna() & draws["drawn_volume_L"].notna()
    drawn["by_volume"] = (
        draws.drop_duplicates("row").set_index("row")["by_volume"].reindex(drawn.index).fillna(False).astype(bool)
    )
    read = _read(pd.concat([drawn, gauged]) if len(gauged) else drawn, readings, proofs)
    on_sheet = draws["strength_source"].str.startswith("drawn proof", na=False) & draws["drawn_proof"].notna()
    contents = read[(read["side"] == "gauged") & read["mass"].notna()]
    return Evidence(read, draws[on_sheet], draws, contents)


def _drawn(rows: pd.DataFrame) -> pd.DataFrame:
    fraction = np.where(rows["mass_kg"] > 0, rows["apparent_ethanol_kg"] / rows["mass_kg"], np.nan)
    return pd.DataFrame(
        {
            "batch": rows["batch"],
            "component": rows["component"],
            "row": rows.index.astype("float64"),
            "side": "drawn",
            "mass": rows["mass_kg"],
            "fraction": fraction,
            "strength_source": rows["strength_source"],
            "facts": rows["facts"],
        },
        index=rows.index,
    )


def _gauged(pairs: pd.DataFrame) -> pd.DataFrame:
    rows = pairs[pairs["entry_g"].notna()]
    return pd.DataFrame(
        {
            "batch": rows.index,
            "component": rows["vessel_g"],
            "row": np.nan,
            "side": "gauged",
            "by_volume": rows["by_volume_g"].fillna(False).astype(bool),
            "mass": rows["mass_kg_g"],
            "fraction": proof.mass_fraction_from_proof(
                rows["proof_apparent_60F_g"].fillna(rows["proof_60F_g"]).to_numpy("float64")
            ),
            "strength_source": "",
            "facts": rows["facts_g"],
        }
    ).reset_index(drop=True)


def _by_fact(lines: pd.DataFrame, known: pd.Index) -> pd.DataFrame:
    """One row per line and fact of it that is among the known ones; ``share`` splits a line evenly."""
    of_kind = set(known)
    kept = [[fact for fact in facts if fact in of_kind] for facts in lines["facts"]]
    made = lines.assign(
        fact=pd.Series(kept, index=lines.index, dtype=object), share=[1.0 / max(len(found), 1) for found in kept]
    ).explode("fact")
    made = made[made["fact"].notna()].drop(columns="facts")
    return made.assign(fact=made["fact"].astype("int64")).reset_index(drop=True)


def _read(lines: pd.DataFrame, readings: pd.DataFrame, proofs: pd.DataFrame) -> pd.DataFrame:
    """The readings behind the lines, with the scale that was resolved for them."""
    sheet = readings.assign(fact=readings["facts"].str[0]).set_index("fact")
    made = _by_fact(lines, sheet.index)
    wanted = [*(name for name in READING if name != "scale"), *CONTENT]
    made = made.join(sheet[wanted], on="fact")
    facts = set(made["fact"])
    scale = {
        fact: name for ids, name in zip(proofs["facts"], proofs["scale"], strict=True) for fact in ids if fact in facts
    }
    method = {
        fact: name for ids, name in zip(proofs["facts"], proofs["method"], strict=True) for fact in ids if fact in facts
    }
    made = made.assign(scale=made["fact"].map(scale), method=made["fact"].map(method))
    return made[made["scale"].notna()].reset_index(drop=True)
