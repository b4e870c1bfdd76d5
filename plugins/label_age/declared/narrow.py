"""Which rows can count for the verdicts on batches: a stage that sees only these need not be run for every reading."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd


def behind_balances(readings: pd.DataFrame, given: Mapping[str, Any]) -> pd.DataFrame:
    """The readings on which a balance rests: only their cells can be named."""
    import numpy as np

    from pipeline.contract.frames import first_facts

    if "balances" not in given:
        return readings.iloc[:0]
    facts = [fact for ids in given["balances"]["facts"] for fact in ids]
    return readings[np.isin(first_facts(readings["facts"]), facts)].reset_index(drop=True)


def of_stays(casks: pd.DataFrame, given: Mapping[str, Any]) -> pd.DataFrame:
    """The inventory's rows of the casks that spirit of a batch lay in."""
    from pipeline.common.names import coded, rows_named

    names = {*coded(given["stays"]["cask"]).names, *coded(given["components"]["component"]).names}
    return rows_named(casks, "cask", names)


def of_stays_or_stock(casks: pd.DataFrame, given: Mapping[str, Any]) -> pd.DataFrame:
    """The same, or the whole inventory while something is still to be drawn from it."""
    undrawn = ~given["briefs"]["batch"].isin(given["components"]["batch"])
    return casks if undrawn.any() else of_stays(casks, given)
