"""From mass and strength to the quantities that are accounted for, and from volume to mass."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from plugins.proof.alcoholometry.formula import Array, density
from plugins.proof.alcoholometry.strength import T_20C, T_60F, abv_from_mass_fraction, proof_from_mass_fraction

LITRES_PER_GALLON = 3.785411784
LITRES_PER_M3 = 1000.0


def volume_L(mass_kg: ArrayLike, mass_fraction: ArrayLike, temperature_degC: ArrayLike) -> Array:
    """Volume of a mass of mixture at a temperature. [L]

    Parameters: true mass [kg], mass fraction [0..1], temperature [degC]; they broadcast.
    NaN outside the range of ``density``.
    """
    mass = np.asarray(mass_kg, dtype=np.float64)
    return mass / density(mass_fraction, temperature_degC) * LITRES_PER_M3


def mass_from_volume(volume_L: ArrayLike, mass_fraction: ArrayLike, temperature_degC: ArrayLike) -> Array:
    """True mass of a volume of mixture measured at a temperature. [kg] The inverse of ``volume_L``."""
    volume = np.asarray(volume_L, dtype=np.float64)
    return volume * density(mass_fraction, temperature_degC) / LITRES_PER_M3


def quantities(mass_kg: ArrayLike, mass_fraction: ArrayLike) -> dict[str, Array]:
    """The quantities of an account from true mass and mass fraction of ethanol.

    Parameters: true mass [kg] and mass fraction [0..1], scalars or arrays that broadcast.
    Returns ``ethanol_kg``, ``volume_60F_gal`` (US gallons at 60 degF), ``volume_20C_L``,
    ``proof_60F``, ``abv_20C``, ``proof_gallons`` (gallons at 60 degF x proof / 100, 27 CFR 30.51)
    and ``lpa`` (litres of pure alcohol at 20 degC), none rounded, NaN outside the formula's range.
    """
    mass, w = np.broadcast_arrays(np.asarray(mass_kg, dtype=np.float64), np.asarray(mass_fraction, dtype=np.float64))
    ethanol = mass * w
    gallons = volume_L(mass, w, T_60F) / LITRES_PER_GALLON
    proof = proof_from_mass_fraction(w)
    return {
        "ethanol_kg": ethanol[()],
        "volume_60F_gal": gallons,
        "volume_20C_L": volume_L(mass, w, T_20C),
        "proof_60F": proof,
        "abv_20C": abv_from_mass_fraction(w),
        "proof_gallons": gallons * proof / 100.0,
        "lpa": ethanol / density(1.0, T_20C) * LITRES_PER_M3,
    }
