"""The lines of the blend sheets, made ready: batch and component in one spelling, kind, moment."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline.common.names import folded_or_missing as folded
from plugins.blending.common.lookups import looked_up
from plugins.blending.common.moments import NEVER, end_of
from plugins.blending.common.names import kind_of, spelling
from plugins.blending.components.known_names import CASK, VESSEL, names_of


def prepared(blends: pd.DataFrame, briefs: pd.DataFrame, known: pd.DataFrame) -> pd.DataFrame:
    """One row per line of a blend sheet, in order of batch, moment, component and line.

    ``known``: the frame ``known_names``. Beside the sheet's columns: ``batch`` and ``component`` in the
    spelling of brief and inventory, ``key`` (folded component), ``kind`` (empty if unknown),
    ``vessel_key`` (the brief's vessel), ``brief_facts``, ``at`` (the last instant that ``drawn_at`` may
    mean) and ``until`` (up to when a reading counts; for a heel, before the first other addition).
    """
    table = blends.reset_index(drop=True)
    table = table.assign(key=folded(table["component"]), batch_key=folded(table["batch"]))
    table = _named(table, briefs, known)
    table = _dated(table)
    order = ["batch_key", "at", "key", "line", "drawn_at"]
    return table.sort_values(order, kind="stable", na_position="first").reset_index(drop=True)


def briefs_by_batch(briefs: pd.DataFrame) -> pd.DataFrame:
    """The briefs by folded batch, the vessel folded too (``vessel_key``)."""
    table = briefs.assign(batch_key=folded(briefs["batch"]), vessel_key=folded(briefs["vessel"]))
    return table.dropna(subset=["batch_key"]).drop_duplicates("batch_key", keep="last").set_index("batch_key")


def _named(table: pd.DataFrame, briefs: pd.DataFrame, known: pd.DataFrame) -> pd.DataFrame:
    brief = briefs_by_batch(briefs)
    cask_names, vessel_names = names_of(known, CASK), names_of(known, VESSEL)
    kinds = {key: kind_of(key, cask_names.keys(), vessel_names.keys()) for key in table["key"].dropna().unique()}
    shown = {key: cask_names.get(key, vessel_names.get(key, "")) for key in kinds}
    written = spelling(table["batch_key"], table["batch"])
    batches = {key: brief["batch"].get(key, name) for key, name in written.items()}
    vessel_key = looked_up(table["batch_key"], brief["vessel_key"])
    kind = table["key"].map(kinds).astype("str").fillna("")
    is_heel = (table["key"] == vessel_key).fillna(False) & (kind != "water")
    carries = (table["drawn_proof"].fillna(0) > 0) & (kind == "water")
    return table.assign(
        batch=table["batch_key"].map(batches),
        component=table["key"].map(shown).replace("", np.nan).fillna(table["component"].str.strip()),
        kind=kind.mask(is_heel, "heel").mask(carries, "addition"),
        vessel_key=vessel_key,
        brief_facts=looked_up(table["batch_key"], brief["facts"]),
    )


def _dated(table: pd.DataFrame) -> pd.DataFrame:
    """``at``: where a line has no date, the batch's last; where the batch has none, the end of time."""
    of_batch = table["drawn_at"].groupby(table["batch_key"]).transform("max")
    stated = end_of(table["drawn_at"], table["drawn_at_timed"])
    at = stated.fillna(end_of(of_batch, pd.Series(False, index=table.index))).fillna(NEVER).astype("datetime64[us]")
    others = table["drawn_at"].where(table["kind"] != "heel")
    first = others.groupby(table["batch_key"]).transform("min").fillna(NEVER).astype("datetime64[us]")
    until = at.where(table["kind"] != "heel", np.minimum(at, first))
    return table.assign(at=at, until=until)
