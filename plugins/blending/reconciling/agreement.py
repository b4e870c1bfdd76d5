"""The stage ``imbalances``: expected against gauged, batch by batch, with what a person must know."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

from pipeline import Finding, stage, unite
from pipeline.contract.site import Site
from plugins.blending.common.amounts import Array, proof_per_fraction
from plugins.blending.common.places import ids_of, pointing_at
from plugins.blending.declared.frames import IMBALANCES
from plugins.blending.reconciling.account import DRAWN, accounts
from plugins.blending.reconciling.agreement_findings import (
    cask_differs,
    does_not_close,
    quantity_differs,
    strength_differs,
)
from plugins.blending.reconciling.imbalance import Sides, contraction, pairs, sides
from plugins.blending.reconciling.judged import Judged
from plugins.blending.reconciling.tolerances import certain, is_gain, is_loss
from plugins.blending.vat.entries import empty, incomplete, usable

AGREE = ("strength", "mass", "alcohol")
JUDGED = ["chi_square", "degrees", "p_value", "closes", "vat_closes", "steps_pass", "visible_proof", "visible_kg"]


@stage(
    gives=IMBALANCES,
    per="batch",
    links="readings.vessel = briefs.vessel or components.component",
)
def compare_with_gauge(
    balances: pd.DataFrame,
    components: pd.DataFrame,
    readings: pd.DataFrame,
    briefs: pd.DataFrame,
    filter_gauges: pd.DataFrame,
    bottlings: pd.DataFrame,
    site: Site,
) -> tuple[pd.DataFrame, list[Finding]]:
    """Compare what was drawn with what was gauged: test of all balances, scores, smallest visible slip, agreement.

    ``agrees`` is true where chance and normal losses explain the vat's balances, or where strength, mass
    and alcohol each differ by no more than the house's tolerance; a quantity that was not gauged is not
    compared, nor is a batch of which a line had to be left out or into which nothing went.
    """
    pair = pairs(balances, incomplete(components) | empty(components))
    if pair.empty:
        return IMBALANCES.empty(), []
    level = site["tolerances.false_alarms_in_100"] / 100.0
    every = accounts(balances, components, briefs, filter_gauges, bottlings, site)
    judged = {account.batch: Judged(account, level) for account in every}
    two = sides(
        pair, {name: one.account for name, one in judged.items()}, site["tolerances.process_loss_percent"] / 100
    )
    tests = pd.DataFrame([_tested(judged.get(str(name)), site) for name in pair.index], columns=JUDGED)
    within = _within(two, site)
    gauged = pair["entry_g"].notna().to_numpy()
    let_pass = within[list(AGREE)].all(axis=1)
    agrees = let_pass | tests["vat_closes"].fillna(False).astype(bool)
    mass_z, ethanol_z, strength_z = two.scores()
    frame = IMBALANCES.build(
        {
            "batch": pair.index.to_series().reset_index(drop=True),
            "contraction_60F_gal": contraction(pair, usable(components)),
            "mass_z": mass_z,
            "ethanol_z": ethanol_z,
            "strength_z": strength_z,
            "smallest_visible_proof": tests["visible_proof"],
            "smallest_visible_kg": tests["visible_kg"],
            "agrees": agrees.astype("boolean").mask(~gauged),
            **{name: tests[name] for name in ("chi_square", "degrees", "p_value")},
            "closes": tests["closes"].astype("boolean"),
            "house_lets_pass": (let_pass & tests["steps_pass"].fillna(True).astype(bool))
            .astype("boolean")
            .mask(~gauged),
        },
        unite(pair["facts_e"], pair["facts_g"]),
    )
    shown = frame.index[gauged & ~agrees]
    found = list(_findings(pair, two, within, frame, shown, ids_of(readings), site))
    return frame, found + [
        one for name in pair.index if name in judged for one in _casks(judged[name], components, site)
    ]


def _casks(judged: Judged, components: pd.DataFrame, site: Site) -> Iterator[Finding]:
    """The cask whose dump differs from the others' beyond chance, and by more than the house lets pass."""
    place = judged.unlike
    if place < 0:
        return
    lost = float(judged.beside.missing[place] / judged.beside.mass[place])
    if -site["tolerances.gain_percent"] <= 100.0 * lost <= site["tolerances.dump_loss_percent"]:
        return
    streams = judged.account.streams
    stream = int(np.flatnonzero(streams.mass == judged.account.dumps.content[place])[0])
    facts = components["facts"][streams.row[stream]]
    yield cask_differs(judged.account.batch, streams.name[stream], facts, judged.beside, place)


