"""How findings on facts name rows, keys and values."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from pipeline.common.libraries import pd
from pipeline.contract.kinds import SheetKind

if TYPE_CHECKING:
    from collections.abc import Mapping


def key_values(kind: SheetKind, row: Mapping[str, Any] | pd.Series) -> list[str]:
    """A row's key as its sheet wrote it, blanks left out."""
    columns = [kind.column(name).frame_column for name in kind.key]
    return [plain(row[name]) for name in columns if name in row and not is_missing(row[name])]


def subject(kind: SheetKind, row: Mapping[str, Any] | pd.Series) -> str:
    """What a row is about: the first part of its key."""
    return next(iter(key_values(kind, row)), "")


def named(kind: SheetKind, row: Mapping[str, Any] | pd.Series) -> str:
    """A row by its whole key."""
    return ", ".join(key_values(kind, row))


def telling_apart(kind: SheetKind, row: Mapping[str, Any] | pd.Series) -> str:
    """Which blank parts of a row's key would tell it from another one: ``a time of day, an instrument``; or nothing."""
    blank = []
    for name in kind.key:
        column = kind.column(name)
        if column.type == "moment" and not timed(row, name):
            blank.append("time of day")
        elif column.frame_column not in row or is_missing(row[column.frame_column]):
            blank.append(name.replace("_", " "))
    return " or ".join(blank)


def timed(row: Mapping[str, Any] | pd.Series, name: str) -> bool:
    """Whether a row states a time of day in a column of moments."""
    stated = row.get(f"{name}_timed")
    return stated is not None and not is_missing(stated) and bool(stated)


def is_missing(value: Any) -> bool:
    return bool(pd.isna(value))


def plain(value: Any) -> str:
    """A value as a person reads it."""
    if is_missing(value):
        return "nothing"
    if hasattr(value, "isoformat"):
        return str(value.isoformat()).removesuffix("T00:00:00")
    return f"{value:.6g}" if isinstance(value, float) else str(value)
