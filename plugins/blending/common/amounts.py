"""From mass and the two ethanol masses to every quantity of an account.

Three masses are conserved when spirits are mixed: total mass M, ethanol E, and A, the ethanol that
the apparent strength would mean. Where solids are not known A = E. Volume follows from M and the
apparent density (wine gallons by weight use the apparent density), proof gallons from that volume
and the true proof (27 CFR 30.41, 30.51), so that solids dilute as the spirit does.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from pipeline.common.sums import sum_by
from plugins import proof

Array = NDArray[np.float64]
LITRES_PER_M3 = 1000.0
SLOPE_STEP = 1e-5


def floats(table: pd.DataFrame, name: str) -> Array:
    """A column as a float64 array."""
    return table[name].to_numpy("float64")


def added_up(table: pd.DataFrame, by: list[pd.Series]) -> pd.DataFrame:
    """Sums of each group's rows, in order of the groups, NaN as nothing; no other group changes a bit of them."""
    groups = table.groupby(by, sort=True)
    sums = sum_by(table.to_numpy("float64"), groups.ngroup(), groups.ngroups)
    return pd.DataFrame(sums, index=groups.size().index, columns=table.columns)


def ethanol_masses(mass_kg: ArrayLike, proof_60F: ArrayLike, proof_apparent_60F: ArrayLike) -> tuple[Array, Array]:
    """Ethanol mass E and apparent ethanol mass A [kg] of masses [kg] at true and apparent proof.

    E = volume at 60 °F by the apparent density × proof / 200 × density of ethanol at 60 °F.
    NaN where anything is missing or outside 0..200 proof.
    """
    mass = np.asarray(mass_kg, dtype=np.float64)
    true, apparent_proof = np.asarray(proof_60F, dtype=np.float64), np.asarray(proof_apparent_60F, dtype=np.float64)
    apparent = proof.mass_fraction_from_proof(apparent_proof)
    volume = proof.volume_L(mass, apparent, proof.T_60F) / LITRES_PER_M3
    ethanol = volume * true / 200.0 * proof.density(1.0, proof.T_60F)
    return np.where(true == apparent_proof, mass * apparent, ethanol), mass * apparent


def quantities(mass_kg: ArrayLike, ethanol_kg: ArrayLike, apparent_ethanol_kg: ArrayLike) -> dict[str, Array]:
    """Every quantity of an account from the three conserved masses [kg], none rounded.

    Returns arrays by column name: volume_60F_gal, volume_20C_L, proof_60F, proof_apparent_60F,
    abv_20C, proof_gallons, lpa; NaN where a mass is missing or nothing.
    """
    mass, ethanol = np.asarray(mass_kg, dtype=np.float64), np.asarray(ethanol_kg, dtype=np.float64)
    apparent = np.asarray(apparent_ethanol_kg, dtype=np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        fraction = np.clip(np.where(mass > 0, apparent / mass, np.nan), 0.0, 1.0)
        litres_60F = proof.volume_L(mass, fraction, proof.T_60F)
        litres_20C = proof.volume_L(mass, fraction, proof.T_20C)
        pure_60F = ethanol / proof.density(1.0, proof.T_60F) * LITRES_PER_M3
        pure_20C = ethanol / proof.density(1.0, proof.T_20C) * LITRES_PER_M3
        strength = 200.0 * pure_60F / litres_60F
        gallons = litres_60F / proof.LITRES_PER_GALLON
        return {
            "volume_60F_gal": gallons,
            "volume_20C_L": litres_20C,
            "proof_60F": strength,
            "proof_apparent_60F": proof.proof_from_mass_fraction(fraction),
            "abv_20C": 100.0 * pure_20C / litres_20C,
            "proof_gallons": gallons * strength / 100.0,
            "lpa": pure_20C,
        }


def proof_per_fraction(mass_fraction: ArrayLike) -> Array:
    """Slope of proof at 60 °F by mass fraction [proof], by central difference inside 0..1."""
    fraction = np.asarray(mass_fraction, dtype=np.float64)
    low, high = np.clip(fraction - SLOPE_STEP, 0.0, 1.0), np.clip(fraction + SLOPE_STEP, 0.0, 1.0)
    with np.errstate(invalid="ignore"):
        rise = proof.proof_from_mass_fraction(high) - proof.proof_from_mass_fraction(low)
        return rise / (high - low)


def spread(mass_kg: Array, fraction: Array, mass_u: Array, proof_u: Array) -> tuple[Array, Array, Array]:
    """Variance of M, variance of E, and their covariance, of one amount with independent M and strength.

    Parameters: mass [kg], mass fraction, standard uncertainties of mass [kg] and of proof.
    """
    slope = proof_per_fraction(fraction)
    fraction_u = np.where(proof_u == 0, 0.0, proof_u / slope)
    return mass_u**2, (fraction * mass_u) ** 2 + (mass_kg * fraction_u) ** 2, fraction * mass_u**2


def volume_spread(gallons: pd.Series, fraction: Array, table: pd.DataFrame) -> Array:
    """Standard uncertainty of volumes at 60 °F, first order in mass and ethanol. [gal]

    Parameters: volumes, mass fractions of ethanol, and a table with mass_kg, var_mass, var_ethanol and covariance.
    """
    w, mass = np.asarray(fraction, dtype=np.float64), floats(table, "mass_kg")
    low, high = np.clip(w - SLOPE_STEP, 0.0, 1.0), np.clip(w + SLOPE_STEP, 0.0, 1.0)
    with np.errstate(invalid="ignore", divide="ignore"):
        rho = proof.density(w, proof.T_60F)
        thinner = (proof.density(low, proof.T_60F) - proof.density(high, proof.T_60F)) / (high - low) / rho
        by_mass, by_ethanol = (1.0 - w * thinner) / mass, thinner / mass
        share = by_mass**2 * floats(table, "var_mass") + by_ethanol**2 * floats(table, "var_ethanol")
        share += 2.0 * by_mass * by_ethanol * floats(table, "covariance")
    return gallons.to_numpy("float64") * np.sqrt(np.maximum(share, 0.0))


def fraction_variance(mass: ArrayLike, fraction: ArrayLike, var_m: ArrayLike, var_e: ArrayLike, cov: ArrayLike) -> Any:
    """Variance of E/M from the variances of M and E and their covariance, first order."""
    m, w = np.asarray(mass, dtype=np.float64), np.asarray(fraction, dtype=np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.maximum(np.asarray(var_e) - 2.0 * w * np.asarray(cov) + w**2 * np.asarray(var_m), 0.0) / m**2
