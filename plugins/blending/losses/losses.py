"""The stage ``losses``: what went missing at each step, where the data allow to say so."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import pandas as pd

from pipeline import Finding, stage
from pipeline.contract.site import Site
from plugins.blending.common.amounts import Array, floats
from plugins.blending.common.places import ids_of, in_order, pointing_at
from plugins.blending.declared.frames import LOSSES
from plugins.blending.losses.loss_findings import about_losses
from plugins.blending.vat.amounts_for_losses import (
    AMOUNT,
    Beside,
    Known,
    before_filter,
    beside_bottles,
    known,
)
from plugins.blending.vat.entries import incomplete

ENTRIES = ("expected", "gauged", "bottled")
STEPS = ("dump", "process", "filter", "bottling", "samples", "unexplained")


class Step(NamedTuple):
    """A loss at a step: the amount before and the amount missing (as ``beside`` has amounts), and the
    standard uncertainties of the missing proof gallons and of the missing mass [kg]."""

    batch: str
    step: str
    before: Array
    missing: Array
    spread: float
    mass_spread: float
    facts: tuple[int, ...]


@stage(
    gives=LOSSES,
    per="batch",
    links="readings.vessel = briefs.vessel or components.component",
)
def account_for_losses(
    balances: pd.DataFrame,
    components: pd.DataFrame,
    briefs: pd.DataFrame,
    filter_gauges: pd.DataFrame,
    blends: pd.DataFrame,
    readings: pd.DataFrame,
    bottlings: pd.DataFrame,
    site: Site,
) -> tuple[pd.DataFrame, list[Finding]]:
    """Split losses by step: dump, process, filter, bottling, samples, unexplained; a gain is negative.

    Process is expected less gauged (less the gauge before filtering, where there is one), bottling is
    gauged less bottled, samples and remainder; bottles poured back are no loss. Without a gauged
    quantity nothing between drawing and bottling can be told apart, and the whole is unexplained.
    A batch of which a line had to be left out has no losses before its gauge.
    """
    if balances.empty:
        return LOSSES.empty(), []
    filtered = before_filter(filter_gauges, site)
    beside = beside_bottles(balances, briefs, bottlings, site)
    steps = list(_dump(components))
    whole = ~(balances["batch"].isin(incomplete(components)) & (balances["entry"] == "expected"))
    measured = balances[(balances["proof_gallons"] > 0) & balances["entry"].isin(ENTRIES) & whole]
    for batch, rows in measured.groupby("batch", sort=True):
        entries = {str(row["entry"]): known(row) for row in rows.to_dict("records")}
        steps.extend(_steps(str(batch), entries, filtered.get(str(batch)), beside.get(str(batch))))
    steps.sort(key=lambda step: (step.batch, STEPS.index(step.step)))
    columns = {name: [step.missing[place] for step in steps] for place, name in enumerate(AMOUNT)}
    named = {"batch": [step.batch for step in steps], "step": [step.step for step in steps]}
    frame = LOSSES.build({**named, **columns}, [tuple(sorted(step.facts)) for step in steps])
    sheets = {"dump": ids_of(blends), "bottling": ids_of(bottlings), "unexplained": ids_of(bottlings)}
    of_readings = ids_of(readings)
    steps = [step._replace(facts=pointing_at(sheets.get(step.step, of_readings), step.facts)) for step in steps]
    return frame, about_losses(steps, site)


def _dump(components: pd.DataFrame) -> Iterator[Step]:
    """Content by the dump gauge less what was drawn, of casks that were emptied and measured twice."""
    rows = components[components["dump_content_kg"].notna() & (components["mass_kg"] > 0)]
    for batch, part in rows.groupby("batch", sort=True):
        drawn = part[list(AMOUNT)].to_numpy("float64")
        content = drawn * (floats(part, "dump_content_kg") / floats(part, "mass_kg"))[:, None]
        each = floats(part, "mass_uncertainty_kg") / floats(part, "mass_kg") * floats(part, "proof_gallons")
        before, spread = content.sum(axis=0), float(np.sqrt(2 * (each**2).sum()))
        mass_spread = float(np.sqrt(2 * (floats(part, "mass_uncertainty_kg") ** 2).sum()))
        missing = before - drawn.sum(axis=0)
        yield Step(str(batch), "dump", before, missing, spread, mass_spread, in_order(*part["facts"]))


def _steps(batch: str, entries: dict[str, Known], filtered: Known | None, beside: Beside | None) -> Iterator[Step]:
    expected, gauged, bottled = (entries.get(name) for name in ("expected", "gauged", "bottled"))
    vat = filtered if filtered and gauged else gauged
    if expected and vat:
        yield _between(batch, "process", expected, vat)
    if filtered and gauged:
        yield _between(batch, "filter", filtered, gauged)
    if not bottled or not beside:
        return
    if beside.samples[0] > 0:
        yield Step(batch, "samples", bottled.amount, beside.samples, 0.0, 0.0, beside.facts)
    if gauged:
        yield _between(batch, "bottling", gauged, bottled, beside)
    elif expected:
        yield _between(batch, "unexplained", expected, bottled, beside)


def _between(batch: str, step: str, before: Known, after: Known, beside: Beside | None = None) -> Step:
    """Before less after, samples and remainder.

    Bottled takes its strength from the gauge, so that between these two only masses are uncertain.
    """
    missing = before.amount - after.amount
    facts = in_order(after.facts, before.facts)
    if beside:
        missing = missing - beside.samples - beside.remainder
        facts = in_order(beside.facts, facts)
    mass_u = float(np.hypot(before.mass_u, after.mass_u))
    ethanol_u = mass_u if step == "bottling" else float(np.hypot(before.ethanol_u, after.ethanol_u))
    spreads = float(before.amount[1]) * ethanol_u, float(before.amount[0]) * mass_u
    return Step(batch, step, before.amount, missing, *spreads, facts)
