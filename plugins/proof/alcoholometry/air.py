"""Weight in air and true mass.

A scale adjusted with weights of 8,000 kg/m3 in air of 1.2 kg/m3 (the conventional values of
OIML R 111) shows a liquid lighter than it is, because the liquid displaces more air than the weights.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from plugins.proof.alcoholometry.formula import Array

AIR_KG_M3 = 1.2
WEIGHTS_KG_M3 = 8000.0


def _shown_per_mass(density_kg_m3: ArrayLike) -> Array:
    rho = np.asarray(density_kg_m3, dtype=np.float64)
    rho = np.where(rho > AIR_KG_M3, rho, np.nan)
    return (1.0 - AIR_KG_M3 / rho) / (1.0 - AIR_KG_M3 / WEIGHTS_KG_M3)


def mass_from_weight(weight_kg: ArrayLike, density_kg_m3: ArrayLike) -> Array:
    """True mass of a liquid from its net weight as a scale shows it in air. [kg]

    Parameters: weight [kg] and density of the liquid [kg/m3], scalars or arrays that broadcast.
    mass = weight (1 - 1.2/8000) / (1 - 1.2/density); NaN where the density is no liquid's.
    """
    return (np.asarray(weight_kg, dtype=np.float64) / _shown_per_mass(density_kg_m3))[()]


def weight_from_mass(mass_kg: ArrayLike, density_kg_m3: ArrayLike) -> Array:
    """What a scale in air shows for a true mass of liquid. [kg] The inverse of ``mass_from_weight``."""
    return (np.asarray(mass_kg, dtype=np.float64) * _shown_per_mass(density_kg_m3))[()]


def density_in_air(density_kg_m3: ArrayLike) -> Array:
    """Weight in air per volume of a liquid of this density in vacuo. [kg/m3] Parameters: density [kg/m3]."""
    rho = np.asarray(density_kg_m3, dtype=np.float64)
    return ((rho - AIR_KG_M3) / (1.0 - AIR_KG_M3 / WEIGHTS_KG_M3))[()]


def density_from_air(in_air_kg_m3: ArrayLike) -> Array:
    """Density in vacuo from the weight in air per volume. [kg/m3] The inverse of ``density_in_air``."""
    return (np.asarray(in_air_kg_m3, dtype=np.float64) * (1.0 - AIR_KG_M3 / WEIGHTS_KG_M3) + AIR_KG_M3)[()]
