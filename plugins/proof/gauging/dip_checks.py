"""The stage ``dip_checks``: points of a dip table held against their neighbours; a slip there spoils every dip."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd

from pipeline import Finding, stage
from pipeline.common.names import folded_or_missing as folded
from plugins.proof.alcoholometry.amounts import LITRES_PER_GALLON
from plugins.proof.declared.frames import DIP_CHECKS
from plugins.proof.gauging.dips import GALLONS

FAR = 3.0  # the litres a cm on one side of a point, over those between its neighbours: common practice, no source
CODES = {"falls": "gauge.dip-table-falls", "leaps": "gauge.dip-table-leaps"}
ALIKE = 1.5  # how far those beyond the neighbours may differ where a tank changes its width in earnest


@stage(gives=DIP_CHECKS)
def check_dips(vessels: pd.DataFrame) -> tuple[pd.DataFrame, list[Finding]]:
    """Every point of every dip table: a volume falls as the dip rises, or leaps away from the points beside it."""
    points = vessels[vessels["depth_cm"].notna() & vessels["volume_at_depth_L"].notna()]
    points = points.assign(_key=folded(points["vessel"])).sort_values(["_key", "depth_cm"], kind="stable")
    verdict = np.full(len(points), "", dtype=object)
    findings: list[Finding] = []
    for rows in points.reset_index(drop=True).groupby("_key", sort=True).indices.values():
        depth, volume = (points[name].to_numpy("float64")[rows] for name in ("depth_cm", "volume_at_depth_L"))
        for at, expected in _slips(depth, volume):
            place = int(rows[at])
            verdict[place] = "falls" if at and volume[at] < volume[at - 1] else "leaps"
            findings.append(_finding(points.iloc[place], str(verdict[place]), expected))
    columns: dict[str, Any] = {name: points[name].to_numpy() for name in ("vessel", "depth_cm", "volume_at_depth_L")}
    return DIP_CHECKS.build({**columns, "verdict": verdict}, points["facts"]), findings


def _slips(depth: np.ndarray, volume: np.ndarray) -> Iterator[tuple[int, float]]:
    """Places of points that fall or leap, each with the volume that its neighbours make likely."""
    for at in range(1, len(depth)):
        inner = at + 1 < len(depth)
        straight = float(np.interp(depth[at], depth[[at - 1, at + 1]], volume[[at - 1, at + 1]])) if inner else np.nan
        if volume[at] < volume[at - 1] - 1e-9:
            # of two points that fall the one is wrong that its own neighbours leave aside
            if not (at >= 2 and volume[at] >= volume[at - 2] and _leaps(depth, volume, at - 1)):
                yield at, straight
        elif inner and _leaps(depth, volume, at):
            yield at, straight


def _leaps(depth: np.ndarray, volume: np.ndarray, at: int) -> bool:
    """Whether a point lies far off the line between its neighbours, where those beyond go on as that line does."""
    if not 1 <= at < len(depth) - 1 or depth[at + 1] <= depth[at - 1] or volume[at + 1] <= volume[at - 1]:
        return False
    rate = (volume[at + 1] - volume[at - 1]) / (depth[at + 1] - depth[at - 1])
    sides = [_rate(depth, volume, at - 1, at), _rate(depth, volume, at, at + 1)]
    beyond = [_rate(depth, volume, one, one + 1) for one in (at - 2, at + 1) if 0 <= one < len(depth) - 1]
    alike = bool(beyond) and all(rate / ALIKE <= other <= rate * ALIKE for other in beyond)
    return alike and min(sides) < rate / FAR


def _rate(depth: np.ndarray, volume: np.ndarray, one: int, other: int) -> float:
    gap = depth[other] - depth[one]
    return float((volume[other] - volume[one]) / gap) if gap > 0.0 else np.inf


def _finding(point: pd.Series, verdict: str, expected: float) -> Finding:
    us = point["volume_at_depth_unit"] in GALLONS
    by, unit = (LITRES_PER_GALLON, "gal") if us else (1.0, "L")
    dip = f"{point['depth_cm'] / 2.54:.4g} in" if us else f"{point['depth_cm']:.4g} cm"
    stated = f"{point['volume_at_depth_L'] / by:.5g} {unit}"
    likely = "" if np.isnan(expected) else f"about {expected / by:.5g} {unit}, by the points beside it"
    what = "less than at the dip before it" if verdict == "falls" else "far from the points beside it"
    return Finding(
        CODES[verdict],
        "review",
        f"{point['vessel']}: the dip table says {stated} at {dip}, {what}; correct the point.",
        subject=str(point["vessel"]),
        facts=tuple(point["facts"]),
        column="volume_at_depth",
        observed=f"{stated} at {dip}",
        expected=likely or "a volume that rises with the dip",
        rule="common practice, no source",
        remedy="Hold it against the tank maker's table; write the right figure, or accept it if the tank is built so.",
    )
