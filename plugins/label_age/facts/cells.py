"""The cell that a strength of a batch came from."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from plugins.label_age.facts.tables import objects

Strengths = Sequence[tuple[pd.DataFrame | None, str]]
"""Sheets that state strengths, each with its column, those first that count before the others."""


def strength_cells(gauges: pd.Series, briefs: pd.Series, strengths: Strengths) -> tuple[np.ndarray, np.ndarray]:
    """For each batch the fact ids of the row that states its strength, and the column: object arrays.

    ``gauges`` and ``briefs`` hold the fact ids that strengths and briefs rest on, one tuple per
    batch. Of the rows of one sheet the latest by ``taken_at`` counts. Where no sheet's row is
    among them the ids are those beside the brief's, without a column; where the strength is not
    known, the brief's column ``vessel`` names the vat whose reading is missing.
    """
    cells = [tuple(f for f in ids if f not in asked) or ids or asked for ids, asked in zip(gauges, briefs, strict=True)]
    columns = ["" if ids else "vessel" for ids in gauges]
    behind = pd.DataFrame({"batch": range(len(gauges)), "fact": list(gauges)}).explode("fact").dropna().astype("int64")
    for sheet, column in reversed([(sheet, column) for sheet, column in strengths if sheet is not None]):
        stated = sheet.loc[sheet[column] > 0]
        order = stated["taken_at"] if "taken_at" in stated else pd.Series(pd.NaT, index=stated.index)
        rows = pd.DataFrame({"fact": stated["facts"], "at": order}).explode("fact").astype({"fact": "int64"})
        found = behind.merge(rows, on="fact").sort_values(["batch", "at", "fact"], kind="stable")
        for batch, fact in found.drop_duplicates("batch", keep="last")[["batch", "fact"]].itertuples(index=False):
            cells[batch], columns[batch] = (int(fact),), column
    return objects(cells), objects(columns)
