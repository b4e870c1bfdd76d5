"""Slips with whole lines and with weights: a cask entered twice or left out, gross for net, the tare of another day.

A line that should not stand counts as a quantity of nought; a cask that was left out has a line of its own.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np
import pandas as pd

from pipeline.common.names import folded_or_missing as folded
from plugins.blending.slips.digits import written
from plugins.blending.slips.single_slips import PER_UNIT, Try

TWICE, NOT_POURED, LEFT_OUT, ONE_MORE, MORE_WATER, GROSS, OLD_TARE = (
    "entered twice",
    "on the sheet but not poured",
    "left out",
    "one more like the others",
    "water that is not on the sheet",
    "gross for net",
    "tare of another day",
)
# Two lines of one cask are one line entered twice only where their quantities are as like as this.
LIKE = 0.02
DAYS_AROUND = pd.Timedelta(days=3)
# What differs by less is the same tare. [kg]
SAME_TARE = 0.2


def tares(readings: pd.DataFrame) -> dict[str, list[float]]:
    """Every tare that was read of each vessel (folded name), in kg, in order of time."""
    stated = readings[readings["tare_weight_kg"] > 0].sort_values("taken_at", kind="stable")
    found: dict[str, list[float]] = {}
    for name, tare in zip(folded(stated["vessel"]), stated["tare_weight_kg"], strict=True):
        known = found.setdefault(str(name), [])
        if all(abs(tare - other) > SAME_TARE for other in known):
            known.append(float(tare))
    return found


def tries_of_weights(lines: pd.DataFrame, known: Mapping[str, list[float]]) -> Iterator[Try]:
    """Gross for net, and net by another tare. ``lines``: component, drawn_weight_kg and its unit."""
    usual = float(np.median([tare for some in known.values() for tare in some])) if known else np.nan
    keys = folded(lines["component"])
    for line, key, row in zip(lines.index, keys, lines.to_dict("records"), strict=True):
        weight = row["drawn_weight_kg"]
        if not weight > 0 or row["kind"] == "water":
            continue
        own = known.get(str(key), [])
        tare, whose = (own[-1], "its tare") if own else (usual, "a usual tare")
        if 0 < tare < weight:
            words = f"gross for net: {{}} less {whose} of {{}} is {{}} {{unit}}"
            yield _weight(line, row, weight - tare, tare, GROSS, words)
        for old in own[:-1]:
            words = "net by the tare of another day, which differs by {1}: {0} is then {2} {unit}"
            for meant in (weight + old - own[-1], weight - old + own[-1]):
                if meant > 0:
                    yield _weight(line, row, meant, abs(old - own[-1]), OLD_TARE, words)


def _weight(line: int, row: Mapping[Any, Any], meant: float, tare: float, kind: str, words: str) -> Try:
    unit = row["drawn_weight_unit"] if isinstance(row["drawn_weight_unit"], str) else "kg"
    per = PER_UNIT.get(unit, 1.0)
    stated, weighed, corrected = row["drawn_weight_kg"] / per, tare / per, meant / per
    said = words.format(*(written(round(value, 2)) for value in (stated, weighed, corrected)), unit=unit)
    return _quantity(line, "drawn_weight", unit, float(written(stated)), corrected, kind, said)


def _quantity(line: int, name: str, unit: str, read: float, corrected: float, kind: str, words: str) -> Try:
    return Try(line, name, unit, read, corrected, kind, words, corrected / read, np.nan, "", np.nan)


def tries_of_lines(lines: pd.DataFrame) -> Iterator[Try]:
    """Lines that should not stand. ``lines``: batch, component, kind, mass and the quantities of the sheet."""
    key = folded(lines["component"])
    by = [lines["batch"], key]
    mass = lines["mass"]
    last_mass = mass.groupby(by).transform("last")
    like = ((mass - last_mass).abs() <= LIKE * last_mass).astype(int)
    repeated = (mass.groupby(by).transform("size") > 1) & (like.groupby(by).transform("sum") > 1)
    last = ~pd.DataFrame({"batch": lines["batch"], "key": key}).duplicated(keep="last")
    for line, row, twice, final in zip(lines.index, lines.to_dict("records"), repeated, last, strict=True):
        quantity, unit, stated = _stated(row)
        if not stated > 0:
            continue
        if twice and final and row["kind"] != "water":
            words = f"{row['component']} stands twice with like quantities; poured once, this line is none"
            yield _quantity(line, quantity, unit, stated, 0.0, TWICE, words)
        else:
            words = "on the sheet but not poured"
            yield _quantity(line, quantity, unit, stated, 0.0, NOT_POURED, words)


def _stated(row: Mapping[Any, Any]) -> tuple[str, str, float]:
    """The quantity of a line as the sheet states it; in kg, as its weight would be, where it states none."""
    for name, column, plain in (("drawn_weight", "drawn_weight_kg", "kg"), ("drawn_volume", "drawn_volume_L", "L")):
        if row[column] == row[column]:
            own = row[f"{name}_unit"]
            unit = own if isinstance(own, str) else plain
            return name, unit, float(written(row[column] / PER_UNIT.get(unit, 1.0)))
    return "drawn_weight", "kg", float(written(row["mass"]))


def left_out(spans: pd.DataFrame, poured: set[str], readings: pd.DataFrame, proofs: pd.DataFrame) -> pd.DataFrame:
    """Casks with a dump gauge near a batch's draws that are on no blend sheet.

    Parameters: by batch (index) the ``first`` and ``last`` draw and the mean ``mass`` of its casks; folded
    names of all that was poured. Returns batch, component, mass [kg] and whether it is known, proof (apparent), fact.
    """
    found = proofs[(proofs["purpose"] == "dump") & proofs["proof_60F"].notna()]
    found = found.assign(key=folded(found["vessel"]))
    found = found[~found["key"].isin(poured)].drop_duplicates("key", keep="last")
    sheet = set(readings["facts"].str[0])
    made = []
    for batch, span in spans.iterrows():
        near = found[found["taken_at"].between(span["first"] - DAYS_AROUND, span["last"] + DAYS_AROUND)]
        for row in near.to_dict("records"):
            fact = next((one for one in row["facts"] if one in sheet), None)
            known = row["content_mass_kg"] > 0
            mass = row["content_mass_kg"] if known else span["mass"]
            apparent = (
                row["proof_apparent_60F"]
                if row["proof_apparent_60F"] == row["proof_apparent_60F"]
                else row["proof_60F"]
            )
            if fact is not None:
                made.append((batch, row["vessel"], mass, apparent, fact, known))
    return pd.DataFrame(made, columns=["batch", "component", "mass", "proof", "fact", "known"])
