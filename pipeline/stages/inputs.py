"""The frames that stages begin with: of each kind the facts that count, in one spelling of every name.

Of a kind of which nothing came since the last run, digests and names are known from the store; its rows are read
from the book when a stage asks for them.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np

from pipeline.book.book import Book
from pipeline.book.facts import Ruled
from pipeline.common.files import text_digest
from pipeline.common.names import respelt, written
from pipeline.contract.findings import Finding, finding_as_data, finding_of_data
from pipeline.contract.kinds import SheetKind
from pipeline.kept.frame_states import FrameState, kept_state, made_state
from pipeline.kept.store import Kept

if TYPE_CHECKING:
    from collections.abc import Mapping

    import pandas as pd


@dataclass
class _Held:
    """A kind as it was last brought up: on what, what was found, and its frame in the spelling shown."""

    about: dict[str, Any]
    raw: pd.DataFrame | None = None
    state: FrameState | None = None


@dataclass
class Inputs:
    """Brings the frames of a book's kinds up to it; lives as long as the book is open."""

    kinds: list[SheetKind]
    book: Book
    kept: Kept
    ties: Mapping[str, frozenset[str]]
    findings: list[Finding] = field(default_factory=list)
    book_date: date | None = None
    _held: dict[str, _Held] = field(default_factory=dict)

    def bring_up(self, ruled: Ruled) -> dict[str, FrameState]:
        """The state of each kind's frame; ``findings`` and ``book_date`` are those of the facts that count now."""
        for kind in self.kinds:
            self._count(kind, ruled)
        others = self._other_spellings()
        self.findings = [finding_of_data(data) for kind in self.kinds for data in self._about(kind)["findings"]]
        days = [self._about(kind)["latest"] for kind in self.kinds]
        self.book_date = max((date.fromisoformat(day) for day in days if day), default=None)
        return {kind.name: self._state(kind, others.get(kind.name, {}), ruled) for kind in self.kinds}

    def _about(self, kind: SheetKind) -> dict[str, Any]:
        return self._held[kind.name].about

    def _count(self, kind: SheetKind, ruled: Ruled) -> None:
        """Find out which facts of a kind count, where they are not as they were."""
        basis = self.book.identity_of(kind, ruled)
        held = self._held.get(kind.name)
        if held is not None and held.about["basis"] == basis:
            return
        record = self.kept.record(f"input {kind.name}")
        if held is None and record is not None and record["basis"] == basis:
            self._held[kind.name] = _Held(record)
            return
        frame, findings = self.book.frame(kind, ruled)
        names = {c.name: written(frame[c.name]) for c in kind.columns if c.type == "name"}
        latest = frame[kind.column(kind.dates).frame_column].max() if kind.dates and len(frame) else None
        about = {
            "basis": basis,
            "findings": [finding_as_data(finding) for finding in findings],
            "names": names,
            "latest": latest.date().isoformat() if latest is not None and latest == latest else "",
            "spelling": None,
        }
        self._held[kind.name] = _Held(about, frame, held.state if held else None)

    def _other_spellings(self) -> dict[str, dict[str, dict[str, str]]]:
        """By kind and column the names that are shown otherwise than written: of several spellings the first counts."""
        first: dict[str, str] = {}
        unlike: dict[str, dict[str, dict[str, str]]] = {}
        for kind in self.kinds:
            for column, names in self._about(kind)["names"].items():
                shown = [first.setdefault(name.casefold(), name) for name in names]
                other = {
                    name: kept for name, kept in zip(names, shown, strict=True) if name is not kept and name != kept
                }
                if other:
                    unlike.setdefault(kind.name, {})[column] = other
        return unlike

    def _state(self, kind: SheetKind, other: dict[str, dict[str, str]], ruled: Ruled) -> FrameState:
        held, name, ties = self._held[kind.name], kind.name, self.ties[kind.name]
        spelling = text_digest(sorted((column, sorted(names.items())) for column, names in other.items()))
        if held.about["spelling"] == spelling and held.state is None:
            held.state = _lazy(self.kept, name, held.about, kind, ties, partial(self._frame, kind, other, ruled))
        if held.about["spelling"] != spelling:
            frame = self._frame(kind, other, ruled)
            held.state = self._grown(held.state, kind, frame, bool(other)) or made_state(
                kind.frame(), self.kept.hasher, ties, frame
            )
            held.about = {**held.about, "spelling": spelling}
            self.kept.together(partial(self._keep, name, held))
        assert held.state is not None
        return held.state

    def _frame(self, kind: SheetKind, other: dict[str, dict[str, str]], ruled: Ruled) -> pd.DataFrame:
        held = self._held[kind.name]
        frame = held.raw if held.raw is not None else self.book.frame(kind, ruled)[0]
        held.raw = None  # the book has it; what is shown may be another
        return frame.assign(**{column: respelt(frame[column], names) for column, names in other.items()})

    def _grown(self, before: FrameState | None, kind: SheetKind, frame: pd.DataFrame, spelt: bool) -> FrameState | None:
        """The state gone on with, where the frame is known to be the one before and more rows after it."""
        old, new = self.book.grown.get(kind.name, (None, None))
        if before is None or spelt or new is not frame or before._frame is not old:
            return None
        hasher, count = self.kept.hasher, len(before.frame)
        tail = frame.iloc[count:]
        hashes = np.concatenate([before.hashes, hasher.rows(tail, kind.frame())])
        added = made_state(kind.frame(), hasher, before.ties, tail.reset_index(drop=True), hashes[count:])
        return before.changed(frame, hashes, added)

    def _keep(self, name: str, held: _Held) -> None:
        assert held.state is not None
        for tie in sorted(held.state.ties):
            self.kept.keep_vector(f"input {name}/{tie}", held.state.vector(tie))
        held.about = {**held.about, "digest": f"{held.state.digest:x}", "ties": sorted(held.state.ties)}
        self.kept.keep_record(f"input {name}", held.about)


def _lazy(
    kept: Kept, name: str, about: dict[str, Any], kind: SheetKind, ties: frozenset[str], load: partial[Any]
) -> FrameState:
    """The state of a kind that was kept; rows come from the book."""
    made = kept_state(kept, f"input {name}", {**about, "segments": []}, kind.frame(), ties)
    made._load = load
    return made
