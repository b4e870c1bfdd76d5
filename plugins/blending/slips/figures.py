"""The stage ``figures_to_check``: which one figure, corrected, would close a balance that is open."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import chain
from typing import Any

import numpy as np
import pandas as pd

from pipeline import Finding, stage
from pipeline.contract.site import Site
from plugins.blending.common.amounts import Array, floats
from plugins.blending.common.lookups import looked_up
from plugins.blending.components.likely_strengths import capacity_fit, fit, likely_strength
from plugins.blending.declared.frames import FIGURES
from plugins.blending.reconciling import levels
from plugins.blending.reconciling.account import accounts, as_proof
from plugins.blending.reconciling.judged import Judged
from plugins.blending.reconciling.trying import Effects, changes_of, fitted_change, with_fit
from plugins.blending.slips import lines as of_lines
from plugins.blending.slips import single_slips as slips
from plugins.blending.slips.evidence import Evidence, evidence
from plugins.blending.slips.figures_named import finding_of, listed, none_explains
from plugins.blending.slips.fitted import COLUMNS, fitted_quantities, fitted_readings, one_more
from plugins.blending.slips.misread_names import MISREAD, casks_known, changes_of_name, tries_of_names
from plugins.blending.slips.pairs import pairs
from plugins.blending.vat.entries import usable


@stage(
    gives=FIGURES,
    per="batch",
    links="""
    proofs.vessel = near_names.name or left_names.name
    readings.vessel = near_names.name or left_names.name
    casks.cask = near_names.name
    """,
)
def find_figures(
    imbalances: pd.DataFrame,
    balances: pd.DataFrame,
    components: pd.DataFrame,
    near_names: pd.DataFrame,
    filter_gauges: pd.DataFrame,
    left_names: pd.DataFrame,
    blends: pd.DataFrame,
    readings: pd.DataFrame,
    proofs: pd.DataFrame,
    casks: pd.DataFrame,
    briefs: pd.DataFrame,
    bottlings: pd.DataFrame,
    site: Site,
) -> tuple[pd.DataFrame, list[Finding]]:
    """Try on every figure the slips that people make, where a batch's account does not close.

    Kept is what makes the account close, at the level at which it was found open; most likely first, by how
    well it then closes, how usual the slip is and how well the figure then fits the cask's history. Casks that
    fit alike stand together. A figure to check accuses nobody; it is a finding only where a batch differs by
    more than the house lets pass.
    """
    open_batches = set(imbalances.loc[imbalances["closes"].eq(False).fillna(False), "batch"])
    if not open_batches:
        return FIGURES.empty(), []
    level = site["tolerances.false_alarms_in_100"] / 100.0
    found = accounts(balances, components, briefs, filter_gauges, bottlings, site, open_batches)
    judged = {account.batch: Judged(account, level) for account in found}
    lines = evidence(set(judged), balances, components, filter_gauges, blends, readings, proofs, bottlings, site)
    tries, changes = _tried(lines, judged, components, readings, proofs, casks)
    of_batch = imbalances.set_index("batch")
    differs = set(of_batch.index[~of_batch["house_lets_pass"].fillna(True).astype(bool)])
    rows = _rows(tries, changes, judged, components, proofs, casks, site) if len(tries) else []
    facts = [of_batch["facts"][row["batch"]] for row in rows]
    frame = FIGURES.build({name: [row[name] for row in rows] for name in FIGURES.names}, facts)
    explained = {row["batch"] for row in rows}
    findings = [finding_of(row) for row in rows if row["rank"] == 1 and row["batch"] in differs]
    findings += [
        none_explains(batch, of_batch["facts"][batch], float(of_batch["p_value"][batch]))
        for batch in sorted((set(judged) & differs) - explained)
    ]
    return frame, findings


def _rows(
    tries: pd.DataFrame,
    changes: Array,
    judged: Mapping[str, Judged],
    components: pd.DataFrame,
    proofs: pd.DataFrame,
    casks: pd.DataFrame,
    site: Site,
) -> list[dict[str, Any]]:
    """The figures to check, in order: those that close their account alone, and two together where none does."""
    closed = float(levels.as_score(np.log(site["tolerances.false_alarms_in_100"] / 100.0)))
    likely = likely_strength(components, proofs, casks, site["uncertainty.proof_drift_per_year"])
    tries = _scored(tries, likely, capacity_fit(tries, components, casks))
    two = pairs(tries, changes, judged, closed)
    order = ["batch", "score", "component", "line", "quantity", "as_corrected"]
    alone = tries[tries["z_after"] <= closed].sort_values(order, kind="stable").reset_index(drop=True)
    return listed(alone, two)


def _tried(
    lines: Evidence,
    judged: Mapping[str, Judged],
    components: pd.DataFrame,
    readings: pd.DataFrame,
    proofs: pd.DataFrame,
    casks: pd.DataFrame,
) -> tuple[pd.DataFrame, Array]:
    """Every try, with the line it is on and the scores before and after, and what it changes of what is missed."""
    effects = {batch: Effects(one) for batch, one in judged.items()}
    width = max(one.missed.size for one in judged.values())
    found = {name: _of_quantities(name, table, effects) for name, table in lines.quantities().items()}
    of_draws = [of_lines.tries_of_weights(lines.draws, of_lines.tares(readings)), of_lines.tries_of_lines(lines.draws)]
    of_readings = [slips.tries_of_readings(lines.readings)]
    of_readings.append(fitted_readings(lines.readings, fitted_change(lines.readings, effects, False)))
    made = [
        _effects(chain(*of_readings), lines.readings, slips.changes_of_reading),
        _effects(slips.tries_of_drawn_proof(lines.strengths), lines.strengths, slips.changes_of_strength),
        _effects(chain(found["draws"], *of_draws), lines.draws, None),
        _effects(found["contents"], lines.contents, None),
        _effects(found["bottles"], lines.bottles, None),
        _effects(tries_of_names(lines.draws, components, casks_known(proofs, casks)), lines.draws, changes_of_name),
    ]
    tries = pd.concat([part for part in made if len(part)] or made[:1], ignore_index=True)
    changes = changes_of(tries, effects, width)
    more, by_more = one_more(effects, width, usable(components), readings, proofs)
    if len(more):
        tries = pd.concat([tries, more], ignore_index=True) if len(tries) else more
        changes = np.vstack([changes, by_more])
    return with_fit(tries, changes, judged) if len(tries) else (tries, changes)


def _of_quantities(name: str, lines: pd.DataFrame, effects: Mapping[str, Effects]) -> Iterator[slips.Try]:
    """Slips of the quantities of a table of lines, and what each would have to be to close the account."""
    yield from slips.tries_of_quantities(lines, COLUMNS[name])
    yield from fitted_quantities(lines, fitted_change(lines, effects, True), name)


def _effects(found: Any, lines: pd.DataFrame, changes: Any) -> pd.DataFrame:
    """The tries on these lines, with what more mass and strength of the line they mean."""
    tries = pd.DataFrame(list(found), columns=list(slips.Try._fields))
    if tries.empty:
        return tries
    kept = ["batch", "component", "row", "side", "by_volume", "mass", "fraction", "share", "fact"]
    tries = tries.join(lines[kept], on="line")
    change = changes(tries, lines) if changes else 0.0
    fraction = tries["fraction"] + change * tries["share"]
    tries = tries.assign(new_fraction=fraction, stronger=(fraction - tries["fraction"]).fillna(0.0))
    tries = tries[((fraction >= 0) & (fraction <= 1)) | (tries["side"] == "bottled")]
    return tries.assign(against=0.0, more=(slips.new_mass(tries) - tries["mass"]).fillna(0.0))


def _scored(tries: pd.DataFrame, likely: pd.DataFrame, room: np.ndarray) -> pd.DataFrame:
    """``score``: minus twice the log of the odds, but for a constant; the smaller, the more likely."""
    of_cask = looked_up(tries["row"], likely["proof"]).to_numpy("float64")
    spread = looked_up(tries["row"], likely["spread"]).to_numpy("float64")
    read, corrected = as_proof(floats(tries, "fraction")), as_proof(floats(tries, "new_fraction"))
    history = np.where(tries["stronger"] != 0.0, fit(read, corrected, of_cask, spread), 0.0)
    against = tries["kind"].map(slips.AGAINST) + tries["against"].fillna(0.0) + _of_many(tries)
    score = tries["squares"] + against + history + room
    return tries.assign(score=score)


def _of_many(tries: pd.DataFrame) -> pd.Series:
    """What counts against each of many casks of nearly the same number, of which one was meant."""
    misread = tries["kind"] == MISREAD
    many = misread.groupby([tries["batch"], tries["row"], tries["kind"]]).transform("sum")
    return 2.0 * np.log(many.where(misread, 1.0))
