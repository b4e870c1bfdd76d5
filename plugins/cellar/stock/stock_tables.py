"""The stage ``stock_tables``: what lies in wood on the book date by age, wood, fill, spirit, warehouse and owner."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from pipeline import stage, unite
from plugins.cellar.casks.names import NOT_STATED
from plugins.cellar.declared.frames_stock import STOCK_TABLES
from plugins.cellar.rates.rate_stage import places_of

BANDS = ((0, 1), (1, 2), (2, 3), (3, 4), (4, 6), (6, 8), (8, 10), (10, 12), (12, 15), (15, 18), (18, 25), (25, 200))
TABLES = {"wood": "species", "fill": "wood_use", "spirit": "spirit", "warehouse": "warehouse", "owner": "owner"}


@stage(gives=STOCK_TABLES)
def tabulate_stock(fillings_of_casks: pd.DataFrame, cask_contents: pd.DataFrame, site: Any) -> pd.DataFrame:
    """Contents on the book date → casks, litres, pure alcohol and proof gallons by age, wood, fill and so on."""
    if not len(cask_contents):
        return STOCK_TABLES.empty()
    own = fillings_of_casks.iloc[places_of(cask_contents, fillings_of_casks)].set_axis(cask_contents.index)
    days = (pd.Timestamp(site.book_date) - own["filled_on"]).dt.days.to_numpy(float)
    rows = cask_contents.assign(age_years=days / 365.25)
    rows["empty"] = rows["volume_20C_L"].isna()
    rows["facts"] = unite(cask_contents["facts"], own["facts"])
    parts = [_table("age", pd.Series(_band(rows["age_years"].to_numpy(float)), index=rows.index), rows)]
    parts += [_table(name, own[column].fillna(NOT_STATED), rows) for name, column in TABLES.items()]
    made = pd.concat(parts, ignore_index=True)
    return STOCK_TABLES.build({name: made[name] for name in STOCK_TABLES.names}, made["facts"])


def _band(age: np.ndarray) -> list[str]:
    edges = np.array([low for low, _ in BANDS])
    at = np.clip(np.searchsorted(edges, age + 1e-9, side="right") - 1, 0, len(BANDS) - 1)
    return [label(*BANDS[place]) for place in at]


def label(low: int, high: int) -> str:
    """A band of whole years in words."""
    return f"{low} and more" if high >= 200 else f"{low} to under {high}"


def _table(name: str, level: pd.Series, rows: pd.DataFrame) -> pd.DataFrame:
    level = level.astype(str)
    grouped = rows.groupby(level, sort=True)
    made = grouped[["volume_20C_L", "lpa", "lpa_low", "lpa_high", "proof_gallons"]].sum()
    made["casks"] = grouped.size()
    made["without_volume"] = grouped["empty"].sum().astype(int)
    made["mean_age"] = grouped["age_years"].mean()
    made["facts"] = unite(rows["facts"], by=level)
    order = {label(*band): place for place, band in enumerate(BANDS)}
    made["place"] = [order.get(str(one), place) for place, one in enumerate(made.index)]
    return made.rename_axis("level").reset_index().assign(table=name).sort_values("place")
