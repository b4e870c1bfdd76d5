"""Dips: the table of a vessel, the dip where its ullage was measured, and the volume by both."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline.common.names import folded_or_missing as folded
from plugins.proof.alcoholometry.formula import Array
from plugins.proof.alcoholometry.strength import T_20C, T_60F
from plugins.proof.declared.kinds_instruments import DIPS_APART_CM

Rows = NDArray[np.bool_]
GALLONS = ("gal", "impgal")


@dataclass(frozen=True)
class DipTable:
    """Volume of a vessel by depth; ``until_day`` NaT where the calibration does not expire.

    The table holds with the shell at ``base_degC``; ``expansion_per_K`` is the shell's cubic expansion, 0
    where none is stated. Ullage is measured from ``height_cm`` down, NaN where none or several are stated.
    """

    depths_cm: Array
    volumes_L: Array
    in_gallons: bool
    base_degC: float
    expansion_per_K: float
    until_day: np.datetime64
    height_cm: float
    facts: tuple[int, ...]


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
    heights = rows["height_cm"].dropna().unique()
    said = points if expansion.empty and not heights.size else rows
    return DipTable(
        depths,
        points["volume_at_depth_L"].to_numpy(np.float64),
        in_gallons,
        float(base.iloc[0]) if len(base) else T_60F if in_gallons else T_20C,
        float(expansion.iloc[0]) if len(expansion) else 0.0,
        np.datetime64("NaT", "D") if pd.isna(until) else np.datetime64(until, "D"),
        float(heights[0]) if heights.size == 1 else np.nan,
        tuple(sorted({fact for facts in said["facts"] for fact in facts})),
    )


def with_dips(readings: pd.DataFrame, tables: dict[str, DipTable]) -> tuple[pd.DataFrame, dict[str, Rows]]:
    """Readings whose ullage alone is stated with the dip that follows from their vessel's height; faults by code."""
    depth, ullage = (readings[name].to_numpy(np.float64, copy=True) for name in ("depth_cm", "ullage_cm"))
    no_height, apart = np.zeros(depth.size, dtype=bool), np.zeros(depth.size, dtype=bool)
    stated = np.flatnonzero(~np.isnan(ullage))
    if not stated.size:
        return readings, {}
    for row, name in zip(stated.tolist(), folded(readings["vessel"].iloc[stated]).tolist(), strict=True):
        table = tables.get(str(name))
        dip = np.nan if table is None else table.height_cm - ullage[row]
        if np.isnan(depth[row]):
            depth[row], no_height[row] = dip, np.isnan(dip)
        elif abs(dip - depth[row]) > DIPS_APART_CM:
            apart[row], depth[row] = True, np.nan
    faults = {"proof.no-height-for-ullage": no_height, "proof.dip-and-ullage-differ": apart}
    return readings.assign(depth_cm=depth), faults


def dipped_volume(
    readings: pd.DataFrame, tables: dict[str, DipTable], facts: list[tuple[int, ...]]
) -> tuple[Array, Rows, dict[str, Rows]]:
    """Volumes by dip [L], which of them the table states in gallons, and faults by code; fills in ``facts``.

    A shell as warm as its content holds more than its table says by its cubic expansion; without a
    temperature of the content the table is taken as it stands.
    """
    depth, shell_degC = (readings[name].to_numpy(np.float64) for name in ("depth_cm", "volume_temperature_degC"))
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
            facts[row] = table.facts
    volume[outside] = np.nan
    return (
        volume,
        in_gallons,
        {
            "proof.no-dip-table": untabled,
            "proof.dip-outside-table": outside,
            "proof.dip-table-expired": expired,
        },
    )
