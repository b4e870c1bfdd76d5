"""The frames of many batches in parts of some batches each, so that not all of them are judged in memory at once."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np

from pipeline.common.names import coded, rows_named

if TYPE_CHECKING:
    import pandas as pd

Frames = dict[str, Any]
LINES = 60_000  # of a part


def in_parts(frames: Frames, lines: int = LINES) -> Iterator[Frames]:
    """The frames themselves, or of more than ``lines`` components those of some batches after another, by name.

    Every frame with a column ``batch`` is parted by it; of ``casks`` a part has those that its spirit lay in.
    """
    components, briefs = frames["components"], frames["briefs"]
    if len(components) <= lines:
        yield dict(frames)
        return
    drawn = components["batch"].value_counts()
    batches = sorted(set(briefs["batch"].dropna()) & set(drawn.index))
    number = dict(zip(batches, (drawn[batches].cumsum().to_numpy() // lines).tolist(), strict=True))
    split = {name: _split(frame, number) for name, frame in frames.items() if frame is not None and "batch" in frame}
    for at in sorted(set(number.values())):
        part = {**frames, **{name: rows[at] for name, rows in split.items()}}
        names = {*coded(part["stays"]["cask"]).names, *coded(part["components"]["component"]).names}
        part["casks"] = rows_named(part["casks"], "cask", names)
        yield part


def _split(frame: pd.DataFrame, number: dict[str, int]) -> list[pd.DataFrame]:
    """The rows of each part, in their order."""
    part = frame["batch"].map(number).fillna(-1).to_numpy(dtype=np.int64)
    order = np.argsort(part, kind="stable")
    bounds = np.searchsorted(part[order], np.arange(max(number.values()) + 2))
    return [frame.iloc[order[low:high]].reset_index(drop=True) for low, high in zip(bounds, bounds[1:], strict=False)]
