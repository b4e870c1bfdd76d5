"""Frames as bytes for the store of kept results: cut into segments, so that rows that came rewrite only theirs.

A frame is cut where the hash of a row says so, not after so many rows: rows that come or go in the middle change the
segments that they are in, and no other. A segment is a line of JSON that names its columns, and their bytes; a
column of which all of its rows lack the value has none.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from itertools import chain
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from pipeline.contract.frames import DTYPES, FACTS, Column, Frame
from pipeline.kept.digests import Hasher, Hashes

if TYPE_CHECKING:
    import pandas as pd

CUT = np.uint64(0xFFF)  # one row in 4,096 ends a segment
LONGEST = 1 << 15
NOT_A_TIME = np.iinfo(np.int64).min


class NotReadable(Exception):
    """What was kept is damaged, or is what no store of ours holds."""


def cut(hashes: Hashes) -> list[slice]:
    """The segments of a frame from the hashes of its rows."""
    ends = np.flatnonzero((hashes & CUT) == 0) + 1
    bounds = np.unique(np.concatenate([[0], ends, np.arange(0, len(hashes), LONGEST), [len(hashes)]])).tolist()
    return [slice(low, high) for low, high in zip(bounds, bounds[1:], strict=False)]


def segment_id(hasher: Hasher, hashes: Hashes) -> str:
    """What a segment is called: a digest of its rows in their order."""
    return f"{hasher.whole(hashes):016x}{int(hashes.sum(dtype=np.uint64)):016x}"


class Packer:
    """Packs segments of one frame; its columns are looked up once."""

    def __init__(self, frame: pd.DataFrame, declared: Frame) -> None:
        self.facts: list[tuple[int, ...]] = frame[FACTS].tolist()
        self.columns = [(column, _arrays(frame[column.name], column.dtype)) for column in declared.columns]

    def pack(self, rows: slice) -> bytes:
        """The rows as bytes."""
        parts: list[tuple[str, bytes]] = []
        for column, arrays in self.columns:
            packed = _packed([array[rows] for array in arrays], column.dtype)
            parts.extend((f"{column.name}{end}", data) for end, data in packed)
        facts = self.facts[rows]
        lengths = np.fromiter(map(len, facts), "<i4", len(facts))
        parts.append((f"{FACTS}:lengths", lengths.tobytes()))
        parts.append((FACTS, np.fromiter(chain.from_iterable(facts), "<i8", int(lengths.sum())).tobytes()))
        head = {"rows": len(facts), "parts": [[name, len(data)] for name, data in parts]}
        return b"".join([json.dumps(head).encode() + b"\n", *(data for _, data in parts)])


def unpack(segments: Iterable[bytes], declared: Frame) -> pd.DataFrame:
    """The frame that segments hold one after another. Raises NotReadable where they do not hold it."""
    import pandas as pd

    try:
        held = [_parts(data) for data in segments]
        if not held:
            return declared.empty()
        columns = {column.name: _unpacked(column, held) for column in declared.columns}
        columns[FACTS] = pd.Series(_facts([parts for _, parts in held]), dtype=object).array
        return pd.DataFrame(columns, index=pd.RangeIndex(sum(rows for rows, _ in held)))
    except (ValueError, KeyError, IndexError, TypeError) as error:
        raise NotReadable(f"{declared.name}: {error}") from error


def _arrays(values: pd.Series, dtype: str) -> list[NDArray[Any]]:
    """A column as plain arrays: of a whole number also which are missing."""
    if dtype == "float":
        return [values.to_numpy(dtype="<f8")]
    if dtype in ("date", "moment"):
        return [values.to_numpy(dtype="datetime64[us]").view("<i8")]
    if dtype == "int":
        return [values.to_numpy(dtype="<i8", na_value=0), values.isna().to_numpy()]
    return [values.to_numpy(dtype="<i1", na_value=-1) if dtype == "bool" else values.to_numpy(dtype=object)]


def _packed(arrays: list[NDArray[Any]], dtype: str) -> list[tuple[str, bytes]]:
    """The bytes of a column; none where the value is missing in all rows."""
    import pandas as pd

    values = arrays[0]
    if dtype == "text":
        codes, texts = pd.factorize(values)
        said = json.dumps(list(map(str, texts.tolist())), ensure_ascii=True).encode()
        return [("", codes.astype("<i4").tobytes()), (":texts", said)] if len(texts) else []
    if dtype == "int":
        return [] if arrays[1].all() else [("", values.tobytes()), (":missing", arrays[1].tobytes())]
    lacking = values != values if dtype == "float" else values == (-1 if dtype == "bool" else NOT_A_TIME)
    return [] if lacking.all() else [("", values.tobytes())]


def _parts(data: bytes) -> tuple[int, dict[str, memoryview]]:
    end = data.index(b"\n")
    head = json.loads(data[:end])
    at, found, view = end + 1, {}, memoryview(data)
    for name, size in head["parts"]:
        found[name] = view[at : at + size]
        at += size
    if at != len(data):
        raise ValueError("its length is another")
    return int(head["rows"]), found


def _unpacked(column: Column, held: list[tuple[int, dict[str, memoryview]]]) -> Any:
    import pandas as pd

    def joined(dtype: str, lacking: Any, end: str = "") -> NDArray[Any]:
        """The numbers of all segments; ``lacking`` where one has none."""
        name = column.name + end
        some = [np.frombuffer(p[name], dtype) if name in p else np.full(rows, lacking, dtype) for rows, p in held]
        return np.concatenate(some)

    if column.dtype == "float":
        return joined("<f8", np.nan)
    if column.dtype in ("date", "moment"):
        return joined("<i8", NOT_A_TIME).view("datetime64[us]")
    if column.dtype == "int":
        return pd.arrays.IntegerArray(joined("<i8", 0), joined("bool", True, ":missing"))
    if column.dtype == "bool":
        values = joined("<i1", -1)
        return pd.arrays.BooleanArray(values == 1, values == -1)
    spelt = [json.loads(bytes(parts.get(f"{column.name}:texts", b"[]"))) for _, parts in held]
    before = np.cumsum([0, *map(len, spelt)])
    codes = joined("<i4", -1)
    shift = np.repeat(before[:-1], [rows for rows, _ in held])
    texts = np.array([*chain.from_iterable(spelt), np.nan], dtype=object)
    return pd.Series(texts[np.where(codes < 0, -1, codes + shift)], dtype=DTYPES["text"]).array


def _facts(held: list[dict[str, memoryview]]) -> list[tuple[int, ...]]:
    lengths = np.concatenate([np.frombuffer(parts[f"{FACTS}:lengths"], "<i4") for parts in held])
    flat = np.concatenate([np.frombuffer(parts[FACTS], "<i8") for parts in held]).tolist()
    if (lengths == 1).all():
        return [(fact,) for fact in flat]
    ends = np.cumsum(lengths).tolist()
    return [tuple(flat[low:high]) for low, high in zip([0, *ends], ends, strict=False)]
