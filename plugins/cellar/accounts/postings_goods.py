"""Postings of finished goods: what was bottled of each lot, and what left it or came back, by cause.

Only where some sheet lists removals: without one, nobody tells what is still on hand, and there is no such account.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from pipeline import Finding
from pipeline.common.names import folded
from plugins import proof
from plugins.cellar.accounts.postings import END_OF_DAY, posting
from plugins.cellar.casks.names import NOT_STATED
from plugins.cellar.declared.kinds import BACK

GOODS = "finished goods"
ENTRIES = {
    "ship": "shipped",
    "export": "exported",
    "in bond": "removed in bond",
    "sample": "samples",
    "breakage": "broken",
    "destroy": "destroyed",
    "lost": "lost",
    "rework": "reworked",
    "return": "returned",
    "overage": "found",
}


def in_goods(
    bottlings: pd.DataFrame, balances: pd.DataFrame, removals: pd.DataFrame, briefs: pd.DataFrame
) -> pd.DataFrame:
    """All postings of lots; empty where no sheet lists removals."""
    runs = bottlings.assign(key=folded(bottlings["batch"]), lot=folded(bottlings["lot_code"]))
    total = balances[balances["entry"] == "bottled"].assign(key=lambda rows: folded(rows["batch"])).set_index("key")
    runs = runs[runs["key"].isin(total.index) & (runs["lot"] != "")]
    if removals.empty or runs.empty:
        return posting({})
    goods = removals.assign(lot=folded(removals["lot_code"]), count=bottles_of(removals))
    goods = goods[goods["lot"].isin(runs["lot"]) & goods["count"].notna()]
    first = runs.drop_duplicates("lot").set_index("lot").reindex(goods["lot"])
    goods = goods.assign(key=first["key"].to_numpy(), size=first["bottle_size_L"].to_numpy(float))
    litres = goods["count"] * goods["bottle_size_L"].fillna(goods["size"])
    sign = np.where(goods["cause"].isin(BACK), 1.0, -1.0)
    made = [
        _posted(runs, total, runs["bottles"] * runs["bottle_size_L"], runs["bottles"], "bottled_on", "bottled in"),
        _posted(goods, total, litres * sign, goods["count"] * sign, "removed_on", goods["cause"].map(ENTRIES)),
    ]
    rows = pd.concat([part for part in made if len(part)], ignore_index=True)
    product = dict(zip(folded(briefs["batch"]), briefs["product"].fillna(NOT_STATED), strict=True))
    return rows.assign(
        account=GOODS, owner=NOT_STATED, spirit=[product.get(key, NOT_STATED) for key in folded(rows["batch"])]
    )


def bottles_of(removals: pd.DataFrame) -> pd.Series:
    """Bottles of each removal: whole cases and loose ones; missing where the sheet does not say."""
    in_cases = (removals["cases"] * removals["bottles_per_case"]).where(removals["cases"].notna(), 0.0)
    loose = removals["bottles"].where(removals["bottles"].notna() | removals["cases"].isna(), 0.0)
    return in_cases + loose


def uncounted(removals: pd.DataFrame) -> list[Finding]:
    """Removals that no account can take in, since they do not say how many bottles left."""
    return [
        Finding(
            code="account.removal-uncounted",
            severity="review",
            message=f"A removal of lot {row['lot_code']} on {row['removed_on']:%Y-%m-%d} does not say how many; "
            "no account counts it.",
            subject=str(row["lot_code"]),
            facts=tuple(row["facts"]),
            column="cases",
            observed="cases without bottles a case" if row["cases"] == row["cases"] else "neither cases nor bottles",
            expected="bottles, or cases and bottles a case",
            remedy="Send the row again with bottles, or with bottles_per_case.",
        )
        for row in removals[bottles_of(removals).isna()].to_dict("records")
    ]


def _posted(rows: pd.DataFrame, total: pd.DataFrame, litres: Any, bottles: Any, day: str, entry: Any) -> pd.DataFrame:
    """Postings of bottles at the strength of their batch as bottled; ``litres`` and ``bottles`` are signed."""
    own = total.reindex(rows["key"]).set_index(rows.index)
    share = (litres / own["volume_20C_L"]).to_numpy(float)
    gallons = own["volume_60F_gal"].to_numpy(float) * share
    rounded = proof.official_proof_gallons(np.abs(gallons), own["proof_60F"].to_numpy(float))
    made = posting(
        {
            "holder": "lot " + rows["lot"],
            "at": rows[day] + END_OF_DAY,
            "order": 10,
            "entry": entry,
            "told": "lot " + rows["lot_code"].astype(object),
            "basis": "bottles by their size",
            "pg": own["proof_gallons"] * share,
            "lpa": own["lpa"] * share,
            "pg_official": np.sign(gallons) * rounded,
            "batch": own["batch"],
            "bottles": bottles,
            "facts": rows["facts"],
        }
    )
    return made.assign(vessel=None)
