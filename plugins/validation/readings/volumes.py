"""Contents of readings held against what the cask or vessel holds, and against its last reading."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

from pipeline import Finding
from pipeline.common.names import folded
from plugins.proof import LITRES_PER_GALLON
from plugins.validation.declared.wording import day, facts, figure
from plugins.validation.readings.histories import Fillings
from plugins.validation.readings.table import Table

# unit as written -> unit that may be meant, and by what the volume grows if it is
UNIT_SLIPS = {"L": ("gal", LITRES_PER_GALLON), "gal": ("L", 1.0 / LITRES_PER_GALLON)}
SAME_VOLUME, SAME_PROOF = 0.02, 1.0  # share and proof within which two readings are of one content
SAME_IN_CASK, PROOF_IN_CASK = 0.08, 6.0  # the same for a cask, which loses some in between
LOOKED_BACK = 5  # earlier readings of a vessel: the last may hold the same slip
PRACTICE = "common practice, no source"


def above_capacity(
    table: Table, casks: pd.DataFrame, vessels: pd.DataFrame, fillings: Fillings, percent: float
) -> Iterator[Finding]:
    """Contents above what the cask or vessel can hold; by weight, this is the mark of gross taken for net."""
    volume, basis = table.of_proofs("content_volume_20C_L").astype(float), table.of_proofs("content_basis")
    of_cask = np.append(casks["capacity_L"].to_numpy(dtype=float)[fillings.row], np.nan)[table.live]
    named = vessels.dropna(subset=["capacity_L"])
    at_vessel = dict(zip(folded(named["vessel"]), range(len(named)), strict=True))
    of_name = np.array([at_vessel.get(name, -1) for name in table.names], dtype=np.int64)
    place = np.append(of_name, -1)[table.codes]
    of_vessel = np.append(named["capacity_L"].to_numpy(dtype=float), np.nan)[place]
    capacity = np.where(np.isnan(of_cask), of_vessel, of_cask)
    for row in np.flatnonzero(volume > capacity * (1.0 + percent / 100.0)).tolist():
        known = of_cask[row] == of_cask[row]
        source = casks["facts"].iloc[fillings.row[table.live[row]]] if known else named["facts"].iloc[place[row]]
        what = "cask" if known else "vessel"
        yield _too_much(table, row, basis[row] == "weighed", volume[row], capacity[row], what, percent, source)


def _too_much(
    table: Table,
    row: int,
    weighed: bool,
    volume: float,
    capacity: float,
    what: str,
    percent: float,
    source: tuple[int, ...],
) -> Finding:
    reading = table.readings.iloc[row]
    name, net = str(reading["vessel"]), reading["net_weight_kg"]
    said = f"{volume:.0f} L are stated"
    if weighed and net == net:
        said = f"a net weight of {net:.1f} kg is {volume:.0f} L"
    asks = " Is it the gross weight?" if weighed else _other_way(table, row, capacity) or " Is the unit right?"
    return Finding(
        code="reading.gross-as-net" if weighed else "reading.volume-above-capacity",
        severity="review",
        message=f"{name} on {day(reading['taken_at'])}: {said}, but the {what} holds {capacity:.0f} L.{asks}",
        subject=name,
        facts=facts([table.fact[row]], source),
        column="net_weight" if weighed else "volume",
        observed=f"{volume:.0f} L",
        expected=f"at most {capacity:.0f} L and {figure(percent)} %",
        rule="[tolerances] capacity_percent (house tolerance)",
        remedy="Correct the weight or volume, or the capacity in the inventory or on the vessels sheet.",
    )


def _other_way(table: Table, row: int, capacity: float) -> str:
    """A volume in gallons of which the figure fits in litres, in a sentence."""
    stated, unit = table.readings["volume_L"].iloc[row], table.readings["volume_unit"].iloc[row]
    litres = stated / LITRES_PER_GALLON
    if unit != "gal" or not litres <= capacity:
        return ""
    return f" Is the unit right? {figure(round(litres, 3))} read as L, not gal, would fit."


def other_unit(table: Table) -> Iterator[Finding]:
    """Volumes that are one of the vessel's last in the other unit: gallons written as litres, or the reverse.

    A tank is filled and emptied: only the same content to the figure, of spirit of the same strength, is asked about.
    What a cask loses and gains is its own account; a slip of units in it is asked about here, each time. A right figure
    after one slip agrees with more of the readings before.
    """
    stated = table.readings["volume_L"].to_numpy(dtype=float)
    unit = table.readings["volume_unit"].to_numpy(dtype=object)
    rows = np.flatnonzero(~np.isnan(stated) & ~np.isnan(table.proof))
    rows = rows[np.lexsort((table.at[rows], table.codes[rows]))]
    same, other = np.zeros(len(table), dtype=np.int64), np.zeros(len(table), dtype=np.int64)
    against = np.full(len(table), -1, dtype=np.int64)
    for back in range(1, LOOKED_BACK + 1):
        later, before = rows[back:], rows[:-back]
        of_cask = table.first_filling[later] >= 0
        near = np.where(of_cask, SAME_IN_CASK, SAME_VOLUME)
        of_one = table.codes[later] == table.codes[before]
        alike = np.abs(table.proof[later] - table.proof[before]) <= np.where(of_cask, PROOF_IN_CASK, SAME_PROOF)
        ratio = stated[later] / stated[before]
        factor = np.array([UNIT_SLIPS.get(written, (written, 1.0))[1] for written in unit[later]])
        in_other = of_one & alike & (factor != 1.0) & (np.abs(ratio * factor - 1.0) <= near)
        same[later] += of_one & (np.abs(ratio - 1.0) <= near)
        other[later] += in_other
        against[later] = np.where(in_other & (against[later] < 0), before, against[later])
    for row in rows[(other[rows] > 0) & (other[rows] >= same[rows])].tolist():
        meant = UNIT_SLIPS[unit[row]][0]
        yield _other_unit(table, row, int(against[row]), unit[row], meant, stated[row], stated[against[row]])


def _other_unit(table: Table, row: int, before: int, written: str, meant: str, litres: float, last: float) -> Finding:
    reading = table.readings.iloc[row]
    value = litres if written == "L" else litres / LITRES_PER_GALLON
    held = figure(round(last / (LITRES_PER_GALLON if meant == "gal" else 1.0), 1))
    on = day(table.readings["taken_at"].iloc[before])
    stated, name = figure(round(value, 3)), str(reading["vessel"])
    return Finding(
        code="reading.volume-other-unit",
        severity="review",
        message=f"{name} on {day(reading['taken_at'])} holds {stated} {written}; on {on} it held {held} {meant} of the "
        f"same strength. Read as {stated} {meant} it is the same content.",
        subject=name,
        facts=facts([table.fact[row]], [table.fact[before]]),
        column="volume",
        observed=f"{stated} {written}",
        expected=f"about {held} {meant}",
        rule=PRACTICE,
        remedy="Check the unit of the volume; correct it and send the sheet again, or accept.",
    )
