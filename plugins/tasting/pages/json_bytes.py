"""The bytes of the panel's data: JSON numbers with 12 significant digits, missing ones null, UTF-8, LF."""

from __future__ import annotations

import json
import math
from typing import Any

from pipeline.writing.plain import plain


def json_bytes(data: Any) -> bytes:
    return (json.dumps(_rounded(plain(data)), ensure_ascii=False, indent=1, allow_nan=False) + "\n").encode("utf-8")


def _rounded(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _rounded(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [_rounded(inner) for inner in value]
    return float(f"{value:.12g}") if isinstance(value, float) and math.isfinite(value) else value
