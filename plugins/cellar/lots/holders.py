"""Which cask filling, batch, lot or vessel a name on a sheet means at a moment."""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

import pandas as pd

from pipeline.common.names import fold, folded

INSTANT = pd.Timedelta(1, "us")
DAY = pd.Timedelta(1, "D")
Node = tuple[str, str, str]
"""Kind (cask, vessel, batch, lot, …), name as it is shown, and of a cask the day of its filling."""


def end_of(at: Any, timed: Any) -> Any:
    """The last instant that a moment may mean: a day without a time ends at midnight."""
    return at if pd.isna(at) or timed is True else at.normalize() + DAY - INSTANT


@dataclass
class Holders:
    """Looks up holders. ``fillings``: ``fillings_of_casks``; ``lots``: codes as they are shown."""

    components: pd.DataFrame
    briefs: pd.DataFrame
    fillings: pd.DataFrame
    lots: Iterable[str] = ()
    begun: dict[str, Any] = field(default_factory=dict)
    vats: dict[str, list[tuple[Any, str]]] = field(default_factory=dict)
    vessel_of: dict[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._fillings: dict[str, list[tuple[Any, str]]] = defaultdict(list)
        for cask, day in zip(self.fillings["cask"], self.fillings["filled_on"], strict=True):
            if not pd.isna(day):
                self._fillings[fold(cask)].append((day, cask))
        for found in self._fillings.values():
            found.sort()
        self._batches = {fold(name): name for name in [*self.briefs["batch"], *self.components["batch"]]}
        self._lots = {fold(lot): lot for lot in self.lots}
        poured = self.components[(self.components["kind"] != "heel") & self.components["drawn_at"].notna()]
        first = pd.Series(poured["drawn_at"].to_numpy(), index=folded(poured["batch"])).groupby(level=0).min()
        self.begun = {str(batch): at for batch, at in first.items()}
        vats: dict[str, list[tuple[Any, str]]] = defaultdict(list)
        for batch, vessel in zip(self.briefs["batch"], self.briefs["vessel"], strict=True):
            if not pd.isna(vessel):
                self.vessel_of[fold(batch)] = vessel
                if fold(batch) in self.begun:
                    vats[fold(vessel)].append((self.begun[fold(batch)], batch))
        self.vats = {vessel: sorted(found) for vessel, found in vats.items()}

    def at(self, name: str, moment: Any) -> Node:
        """What the name means at a moment; NaT means the last that is known."""
        key = fold(name)
        if key in self._fillings:
            return self._cask(key, moment)
        if key in self._batches:
            return "batch", self._batches[key], ""
        if key in self.vats and (batch := self._batch_in(key, moment)):
            return "batch", batch, ""
        if key in self._lots:
            return "lot", self._lots[key], ""
        return "vessel", name, ""

    def during(self, name: str, at: Any, latest: Any, leaves: bool) -> list[Node]:
        """All that the name may mean between two moments. What ``leaves`` a cask on the day of a new filling may be
        of the filling before."""
        moments = [at, latest]
        if leaves and at != latest and not pd.isna(at):
            moments.insert(0, at - INSTANT)
        found = list(dict.fromkeys(self.at(name, moment) for moment in moments))
        return found if leaves or found[0][0] != "cask" else found[-1:]

    def filling(self, cask: str, filled_on: Any, moment: Any) -> Node:
        """A cask with the filling that a frame names; else the one that lay in it."""
        if pd.isna(filled_on):
            return self.at(cask, moment)
        shown = self._fillings.get(fold(cask))
        return "cask", shown[0][1] if shown else cask, filled_on.date().isoformat()

    def before(self, batch: str) -> Node | None:
        """What lay in the batch's vessel before it: the batch before, or what was put into the vessel."""
        vessel, begun = self.vessel_of.get(fold(batch)), self.begun.get(fold(batch))
        if vessel is None or begun is None:
            return None
        earlier = [name for when, name in self.vats[fold(vessel)] if (when, name) < (begun, batch)]
        return ("batch", earlier[-1], "") if earlier else ("vessel", vessel, "")

    def _cask(self, key: str, moment: Any) -> Node:
        found = self._fillings[key]
        place = len(found) if pd.isna(moment) else bisect_right([day for day, _ in found], moment)
        day, _ = found[max(place - 1, 0)]
        return "cask", found[0][1], day.date().isoformat()

    def _batch_in(self, key: str, moment: Any) -> str:
        found = self.vats[key]
        place = len(found) if pd.isna(moment) else bisect_right([begun for begun, _ in found], moment)
        return found[place - 1][1] if place else ""
