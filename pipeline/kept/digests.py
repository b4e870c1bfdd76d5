"""Digests of frames: by these the engine tells what has changed, and for which subject.

A digest detects change against the one that was kept; it is no address. It is 64 bits wide and keyed by a secret of
the store, so that nobody can write a file whose rows pass for others. Rows are hashed by the frame's *declared*
dtypes: floats by their bits (one NaN; -0.0 is not 0.0), texts by their characters (a missing one is none of them),
``facts`` by ids and places. A subject's digest is the sum over its rows, each mixed with its place among them.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import chain
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from pipeline.common.names import fold
from pipeline.contract.frames import FACTS, Frame

if TYPE_CHECKING:
    import pandas as pd

HASH_VERSION = 1
Hashes = NDArray[np.uint64]
MISSING = np.uint64(0x9E3779B97F4A7C15)
GOLDEN = np.uint64(0xBF58476D1CE4E5B9)
ONE_NAN = np.uint64(0x7FF8000000000000)


def mixed(values: Hashes) -> Hashes:
    """Each number scattered over all 64 bits (the finaliser of SplitMix64, Steele and others 2014)."""
    made = values + MISSING
    made = (made ^ (made >> np.uint64(30))) * GOLDEN
    made = (made ^ (made >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return np.asarray(made ^ (made >> np.uint64(31)), dtype=np.uint64)


@dataclass(frozen=True)
class Vector:
    """Digests by subject: ``ids`` (rising) and ``sums``, both of shape (subjects,)."""

    ids: Hashes
    sums: Hashes

    def changed(self, before: Vector | None) -> Hashes:
        """Ids that are new or stand otherwise than before, and those that are gone."""
        if before is None:
            return self.ids
        if np.array_equal(self.ids, before.ids):
            return self.ids[self.sums != before.sums]
        same = np.isin(self.ids, before.ids, assume_unique=True)
        here, there = np.flatnonzero(same), np.searchsorted(before.ids, self.ids[same])
        same[here] = self.sums[here] == before.sums[there]
        gone = before.ids[~np.isin(before.ids, self.ids, assume_unique=True)]
        return np.union1d(self.ids[~same], gone)

    def with_others(self, fresh: Vector) -> Vector:
        """The same, but for the subjects of ``fresh``, which stand as they do there."""
        stays = ~np.isin(self.ids, fresh.ids, assume_unique=True)
        left = self.only(stays)
        return Vector.of(np.concatenate([left.ids, fresh.ids]), np.concatenate([left.sums, fresh.sums]))

    def only(self, wanted: NDArray[np.bool_]) -> Vector:
        """The same of the wanted subjects alone; ``wanted`` (subjects,)."""
        return Vector(self.ids[wanted], self.sums[wanted])

    def total(self, wanted: Hashes | None = None) -> int:
        """One digest of all subjects, or of the wanted ids alone."""
        chosen = np.isin(self.ids, wanted) if wanted is not None else slice(None)
        return int(mixed(self.sums[chosen] + mixed(self.ids[chosen])).sum(dtype=np.uint64))

    def at(self, ids: Hashes) -> Hashes:
        """The digest of each id; 0 where there is none."""
        if not len(self.ids):
            return np.zeros(len(ids), np.uint64)
        place = np.minimum(np.searchsorted(self.ids, ids), len(self.ids) - 1)
        return np.where(self.ids[place] == ids, self.sums[place], np.uint64(0))

    @classmethod
    def of(cls, ids: Hashes, sums: Hashes) -> Vector:
        """The digests of subjects that stand in any order, each once."""
        order = np.argsort(ids)
        return cls(ids[order], sums[order])

    def to_bytes(self) -> bytes:
        return self.ids.astype("<u8").tobytes() + self.sums.astype("<u8").tobytes()

    @classmethod
    def from_bytes(cls, data: bytes) -> Vector:
        both = np.frombuffer(data, "<u8").astype(np.uint64)
        return cls(both[: len(both) // 2], both[len(both) // 2 :])


NOBODY = Vector(np.empty(0, np.uint64), np.empty(0, np.uint64))


def vector_of(ids: Hashes, hashes: Hashes) -> Vector:
    """The digest of each subject from the id and hash of every row (both of shape (rows,)), in the rows' order."""
    if not len(ids):
        return NOBODY
    order = np.argsort(ids, kind="stable")
    ordered = ids[order]
    starts = np.flatnonzero(np.concatenate([[True], ordered[1:] != ordered[:-1]]))
    place = np.arange(len(ids)) - np.repeat(starts, np.diff(np.append(starts, len(ids))))
    sums = np.add.reduceat(_placed(hashes[order], place), starts)
    return Vector(ordered[starts], sums)


