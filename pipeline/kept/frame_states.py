"""A frame as it stands: its digests, and its rows once somebody needs them.

Digests by subject are made of the columns by which the graph ties stages and reports to the frame, its *ties*; of a
frame that has changed in a few subjects only these are made anew.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from pipeline.contract.frames import FACTS, Frame, all_facts, each_once, first_facts
from pipeline.kept.digests import NOBODY, Hasher, Hashes, Vector, as_ids, mixed, vector_of
from pipeline.kept.packed_frames import Packer, cut, segment_id, unpack
from pipeline.kept.store import Kept

if TYPE_CHECKING:
    import pandas as pd

ROW = "row"  # the tie of stages that treat each row by itself: a subject is the first fact of a row


class FrameState:
    """Rows, digest and digests by tie of one frame. Made by ``made``, ``changed`` or ``kept``."""

    def __init__(self, declared: Frame, hasher: Hasher, ties: frozenset[str], load: Callable[[], pd.DataFrame]) -> None:
        self.declared, self.hasher, self.ties = declared, hasher, ties
        self._load = load
        self._frame: pd.DataFrame | None = None
        self._hashes: Hashes | None = None
        self._digest: int | None = None
        self._ids: dict[str, Hashes] = {}
        self._vectors: dict[str, Vector] = {}
        self._pairs: dict[tuple[str, str], tuple[Hashes, Hashes]] = {}
        self._find_vector: Callable[[str], Vector | None] = lambda tie: None
        self._indices: dict[str, dict[Any, Any]] = {}
        self._facts: NDArray[np.int64] | None = None

    @property
    def frame(self) -> pd.DataFrame:
        """The rows; nobody may change them."""
        if self._frame is None:
            self._frame = self._load()
        return self._frame

    @property
    def hashes(self) -> Hashes:
        """The hash of every row."""
        if self._hashes is None:
            self._hashes = self.hasher.rows(self.frame, self.declared)
        return self._hashes

    @property
    def digest(self) -> int:
        """The digest of all rows in their order."""
        if self._digest is None:
            self._digest = self.hasher.whole(self.hashes)
        return self._digest

    @property
    def facts(self) -> NDArray[np.int64]:
        """The fact ids that the rows rest on, rising, each once."""
        if self._facts is None:
            self._facts = all_facts(self.frame[FACTS])
        return self._facts

    def ids(self, tie: str) -> Hashes:
        """The subject of every row."""
        if tie not in self._ids:
            own = tie == ROW
            self._ids[tie] = as_ids(first_facts(self.frame[FACTS])) if own else self.hasher.names(self.frame[tie])
        return self._ids[tie]

    def vector(self, tie: str) -> Vector:
        """The digests by subject of a tie."""
        if tie not in self._vectors:
            found = self._find_vector(tie)
            self._vectors[tie] = vector_of(self.ids(tie), self.hashes) if found is None else found
        return self._vectors[tie]

    def pairs(self, tie: str, other: str) -> tuple[Hashes, Hashes]:
        """Subject and name for every two that stand in one row, each pair once, in order of subject."""
        if (tie, other) not in self._pairs:
            both = np.unique(np.stack([self.ids(tie), self.ids(other)]), axis=1) if len(self.frame) else NO_PAIRS
            self._pairs[tie, other] = both[0], both[1]
        return self._pairs[tie, other]

    def rows_of(self, column: str, value: str) -> pd.DataFrame:
        """The rows with a value in a column, numbered anew."""
        if column not in self._indices:
            self._indices[column] = dict(self.frame.groupby(column, sort=False).indices)
        return self.frame.iloc[self._indices[column].get(value, [])].reset_index(drop=True)

    def changed(self, frame: pd.DataFrame, hashes: Hashes, added: FrameState) -> FrameState:
        """The state of a frame that begins with the rows of this one and goes on with those ``added``."""
        made = made_state(self.declared, self.hasher, self.ties, frame, hashes)
        for tie in self.ties:
            before, fresh = self.vector(tie), added.ids(tie)
            made._ids[tie] = np.concatenate([self.ids(tie), fresh])
            touched = np.isin(made._ids[tie], fresh)
            made._vectors[tie] = before.with_others(vector_of(made._ids[tie][touched], hashes[touched]))
        return made

    def take_ids(self, tie: str, ids: Hashes) -> None:
        """Take over the subjects of the rows where they are known already."""
        self._ids[tie] = ids

    def keep(self, kept: Kept, name: str) -> dict[str, Any]:
        """Keep rows and digests under a name; gives what ``kept_state`` needs to find them again."""
        parts = cut(self.hashes)
        names = [segment_id(self.hasher, self.hashes[part]) for part in parts]
        packer = cache(lambda: Packer(self.frame, self.declared))  # only where a segment is new
        kept.keep_segments(name, names, lambda place: packer().pack(parts[place]))
        for tie in sorted(self.ties):
            kept.keep_vector(f"{name}/{tie}", self.vector(tie))
        return {"digest": f"{self.digest:x}", "segments": names, "ties": sorted(self.ties)}


NO_PAIRS = np.empty((2, 0), np.uint64)


def made_state(
    declared: Frame, hasher: Hasher, ties: frozenset[str], frame: pd.DataFrame, hashes: Hashes | None = None
) -> FrameState:
    """The state of a frame whose rows are at hand."""
    made = FrameState(declared, hasher, ties, lambda: frame)
    made._frame, made._hashes = frame, hashes
    return made


def kept_state(kept: Kept, name: str, about: dict[str, Any], declared: Frame, ties: frozenset[str]) -> FrameState:
    """The state of a frame that was kept; its rows are read when they are needed."""
    made = FrameState(declared, kept.hasher, ties, lambda: unpack(kept.segments(name, about["segments"]), declared))
    made._digest = int(about["digest"], 16)
    known = set(about["ties"])
    made._find_vector = lambda tie: kept.vector(f"{name}/{tie}") if tie in known else None
    return made


def linked_total(vector: Vector, names: Hashes) -> int:
    """One digest of the rows that bear one of some names."""
    return vector.total(each_once(names))


def linked_vector(vector: Vector, subjects: Hashes, names: Hashes) -> Vector:
    """For each subject the digest of the rows that bear a name which stands beside it.

    ``subjects`` and ``names`` are pairs, each once, in order of subject.
    """
    if not len(subjects):
        return NOBODY
    starts = np.flatnonzero(np.concatenate([[True], subjects[1:] != subjects[:-1]]))
    return Vector(subjects[starts], np.add.reduceat(mixed(vector.at(names) + mixed(names)), starts))
