"""The stage ``near_names``: which readings and casks can explain an open account, by name."""

from __future__ import annotations

import pandas as pd

from pipeline import stage
from pipeline.common.names import coded
from plugins.blending.common.names import one_digit_off
from plugins.blending.declared.frames import NEAR_NAMES


@stage(gives=NEAR_NAMES)
def near_names(
    components: pd.DataFrame, briefs: pd.DataFrame, readings: pd.DataFrame, known_names: pd.DataFrame
) -> pd.DataFrame:
    """Names that batches write, those one misread digit from them that the house knows, and vessels gauged for a dump.

    Of a cask that was left out of its blend sheet no batch knows the name: its dump gauge does.
    """
    named = pd.concat([_each(components, "component"), _each(briefs, "vessel"), _each(briefs, "batch")])
    dumped = _each(readings[(readings["purpose"] == "dump").fillna(False)], "vessel")
    facts = dict(zip(known_names["key"], known_names["facts"], strict=True))
    near = {other for name in named["name"] for other in one_digit_off(name) if other in facts}
    close = pd.DataFrame({"name": sorted(near), "facts": [facts[name] for name in sorted(near)]})
    table = pd.concat([named, dumped, close], ignore_index=True)
    table["facts"] = table["facts"].map(lambda ids: ids[:1])
    table = table.drop_duplicates("name").sort_values("name", kind="stable")
    return NEAR_NAMES.build({"name": table["name"]}, table["facts"])


def _each(table: pd.DataFrame, column: str) -> pd.DataFrame:
    """Each folded name of a column once, with the facts of the first row that bears it."""
    names = coded(table[column])
    rows = table["facts"].iloc[names.first_rows()].tolist()
    return pd.DataFrame({"name": pd.Series(names.names, dtype="str"), "facts": pd.Series(rows, dtype=object)})
