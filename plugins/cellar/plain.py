"""Plain data and its bytes: rows of frames without missing numbers, and CSV that no spreadsheet runs."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from typing import Any

import pandas as pd

RUNS = ("=", "+", "-", "@", "\t", "\r")  # a spreadsheet would run a text that begins so


def plain(value: Any) -> Any:
    """One value of a frame: missing → None, moments → ISO text, NumPy → Python."""
    if value is None or isinstance(value, (str, bool)):
        return value
    if value is pd.NA or value is pd.NaT:
        return None
    if isinstance(value, datetime):
        whole = (value.hour, value.minute, value.second) == (0, 0, 0)
        return value.strftime("%Y-%m-%d" if whole else "%Y-%m-%dT%H:%M")
    if isinstance(value, date):
        return value.isoformat()
    if hasattr(value, "item"):
        return plain(value.item())
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    return value


def rows(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """A frame's rows as plain dicts in the frame's order; ``facts`` stays a tuple."""
    names = [str(name) for name in frame.columns]
    columns = [
        frame[name].tolist() if name == "facts" else [plain(value) for value in frame[name].tolist()] for name in names
    ]
    return [dict(zip(names, values, strict=True)) for values in zip(*columns, strict=True)]


def safe_text(text: str) -> str:
    """A text that no spreadsheet program takes for a formula."""
    return "'" + text if text.startswith(RUNS) else text


def cell(value: Any) -> Any:
    """A value as it stands in a CSV: numbers with 10 significant digits, missing ones empty."""
    if isinstance(value, str):
        return safe_text(value)
    if isinstance(value, float):
        return f"{value:.10g}"
    return "" if value is None else value


def csv_bytes(heads: Sequence[str], lines: Iterable[Sequence[Any]]) -> bytes:
    """A CSV: UTF-8, LF."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(heads)
    writer.writerows([cell(value) for value in line] for line in lines)
    return out.getvalue().encode("utf-8")


def frame_csv(frame: pd.DataFrame, names: Sequence[str]) -> bytes:
    """Some columns of a frame as a CSV."""
    return csv_bytes(names, ([row[name] for name in names] for row in rows(frame[list(names)])))
