"""The stage ``casks_beside``: the cask before and after each, so that pages can be leafed through."""

from __future__ import annotations

import pandas as pd

from pipeline import stage
from pipeline.common.names import folded
from plugins.cellar.casks.names import natural
from plugins.cellar.declared.frames_stock import BESIDE


@stage(gives=BESIDE)
def order_casks(fillings_of_casks: pd.DataFrame) -> pd.DataFrame:
    """Fillings → the casks in order of their names, each with the one before and after it."""
    known = fillings_of_casks[~pd.Series(folded(fillings_of_casks["cask"])).duplicated().to_numpy()]
    rows = sorted(zip(known["cask"], known["facts"], strict=True), key=lambda row: natural(row[0]))
    names = [None, *(name for name, _ in rows), None]
    columns = {"cask": names[1:-1], "before": names[:-2], "after": names[2:]}
    return BESIDE.build(columns, [facts for _, facts in rows])
