"""Columns of one sheet as bytes: what the book keeps of a sheet's rows.

A sheet's facts are written once and only ever read as whole columns, so a column is one value: float64 for
numbers, seconds of the wall clock for dates and moments; for all else the different values as a line of JSON, and
of each row the place of its value among them.
"""

from __future__ import annotations

import json
from typing import Any

from pipeline.common.libraries import np, pd
from pipeline.contract.frames import Column


def pack(column: Column, values: list[Any]) -> bytes:
    """A column's values (None where missing) as bytes."""
    if column.dtype == "float":
        return np.array([np.nan if v is None else v for v in values] if None in values else values, "<f8").tobytes()
    if column.dtype in ("date", "moment"):
        texts = ["NaT" if v is None else v for v in values] if None in values else values
        return np.array(texts, dtype="datetime64[s]").astype("<i8").tobytes()
    places = {value: place for place, value in enumerate(dict.fromkeys(values))}
    said = json.dumps(list(places), ensure_ascii=False, separators=(",", ":")).encode("utf-8")
    return said + b"\n" + np.array(list(map(places.__getitem__, values)), _width(len(places))).tobytes()


def _width(different: int) -> str:
    """The narrowest numbers that tell so many values apart."""
    return "u1" if different <= 1 << 8 else "<u2" if different <= 1 << 16 else "<u4"


def unpack(column: Column, data: bytes) -> Any:
    """What ``pack`` packed: a float64 or datetime64[s] array, or a list."""
    if column.dtype == "float":
        return np.frombuffer(data, "<f8")
    if column.dtype in ("date", "moment"):
        return np.frombuffer(data, "<i8").astype("datetime64[s]")
    end = data.index(b"\n")
    values = json.loads(data[:end])
    different = np.empty(len(values), object)
    different[:] = values
    return different[np.frombuffer(data, _width(len(values)), offset=end + 1)].tolist()


def missing(column: Column, count: int) -> Any:
    """A column of a sheet that does not have it."""
    if column.dtype == "float":
        return np.full(count, np.nan)
    if column.dtype in ("date", "moment"):
        return np.full(count, "NaT", "datetime64[s]")
    return [None] * count


def join(column: Column, parts: list[Any]) -> Any:
    """The parts of several sheets as one."""
    if column.dtype in ("float", "date", "moment"):
        return np.concatenate(parts) if len(parts) != 1 else parts[0]
    return parts[0] if len(parts) == 1 else [value for part in parts for value in part]


def taken(values: Any, rows: np.ndarray) -> Any:
    """The values at the rows (positions): of an array an array, of a list a list."""
    return values[rows] if isinstance(values, np.ndarray) else [values[row] for row in rows.tolist()]


def as_series(column: Column, values: Any) -> Any:
    """A column as a pandas Series in the dtype that frames promise."""
    from pipeline.contract.frames import DTYPES

    if column.dtype in ("date", "moment"):
        return pd.Series(np.asarray(values, "datetime64[s]").astype("datetime64[us]"))
    return pd.Series(values, dtype=DTYPES[column.dtype])