def _placed(hashes: Hashes, place: NDArray[np.int64]) -> Hashes:
    return mixed(hashes + place.astype(np.uint64) * GOLDEN)


class Hasher:
    """Hashes rows and names with one secret key of 16 bytes."""

    def __init__(self, key: bytes) -> None:
        self.key = key
        self._text_key = hashlib.blake2b(key, digest_size=8).hexdigest()
        self._name_key = hashlib.blake2b(b"name" + key, digest_size=8).hexdigest()

    def number(self, *parts: object) -> np.uint64:
        """A keyed number of texts and plain values."""
        text = "\x1f".join(map(str, (HASH_VERSION, *parts)))
        data = hashlib.blake2b(text.encode("utf-8", "surrogatepass"), digest_size=8, key=self.key)
        return np.uint64(int.from_bytes(data.digest(), "little"))

    def rows(self, frame: pd.DataFrame, declared: Frame) -> Hashes:
        """The hash of each row, shape (rows,), by the declared dtypes of its columns and by its facts."""
        made = np.zeros(len(frame), np.uint64)
        if not len(frame):
            return made
        for column in declared.columns:
            seed = self.number("column", column.name, column.dtype)
            made += self._column(frame[column.name], column.dtype, seed)
        made += mixed(_facts(frame[FACTS].tolist()) ^ self.number("column", FACTS))
        return mixed(made)

    def whole(self, hashes: Hashes) -> int:
        """The digest of rows in their order."""
        return int(_placed(hashes, np.arange(len(hashes))).sum(dtype=np.uint64)) ^ len(hashes)

    def names(self, column: pd.Series) -> Hashes:
        """The id of the folded name in each row; names that are one without regard to case have one id."""
        import pandas as pd

        codes, spellings = pd.factorize(column.to_numpy(dtype=object))
        return self.ids([*map(str, spellings.tolist()), ""])[codes]

    def ids(self, names: Iterable[str]) -> Hashes:
        """The ids of names in their order."""
        import pandas as pd

        folded = np.array([fold(name) for name in names], dtype=object)
        return pd.util.hash_array(folded, hash_key=self._name_key, categorize=False).astype(np.uint64)

    def _column(self, column: pd.Series, dtype: str, seed: np.uint64) -> Hashes:
        """The hash of each row's value; one for all rows where it is missing in all."""
        if dtype == "float":
            values = column.to_numpy(dtype=np.float64)
            missing = np.isnan(values)
            if missing.all():
                return mixed(np.array([ONE_NAN]) ^ seed)
            bits = values.view(np.uint64).copy() if values.flags.c_contiguous else values.copy().view(np.uint64)
            bits[missing] = ONE_NAN
            return mixed(bits ^ seed)
        if dtype in ("date", "moment"):
            return mixed(column.to_numpy(dtype="datetime64[us]").view(np.int64).astype(np.uint64) ^ seed)
        if dtype in ("int", "bool"):
            missing = column.isna().to_numpy(dtype=bool)
            filled = column.to_numpy(dtype=np.int64, na_value=0).astype(np.uint64)
            return mixed(np.where(missing, MISSING, mixed(filled)) ^ seed)
        if dtype == "text":
            return self._texts(column, seed)
        raise TypeError(f"no digest is known for the dtype {dtype}")

    def _texts(self, column: pd.Series, seed: np.uint64) -> Hashes:
        import pandas as pd

        codes, texts = pd.factorize(column.to_numpy(dtype=object))
        hashed = pd.util.hash_array(np.asarray(texts, dtype=object), hash_key=self._text_key, categorize=False)
        known = mixed(np.append(hashed.astype(np.uint64), MISSING) ^ seed)
        return known[codes] if len(known) > 1 else known


def _facts(rows: list[tuple[int, ...]]) -> Hashes:
    """A hash of each row's fact ids in their order."""
    if not rows:
        return np.empty(0, np.uint64)
    lengths = np.fromiter(map(len, rows), np.int64, len(rows))
    flat = np.fromiter(chain.from_iterable(rows), np.int64, int(lengths.sum())).astype(np.uint64)
    if (lengths == 1).all():
        return mixed(flat)
    starts = np.cumsum(lengths) - lengths
    place = np.arange(len(flat)) - np.repeat(starts, lengths)
    return np.add.reduceat(_placed(flat, place), starts) if lengths.all() else np.zeros(len(rows), np.uint64)


def as_ids(values: Any) -> Hashes:
    """Fact ids as ids of subjects."""
    return np.asarray(values, dtype=np.int64).astype(np.uint64)
