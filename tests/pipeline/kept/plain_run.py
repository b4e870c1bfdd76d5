"""What a book says, worked out stage by stage from whole frames: it shares nothing with the store of kept results."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pandas as pd

from pipeline.book.book import Book
from pipeline.book.rulings import standing
from pipeline.contract.findings import Finding
from pipeline.contract.stages import Stage
from pipeline.site.house import build_house


def plain_run(out: Path, text: str, site: Path) -> tuple[dict[str, pd.DataFrame], list[tuple[Any, ...]]]:
    """Frames, and of each finding of a stage what tells it, in no order."""
    house = build_house(text, site)
    with Book(out / "book.sqlite", house.kinds, only_read=True) as book:
        ruled = standing(book, house.site).ruled
        frames = {kind.name: book.frame(kind, ruled)[0] for kind in house.kinds}
        _one_spelling(frames, house.kinds)
    days = [day for kind in house.kinds if kind.dates for day in frames[kind.name][kind.dates]]
    site = house.site.on(max((day.date() for day in days), default=None))
    found: list[Finding] = []
    for stage in house.graph.order:
        given = {need.name: site if need.name == "site" else frames[need.name] for need in stage.needs}
        made = stage.function(**given)
        table, said = made if isinstance(made, tuple) else (made, [])
        found.extend(said)
        assert stage.frame is not None
        frames[stage.gives] = _in_order(stage, table[[*stage.frame.names, "facts"]].reset_index(drop=True))
    return frames, sorted((f.code, f.subject, f.batch, f.message, f.facts) for f in found)


def _in_order(stage: Stage, table: pd.DataFrame) -> pd.DataFrame:
    if stage.per.startswith("row of "):
        rows = sorted(range(len(table)), key=lambda row: table["facts"][row][0])
    elif stage.per:
        rows = sorted(range(len(table)), key=lambda row: table[stage.per][row])
    else:
        return table
    return table.iloc[rows].reset_index(drop=True)


def _one_spelling(frames: dict[str, pd.DataFrame], kinds: Any) -> None:
    first: dict[str, str] = {}
    for kind in kinds:
        for column in kind.columns:
            if column.type == "name":
                values = frames[kind.name][column.name]
                shown = [first.setdefault(v.casefold(), v) if isinstance(v, str) else v for v in values]
                frames[kind.name] = frames[kind.name].assign(**{column.name: pd.Series(shown, dtype="str")})
