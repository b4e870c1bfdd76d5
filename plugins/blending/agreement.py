"""The stage ``imbalances``: expected against gauged, batch by batch, with what a person must know."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

from pipeline import Finding, stage, unite
from pipeline.site import Site
from plugins.blending.entries import incomplete, usable
from plugins.blending.frames import IMBALANCES
from plugins.blending.imbalance import VISIBLE_Z, Sides, contraction, pairs, sides, smallest_visible
from plugins.blending.judgement import is_gain, is_loss
from plugins.blending.narrow import of_batches
from plugins.blending.places import ids_of, pointing_at
from plugins.blending.settings import HOUSE

AGREE = ("strength", "mass", "alcohol")


@stage(gives=IMBALANCES, narrow={"readings": of_batches})
def compare_with_gauge(
    balances: pd.DataFrame, components: pd.DataFrame, readings: pd.DataFrame, site: Site
) -> tuple[pd.DataFrame, list[Finding]]:
    """Compare what was drawn with what was gauged: scores, smallest visible slip, agreement.

    ``agrees`` is true where strength, mass and alcohol each differ by no more than the house's
    tolerance or twice the standard uncertainty; a quantity that was not gauged is not compared, nor
    is a batch of which a line had to be left out.
    """
    pair = pairs(balances, incomplete(components))
    if pair.empty:
        return IMBALANCES.empty(), []
    two = sides(pair, site["tolerances.process_loss_percent"] / 100.0)
    mass_z, ethanol_z, strength_z = two.scores()
    proof_slip, mass_slip = smallest_visible(pair, two, usable(components))
    within = _within(two, site)
    gauged = pair["entry_g"].notna().to_numpy()
    agrees = pd.Series(within[list(AGREE)].all(axis=1).to_numpy(), dtype="boolean").mask(~gauged)
    frame = IMBALANCES.build(
        {
            "batch": pair.index.to_series().reset_index(drop=True),
            "contraction_60F_gal": contraction(pair, usable(components)),
            "mass_z": mass_z,
            "ethanol_z": ethanol_z,
            "strength_z": strength_z,
            "smallest_visible_proof": proof_slip,
            "smallest_visible_kg": mass_slip,
            "agrees": agrees,
        },
        unite(pair["facts_e"], pair["facts_g"]),
    )
    return frame, list(_findings(pair, two, within[gauged], ids_of(readings), site))


def _within(two: Sides, site: Site) -> pd.DataFrame:
    """Per batch whether strength, mass and alcohol lie within tolerance or twice the uncertainty."""
    gain, loss = site["tolerances.gain_percent"] / 100.0, two.loss
    own = site["tolerances.expected_mass_percent"] / 100.0
    strength = np.abs(two.expected_proof - two.gauged_proof)
    mass, alcohol = two.expected_kg - two.gauged_kg, two.expected_ethanol_kg - two.gauged_ethanol_kg
    made = {
        "strength": strength <= np.maximum(site["tolerances.expected_proof"], VISIBLE_Z * two.proof_u),
        "mass": _inside(mass, two.expected_kg, own, loss + own, two.mass_u),
        "alcohol": _inside(alcohol, two.expected_ethanol_kg, gain, loss, two.ethanol_u),
        "is_step": _is_step(mass / two.expected_kg, alcohol / two.expected_ethanol_kg, two, gain),
    }
    return pd.DataFrame(made).set_axis(range(len(strength)))


def _is_step(mass: np.ndarray, alcohol: np.ndarray, two: Sides, gain: float) -> np.ndarray:
    """Whether ``losses`` names the difference as a gain or as a loss above the house's limit."""
    spreads = two.ethanol_u / two.expected_ethanol_kg, mass, two.mass_u / two.expected_kg
    return np.asarray(is_gain(alcohol, gain) | is_loss(alcohol, *spreads, two.loss))


def _inside(missing: np.ndarray, expected: np.ndarray, gain: float, loss: float, spread: np.ndarray) -> np.ndarray:
    """What is not measured cannot lie outside."""
    low, high = -np.maximum(gain * expected, VISIBLE_Z * spread), loss * expected + VISIBLE_Z * spread
    return np.isnan(missing) | ((missing >= low) & (missing <= high))


def _findings(
    pair: pd.DataFrame, two: Sides, within: pd.DataFrame, of_readings: set[int], site: Site
) -> Iterator[Finding]:
    for place in within.index:
        facts = pointing_at(of_readings, pair["facts_g"].iloc[place], pair["facts_e"].iloc[place])
        if not within["strength"][place]:
            yield _strength_differs(str(pair.index[place]), facts, two, place, site)
        if not within["mass"][place] and not within["is_step"][place]:
            yield _quantity_differs(str(pair.index[place]), facts, two, place, site)


def _strength_differs(batch: str, facts: tuple[int, ...], two: Sides, place: int, site: Site) -> Finding:
    expected, gauged = two.expected_proof[place], two.gauged_proof[place]
    limit = max(site["tolerances.expected_proof"], VISIBLE_Z * two.proof_u[place])
    side = "weaker" if gauged < expected else "stronger"
    return Finding(
        "balance.strength-differs",
        "review",
        f"Batch {batch} gauged {gauged:.2f} proof, {abs(expected - gauged):.2f} {side} than the {expected:.2f} "
        f"expected from what was drawn and added (let pass: {limit:.2f}).",
        subject=batch,
        batch=batch,
        facts=facts,
        column="reading",
        observed=f"{gauged:.2f} proof",
        expected=f"{expected:.2f} proof ± {limit:.2f}",
        rule=f"[tolerances] expected_proof, {HOUSE}",
        remedy="See the figures to check; look for water not written down, a wrong reading or a wrong quantity.",
    )


def _quantity_differs(batch: str, facts: tuple[int, ...], two: Sides, place: int, site: Site) -> Finding:
    expected, gauged = two.expected_kg[place], two.gauged_kg[place]
    percent = 100.0 * abs(gauged - expected) / expected
    more = gauged > expected
    hint = "Look for water that was not written down." if more else "Look for water written down but not added."
    return Finding(
        "balance.quantity-differs",
        "review",
        f"Batch {batch} gauged {gauged:.1f} kg, {percent:.1f} % {'more' if more else 'less'} than the "
        f"{expected:.1f} kg expected, while its alcohol closes.",
        subject=batch,
        batch=batch,
        facts=facts,
        column="volume",
        observed=f"{gauged:.1f} kg",
        expected=f"{expected:.1f} kg",
        rule=f"[tolerances] expected_mass_percent, {HOUSE}",
        remedy=hint,
    )
