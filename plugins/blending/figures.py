"""The stage ``figures_to_check``: which one figure, corrected, would close a balance that is open."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from pipeline import Finding, stage
from pipeline.site import Site
from plugins import proof
from plugins.blending import slips
from plugins.blending.amounts import floats
from plugins.blending.entries import incomplete
from plugins.blending.evidence import Evidence, evidence
from plugins.blending.frames import FIGURES
from plugins.blending.history import fit, likely_strength
from plugins.blending.imbalance import VISIBLE_Z, Sides, pairs, sides
from plugins.blending.lookups import looked_up
from plugins.blending.narrow import of_batches

MOST = 10
ALIKE = 1.0


@stage(gives=FIGURES, narrow={"proofs": of_batches, "readings": of_batches})
def find_figures(
    imbalances: pd.DataFrame,
    balances: pd.DataFrame,
    components: pd.DataFrame,
    blends: pd.DataFrame,
    readings: pd.DataFrame,
    proofs: pd.DataFrame,
    casks: pd.DataFrame,
    site: Site,
) -> tuple[pd.DataFrame, list[Finding]]:
    """Try on every figure the slips that people make, where a batch's balance is open.

    Kept is what brings the largest score from above 2 to below 2; most likely first, by how well the
    balance then closes, how usual the slip is and how well the figure then fits the cask's history.
    Casks that fit alike stand together. A figure to check accuses nobody; it is a finding only where
    the batch differs by more than the house lets pass.
    """
    pair = pairs(balances, incomplete(components))
    two = sides(pair, site["tolerances.process_loss_percent"] / 100.0)
    worst = pd.Series(two.worst(), index=pair.index)
    is_open = worst > VISIBLE_Z
    if not is_open.any():
        return FIGURES.empty(), []
    lines = evidence(pair[is_open.to_numpy()], components, blends, readings, proofs)
    tries = _tried(lines, pair, two, worst)
    if tries.empty:
        return FIGURES.empty(), []
    likely = likely_strength(components, proofs, casks, site["uncertainty.proof_drift_per_year"])
    rows = _ranked(_scored(tries, likely))
    of_batch = imbalances.set_index("batch")
    facts = [of_batch["facts"][row["batch"]] for row in rows]
    differs = set(of_batch.index[~of_batch["agrees"].fillna(True).astype(bool)])
    frame = FIGURES.build({name: [row[name] for row in rows] for name in FIGURES.names}, facts)
    return frame, [_finding(row) for row in rows if row["rank"] == 1 and row["batch"] in differs]


def _tried(lines: Evidence, pair: pd.DataFrame, two: Sides, worst: pd.Series) -> pd.DataFrame:
    """Every try that closes its balance, with the line it is on and the scores before and after."""
    made = [
        _effects(slips.tries_of_readings(lines.readings), lines.readings, slips.changes_of_reading),
        _effects(slips.tries_of_drawn_proof(lines.strengths), lines.strengths, slips.changes_of_strength),
        _effects(slips.tries_of_quantities(lines.draws, slips.QUANTITIES), lines.draws, None),
        _effects(slips.tries_of_quantities(lines.contents, slips.CONTENTS), lines.contents, None),
    ]
    tries = pd.concat([part for part in made if len(part)] or made[:1], ignore_index=True)
    if tries.empty:
        return tries
    place = tries["batch"].map(dict(zip(pair.index, range(len(pair)), strict=True))).to_numpy(dtype=int)
    tries = tries.assign(z_before=looked_up(tries["batch"], worst), z_after=_corrected(tries, two, place).worst())
    return tries[tries["z_after"] < VISIBLE_Z].reset_index(drop=True)


def _effects(found: Any, lines: pd.DataFrame, changes: Any) -> pd.DataFrame:
    """The tries on these lines, with the mass and the mass fraction of the line as read and corrected."""
    tries = pd.DataFrame(list(found), columns=list(slips.Try._fields))
    if tries.empty:
        return tries
    kept = ["batch", "component", "row", "side", "by_volume", "mass", "fraction", "share", "fact"]
    tries = tries.join(lines[kept], on="line")
    change = changes(tries, lines) if changes else 0.0
    fraction = tries["fraction"] + change * tries["share"]
    tries = tries.assign(new_fraction=fraction)[(fraction >= 0) & (fraction <= 1)]
    new_mass = _new_mass(tries)
    tries = tries.assign(
        more=new_mass - tries["mass"],
        more_ethanol=new_mass * tries["new_fraction"] - tries["mass"] * tries["fraction"],
    )
    return _of_one_figure(tries)


def _of_one_figure(tries: pd.DataFrame) -> pd.DataFrame:
    """A figure on which several draws rest (two draws of a cask by one reading) changes them all at once."""
    same = ["batch", "side", "fact", "quantity", "kind", "as_corrected"]
    sums = tries.groupby(same, sort=False)[["more", "more_ethanol"]].transform("sum", min_count=1)
    return tries.assign(**sums).drop_duplicates(same)


def _new_mass(tries: pd.DataFrame) -> np.ndarray:
    """A quantity had by volume weighs more or less at another strength."""
    before = proof.density(floats(tries, "fraction"), proof.T_20C)
    after = proof.density(floats(tries, "new_fraction"), proof.T_20C)
    dense = np.where(tries["by_volume"].fillna(False).astype(bool), after / before, 1.0)
    return np.asarray(floats(tries, "mass") * dense * tries["ratio"].fillna(1.0).to_numpy("float64"))


def _corrected(tries: pd.DataFrame, two: Sides, place: np.ndarray) -> Sides:
    """The two sides of each try's batch with its one figure corrected; uncertainties as before."""
    of_draw = (tries["side"] == "drawn").to_numpy()
    more, more_ethanol = floats(tries, "more"), floats(tries, "more_ethanol")
    expected = two.expected_kg[place] + np.where(of_draw, more, 0.0)
    ethanol = two.expected_ethanol_kg[place] + np.where(of_draw, more_ethanol, 0.0)
    was = two.expected_ethanol_kg[place] / two.expected_kg[place]
    shift = _proof(ethanol / expected) - _proof(was)
    gauge_shift = _proof(floats(tries, "new_fraction")) - _proof(floats(tries, "fraction"))
    return Sides(
        expected,
        ethanol,
        two.expected_proof[place] + np.where(of_draw, shift, 0.0),
        two.gauged_kg[place] + np.where(of_draw, 0.0, more),
        two.gauged_ethanol_kg[place] + np.where(of_draw, 0.0, more_ethanol),
        two.gauged_proof[place] + np.where(of_draw, 0.0, gauge_shift),
        two.mass_u[place],
        two.ethanol_u[place],
        two.proof_u[place],
        two.loss,
    )


