"""What is missing in the values of a column, held as plain values or as an array."""

from __future__ import annotations

from typing import Any

from pipeline.common.libraries import np


def missing(values: Any) -> list[int]:
    """The places of a column's missing values, rising."""
    if isinstance(values, np.ndarray):
        places: list[int] = np.flatnonzero(np.isnan(values)).tolist()
        return places
    return [row for row, value in enumerate(values) if value is None] if None in values else []


def listed(values: Any) -> list[Any]:
    """A plain list with None for what is missing."""
    if not isinstance(values, np.ndarray):
        return list(values)
    held: list[Any] = values.tolist()
    for row in missing(values):
        held[row] = None
    return held
