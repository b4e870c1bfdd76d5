"""The frames of many batches in parts of some batches each, so that not all of them are judged in memory at once."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd

from plugins.label_age.facts.lines import with_fillings

Frames = dict[str, Any]
LINES = 60_000  # of a part


def in_parts(frames: Frames, lines: int = LINES) -> Iterator[Frames]:
    """The frames themselves, or of more than ``lines`` components those of some batches after another, by name.

    Every frame with a column ``batch`` is parted by it. What the inventory says of the fillings is looked up once for
    all parts.
    """
    components, briefs = frames["components"], frames["briefs"]
    if len(components) <= lines:
        yield dict(frames)
        return
    stays, fillings = with_fillings(frames["stays"], frames["casks"])
    frames = {**frames, "stays": stays, "fillings": fillings}
    drawn = components["batch"].value_counts()
    batches = sorted(set(briefs["batch"].dropna()) & set(drawn.index))
    number = dict(zip(batches, (drawn[batches].cumsum().to_numpy() // lines).tolist(), strict=True))
    of_batch = [name for name, frame in frames.items() if isinstance(frame, pd.DataFrame) and "batch" in frame]
    rows = {name: _split(frames[name], number) for name in of_batch}
    for at in sorted(set(number.values())):
        yield frames | {name: frames[name].iloc[rows[name][at]].reset_index(drop=True) for name in of_batch}


def _split(frame: pd.DataFrame, number: dict[str, int]) -> list[np.ndarray]:
    """The positions of each part's rows, in their order."""
    part = frame["batch"].map(number).fillna(-1).to_numpy(dtype=np.int64)
    order = np.argsort(part, kind="stable")
    bounds = np.searchsorted(part[order], np.arange(max(number.values()) + 2))
    return [order[low:high] for low, high in zip(bounds, bounds[1:], strict=False)]