def _proof(fraction: np.ndarray) -> np.ndarray:
    return proof.proof_from_mass_fraction(np.clip(fraction, 0.0, 1.0))


def _scored(tries: pd.DataFrame, likely: pd.DataFrame) -> pd.DataFrame:
    """``score``: the smaller, the more likely."""
    of_cask = looked_up(tries["row"], likely["proof"]).to_numpy("float64")
    spread = looked_up(tries["row"], likely["spread"]).to_numpy("float64")
    read, corrected = _proof(floats(tries, "fraction")), _proof(floats(tries, "new_fraction"))
    history = fit(read, corrected, of_cask, spread)
    score = tries["z_after"] ** 2 + tries["kind"].map(slips.AGAINST) + history
    order = ["batch", "score", "component", "line", "quantity", "as_corrected"]
    return tries.assign(score=score).sort_values(order, kind="stable").reset_index(drop=True)


def _ranked(tries: pd.DataFrame) -> list[dict[str, Any]]:
    """At most ten figures a batch; what fits alike, on other casks by the same slip, stands with the best."""
    rows: list[dict[str, Any]] = []
    best = tries.drop_duplicates(["batch", "side", "line", "fact", "quantity", "kind"])
    for batch, part in best.groupby("batch", sort=True):
        left = part.to_dict("records")
        for rank in range(1, MOST + 1):
            if not left:
                break
            first = left[0]
            alike = [row for row in left if _alike(row, first)]
            left = [row for row in left if not _alike(row, first)]
            rows.append(_row(str(batch), rank, first, alike))
    return rows


def _alike(row: dict[Any, Any], first: dict[Any, Any]) -> bool:
    same = all(row[name] == first[name] for name in ("side", "quantity", "kind"))
    return same and row["score"] - first["score"] <= ALIKE


def _row(batch: str, rank: int, first: dict[Any, Any], alike: list[dict[Any, Any]]) -> dict[str, Any]:
    names = sorted({str(row["component"]) for row in alike})
    kept = ("quantity", "unit", "as_read", "as_corrected", "z_before", "z_after")
    slip = first["slip"]
    if len(names) > 1:
        others = "the other fits alike with a figure" if len(names) == 2 else "the others fit alike with figures"
        slip = f"{first['component']}: {slip}; {others} of {'its' if len(names) == 2 else 'their'} own"
    whole = {"batch": batch, "rank": rank, "components": ", ".join(names), "slip": slip, "fact": int(first["fact"])}
    return whole | {name: first[name] for name in kept} | {"best": str(first["component"])}


def _finding(row: dict[str, Any]) -> Finding:
    one = "," not in row["components"]
    unit = {"degF": "°F", "degC": "°C"}.get(row["unit"], row["unit"])
    who = row["components"] if one else f"one of {row['components']}"
    return Finding(
        "balance.figure-to-check",
        "review",
        f"Batch {row['batch']} would close if one figure were corrected: {row['quantity']} of {who} "
        f"({row['slip']}); the account then misses by {row['z_after']:.1f} instead of {row['z_before']:.1f} times "
        "its uncertainty.",
        subject=row["best"],
        batch=row["batch"],
        facts=(row["fact"],),
        column=row["quantity"],
        observed=f"{row['as_read']:g} {unit}",
        expected=f"{row['as_corrected']:.4g} {unit}",
        rule="conservation of mass and ethanol",
        remedy="Look at the sheet and the cask; correct the figure if it was a slip. A figure to check accuses nobody.",
    )
