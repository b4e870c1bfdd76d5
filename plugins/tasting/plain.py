"""Plain data and its bytes: JSON numbers with 12 significant digits, missing ones null, UTF-8, LF."""

from __future__ import annotations

import json
import math
from datetime import date, datetime
from typing import Any

import pandas as pd

MIDNIGHT = (0, 0, 0)


def plain(value: Any) -> Any:
    """One value of a frame: missing → None, moments and dates → ISO text, NumPy → Python."""
    if isinstance(value, (str, bool)) or value is None:
        return value
    if isinstance(value, dict):
        return {str(key): plain(inner) for key, inner in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(inner) for inner in value]
    if value is pd.NA or value is pd.NaT:
        return None
    if isinstance(value, datetime):
        whole = (value.hour, value.minute, value.second) == MIDNIGHT
        return value.strftime("%Y-%m-%d" if whole else "%Y-%m-%dT%H:%M")
    if isinstance(value, date):
        return value.isoformat()
    if hasattr(value, "item"):
        return plain(value.item())
    if isinstance(value, float):
        return float(f"{value:.12g}") if math.isfinite(value) else None
    return value


def rows(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """A frame's rows as plain dicts without their facts, in the frame's order."""
    names = [str(name) for name in frame.columns if name != "facts"]
    columns = [[plain(value) for value in frame[name].tolist()] for name in names]
    return [dict(zip(names, values, strict=True)) for values in zip(*columns, strict=True)]


def json_bytes(data: Any) -> bytes:
    return (json.dumps(plain(data), ensure_ascii=False, indent=1, allow_nan=False) + "\n").encode("utf-8")
