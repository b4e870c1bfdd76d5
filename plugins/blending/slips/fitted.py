"""Errors of no usual kind: a figure that is wrong by just as much as closes the account, a draw that is on no sheet."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
import pandas as pd

from pipeline.common.names import folded_or_missing as folded
from plugins import proof
from plugins.blending.common.amounts import Array, floats
from plugins.blending.reconciling.account import DRAWN
from plugins.blending.reconciling.trying import Effects
from plugins.blending.slips.digits import written
from plugins.blending.slips.figures_named import NO_USUAL
from plugins.blending.slips.lines import LEFT_OUT, MORE_WATER, ONE_MORE, left_out
from plugins.blending.slips.single_slips import CONTENTS, COUNTS, PER_UNIT, QUANTITIES, Try

OTHER = NO_USUAL
COLUMNS = {"draws": QUANTITIES, "contents": CONTENTS, "bottles": COUNTS}
STEP = 1e-3
# Casks of a batch hold amounts that differ by at least this share.
UNLIKE = 0.15


def fitted_readings(lines: pd.DataFrame, change: Array) -> Iterator[Try]:
    """Readings moved until the account closes best. ``change`` of the line's mass fraction is wanted."""
    if lines.empty:
        return
    reading, scale = floats(lines, "reading"), lines["scale"].astype(object).to_numpy()
    words = {name: lines[name].astype(object).to_numpy() for name in ("method", "state")}
    degC = floats(lines, "temperature_degC")
    here = proof.read_strength(reading, scale, degC, **words)
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = (proof.read_strength(reading * (1.0 + STEP), scale, degC, **words) - here) / (STEP * reading)
        moved = reading + change / floats(lines, "share") / slope
    for line, read, corrected, unit, at in zip(lines.index, reading, moved, scale, degC, strict=True):
        if corrected > 0 and np.isfinite(corrected):
            said = f"no usual slip: it would have to be about {written(float(f'{corrected:.4g}'))}"
            yield Try(int(line), "reading", str(unit), read, corrected, OTHER, said, np.nan, corrected, str(unit), at)


def fitted_quantities(lines: pd.DataFrame, change: Array, name: str) -> Iterator[Try]:
    """Quantities moved until the account closes best. ``change`` of the line's mass [kg] is wanted."""
    for line, row, more in zip(lines.index, lines.to_dict("records"), change, strict=True):
        quantity, column = next(((q, c) for q, c in COLUMNS[name] if row[c] == row[c]), ("", ""))
        ratio = 1.0 + more / row["mass"] if row["mass"] > 0 else np.nan
        if not quantity or not row[column] > 0 or not ratio > 0:
            continue
        own = row.get(f"{quantity}_unit")
        unit = own if isinstance(own, str) else "" if name == "bottles" else column.rsplit("_", 1)[1]
        stated = float(written(row[column] / PER_UNIT.get(unit, 1.0)))
        said = f"no usual slip: it would have to be about {written(float(f'{stated * ratio:.4g}'))} {unit}".rstrip()
        yield Try(int(line), quantity, unit, stated, stated * ratio, OTHER, said, ratio, np.nan, "", np.nan)


def one_more(
    effects: Mapping[str, Effects],
    width: int,
    components: pd.DataFrame,
    readings: pd.DataFrame,
    proofs: pd.DataFrame,
) -> tuple[pd.DataFrame, Array]:
    """Draws that are on no sheet, and what they change: casks gauged for dumping, one like the others, water."""
    rows = components[components["batch"].isin(effects.keys())]
    spirit = rows[rows["kind"].isin(["cask", "vessel"])]
    spans = rows.groupby("batch", sort=True)["drawn_at"].agg(first="min", last="max")
    group = spirit.groupby("batch", sort=True)
    spans = spans.join(group[["mass_kg", "apparent_ethanol_kg"]].mean()).join(group["mass_kg"].std().rename("apart"))
    spans = spans.assign(mass=spans["mass_kg"], apart=spans["apart"].fillna(0.0).clip(lower=UNLIKE * spans["mass_kg"]))
    first = rows.groupby("batch", sort=True)["facts"].first().str[0]
    listed = []
    near = left_out(spans.dropna(subset=["first"]), set(folded(components["component"])), readings, proofs)
    for row in near.to_dict("records"):
        batch = str(row["batch"])
        fraction = float(proof.mass_fraction_from_proof(float(row["proof"])))
        apart = 0.0 if row["known"] else float(spans.loc[batch, "apart"])
        what = LEFT_OUT, int(row["fact"]), float(row["mass"])
        listed.append(_sized(effects[batch], str(row["component"]), fraction, *what, apart))
    for batch, effect in effects.items():
        if batch in spans.index and spans.loc[batch, "mass"] > 0:
            mass, apart, ethanol = (float(spans.loc[batch, name]) for name in ("mass", "apart", "apparent_ethanol_kg"))
            listed.append(_sized(effect, batch, ethanol / mass, ONE_MORE, int(first[batch]), mass, apart))
        listed.append(_sized(effect, "water", 0.0, MORE_WATER, int(first[batch]), 0.0, np.inf))
    table = pd.DataFrame([line for line in listed if line is not None])
    changes = np.zeros((len(table), width))
    for name, places in table.groupby("batch").indices.items() if len(table) else ():
        part = table.iloc[places]
        made = effects[str(name)].of_one_more(floats(part, "more"), floats(part, "new_fraction"))
        changes[places, : made.shape[1]] = made
    return table, changes


def _sized(
    effect: Effects, name: str, fraction: float, kind: str, fact: int, usual: float, apart: float
) -> dict[str, object] | None:
    """A draw of the size that closes the account best, near the ``usual`` one, about which others lie ``apart``."""
    judged = effect.judged
    one = effect.of_one_more(np.ones(1), np.array([fraction]))[0, : judged.degrees]
    force = judged.chance.weight @ one
    pull = 0.0 if np.isinf(apart) else 1.0 / apart**2 if apart > 0.0 else np.inf
    missed = judged.misfit - judged.chance.mean
    mass = usual if np.isinf(pull) else float(usual * pull - force @ missed) / float(force @ one + pull)
    against = (mass - usual) ** 2 * pull if 0.0 < pull < np.inf else 0.0
    return _line(judged.account.batch, name, mass, fraction, kind, fact, against) if mass > 0.0 else None


def _line(
    batch: str, name: str, mass: float, fraction: float, kind: str, fact: int, against: float
) -> dict[str, object]:
    strength = f" of {float(proof.proof_from_mass_fraction(fraction)):.1f} proof" if fraction > 0 else ""
    who = {LEFT_OUT: f"{name}, gauged for dumping,", ONE_MORE: "a cask like the others", MORE_WATER: "water"}[kind]
    return {
        "line": -1, "quantity": "component", "unit": "kg", "as_read": 0.0, "as_corrected": float(mass), "kind": kind,
        "slip": f"{who} is on no line; about {mass:.1f} kg{strength} would have gone in",
        "batch": batch, "component": name, "against": against, "row": np.nan, "side": DRAWN,
        "fact": int(fact), "mass": 0.0,
        "fraction": np.nan, "new_fraction": fraction, "more": float(mass), "stronger": 0.0,
    }  # fmt: skip
