"""What was bottled: bottles, samples and remainder of each batch as volumes, then as amounts.

A bottle's volume is at 20 °C; for a batch for the US market alone it is at 60 °F, as US wine
gallons of bottled spirits are reckoned (12 × 750 mL are 2.377548 gal in the authority's case table).
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline import unite
from pipeline.common.names import folded_or_missing as folded
from plugins import proof
from plugins.blending.common.lookups import looked_up
from plugins.blending.components.drawn import assumed_temperature
from plugins.blending.components.draws import briefs_by_batch

US_NAMES = {"us", "usa", "united states"}


def reference_temperature(market: object) -> float:
    """At what temperature bottles of these markets hold their nominal volume. [degC]"""
    names = (
        {part.strip().casefold() for part in str(market).replace(";", ",").split(",")} if market == market else set()
    )
    return proof.T_60F if names and names <= US_NAMES else proof.T_20C


def runs(bottlings: pd.DataFrame, briefs: pd.DataFrame, batches: list[str], default_market: str) -> pd.DataFrame:
    """The bottling runs of the batches, by batch (index, in the spelling of ``batches``).

    Columns: bottles, bottled_L, samples_L (at reference_degC), remainder_L at remainder_degC,
    remainder_fraction (NaN: the batch's strength), reference_degC, facts.
    """
    shown = dict(zip(folded(pd.Series(batches, dtype="str")), batches, strict=True))
    rows = bottlings.assign(batch=folded(bottlings["batch"]).map(shown))
    rows = rows[rows["batch"].notna()].sort_values(["batch", "bottled_on", "run"], kind="stable")
    market = looked_up(folded(rows["batch"]), briefs_by_batch(briefs)["market"]).fillna(default_market)
    size = rows["bottle_size_L"]
    fraction = proof.mass_fraction_from_strength(
        rows["remainder_proof"].to_numpy("float64"), rows["remainder_proof_unit"].astype("object").to_numpy()
    )
    return pd.DataFrame(
        {
            "batch": rows["batch"],
            "bottles": rows["bottles"],
            "bottled_L": rows["bottles"] * size,
            "samples_L": rows["samples"].fillna(0) * size,
            "remainder_L": rows["remainder_volume_L"],
            "remainder_degC": assumed_temperature(rows["remainder_volume_unit"]),
            "remainder_fraction": fraction,
            "reference_degC": [reference_temperature(name) for name in market],
            "facts": rows["facts"],
        }
    ).set_index("batch")


def bottled(run: pd.DataFrame, strength: pd.DataFrame) -> pd.DataFrame:
    """Per batch the mass bottled, kept as samples and remaining, and its apparent strength.

    Parameters: ``runs``; by batch the apparent mass fraction at bottling, column
    ``apparent_fraction``. Returns by batch: bottles, bottled_L, reference_degC, bottled_kg,
    samples_kg, remainder_kg, remainder_ethanol_kg (apparent), facts. Masses are NaN without a strength.
    """
    fraction = strength["apparent_fraction"].reindex(run.index).to_numpy("float64")
    left = np.where(np.isnan(run["remainder_fraction"]), fraction, run["remainder_fraction"])
    remaining = proof.mass_from_volume(
        run["remainder_L"].to_numpy("float64"), left, run["remainder_degC"].to_numpy("float64")
    )
    remaining = np.where(run["remainder_L"].fillna(0) > 0, remaining, 0.0)
    at = run["reference_degC"].to_numpy("float64")
    table = run.assign(
        bottled_kg=proof.mass_from_volume(run["bottled_L"].to_numpy("float64"), fraction, at),
        samples_kg=proof.mass_from_volume(run["samples_L"].to_numpy("float64"), fraction, at),
        remainder_kg=remaining,
        remainder_ethanol_kg=np.where(remaining > 0, remaining * left, 0.0),
    )
    names = ["bottles", "bottled_L", "bottled_kg", "samples_kg", "remainder_kg", "remainder_ethanol_kg"]
    made = table.groupby("batch", sort=True)[names].sum(min_count=1)
    for name in names[2:]:
        made[name] = made[name].mask(table[name].isna().groupby(table.index).any())
    made["reference_degC"] = table.groupby("batch", sort=True)["reference_degC"].first()
    made["facts"] = unite(table["facts"], by=table.index.to_series())
    return made
