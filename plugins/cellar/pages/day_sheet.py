"""The lab's day sheet: vats of open batches and the other vessels with what each showed last, to be written on.

It comes back as a sheet of readings: a row on which nothing was measured is none, and what it prints of the last time
is not read.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from pipeline.common.names import folded
from pipeline.writing.workbooks import paper_size
from plugins.cellar.casks.names import natural
from plugins.cellar.pages.workbooks import day_book

MOST = 20  # rows that one page holds, high enough for handwriting
ASIDES = ("Write the day once, above. Rows on which nothing was measured may stay as they are. Read before you water.",)
WIDTHS = {"Vessel": 13.0, "Last time": 30.0, "Remark": 24.0}


def day_sheet(
    proofs: pd.DataFrame, vessels: pd.DataFrame, briefs: pd.DataFrame, vat_windows: pd.DataFrame, site: Any
) -> bytes | None:
    """The workbook on one page; None where no vessel is known. What does not fit is named below."""
    batches = _open_batches(briefs, vat_windows)
    names = {key: name for key, (name, _) in batches.items()}
    listed = vessels["vessel"].dropna()
    names |= {key: name for key, name in zip(folded(listed), listed, strict=True) if key not in names}
    if not names:
        return None
    us = "US" in site.markets
    last = _last(proofs, set(names), us)
    keys = sorted(names, key=lambda key: (key not in batches, key not in last, natural(names[key])))
    rows = [[names[key], "; ".join(filter(None, [last.get(key, ""), batches.get(key, ("", ""))[1]]))] for key in keys]
    more = f"Not on this page: {', '.join(row[0] for row in rows[MOST:])}." if len(rows) > MOST else ""
    strength = ("Observed Proof", "Temp (°F)", "Volume (gal)", "Dip (in)")
    asked = strength if us else ("Observed ABV (% vol)", "Temp (°C)", "Volume (L)", "Dip (cm)")
    heads = ["Vessel", "Last time", *asked, "Instrument", "By", "Remark"]
    return day_book(
        [(head, WIDTHS.get(head, 13.0)) for head in heads], rows[:MOST], ASIDES, more, paper_size(site.markets)
    )


def _open_batches(briefs: pd.DataFrame, vat_windows: pd.DataFrame) -> dict[str, tuple[str, str]]:
    """Vessels of batches that have not left them: (name, batch) by folded name, the batch briefed last."""
    gone = set(folded(vat_windows.loc[vat_windows["until"].notna(), "batch"]))
    lies = [batch not in gone for batch in folded(briefs["batch"])]
    rows = briefs[briefs["vessel"].notna().to_numpy() & np.array(lies, dtype=bool)]
    pairs = zip(folded(rows["vessel"]), rows["vessel"], rows["batch"], strict=True)
    return {str(key): (str(name), str(batch)) for key, name, batch in pairs}


def _last(proofs: pd.DataFrame, wanted: set[str], us: bool) -> dict[str, str]:
    """By folded name the last strength of a vessel with its day, in words."""
    rows = proofs.assign(_key=folded(proofs["vessel"])).sort_values("taken_at", kind="stable")
    rows = rows[rows["_key"].isin(wanted)].drop_duplicates("_key", keep="last")
    said = {}
    for name, proof, share, moment in zip(
        rows["_key"], rows["proof_60F"], rows["abv_20C"], rows["taken_at"], strict=True
    ):
        figure = f"{proof:.1f} proof" if us else f"{share:.1f} % vol"
        said[str(name)] = f"{figure} on {moment.day} {moment:%b %Y}"
    return said
