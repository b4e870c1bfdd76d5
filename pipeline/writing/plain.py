"""Frames as plain data for pages, JSON and CSV: missing ones None, moments as ISO text, NumPy as Python.

Worked column by column, since houses have tens of thousands of casks.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from typing import Any

from pipeline.common.libraries import np, pd

RUN_BY_SPREADSHEETS = ("=", "+", "-", "@", "\t", "\r")
Row = dict[str, Any]


def spreadsheet_safe(text: str) -> str:
    """The text with an apostrophe before it where a spreadsheet program would run it."""
    return "'" + text if text.startswith(RUN_BY_SPREADSHEETS) else text


def plain(value: Any) -> Any:
    """One value: missing → None, a moment at midnight → its date, NumPy → Python; lists and dicts within."""
    if value is None or isinstance(value, (str, bool)):
        return value
    if isinstance(value, dict):
        return {str(key): plain(inner) for key, inner in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(inner) for inner in value]
    if type(value).__name__ in ("NAType", "NaTType"):
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


def plain_column(column: pd.Series) -> list[Any]:
    """The values of a column as ``plain`` gives them; tuples (fact ids) stay."""
    kind = column.dtype.kind
    if kind == "f":
        numbers = column.to_numpy(dtype=np.float64, na_value=np.nan)
        return _with_none(numbers.astype(object), ~np.isfinite(numbers))
    if kind == "M":
        moments = column.to_numpy(dtype="datetime64[us]")
        days = moments.astype("datetime64[D]")
        texts = np.where(days == moments, np.datetime_as_string(days), np.datetime_as_string(moments, unit="m"))
        return _with_none(texts.astype(object), np.isnat(moments))
    if column.dtype.name in ("str", "string", "boolean", "Int64"):
        return _with_none(column.to_numpy(dtype=object), column.isna().to_numpy())
    if kind in "iub":
        values: list[Any] = column.tolist()
        return values
    return [value if isinstance(value, tuple) else plain(value) for value in column.tolist()]


def _with_none(values: np.ndarray, missing: np.ndarray) -> list[Any]:
    if missing.any():
        values = values.copy()
        values[missing] = None
    made: list[Any] = values.tolist()
    return made


def plain_rows(frame: pd.DataFrame | None, without: Sequence[str] = ()) -> list[Row]:
    """A frame's rows as plain dicts in the frame's order; none where there is no frame."""
    if frame is None:
        return []
    names = [str(name) for name in frame.columns if name not in without]
    columns = [plain_column(frame[name]) for name in names]
    made = []
    for values in zip(*columns, strict=True):
        made.append(dict(zip(names, values, strict=True)))
    return made


def shown_rows(frame: pd.DataFrame | None, shown: Mapping[str, int | None]) -> list[Row]:
    """A frame's rows with the columns that a page shows, as it shows them: moments as days, and numbers rounded to
    so many places (None: as they are), so that a page need not be made again for digits that nobody sees."""
    if frame is None:
        return []
    columns = [_shown(frame[name], places) for name, places in shown.items()]
    return [dict(zip(shown, values, strict=True)) for values in zip(*columns, strict=True)]


def _shown(column: pd.Series, places: int | None) -> list[Any]:
    values = plain_column(column)
    if column.dtype.kind == "M":
        return [value and value[:10] for value in values]
    return values if places is None else [None if value is None else round(value, places) + 0.0 for value in values]


def cell(value: Any) -> Any:
    """A plain value as it stands in a CSV: numbers with 10 significant digits, missing ones empty, text harmless."""
    if isinstance(value, str):
        return spreadsheet_safe(value)
    if isinstance(value, float):
        return f"{value:.10g}"
    return "" if value is None else value


def csv_bytes(heads: Sequence[str], lines: Iterable[Sequence[Any]]) -> bytes:
    """Plain values as a CSV: UTF-8, LF."""
    return _written(heads, ([cell(value) for value in line] for line in lines))


def frame_csv(frame: pd.DataFrame, names: Sequence[str]) -> bytes:
    """Some columns of a frame as a CSV: UTF-8, LF, numbers with 10 significant digits."""
    columns = [_cells(frame[name]) for name in names]
    return _written(names, zip(*columns, strict=True))


def _cells(column: pd.Series) -> list[Any]:
    values = plain_column(column)
    if column.dtype.kind == "f":
        return ["" if value is None else f"{value:.10g}" for value in values]
    return [cell(value) for value in values]


def _written(heads: Sequence[str], lines: Iterable[Iterable[Any]]) -> bytes:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(heads)
    for line in lines:
        writer.writerow(line)
    return out.getvalue().encode("utf-8")
