"""What ``vatting calc dip`` answers: the volume of a vessel at a depth, by the table that its sheet stated."""

from __future__ import annotations

import difflib
from pathlib import Path

import numpy as np

from pipeline.common.errors import VattingError
from pipeline.common.names import fold
from pipeline.runs.last_worked import worked_last
from plugins.proof.alcoholometry.amounts import LITRES_PER_GALLON
from plugins.proof.calc.reckon import Answer
from plugins.proof.calc.typed_in import Unclear, depth
from plugins.proof.gauging.dips import dip_tables


def dip(out: Path, vessel: str, typed: str) -> Answer:
    """Volume at a depth [L, US gal], between two points of the table in proportion. Raises Unclear, in words."""
    at = depth(typed)
    try:
        with worked_last(out) as (_, worked, _):
            vessels = worked.frames["vessels"]
            tables = dip_tables(vessels)
    except VattingError as error:
        raise Unclear(f"{out}: {error}") from error
    table = tables.get(fold(vessel))
    if table is None:
        near = difflib.get_close_matches(vessel, sorted(set(vessels["vessel"])), 1, 0.6)
        raise Unclear(f"{vessel} has no dip table{f'; did you mean {near[0]}?' if near else ''}. Drop a vessels sheet.")
    low, high = float(table.depths_cm.min()), float(table.depths_cm.max())
    if not low <= at <= high:
        raise Unclear(
            f"{typed!r}: the table of {vessel} runs from {low:.4g} to {high:.4g} cm ({low / 2.54:.4g} to "
            f"{high / 2.54:.4g} in)."
        )
    order = np.argsort(table.depths_cm)
    litres = float(np.interp(at, table.depths_cm[order], table.volumes_L[order]))
    until = "" if np.isnat(table.until_day) else f", valid until {table.until_day}"
    return {
        "vessel": vessel,
        "depth_cm": at,
        "volume_L": litres,
        "volume_gal": litres / LITRES_PER_GALLON,
        "metric": not table.in_gallons,
        "method": "between two points of the vessel's table in proportion; the shell taken as warm as the table says",
        "source": f"the dip table of {vessel} as it was last taken{until}",
        "basis": "dipped",
    }
