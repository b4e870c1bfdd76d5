"""casks/instruments.csv: every check of an instrument, how far it was out, and how that changes."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from pipeline import report
from plugins.proof.gauging.gauges import figures, moments, plain_texts

NUMBERS = ("reference", "found", "error", "allowed", "change", "per_year", "in_doubt")
COLUMNS = (
    "instrument", "checked_at", "unit", "reference", "found", "error", "allowed", "verdict", "change", "per_year",
    "in_doubt", "due_on", "by",
)  # fmt: skip


@report(
    path="casks/instruments.csv", wait=True, link="every check of an instrument, its drift and when the next is due"
)
def drift_file(instrument_drift: pd.DataFrame) -> bytes:
    """Checks by instrument and time; numbers in the instrument's own unit, 12 significant digits."""
    rows = instrument_drift.sort_values(["instrument", "checked_at"], kind="stable")
    columns: dict[str, Any] = {name: figures(rows[name].to_numpy(np.float64)) for name in NUMBERS}
    columns |= {name: plain_texts(rows[name]) for name in ("instrument", "unit", "verdict", "by")}
    columns["checked_at"] = moments(rows["checked_at"], rows["checked_at_timed"])
    columns["due_on"] = ["" if pd.isna(day) else str(day.date()) for day in rows["due_on"]]
    lines = map(",".join, zip(*(columns[name] for name in COLUMNS), strict=True))
    return "\n".join([",".join(COLUMNS), *lines, ""]).encode("utf-8")
