"""What a vessel holds, by weight, by volume or by dip, where a reading's row states it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline.common.names import folded_or_missing as folded
from plugins.proof.alcoholometry.air import mass_from_weight
from plugins.proof.alcoholometry.amounts import mass_from_volume
from plugins.proof.alcoholometry.formula import Array, density
from plugins.proof.alcoholometry.strength import T_20C, T_60F

Rows = NDArray[np.bool_]
GALLONS = ("gal", "impgal")
BASES = ("weighed", "metered", "dipped")


@dataclass(frozen=True)
class DipTable:
    """Volume of a vessel by depth; ``until_day`` NaT where the calibration does not expire.

    The table holds with the shell at ``base_degC``; ``expansion_per_K`` is the shell's cubic expansion, 0
    where none is stated.
    """

    depths_cm: Array
    volumes_L: Array
    in_gallons: bool
    base_degC: float
    expansion_per_K: float
    until_day: np.datetime64
    facts: tuple[int, ...]


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


def dip_tables(vessels: pd.DataFrame | None) -> dict[str, DipTable]:
    """Dip tables by folded vessel name. Vessels without two points at different depths have none."""
    if vessels is None or vessels.empty:
        return {}
    table = vessels.assign(_key=folded(vessels["vessel"])).sort_values(["_key", "depth_cm"], kind="stable")
    tables = {str(key): _dip_table(rows) for key, rows in table.groupby("_key", sort=False)}
    return {key: made for key, made in tables.items() if made is not None}


def _dip_table(rows: pd.DataFrame) -> DipTable | None:
    points = rows.dropna(subset=["depth_cm", "volume_at_depth_L"])
    depths = points["depth_cm"].to_numpy(np.float64)
    if np.unique(depths).size < 2:
        return None
    until = points["valid_until"].min()
    in_gallons = bool(points["volume_at_depth_unit"].isin(GALLONS).any())
    expansion = rows["shell_expansion_per_K"].dropna()
    base = rows["base_temperature_degC"].dropna()
    said = points if expansion.empty else rows
    return DipTable(
        depths,
        points["volume_at_depth_L"].to_numpy(np.float64),
        in_gallons,
        float(base.iloc[0]) if len(base) else T_60F if in_gallons else T_20C,
        float(expansion.iloc[0]) if len(expansion) else 0.0,
        np.datetime64("NaT", "D") if pd.isna(until) else np.datetime64(until, "D"),
        tuple(sorted({fact for facts in said["facts"] for fact in facts})),
    )


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
    dipped, dip_in_gallons = _dipped_volume(readings, tables, found)
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


def _dipped_volume(readings: pd.DataFrame, tables: dict[str, DipTable], found: Contents) -> tuple[Array, Rows]:
    """Volumes by dip, which of them the table states in gallons; fills in faults and facts.

    A shell as warm as its content holds more than its table says by its cubic expansion; without a
    temperature of the content the table is taken as it stands.
    """
    depth, shell_degC = _column(readings, "depth_cm"), _column(readings, "volume_temperature_degC")
    volume, in_gallons = np.full(depth.size, np.nan), np.zeros(depth.size, dtype=bool)
    untabled, outside, expired = (np.zeros(depth.size, dtype=bool) for _ in range(3))
    dipped = np.flatnonzero(~np.isnan(depth))
    codes, names = pd.factorize(folded(readings["vessel"].iloc[dipped]))
    for code, name in enumerate(names):
        rows, table = dipped[codes == code], tables.get(str(name))
        if table is None:
            untabled[rows] = True
            continue
        outside[rows] = (depth[rows] < table.depths_cm[0]) | (depth[rows] > table.depths_cm[-1])
        warmer = np.nan_to_num(shell_degC[rows] - table.base_degC)
        grown = 1.0 + table.expansion_per_K * warmer
        volume[rows] = np.interp(depth[rows], table.depths_cm, table.volumes_L) * grown
        in_gallons[rows] = table.in_gallons
        expired[rows] = readings["taken_at"].iloc[rows].to_numpy("datetime64[D]") > table.until_day
        for row in rows.tolist():
            found.facts[row] = table.facts
    volume[outside] = np.nan
    found.faults |= {
        "proof.no-dip-table": untabled,
        "proof.dip-outside-table": outside,
        "proof.dip-table-expired": expired,
    }
    return volume, in_gallons