def _tested(judged: Judged | None, site: Site) -> list[object]:
    """What the test of a batch's balances says, by the names of ``JUDGED``."""
    if judged is None:
        return [np.nan, np.nan, np.nan, None, None, None, np.nan, np.nan]
    account = judged.account
    gain = site["tolerances.gain_percent"] / 100.0
    shares = [(judged.misfit[row] / before, normal) for row, (_, before, normal) in account.steps.items()]
    return [
        judged.chi_square,
        float(judged.degrees),
        float(np.exp(judged.log_p)),
        judged.closes,
        judged.closes_at(account.at_vat),
        all(-gain <= share <= normal for share, normal in shares),
        *_smallest(judged),
    ]


def _smallest(judged: Judged) -> tuple[float, float]:
    """The smallest slip of one draw's strength [proof] and quantity [kg] that would be seen in half of the cases."""
    streams, value = judged.account.streams, judged.account.figures.value
    drawn = np.array(streams.side) == DRAWN
    smallest = judged.smallest_visible()
    strength = streams.strength[drawn]
    spirit = strength[value[strength] > 0.0]
    in_proof = smallest[spirit] * proof_per_fraction(value[spirit])
    return _least(in_proof), _least(smallest[streams.mass[drawn]])


def _least(values: Array) -> float:
    finite = values[np.isfinite(values)]
    return float(finite.min()) if finite.size else np.nan


def _within(two: Sides, site: Site) -> pd.DataFrame:
    """Per batch whether strength, mass and alcohol lie within the house's tolerance, and whether ``losses`` speaks."""
    gain, loss = site["tolerances.gain_percent"] / 100.0, two.loss
    own = site["tolerances.expected_mass_percent"] / 100.0
    mass, alcohol = two.expected_kg - two.gauged_kg, two.expected_ethanol_kg - two.gauged_ethanol_kg
    with np.errstate(divide="ignore", invalid="ignore"):  # something of nothing is beyond any share
        of_mass, of_alcohol = mass / two.expected_kg, alcohol / two.expected_ethanol_kg
        is_step = _is_step(of_mass, of_alcohol, two, gain, site)
    made = {
        "strength": np.abs(two.expected_proof - two.gauged_proof) <= site["tolerances.expected_proof"],
        "mass": _inside(of_mass, own, loss + own),
        "alcohol": _inside(of_alcohol, gain, loss),
        "is_step": is_step.astype(bool) & (two.expected_ethanol_kg > 0),
    }
    return pd.DataFrame(made).set_axis(range(len(mass)))


def _is_step(mass: Array, alcohol: Array, two: Sides, gain: float, site: Site) -> Array:
    """Whether ``losses`` names the difference as a gain or as a loss above the house's limit."""
    shares = alcohol, two.ethanol_u / two.expected_ethanol_kg, mass, two.mass_u / two.expected_kg
    sure = certain(site, 1)
    return np.asarray(is_gain(*shares, gain, sure) | is_loss(*shares, two.loss, sure))


def _inside(missing: Array, gain: float, loss: float) -> Array:
    """What is not measured cannot lie outside."""
    return np.asarray(np.isnan(missing) | ((missing >= -gain) & (missing <= loss)))


def _findings(
    pair: pd.DataFrame,
    two: Sides,
    within: pd.DataFrame,
    frame: pd.DataFrame,
    shown: pd.Index,
    of_readings: set[int],
    site: Site,
) -> Iterator[Finding]:
    for place in shown:
        batch = str(pair.index[place])
        facts = pointing_at(of_readings, pair["facts_g"].iloc[place], pair["facts_e"].iloc[place])
        strength, mass, _, is_step = within.iloc[place]
        if not strength:
            yield strength_differs(batch, facts, two, place, site)
        if not mass and not is_step:
            yield quantity_differs(batch, facts, two, place)
        if strength and mass and not is_step:
            yield does_not_close(batch, facts, frame.iloc[place])
