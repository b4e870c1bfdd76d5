"""What is missing in the values of a column, held as plain values or as an array, and what a kind fills in."""

from __future__ import annotations

from datetime import date
from typing import Any

from pipeline.common.libraries import np
from pipeline.contract.kinds import SheetKind


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


def fill_blanks(values: dict[str, list[Any]], count: int, kind: SheetKind, day: date) -> None:
    """Write into blanks what a kind says of them: the day of taking, or what other columns of the row hold."""
    for name in kind.day_of_taking:
        stated = values.get(name, [None] * count)
        values[name] = [day.isoformat() if value is None else value for value in stated]
    for name, sources in kind.defaults:
        columns = [values.get(kind.column(source).frame_column, [None] * count) for source in sources]
        stated = values.get(name, [None] * count)
        values[name] = [
            " ".join(str(part) for part in parts if part is not None) if value is None else value
            for value, *parts in zip(stated, *columns, strict=True)
        ]
