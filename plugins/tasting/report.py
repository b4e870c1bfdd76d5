"""casks/profiles.csv."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from typing import Any

import pandas as pd

from pipeline import report

COLUMNS = ("sample", "family", "stage", "mean", "low", "high", "notes", "tasters")
RUNS = ("=", "+", "-", "@", "\t", "\r")  # a spreadsheet would run a text that begins so


def safe_text(text: str) -> str:
    """A text that no spreadsheet program takes for a formula."""
    return "'" + text if text.startswith(RUNS) else text


@report(path="casks/profiles.csv")
def profiles_csv(profiles: pd.DataFrame) -> bytes:
    """Every sample's profile: UTF-8, LF, numbers with 12 significant digits."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    rows: Iterable[Any] = profiles[list(COLUMNS)].itertuples(index=False)
    for row in rows:
        texts = [safe_text(row.sample), safe_text(row.family), row.stage]
        writer.writerow([*texts, *(f"{value:.12g}" for value in (row.mean, row.low, row.high)), row.notes, row.tasters])
    return out.getvalue().encode("utf-8")
