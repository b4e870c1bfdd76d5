"""The answer to ``trace``: from a lot, cask, batch or vessel back to casks and forwards to every lot, as plain data."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pandas as pd

from pipeline.common.names import fold
from pipeline.writing.plain import plain_rows
from plugins.cellar.lots.walk import ENDS, EVER, Key, Reached, Way, walk, way_to, ways_of

Row = dict[str, Any]
Found = dict[Key, Reached]
KINDS = ("lot", "batch", "cask", "vessel", "addition", "sample")
MOST_WAYS = 400


def _ahead(ways: list[Way], origin: list[Key]) -> list[Found]:
    """Forwards from casks, and from what came in by no cask as far as the next cask; additions are not followed."""
    casks = [key for key in origin if key[0] == "cask"]
    others = [key for key in origin if key[0] not in ("cask", "addition")]
    return [walk(ways, casks, forward=True), walk(ways, others, forward=True, stop_at="cask")]


class Trace:
    """Walks over one house's passages."""

    def __init__(self, passages: pd.DataFrame) -> None:
        self.rows = plain_rows(passages)
        self.ways = ways_of(passages)
        self.sure = [way for way in self.ways if not way.doubt]
        self.shown: dict[Key, str] = {}
        for way, row in zip(self.ways, self.rows, strict=True):
            self.shown.setdefault(way.out, row["from_name"])
            self.shown.setdefault(way.into, row["to_name"])

    def named(self, name: str) -> list[Key]:
        """The holders that a name means, of the first kind that knows it: each filling of a cask is one."""
        wanted = fold(name)
        for kind in KINDS:
            if found := sorted(key for key in self.shown if key[:2] == (kind, wanted)):
                return found
        return []

    def answer(self, name: str) -> Row | None:
        """All that shares spirit with what is asked for; None where no sheet knows the name.

        Backwards to ``sources`` (casks, and what came in by no cask), forwards from these to ``lots`` and ``batches``.
        For a cask or vessel the lots are all that its own spirit went into. ``sure``: one way there has no doubt.
        """
        starts = self.named(name)
        if not starts:
            return None
        kind = starts[0][0]
        origin, certain = self._sources(starts, self.ways), self._sources(starts, self.sure)
        back, back_sure = ([walk(ways, starts, forward=False)] for ways in (self.ways, self.sure))
        if kind in ("lot", "batch", "sample"):
            ahead, ahead_sure = _ahead(self.ways, origin), _ahead(self.sure, certain)
        else:
            ahead, ahead_sure = [walk(self.ways, starts, forward=True)], [walk(self.sure, starts, forward=True)]
        reached = sorted({key for found in ahead for key in found})
        used = {way for found in back for key in found for way in way_to(found, key, forward=False)}
        used |= {way for found in ahead for key in found for way in way_to(found, key, forward=True)}
        return {
            "asked": name,
            "kind": kind,
            "of": [self._holder(key) for key in starts],
            "sources": [self._reached(key, back, back_sure, False) for key in sorted(origin)],
            "through": [self._reached(key, back, back_sure, False)
                        for key in sorted(back[0]) if key not in origin and key not in starts],
            "lots": [self._lot(key, ahead, ahead_sure) for key in reached if key[0] == "lot"],
            "batches": [self._reached(key, ahead, ahead_sure, True) for key in reached if key[0] == "batch"],
            "samples": [self._reached(key, ahead, ahead_sure, True) for key in reached if key[0] == "sample"],
            "in_wood_or_tank": [self._reached(key, ahead, ahead_sure, True)
                                for key in reached if key[0] in ("cask", "vessel") and key not in origin],
            "passages": [self._passage(way) for way in sorted(used, key=lambda way: way.place)[:MOST_WAYS]],
            "passages_left_out": max(len(used) - MOST_WAYS, 0),
        }  # fmt: skip

    def _sources(self, starts: Iterable[Key], ways: list[Way]) -> list[Key]:
        """Casks from which spirit came, at any remove, and what came in by no cask.

        A vessel out of which something went before any sheet put something in held what no sheet tells.
        """
        starts = list(starts)
        every = walk(ways, starts, forward=False)
        near = walk(ways, starts, forward=False, stop_at="cask")
        first_in: dict[Key, int] = {}
        for way in ways:
            first_in[way.into] = min(way.earliest, first_in.get(way.into, way.earliest))
        fed = {key for key, reached in near.items() if first_in.get(key, EVER) <= reached.at}
        fed -= {way.out for way in ways if way.latest < first_in.get(way.out, EVER)}
        roots = {key for key in near if key not in fed and key[0] not in ENDS}
        return sorted({key for key in every if key[0] == "cask"} | roots)

    def _holder(self, key: Key) -> Row:
        return {"kind": key[0], "name": self.shown[key], **({"filled_on": key[2] or None} if key[0] == "cask" else {})}

    def _reached(self, key: Key, found: list[Found], sure: list[Found], forward: bool) -> Row:
        certain = any(key in one for one in sure)
        by = next((one for one in (*sure, *found) if key in one), None)
        ways = way_to(by, key, forward) if by else []
        doubts = list(dict.fromkeys(way.doubt for way in ways if way.doubt))
        return {
            **self._holder(key),
            "sure": certain,
            "doubts": doubts,
            "way": [self.rows[w.place]["number"] for w in ways],
        }

    def _lot(self, key: Key, ahead: list[Found], sure: list[Found]) -> Row:
        """A lot that was reached: its runs, and where its bottles went as far as sheets state it."""
        came = [self._passage(way) for way in self.ways if way.into == key]
        runs = [row for row in came if row["how"] == "bottled"]
        return {
            **self._reached(key, ahead, sure, True),
            "batches": list(dict.fromkeys(row["from_name"] for row in runs)),
            "days": sorted({row["at"][:10] for row in runs if row["at"]}),
            "bottles": sum(row["bottles"] or 0.0 for row in runs) if runs else None,
            "went": [self._passage(way) for way in self.ways if way.out == key and way.into[0] != "sample"],
            "came_back": [row for row in came if row["how"] != "bottled"],
        }

    def _passage(self, way: Way) -> Row:
        row = self.rows[way.place]
        return {key: value for key, value in row.items() if key != "facts"}
