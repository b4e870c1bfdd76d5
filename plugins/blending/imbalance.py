"""Whether expected and gauged agree: how far apart, over how well both are known.

Three scores for each batch: of mass, of ethanol and of strength. Mass and ethanol may be lost on the
way, so that only a gain, or a loss beyond the house's normal one, counts (the score is 0 between);
strength is not lost. A hydrometer or a thermometer that draws and gauge share makes errors in common:
they do not average out among the draws, and drop out of the difference as far as both sides have them.
Quantities are taken as independent here; a scale that all were weighed on is not. Like strengths are
compared: true with true where both are, else apparent with apparent, so that no guess of solids enters.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from plugins.blending.amounts import proof_per_fraction

Array = NDArray[np.float64]
VISIBLE_Z = 2.0
# Of the variance of both sides at least this much is their own: no instrument errs quite alike on two days.
LEAST_SHARE = 0.25


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

    def worst(self) -> Array:
        """The largest of the three scores without its sign; NaN where there is none."""
        scores = np.abs(np.vstack([np.atleast_1d(score) for score in self.scores()]))
        return np.where(np.isnan(scores).all(axis=0), np.nan, np.nan_to_num(scores).max(axis=0))


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


def sides(pair: pd.DataFrame, loss: float) -> Sides:
    """The two sides of each batch of ``pairs``, like strengths compared with like."""
    true = ((pair["strength_basis_e"] == "true") & (pair["strength_basis_g"] == "true")).to_numpy()

    def like(side: str, of_true: str, of_apparent: str) -> Array:
        # An apparent strength that was not measured cannot be compared; the true one stands in.
        apparent = pair[f"{of_apparent}_{side}"].fillna(pair[f"{of_true}_{side}"])
        return np.where(true, pair[f"{of_true}_{side}"].to_numpy("float64"), apparent.to_numpy("float64"))

    def together(name: str) -> Array:
        return np.hypot(pair[f"{name}_e"].to_numpy("float64"), pair[f"{name}_g"].to_numpy("float64"))

    # E / M and so the proof of the mixture per kg of its ethanol; kg of gauged ethanol per proof.
    in_common = pair["shared_with_expected_g"].fillna(0.0).to_numpy("float64")
    mass_e, mass_g = (pair[f"mass_kg_{side}"].to_numpy("float64") for side in "eg")
    per_kg = proof_per_fraction(np.clip(pair["ethanol_kg_e"].to_numpy("float64") / mass_e, 0.0, 1.0)) / mass_e
    per_proof = mass_g / proof_per_fraction(np.clip(pair["ethanol_kg_g"].to_numpy("float64") / mass_g, 0.0, 1.0))

    def apart(name: str, covariance: Array) -> Array:
        squares = together(name) ** 2
        return np.sqrt(np.maximum(squares - 2.0 * np.nan_to_num(covariance), LEAST_SHARE * squares))

    return Sides(
        pair["mass_kg_e"].to_numpy("float64"),
        like("e", "ethanol_kg", "apparent_ethanol_kg"),
        like("e", "proof_60F", "proof_apparent_60F"),
        pair["mass_kg_g"].to_numpy("float64"),
        like("g", "ethanol_kg", "apparent_ethanol_kg"),
        like("g", "proof_60F", "proof_apparent_60F"),
        together("mass_uncertainty_kg"),
        apart("ethanol_uncertainty_kg", in_common * per_proof),
        apart("proof_uncertainty", in_common * per_kg),
        loss,
    )


def smallest_visible(pair: pd.DataFrame, two: Sides, spirits: pd.DataFrame) -> tuple[Array, Array]:
    """The smallest slip of one draw's strength [proof] and of one draw's quantity [kg] that could show.

    ``spirits``: batch, mass_kg and mass_fraction of every usable line. A slip shows when by itself it
    takes one of the three scores to 2, in the direction in which nothing is excused by normal loss; it
    is then seen in half of the cases. The largest draw shows the smallest slip of strength.
    """
    total = two.expected_kg
    with np.errstate(divide="ignore", invalid="ignore"):
        fraction = two.expected_ethanol_kg / total
    in_mix = proof_per_fraction(np.clip(fraction, 0.0, 1.0))
    limit_fraction = VISIBLE_Z * two.proof_u / in_mix
    ethanol = np.fmin(limit_fraction * total, VISIBLE_Z * two.ethanol_u)
    of_batch = spirits["batch"].map(dict(zip(pair.index, range(len(pair)), strict=True)))
    rows = spirits[of_batch.notna()]
    place = of_batch.dropna().to_numpy(dtype=int)
    mass, w = rows["mass_kg"].to_numpy("float64"), rows["mass_fraction"].to_numpy("float64")
    own = np.where(w > 0, proof_per_fraction(w) * ethanol[place] / mass, np.nan)
    with np.errstate(divide="ignore"):
        by_strength = limit_fraction[place] * total[place] / np.abs(w - fraction[place])
        by_ethanol = np.where(w > 0, VISIBLE_Z * two.ethanol_u[place] / np.where(w > 0, w, 1.0), np.nan)
    by_mass = VISIBLE_Z * two.mass_u[place]
    kilograms = np.fmin(np.fmin(by_mass, by_ethanol), by_strength)
    return _least(own, place, len(pair)), _least(kilograms, place, len(pair))


def _least(values: Array, place: NDArray[np.int_], size: int) -> Array:
    """The least finite value at each place, NaN where there is none."""
    least = np.full(size, np.inf)
    finite = np.isfinite(values)
    np.minimum.at(least, place[finite], values[finite])
    return np.where(np.isfinite(least), least, np.nan)


def contraction(pair: pd.DataFrame, components: pd.DataFrame) -> Array:
    """Sum of the components' volumes at 60 °F less the volume of the sum. [US gal]"""
    volumes = components["volume_60F_gal"].groupby(components["batch"]).sum()
    return volumes.reindex(pair.index).to_numpy("float64") - pair["volume_60F_gal_e"].to_numpy("float64")
