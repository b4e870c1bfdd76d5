"""Amounts that losses need beside the account: kept as samples, left in the tank, gauged before filtering.

An amount is an array of three: mass [kg], proof gallons, litres of pure alcohol.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from pipeline.contract.site import Site
from plugins.blending.common.amounts import Array, floats, quantities
from plugins.blending.vat.bottled import bottled, runs
from plugins.blending.vat.entries import CARRIED, content

AMOUNT = ("mass_kg", "proof_gallons", "lpa")


class Known(NamedTuple):
    """A measured amount of a batch, with standard uncertainties of mass and of ethanol as shares."""

    amount: Array
    mass_u: float
    ethanol_u: float
    facts: tuple[int, ...]


class Beside(NamedTuple):
    """What did not go into bottles that were sold: samples, and the remainder in the tank."""

    samples: Array
    remainder: Array
    facts: tuple[int, ...]


def known(row: Mapping[Any, Any]) -> Known:
    """An entry of the account, or anything with the same columns, as an amount."""
    amount = np.array([row[name] for name in AMOUNT], dtype="float64")
    mass_u = float(row["mass_uncertainty_kg"] / row["mass_kg"])
    ethanol_u = float(row["ethanol_uncertainty_kg"] / row["ethanol_kg"]) if row["ethanol_kg"] > 0 else mass_u
    return Known(amount, mass_u, ethanol_u, tuple(row["facts"]))


def before_filter(filter_gauges: pd.DataFrame, site: Site) -> dict[str, Known]:
    """The frame ``filter_gauges`` as amounts by batch."""
    if filter_gauges.empty:
        return {}
    masses = content(filter_gauges, site)
    table = filter_gauges.drop(columns=["proof_60F", "proof_apparent_60F"]).assign(
        **masses,
        **quantities(*(masses[name] for name in CARRIED[:3])),
        mass_uncertainty_kg=np.sqrt(masses["var_mass"]),
        ethanol_uncertainty_kg=np.sqrt(masses["var_ethanol"]),
    )
    return {str(row["batch"]): known(row) for row in table.to_dict("records")}


def beside_bottles(
    balances: pd.DataFrame, briefs: pd.DataFrame, bottlings: pd.DataFrame, site: Site
) -> dict[str, Beside]:
    """By batch the samples and the remainder, at the strength of bottling or at the remainder's own."""
    filled = balances[(balances["entry"] == "bottled") & (balances["mass_kg"] > 0)].set_index("batch")
    run = runs(bottlings, briefs, list(filled.index), ", ".join(site.markets))
    if run.empty:
        return {}
    table = bottled(run, filled.assign(apparent_fraction=filled["apparent_ethanol_kg"] / filled["mass_kg"]))
    filled = filled.loc[table.index]
    per_kg = filled[list(AMOUNT)].to_numpy("float64") / floats(filled, "mass_kg")[:, None]
    samples = floats(table, "samples_kg")[:, None] * per_kg
    apparent = floats(table, "remainder_ethanol_kg")
    ethanol, of_bottles = floats(filled, "ethanol_kg"), floats(filled, "apparent_ethanol_kg")
    true = apparent * np.divide(ethanol, of_bottles, out=np.ones_like(ethanol), where=of_bottles != 0)
    left = quantities(floats(table, "remainder_kg"), true, apparent)
    remainder = np.nan_to_num(np.column_stack([floats(table, "remainder_kg"), left["proof_gallons"], left["lpa"]]))
    parts = zip(table.index, samples, remainder, table["facts"], strict=True)
    return {str(batch): Beside(sample, rest, facts) for batch, sample, rest, facts in parts}
