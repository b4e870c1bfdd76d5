"""The stage ``reconciled``: the nearest figures that close a batch's balances, with the test of each."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from pipeline import Finding, stage
from pipeline.contract.site import Site
from plugins.blending.common.amounts import Array, proof_per_fraction
from plugins.blending.declared.frames import RECONCILED
from plugins.blending.reconciling import levels
from plugins.blending.reconciling.account import Account, accounts, as_proof
from plugins.blending.reconciling.judged import Judged
from plugins.blending.reconciling.solver import DoesNotSettle, reconcile

MASS, STRENGTH, LOST = "mass", "strength", "lost"


@stage(gives=RECONCILED, per="batch")
def reconcile_batches(
    balances: pd.DataFrame,
    components: pd.DataFrame,
    briefs: pd.DataFrame,
    filter_gauges: pd.DataFrame,
    bottlings: pd.DataFrame,
    site: Site,
) -> tuple[pd.DataFrame, list[Finding]]:
    """Reconcile every gauged batch: masses in kg, strengths in proof, losses by step.

    A batch of which a line was left out, or that was not gauged, has no rows.
    """
    level = site["tolerances.false_alarms_in_100"] / 100.0
    facts = {str(row["batch"]): row["facts"] for row in balances[balances["entry"] == "gauged"].to_dict("records")}
    parts: list[pd.DataFrame] = []
    findings: list[Finding] = []
    for account in accounts(balances, components, briefs, filter_gauges, bottlings, site):
        try:
            parts.append(_rows(account, level).assign(batch=account.batch))
        except DoesNotSettle:
            findings.append(_does_not_settle(account.batch, facts[account.batch]))
    if not parts:
        return RECONCILED.empty(), findings
    table = pd.concat(parts, ignore_index=True)
    of_draw = components[["drawn_at", "line", "facts"]].reindex(table["row"].where(table["row"] >= 0)).reset_index()
    table = table.assign(drawn_at=of_draw["drawn_at"], line=of_draw["line"])
    own = [
        one if isinstance(one, tuple) else facts[batch]
        for one, batch in zip(of_draw["facts"], table["batch"], strict=True)
    ]
    return RECONCILED.build({name: table[name] for name in RECONCILED.names}, own), findings


def _rows(account: Account, level: float) -> pd.DataFrame:
    """The figures of one account, in the units that people read."""
    judged = Judged(account, level)
    made = reconcile(account.figures, account.each)
    figures = account.figures
    spread = np.sqrt(np.square(figures.own) + np.square(figures.shared).sum(axis=1))
    scores, smallest = judged.scores(), judged.smallest_visible()
    listed: list[dict[str, Any]] = []
    for place, quantity, component, row, side in _listed(account):
        listed.append({"place": place, "quantity": quantity, "component": component, "row": row, "side": side})
    table = pd.DataFrame(listed)
    at = table["place"].to_numpy()
    is_strength = (table["quantity"] == STRENGTH).to_numpy()
    per_fraction = np.where(is_strength, proof_per_fraction(np.clip(figures.value[at], 0.0, 1.0)), 1.0)
    limit = levels.critical_score(level, len(set(np.round(np.abs(scores[spread > 0]), 6))), judged.degrees)
    lost = (table["side"] == LOST).to_numpy()
    exact = spread[at] == 0.0

    def shown(value: Array) -> Array:
        return np.where(is_strength, as_proof(np.where(is_strength, value[at], 0.0)), value[at])

    return table.assign(
        unit=np.where(is_strength, "proof", "kg"),
        measured=np.where(lost, np.nan, shown(figures.value)),
        uncertainty=spread[at] * per_fraction,
        reconciled=shown(made.value),
        reconciled_uncertainty=made.uncertainty[at] * per_fraction,
        score=np.where(lost | exact, np.nan, scores[at]),
        beyond_chance=pd.Series(np.abs(scores[at]) > limit, dtype="boolean").mask(lost | exact),
        smallest_visible=np.where(lost | exact | ~np.isfinite(smallest[at]), np.nan, smallest[at] * per_fraction),
    ).sort_values("place", kind="stable")


def _listed(account: Account) -> list[tuple[int, str, str, int, str]]:
    """Every figure of the streams and every loss: place, quantity, component, row of components, side."""
    streams = account.streams
    made = []
    for name, row, side, mass, strength in zip(
        streams.name, streams.row, streams.side, streams.mass, streams.strength, strict=True
    ):
        made += [(int(mass), MASS, name, int(row), side)] if mass >= 0 else []
        made += [(int(strength), STRENGTH, name, int(row), side)] if strength >= 0 else []
    return made + [(place, MASS, step, -1, LOST) for place, step in account.losses.items()]


def _does_not_settle(batch: str, facts: tuple[int, ...]) -> Finding:
    return Finding(
        "balance.not-reconciled",
        "review",
        f"No figures near those of batch {batch} close its balances, so that none are shown as reconciled.",
        subject=batch,
        batch=batch,
        facts=facts,
        column="reading",
        observed="figures that cannot be reconciled",
        expected="figures of which the balances close",
        rule="conservation of mass and ethanol",
        remedy="Look for a figure that is wrong by far: a unit, a decimal place, a cask that is not of the batch.",
    )
