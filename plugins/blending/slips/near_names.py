"""The stages ``near_names`` and ``left_names``: which readings and casks can explain an open account, by name."""

from __future__ import annotations

import pandas as pd

from pipeline import stage
from pipeline.common.names import coded, fold
from plugins.blending.common.names import one_digit_off
from plugins.blending.declared.frames import LEFT_NAMES, NEAR_NAMES
from plugins.blending.vat.entries import usable


@stage(gives=NEAR_NAMES)
def near_names(components: pd.DataFrame, briefs: pd.DataFrame, known_names: pd.DataFrame) -> pd.DataFrame:
    """Names that each batch writes, and those one misread digit from them that the house knows."""
    facts = dict(zip(known_names["key"], known_names["facts"], strict=True))
    near: dict[str, list[str]] = {}
    rows: dict[tuple[str, str], tuple[int, ...]] = {}
    for table, column in ((components, "component"), (briefs, "vessel"), (briefs, "batch")):
        for batch, written, own in zip(table["batch"], table[column], table["facts"], strict=True):
            if isinstance(batch, str) and isinstance(written, str):
                name = fold(written)
                if name not in near:
                    near[name] = sorted(other for other in one_digit_off(name) if other in facts)
                rows.setdefault((batch, name), own[:1])
                for other in near[name]:
                    rows.setdefault((batch, other), facts[other][:1])
    pairs = sorted(rows)
    columns = {"batch": [batch for batch, _ in pairs], "name": [name for _, name in pairs]}
    return NEAR_NAMES.build(columns, [rows[pair] for pair in pairs])


@stage(gives=LEFT_NAMES)
def left_names(components: pd.DataFrame, readings: pd.DataFrame) -> pd.DataFrame:
    """Vessels gauged for a dump that stand on no blend sheet: of a cask that was left out no batch knows the name."""
    dumped = readings[(readings["purpose"] == "dump").fillna(False)]
    poured = set(coded(usable(components)["component"]).names)
    names = coded(dumped["vessel"])
    facts = dumped["facts"].iloc[names.first_rows()].tolist()
    left = sorted((name, own[:1]) for name, own in zip(names.names, facts, strict=True) if name not in poured)
    return LEFT_NAMES.build({"name": [name for name, _ in left]}, [own for _, own in left])
