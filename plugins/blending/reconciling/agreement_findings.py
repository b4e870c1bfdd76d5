"""What a person is told of a batch whose vat does not hold what was drawn and added."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline import Finding
from pipeline.contract.site import Site
from plugins.blending.declared.settings import HOUSE
from plugins.blending.reconciling.casks import Beside
from plugins.blending.reconciling.imbalance import Sides


def strength_differs(batch: str, facts: tuple[int, ...], two: Sides, place: int, site: Site) -> Finding:
    expected, gauged, limit = two.expected_proof[place], two.gauged_proof[place], site["tolerances.expected_proof"]
    side = "weaker" if gauged < expected else "stronger"
    return Finding(
        "balance.strength-differs",
        "review",
        f"Batch {batch} gauged {gauged:.2f} proof, {abs(expected - gauged):.2f} {side} than the {expected:.2f} "
        f"expected from what was drawn and added (let pass: {limit:.2f}; uncertainty {two.proof_u[place]:.2f}).",
        subject=batch,
        batch=batch,
        facts=facts,
        column="reading",
        observed=f"{gauged:.2f} proof",
        expected=f"{expected:.2f} proof ± {limit:.2f}",
        rule=f"[tolerances] expected_proof, {HOUSE}",
        remedy="See the figures to check; look for water not written down, a wrong reading or a wrong quantity.",
    )


def quantity_differs(batch: str, facts: tuple[int, ...], two: Sides, place: int) -> Finding:
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


def does_not_close(batch: str, facts: tuple[int, ...], row: pd.Series) -> Finding:
    """Each difference alone is within what is let pass or unsure; together chance does not explain them."""
    chance = max(float(row["p_value"]), 1e-6)
    return Finding(
        "balance.does-not-close",
        "review",
        f"The account of batch {batch} misses by more than uncertainty and normal losses explain: chi-square "
        f"{row['chi_square']:.1f} of {row['degrees']:.0f}, which chance passes in {chance:.2g} of sound batches.",
        subject=batch,
        batch=batch,
        facts=facts,
        column="reading",
        observed=f"chi-square {row['chi_square']:.1f}",
        expected="a difference that chance and normal losses explain",
        rule="[tolerances] false_alarms_in_100, and conservation of mass and ethanol",
        remedy="See the figures to check, and gauge again if none of them was a slip.",
    )


def cask_differs(batch: str, cask: str, facts: tuple[int, ...], beside: Beside, place: int) -> Finding:
    """One cask lost, or gained, between its dump gauge and the draw unlike the others of the batch."""
    missing, mass = float(beside.missing[place]), float(beside.mass[place])
    others = 100.0 * float(np.median(np.delete(beside.missing / beside.mass, place)))
    word, drawn = ("more", mass - missing) if missing < 0 else ("less", mass - missing)
    return Finding(
        "balance.cask-unlike-the-others",
        "review",
        f"Of cask {cask} {drawn:.1f} kg were drawn for batch {batch}, {100.0 * abs(missing) / mass:.1f} % {word} than "
        f"the {mass:.1f} kg of its dump gauge; of the batch's other casks about {others:.1f} % went missing.",
        subject=cask,
        batch=batch,
        facts=facts,
        column="drawn_weight",
        observed=f"{drawn:.1f} kg drawn",
        expected=f"about {mass * (1.0 - others / 100.0):.1f} kg",
        rule="[tolerances] false_alarms_in_100, and conservation of mass",
        remedy="Compare the dump gauge with the draw: a tare, a digit, another cask's figure, spirit left in the cask.",
    )
