"""Whether expected and gauged agree: how far apart, over how well both are known.

Three scores for each batch: of mass, of ethanol and of strength. Mass and ethanol may be lost on the
way, so that only a gain, or a loss beyond the house's normal one, counts (the score is 0 between);
strength is not lost. What figures share (hydrometer, thermometer, scale) is as the batch's network has it:
it does not average out among the draws, and drops out of the difference as far as both sides have it. Like
strengths are compared: true with true where both are, else apparent with apparent, so that no guess of
solids enters. Whether a batch closes is for the test of its whole network; these scores show where it does not.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline.common.sums import sum_by
from plugins.blending.common.amounts import proof_per_fraction
from plugins.blending.reconciling.account import Account
from plugins.blending.reconciling.judged import apart

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Sides:
    """Expected and gauged of some batches, one array entry each; NaN where not measured.

    Masses in kg, strengths as mass fraction of ethanol and as proof, ``_u`` standard uncertainties.
    ``loss`` is the share that the house normally loses between the two.
    """

    expected_kg: Array
    expected_ethanol_kg: Array
    expected_proof: Array
    gauged_kg: Array
    gauged_ethanol_kg: Array
    gauged_proof: Array
    mass_u: Array
    ethanol_u: Array
    proof_u: Array
    loss: float

    def scores(self) -> tuple[Array, Array, Array]:
        """z of mass, of ethanol and of strength. Without a gauged quantity, ethanol's is that of strength."""
        mass = beyond(self.expected_kg, self.gauged_kg, self.loss) / self.mass_u
        strength = (self.expected_proof - self.gauged_proof) / self.proof_u
        ethanol = beyond(self.expected_ethanol_kg, self.gauged_ethanol_kg, self.loss) / self.ethanol_u
        return mass, np.where(np.isnan(self.gauged_kg), strength, ethanol), strength


def beyond(expected: Array, gauged: Array, loss: float) -> Array:
    """What of expected − gauged is a gain (negative) or more than the normal loss (positive)."""
    missing = expected - gauged
    return np.where(missing < 0, missing, np.maximum(missing - loss * expected, 0.0)) + 0.0 * missing


def pairs(balances: pd.DataFrame, without: set[str]) -> pd.DataFrame:
    """Expected and gauged side by side, by batch; columns with the suffixes _e and _g.

    Batches in ``without``, whose sums are not whole, stand without their gauge.
    """
    entry = balances["entry"]
    expected = balances[entry == "expected"].set_index("batch")
    gauged = balances[(entry == "gauged") & ~balances["batch"].isin(without)].set_index("batch")
    return expected.add_suffix("_e").join(gauged.add_suffix("_g")).sort_index()


def sides(pair: pd.DataFrame, found: Mapping[str, Account], loss: float) -> Sides:
    """The two sides of each batch of ``pairs``, like strengths compared with like; ``found`` are their accounts."""
    true = ((pair["strength_basis_e"] == "true") & (pair["strength_basis_g"] == "true")).to_numpy()

    def like(side: str, of_true: str, of_apparent: str) -> Array:
        # An apparent strength that was not measured cannot be compared; the true one stands in.
        apparent = pair[f"{of_apparent}_{side}"].fillna(pair[f"{of_true}_{side}"])
        return np.where(true, pair[f"{of_true}_{side}"].to_numpy("float64"), apparent.to_numpy("float64"))

    spread = np.array([apart(found[name]) if name in found else (np.nan,) * 3 for name in pair.index]).reshape(-1, 3)
    mass_e = pair["mass_kg_e"].to_numpy("float64")
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.clip(like("e", "ethanol_kg", "apparent_ethanol_kg") / mass_e, 0.0, 1.0)
    return Sides(
        pair["mass_kg_e"].to_numpy("float64"),
        like("e", "ethanol_kg", "apparent_ethanol_kg"),
        like("e", "proof_60F", "proof_apparent_60F"),
        pair["mass_kg_g"].to_numpy("float64"),
        like("g", "ethanol_kg", "apparent_ethanol_kg"),
        like("g", "proof_60F", "proof_apparent_60F"),
        spread[:, 0],
        spread[:, 1],
        spread[:, 2] * proof_per_fraction(mean),
        loss,
    )


def contraction(pair: pd.DataFrame, components: pd.DataFrame) -> Array:
    """Sum of the components' volumes at 60 °F less the volume of the sum. [US gal]"""
    codes = pair.index.get_indexer(pd.Index(components["batch"]))
    volumes = sum_by(components["volume_60F_gal"].to_numpy("float64"), codes, len(pair))
    return volumes - pair["volume_60F_gal_e"].to_numpy("float64")
