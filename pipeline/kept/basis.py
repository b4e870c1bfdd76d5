"""What a stage, document or report is made from, held against what it was last made from."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from pipeline.contract.frames import each_once
from pipeline.contract.stages import Link
from pipeline.kept.digests import NOBODY, Hashes, Vector
from pipeline.kept.frame_states import ROW, FrameState, linked_total, linked_vector
from pipeline.kept.store import Kept

if TYPE_CHECKING:
    import pandas as pd

ABSENT = "absent"


@dataclass
class Basis:
    """Digests of what is the same for every subject, and for each need that differs by subject a vector."""

    shared: dict[str, str] = field(default_factory=dict)
    vectors: dict[str, Vector] = field(default_factory=dict)
    unlike: list[str] = field(default_factory=list)
    """After ``changed``: the needs that differ from what was kept for some subject."""

    def changed(self, kept: Kept, name: str, shared_before: Mapping[str, str]) -> Hashes | None:
        """The subjects for which something is another than was kept under a name; None: for all of them."""
        if dict(shared_before) != self.shared:
            return None
        found = [np.empty(0, np.uint64)]
        for need, vector in self.vectors.items():
            before = kept.vector(f"{name}<{need}")
            if before is None:
                return None
            found.append(vector.changed(before))
            self.unlike += [need] if len(found[-1]) else []
        return each_once(np.concatenate(found))

    def keep(self, kept: Kept, name: str) -> None:
        for need, vector in self.vectors.items():
            kept.keep_vector(f"{name}<{need}", vector)

    def of(self, done: Hashes, before: Mapping[str, Vector | None], due: Hashes | None) -> Basis:
        """The basis as it is where only the subjects ``done`` of those ``due`` were brought up to it."""
        made = Basis(self.shared)
        for need, vector in self.vectors.items():
            old = before.get(need)
            left = NOBODY if old is None else old
            stays = ~np.isin(left.ids, done)
            if due is not None:  # those gone for good
                stays &= np.isin(left.ids, vector.ids) | ~np.isin(left.ids, due)
            made.vectors[need] = left.only(stays).with_others(vector.only(np.isin(vector.ids, done)))
        return made

    def subjects(self) -> Hashes:
        """The ids of all subjects, rising."""
        return each_once(np.concatenate([np.empty(0, np.uint64), *(vector.ids for vector in self.vectors.values())]))


@dataclass(frozen=True)
class Owned:
    """A frame whose rows belong to subjects: those that stand beside the name which a row bears in ``column``."""

    state: FrameState
    column: str
    subjects: Hashes
    names: Hashes

    def of_rows(self) -> dict[int, list[int]]:
        """Name of a row → the subjects that it belongs to."""
        found: dict[int, list[int]] = {}
        for name, subject in zip(self.names.tolist(), self.subjects.tolist(), strict=True):
            found.setdefault(name, []).append(subject)
        return found


@dataclass(frozen=True)
class Ties:
    """How frames are tied to a subject: by its own column or by links. ``rows_of`` where subjects are rows."""

    per: str
    rows_of: str = ""
    links: Mapping[str, Link] = field(default_factory=dict)

    def own(self, name: str, state: FrameState) -> str:
        """The column by which a frame's rows are the subject's own; empty where they are not."""
        if self.rows_of:
            return ROW if name == self.rows_of else ""
        return self.per if self.per and self.per in state.declared.names and name not in self.links else ""

    def add(self, basis: Basis, name: str, states: Mapping[str, FrameState]) -> None:
        """Put the digests of one frame into a basis."""
        state, link = states[name], self.links.get(name)
        tie = self.own(name, state)
        if tie:
            basis.vectors[name] = state.vector(tie)
        elif link is None:
            basis.shared[name] = f"{state.digest:x}"
        else:
            common, subjects, names = self._names(link, states)
            if common is not None:
                basis.shared[name] = f"{linked_total(state.vector(link.column), common):x}"
            if len(subjects):
                basis.vectors[name] = linked_vector(state.vector(link.column), subjects, names)

    def rows(self, name: str, states: Mapping[str, FrameState], wanted: Hashes | None) -> pd.DataFrame:
        """The rows of a frame that count for the wanted subjects; for all of them where None."""
        state, link = states[name], self.links.get(name)
        tie = self.own(name, state)
        if link is not None:
            common, subjects, names = self._names(link, states)
            chosen = names if wanted is None else names[np.isin(subjects, wanted)]
            if common is not None:
                chosen = np.concatenate([chosen, common])
            mask = np.isin(state.ids(link.column), chosen)
        elif tie and wanted is not None:
            mask = np.isin(state.ids(tie), wanted)
        else:
            return state.frame
        return state.frame.iloc[np.flatnonzero(mask)].reset_index(drop=True)

    def owners(self, name: str, states: Mapping[str, FrameState]) -> Owned | None:
        """A frame of which rows are a subject's own or are linked to it, with the subjects of each row's name."""
        state, link = states[name], self.links.get(name)
        tie = self.own(name, state)
        if tie:
            ids = state.vector(tie).ids
            return Owned(state, tie, ids, ids)
        if link is None:
            return None
        _, subjects, names = self._names(link, states)
        return Owned(state, link.column, subjects, names)

    def _names(self, link: Link, states: Mapping[str, FrameState]) -> tuple[Hashes | None, Hashes, Hashes]:
        """Names that count for every subject (None where no frame says so), and pairs of subject and name."""
        common: list[Hashes] = []
        pairs: list[tuple[Hashes, Hashes]] = []
        for other, column in link.others:
            state = states.get(other)
            if state is None:
                continue
            tie = self.own(other, state)
            if tie:
                pairs.append(state.pairs(tie, column))
            else:
                common.append(state.vector(column).ids)
        both = _united(pairs)
        return (each_once(np.concatenate(common)) if common else None), both[0], both[1]


def _united(pairs: list[tuple[Hashes, Hashes]]) -> tuple[Hashes, Hashes]:
    if len(pairs) == 1:
        return pairs[0]
    empty = np.empty(0, np.uint64)
    both = [np.concatenate([empty, *(pair[side] for pair in pairs)]) for side in (0, 1)]
    unique = np.unique(np.stack(both), axis=1)
    return unique[0], unique[1]


def ties_of_frames(
    declared: Mapping[str, Iterable[str]], users: Iterable[tuple[Ties, Iterable[str]]]
) -> dict[str, frozenset[str]]:
    """For each frame the columns by which anything is tied to it.

    ``declared``: the columns of each frame; ``users``: the ties of a stage or report, with the frames it needs.
    """
    found: dict[str, set[str]] = {name: set() for name in declared}
    for ties, names in users:
        if ties.rows_of:
            found[ties.rows_of].add(ROW)
        for name in names:
            if name in found and ties.per in declared[name]:
                found[name].add(ties.per)
        for name, link in ties.links.items():
            for frame, column in ((name, link.column), *link.others):
                if frame in found:
                    found[frame].add(column)
    return {name: frozenset(columns) for name, columns in found.items()}
