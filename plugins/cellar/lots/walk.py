"""Walks over the passages, forwards and backwards in time: plain functions of plain rows."""

from __future__ import annotations

import heapq
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import pandas as pd

from pipeline.common.names import fold

ENDS = ("elsewhere", "sample")
"""Kinds of holder behind which nobody follows: many unlike things are called by one such name."""
NEVER, EVER = -(1 << 62), 1 << 62
Key = tuple[str, str, str]


@dataclass(frozen=True)
class Way:
    """One passage: its row's place, from where to where, and between which instants [us since 1970]."""

    place: int
    out: Key
    into: Key
    earliest: int
    latest: int
    doubt: str


@dataclass(frozen=True)
class Reached:
    """How a holder was reached: at the earliest when (backwards: latest), and by which way (None: a start)."""

    at: int
    by: Way | None


def ways_of(passages: pd.DataFrame) -> list[Way]:
    """The rows of the frame as ways; a missing moment may be any."""
    early, late = (_instants(passages[name], missing) for name, missing in (("at", NEVER), ("at_latest", EVER)))
    outs, intos = (_keys(passages, side) for side in ("from", "to"))
    doubts = ["" if doubt is None or doubt != doubt else str(doubt) for doubt in passages["doubt"]]
    rows = zip(outs, intos, early, late, doubts, strict=True)
    return [Way(place, *row) for place, row in enumerate(rows)]


def key_of(kind: str, name: str, filling: str = "") -> Key:
    return kind, fold(name), filling


def walk(ways: Iterable[Way], starts: Iterable[Key], forward: bool, stop_at: str = "") -> dict[Key, Reached]:
    """All holders that spirit of the starts can have reached (backwards: that it can have come from), in time.

    Spirit leaves a holder only after it came in: forwards the earliest arrival at each holder counts, backwards the
    latest departure. Holders of the kind ``stop_at`` are reached and not followed.
    """
    beside: dict[Key, list[Way]] = defaultdict(list)
    for way in ways:
        beside[way.out if forward else way.into].append(way)
    sign = 1 if forward else -1
    first = sign * (NEVER if forward else EVER)
    found = {start: Reached(sign * first, None) for start in starts}
    heap = [(first, start) for start in found]
    heapq.heapify(heap)
    begun = set(found)
    while heap:
        at, here = heapq.heappop(heap)
        stands = here not in begun and (here[0] in ENDS or here[0] == stop_at)
        if at != sign * found[here].at or stands:
            continue
        for way in beside[here]:
            opens, shuts = (way.earliest, way.latest) if forward else (-way.latest, -way.earliest)
            there = way.into if forward else way.out
            arrives = max(at, opens)
            if shuts >= at and (there not in found or arrives < sign * found[there].at):
                found[there] = Reached(sign * arrives, way)
                heapq.heappush(heap, (arrives, there))
    return found


def way_to(found: Mapping[Key, Reached], there: Key, forward: bool) -> list[Way]:
    """The passages from a start to a holder that was reached, in order of the spirit's way."""
    made: list[Way] = []
    while (by := found[there].by) is not None and by not in made:
        made.append(by)
        there = by.out if forward else by.into
    return made[::-1] if forward else made


def _instants(moments: pd.Series, missing: int) -> list[int]:
    whole = moments.to_numpy("datetime64[us]").astype("int64")
    return [missing if gone else int(one) for one, gone in zip(whole, moments.isna(), strict=True)]


def _keys(passages: pd.DataFrame, side: str) -> list[Key]:
    rows: Any = zip(*(passages[f"{side}_{name}"] for name in ("kind", "name", "filling")), strict=True)
    return [
        key_of(kind, name, "" if filling is None or filling != filling else filling) for kind, name, filling in rows
    ]
