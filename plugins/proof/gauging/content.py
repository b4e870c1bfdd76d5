"""What a vessel holds, by weight, by volume or by dip, where a reading's row states it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from plugins.proof.alcoholometry.air import mass_from_weight
from plugins.proof.alcoholometry.amounts import mass_from_volume
from plugins.proof.alcoholometry.formula import Array, density
from plugins.proof.alcoholometry.strength import T_20C, T_60F
from plugins.proof.gauging.dips import GALLONS, DipTable, dipped_volume

Rows = NDArray[np.bool_]
BASES = ("weighed", "metered", "dipped")


@dataclass
class Contents:
    """Contents of readings and what is amiss with them, row by row.

    ``mass_kg`` is NaN and ``basis`` empty where none is stated or usable. ``faults`` maps a
    finding's code to the rows that it concerns; ``assumed_degC`` is NaN but where the volume's
    temperature was assumed; ``facts`` are those of dip tables used. ``beside_kg`` is what the volume
    beside a weight would be, by its stated or assumed temperature; ``beside_dipped`` and ``beside_assumed``
    tell whether it is by dip and whether its temperature is not stated.
    """

    mass_kg: Array
    basis: NDArray[np.object_]
    faults: dict[str, Rows] = field(default_factory=dict)
    assumed_degC: Array = field(default_factory=lambda: np.empty(0))
    facts: list[tuple[int, ...]] = field(default_factory=list)
    beside_kg: Array = field(default_factory=lambda: np.empty(0))
    beside_dipped: Rows = field(default_factory=lambda: np.empty(0, dtype=bool))
    beside_assumed: Rows = field(default_factory=lambda: np.empty(0, dtype=bool))


def contents(readings: pd.DataFrame, fraction: Array, tables: dict[str, DipTable], net_tolerance_kg: float) -> Contents:
    """Content of each reading's vessel: by weight, else by stated volume, else by dip.

    Parameters: usable readings, their apparent mass fractions, dip tables, and the difference
    between net weight and gross less tare [kg] that is let pass. Weights are in air and made true
    with the density at 20 degC; a volume without a temperature is at 60 degF where stated in
    gallons, at 20 degC where in litres.
    """
    count = len(readings)
    found = Contents(np.full(count, np.nan), np.full(count, "", dtype=object), facts=[()] * count)
    weight = _net_weight(readings, net_tolerance_kg, found)
    dipped, dip_in_gallons, faults = dipped_volume(readings, tables, found.facts)
    found.faults |= faults
    stated = _column(readings, "volume_L")
    volume = np.where(np.isnan(stated), dipped, stated)
    in_gallons = np.where(np.isnan(stated), dip_in_gallons, readings["volume_unit"].isin(GALLONS).to_numpy())
    measured = _column(readings, "volume_temperature_degC")
    by_volume = np.isnan(weight) & ~np.isnan(volume)
    at = np.where(np.isnan(measured), np.where(in_gallons, T_60F, T_20C), measured)
    found.assumed_degC = np.where(by_volume & np.isnan(measured), at, np.nan)
    by_weight_kg = mass_from_weight(weight, density(fraction, T_20C))
    by_volume_kg = mass_from_volume(volume, fraction, at)
    found.faults["proof.volume-temperature-outside-formula"] = by_volume & np.isnan(by_volume_kg) & ~np.isnan(fraction)
    found.beside_kg = np.where(np.isnan(weight), np.nan, by_volume_kg)
    found.beside_dipped, found.beside_assumed = np.isnan(stated), np.isnan(measured)
    found.mass_kg[:] = np.where(np.isnan(weight), by_volume_kg, by_weight_kg)
    rules = [np.isnan(found.mass_kg), ~np.isnan(weight), ~np.isnan(stated)]
    found.basis[:] = np.select(rules, ["", *BASES[:2]], BASES[2])
    found.facts = [facts if way == "dipped" else () for facts, way in zip(found.facts, found.basis, strict=True)]
    return found


def _column(table: pd.DataFrame, name: str) -> Array:
    return table[name].to_numpy(np.float64)


def _net_weight(readings: pd.DataFrame, tolerance_kg: float, found: Contents) -> Array:
    net, gross = _column(readings, "net_weight_kg"), _column(readings, "gross_weight_kg")
    difference = gross - _column(readings, "tare_weight_kg")
    weight = np.where(np.isnan(net), difference, net)
    disagree = np.abs(net - difference) > tolerance_kg
    no_weight = ~disagree & (weight <= 0.0)
    found.faults["proof.weights-disagree"] = disagree
    found.faults["proof.weight-not-positive"] = no_weight
    found.faults["proof.no-tare"] = np.isnan(weight) & ~np.isnan(gross)
    return np.where(disagree | no_weight, np.nan, weight)
