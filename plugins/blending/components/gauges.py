"""Gauges: the readings of one vessel at one time, taken together.

Several instruments at one time give one strength, the mean weighted by 1/u². Repeats by one
instrument share its error, so that they count together as one reading of that instrument. What
was read before water and after water on a day without a time stays apart, by its purpose.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline import unite
from pipeline.common.names import folded_or_missing as folded
from plugins.blending.components import shared_errors as shared

BY_USE = (
    "entry",
    "regauge",
    "check",
    "",
    "dump",
    "before water",
    "after water",
    "after filter",
    "bottling tank",
    "line",
)
RANK = {purpose: rank for rank, purpose in enumerate(BY_USE)}
OF_THE_VAT = ("before water", "after water", "after filter", "bottling tank", "line")
GROUP = ["key", "taken_at", "rank"]
COLUMNS = [
    "key", "vessel", "taken_at", "timed", "rank", "purpose", "proof_60F", "proof_apparent_60F", "basis",
    "apparent_known", "proof_uncertainty", "content_mass_kg", "content_basis", "content_uncertainty_kg", "said",
    "facts", *shared.CARRIED,
]  # fmt: skip


def gauges(proofs: pd.DataFrame, keys: set[str], unstated_proof: float) -> pd.DataFrame:
    """One row per vessel, time and purpose, in order of vessel, time and use.

    Parameters: the frame ``proofs``; the folded names of the vessels that are wanted; the standard
    uncertainty [proof] of a reading that states none. Returns the columns of ``COLUMNS``:
    ``proof_60F`` true where known, ``basis`` true only where every reading of the group is. A distilled
    sample may leave the apparent strength unmeasured: ``apparent_known`` is then false, and
    ``proof_apparent_60F`` holds the true one, by whose density contents are reckoned.
    """
    table = proofs.assign(key=folded(proofs["vessel"]))
    table = table[table["key"].isin(keys) & table["proof_60F"].notna() & table["taken_at"].notna()]
    if table.empty:
        return pd.DataFrame({name: pd.Series(dtype=_dtype(name)) for name in COLUMNS})
    table = _prepared(shared.filled_in(table, unstated_proof)).reset_index(drop=True)
    one = ~table.duplicated(GROUP, keep=False)
    parts = [_single(table[one])]
    if not one.all():
        parts.append(_several(table[~one].reset_index(drop=True)))
    return pd.concat(parts, ignore_index=True).sort_values(GROUP, kind="stable").reset_index(drop=True)


def _dtype(name: str) -> str:
    if name in ("taken_at",):
        return "datetime64[us]"
    if name in ("timed", "apparent_known"):
        return "bool"
    return (
        "str"
        if name in ("key", "vessel", "purpose", "basis", "content_basis", "said", *shared.NAMES)
        else ("object" if name == "facts" else "float64")
    )


def _prepared(table: pd.DataFrame) -> pd.DataFrame:
    """Gaps filled, and the order of a group fixed, so that the order of rows never matters."""
    purpose = table["purpose"].fillna("")
    instrument = table["instrument"].fillna("")
    day = table["taken_at"].dt.strftime("%Y-%m-%d")
    timed = table["taken_at_timed"].fillna(False).astype(bool)
    clock = table["taken_at"].dt.strftime(" %H:%M").where(timed, "")
    return table.assign(
        timed=timed,
        purpose=purpose,
        instrument=instrument,
        rank=purpose.map(lambda word: RANK.get(word, RANK[""])).astype("float64"),
        apparent_known=table["proof_apparent_60F"].notna(),
        proof_apparent_60F=table["proof_apparent_60F"].fillna(table["proof_60F"]),
        basis=table["strength_basis"].fillna("apparent"),
        content_basis=table["content_basis"].fillna(""),
        said="reading " + (instrument + " ").where(instrument != "", "") + day + clock,
    ).sort_values([*GROUP, "instrument", "proof_60F", "content_mass_kg"], kind="stable")


def _single(table: pd.DataFrame) -> pd.DataFrame:
    return table[COLUMNS]


def _several(table: pd.DataFrame) -> pd.DataFrame:
    """Groups of more than one reading: weighted mean of strength, mean of the contents stated."""
    of_one = table.groupby([*GROUP, "instrument"])["proof_60F"].transform("size")
    weight = 1.0 / (table["proof_uncertainty"] ** 2 * of_one)
    stated = table["content_mass_kg"].notna()
    table = table.assign(
        weight=weight,
        true=weight * table["proof_60F"],
        apparent=weight * table["proof_apparent_60F"],
        is_true=table["basis"] == "true",
        content_basis=table["content_basis"].where(stated),
    )
    group = table.groupby(GROUP, sort=True)
    made = group.agg(
        vessel=("vessel", "first"),
        timed=("timed", "all"),
        purpose=("purpose", "first"),
        weight=("weight", "sum"),
        true=("true", "sum"),
        apparent=("apparent", "sum"),
        is_true=("is_true", "all"),
        apparent_known=("apparent_known", "all"),
        content_mass_kg=("content_mass_kg", "mean"),
        content_uncertainty_kg=("content_uncertainty_kg", "max"),
        content_basis=("content_basis", "first"),
        said=("said", "unique"),
    )
    made["facts"] = unite(table["facts"], by=[table[name] for name in GROUP])
    share = table["weight"] / table.groupby(GROUP)["weight"].transform("sum")
    made = made.join(shared.of_group(table, GROUP, share))
    made["said"] = made["said"].map(" and ".join)
    made["content_basis"] = made["content_basis"].fillna("")
    made["proof_60F"] = made["true"] / made["weight"]
    made["proof_apparent_60F"] = made["apparent"] / made["weight"]
    made["proof_uncertainty"] = np.sqrt(1.0 / made["weight"])
    made["basis"] = np.where(made["is_true"], "true", "apparent")
    return made.reset_index()[COLUMNS]
