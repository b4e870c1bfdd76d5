"""The stock as a table: the casks that were tasted, their profiles as arrays, and their wood."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from pipeline.writing.spoken import spoken
from plugins.tasting.declared.kinds import FAMILIES
from plugins.tasting.profiles.impressions import TWO_ENDED
from plugins.tasting.samples.names import folded, spelt

HALF_WIDTHS = 2 * 1.96
FACTORS = {"make": "spirit", "species": "species", "toast": "toast", "char": "char", "fill": "wood_use"}


@dataclass(frozen=True)
class Stock:
    """Tasted casks: ``casks`` (one row each, in order of name), ``values`` and ``errors`` (casks, families).

    A family that nobody named of a cask is 0 there, with the error of an opinion never given; ``body`` and
    ``length_balance`` are the house's mean. ``facts`` are those of the profile and of the inventory.
    """

    casks: pd.DataFrame
    families: list[str]
    values: np.ndarray
    errors: np.ndarray
    facts: list[tuple[int, ...]]


def latest(casks: pd.DataFrame) -> pd.DataFrame:
    """The last inventory row of each cask, by folded name in column ``key``."""
    rows = casks.assign(key=folded(casks["cask"])).sort_values(["filled_on", "as_of"], kind="stable")
    return rows.drop_duplicates("key", keep="last").sort_values("key", kind="stable").reset_index(drop=True)


def stock(casks: pd.DataFrame, profiles: pd.DataFrame, spread: float) -> Stock:
    """The tasted casks of an inventory with their profiles over all stages."""
    whole = profiles[profiles["stage"] == "all"].assign(key=folded(profiles.loc[profiles["stage"] == "all", "sample"]))
    rows = latest(casks)
    rows = rows[rows["key"].isin(set(whole["key"]))].reset_index(drop=True)
    whole = whole[whole["key"].isin(set(rows["key"]))]
    present = set(whole["family"])
    families = [family for family in FAMILIES if family in present]
    shape = (len(rows), len(families))
    values, errors = np.full(shape, np.nan), np.full(shape, spread)
    at = (
        pd.Index(rows["key"]).get_indexer(pd.Index(whole["key"])),
        pd.Index(families).get_indexer(pd.Index(whole["family"])),
    )
    values[at] = whole["mean"].to_numpy(dtype=float)
    errors[at] = np.maximum((whole["high"] - whole["low"]).to_numpy(dtype=float) / HALF_WIDTHS, 0.05)
    for column, family in enumerate(families):
        known = ~np.isnan(values[:, column])
        values[~known, column] = values[known, column].mean() if family in TWO_ENDED else 0.0
    tasted = {key: facts for key, facts in zip(whole["key"], whole["facts"], strict=True)}
    facts = [tuple(sorted({*tasted[key], *own})) for key, own in zip(rows["key"], rows["facts"], strict=True)]
    return Stock(rows, families, values, errors, facts)


def levels(casks: pd.DataFrame, factor: str) -> pd.Series:
    """What a factor is for each cask, as plain words; empty where the inventory does not say."""
    words = casks[FACTORS[factor]].fillna("").astype(str).str.strip()
    shown = spelt(words)
    return folded(words).map(shown).fillna("")


def ages(casks: pd.DataFrame, book_date: Any) -> np.ndarray:
    """Years from filling to the book date; NaN where either is missing."""
    if book_date is None:
        return np.full(len(casks), np.nan)
    days = (pd.Timestamp(book_date) - casks["filled_on"]).dt.days
    return days.to_numpy(dtype=float) / 365.25


def apart(values: np.ndarray, families: list[str], count: int, least: float = 0.5) -> str:
    """The families with the largest differences, as "smoke peat +3.2, spice -1.0"."""
    order = np.argsort(-np.abs(values), kind="stable")[:count]
    return ", ".join(f"{spoken(families[at])} {values[at]:+.1f}" for at in order if abs(values[at]) >= least)
