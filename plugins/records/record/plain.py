"""Plain data: what a record is made of, and its bytes.

Frames hold NaN, NaT and NumPy numbers; a record holds None, Python numbers and ISO dates. Nothing
is rounded here but the last step to JSON, which keeps 12 significant digits.
"""

from __future__ import annotations

import json
import math
import re
from datetime import date, datetime
from functools import lru_cache
from itertools import repeat
from typing import TYPE_CHECKING, Any

from pipeline.common.names import fold

if TYPE_CHECKING:
    import pandas as pd


def plain(value: Any) -> Any:
    """One value as plain data: missing → None, a moment at midnight → its date, NumPy → Python."""
    if value is None or isinstance(value, (str, bool, int)):
        return value
    if isinstance(value, dict):
        return {str(key): plain(inner) for key, inner in value.items()}
    if isinstance(value, (list, tuple, set, frozenset)):
        return [plain(inner) for inner in (sorted(value) if isinstance(value, (set, frozenset)) else value)]
    if isinstance(value, float):
        return float(value) if math.isfinite(value) else None
    if type(value).__name__ in ("NAType", "NaTType"):
        return None
    if isinstance(value, datetime):
        return iso(value)
    if isinstance(value, date):
        return value.isoformat()
    if hasattr(value, "tolist"):
        return plain(value.tolist())
    return str(value)


def iso(moment: datetime) -> str:
    """``2026-03-02``, or ``2026-03-02T09:40`` where it has a time of day."""
    if (moment.hour, moment.minute, moment.second) == (0, 0, 0):
        return moment.strftime("%Y-%m-%d")
    return moment.isoformat(timespec="seconds" if moment.second else "minutes")


def rows(frame: pd.DataFrame | None) -> list[dict[str, Any]]:
    """A frame's rows as plain dicts, in the frame's order; ``facts`` stays a tuple. None → none."""
    if frame is None or len(frame) == 0:
        return []
    columns = {str(name): map(plain, column.tolist()) for name, column in frame.items() if name != "facts"}
    facts = frame["facts"] if "facts" in frame else repeat(())
    return [
        {**dict(zip(columns, values, strict=True)), "facts": tuple(own)}
        for values, own in zip(zip(*columns.values(), strict=True), facts, strict=False)
    ]


def facts_of(*frames: pd.DataFrame | None) -> frozenset[int]:
    """All fact ids that the frames rest on."""
    found: set[int] = set()
    for frame in frames:
        if frame is not None:
            found.update(*frame["facts"])
    return frozenset(found)


@lru_cache(maxsize=65536)
def natural(name: str | None) -> tuple[tuple[int, int, str], ...]:
    """A sort key by which C-9 comes before C-10; missing names come last."""
    if name is None:
        return ((2, 0, ""),)
    parts = re.split(r"(\d+)", fold(name))
    return tuple((0, int(part), "") if part.isdecimal() else (1, 0, part) for part in parts if part)


def twelve_digits(value: Any) -> Any:
    """Every number in plain data at 12 significant digits (half to even on the binary value)."""
    if isinstance(value, dict):
        return {key: twelve_digits(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [twelve_digits(inner) for inner in value]
    if isinstance(value, float):
        return float(f"{value:.12g}") + 0.0 if math.isfinite(value) else None
    return value


def json_bytes(data: Any) -> bytes:
    """JSON as the contract says: 12 significant digits, UTF-8, LF, two spaces; equal data, equal bytes."""
    text = json.dumps(twelve_digits(plain(data)), ensure_ascii=False, indent=2, allow_nan=False)
    return (text + "\n").encode("utf-8", "replace")
