"""Natural keys: what makes two rows speak of one thing."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any

from pipeline.contract.kinds import SheetColumn, SheetKind
from pipeline.sheets.cells import clean


def natural_keys(kind: SheetKind, values: dict[str, list[Any]], count: int) -> list[str]:
    """The normalised natural key of each row: NFC, trimmed, case-folded; a blank part is none."""
    parts = []
    for name in kind.key:
        column = kind.column(name)
        listed = values.get(column.frame_column) or [None] * count
        if column.type in ("date", "moment"):
            parts.append([value or "" for value in listed])
            continue
        seen = {value: "" if value is None else key_part(column, value) for value in set(listed)}
        parts.append(list(map(seen.__getitem__, listed)))
    return ["\x1f".join(key) for key in zip(*parts, strict=True)]


def key_of(kind: SheetKind, values: Mapping[str, Sequence[Any]], row: int, faulty: Collection[str]) -> str:
    """Kind and natural key of one row by its typed columns.

    Empty where a part is faulty or is filled in later, and where words of the sheet tell rows of one key apart.
    """
    filled = {*kind.day_of_taking, *(name for name, _ in kind.defaults)}
    if any(name in faulty or name in filled for name in kind.key) or any(name in values for name in kind.apart):
        return ""
    held = {name: values[name][row] for name in kind.key if name in values}
    one = {kind.column(name).frame_column: [None if value != value else value] for name, value in held.items()}
    return f"{kind.name}:{natural_keys(kind, one, 1)[0]}"


def key_part(column: SheetColumn, value: Any) -> str:
    """One value as it stands in a natural key."""
    if column.type in ("date", "moment"):
        return str(value)
    if isinstance(value, float):
        return f"{value:.9g}"
    return clean(str(value)).casefold()
