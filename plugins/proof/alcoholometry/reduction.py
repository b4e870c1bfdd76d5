"""Reduction: how much water, in which steps, and what to do after the gauge.

The last part of the water is held back until a gauge of the rested spirit, then trimmed: a vat that is
too weak can be mended with spirit only, and by some rules of law not with any other than its own. All by
conservation of total mass and of ethanol mass; strengths as mass fractions, weights as true masses.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from plugins.proof.alcoholometry.amounts import LITRES_PER_GALLON, mass_from_volume, volume_L
from plugins.proof.alcoholometry.formula import Array
from plugins.proof.alcoholometry.mixing import below, water_to_reach
from plugins.proof.alcoholometry.strength import T_60F, proof_from_mass_fraction

HOLD_BACK = 0.05


@dataclass(frozen=True)
class Steps:
    """A reduction step by step; arrays of one entry per step, the last one being the water held back.

    ``water_kg`` goes in at the step; ``mass_kg``, ``mass_fraction``, ``proof_60F`` and ``volume_60F_gal``
    are of the spirit after it, rested and mixed.
    """

    water_kg: Array
    mass_kg: Array
    mass_fraction: Array
    proof_60F: Array
    volume_60F_gal: Array


def reduction_steps(
    mass_kg: float, mass_fraction: float, target_mass_fraction: float, steps: int = 1, hold_back: float = HOLD_BACK
) -> Steps:
    """A reduction in equal additions of water, the last part of it held back until a gauge.

    Parameters: true mass of spirit [kg], its mass fraction and the target's [0..1], the number of
    additions before the gauge, and the share of all water that is held back for the trim (0..1; 0 holds
    none back and leaves the last step out). NaN throughout where water cannot reach the target. Raises
    ValueError where there is no step or the share is none.
    """
    if steps < 1 or not 0.0 <= hold_back < 1.0:
        raise ValueError(f"{steps} steps with {hold_back} held back: at least one step, and a share from 0 to below 1")
    water = float(water_to_reach(mass_kg, mass_fraction, target_mass_fraction))
    each = [water * (1.0 - hold_back) / steps] * steps + ([water * hold_back] if hold_back else [])
    added = np.array(each)
    mass = mass_kg + np.cumsum(added)
    fraction = mass_kg * mass_fraction / mass
    return Steps(
        added,
        mass,
        fraction,
        proof_from_mass_fraction(fraction),
        volume_L(mass, fraction, T_60F) / LITRES_PER_GALLON,
    )


def trim(mass_kg: ArrayLike, gauged: ArrayLike, target: ArrayLike, at_hand: ArrayLike = np.nan) -> tuple[Array, Array]:
    """Water [kg] or spirit [kg] that brings what was gauged to the target.

    Parameters: true mass in the vat [kg]; mass fractions [0..1] as gauged, of the target, and of a spirit
    at hand; they broadcast. Where the gauge is at or above the target, but for rounding, water and no spirit;
    where it is below, no water and spirit, NaN where none at hand is stronger than the target.
    """
    mass, w = np.asarray(mass_kg, dtype=np.float64), np.asarray(gauged, dtype=np.float64)
    aim, strong = np.asarray(target, dtype=np.float64), np.asarray(at_hand, dtype=np.float64)
    water = water_to_reach(mass, w, aim)
    weak = below(w, aim)
    with np.errstate(divide="ignore", invalid="ignore"):
        spirit = np.where(strong > aim, mass * (aim - w) / (strong - aim), np.nan)
    nothing = np.where(np.isnan(mass + w + aim), np.nan, 0.0)
    return np.where(weak, nothing, water)[()], np.where(weak, spirit, nothing)[()]


def to_fill(volume_L_wanted: ArrayLike, mass_fraction: ArrayLike, target: ArrayLike, at_degC: ArrayLike) -> Array:
    """True mass of spirit [kg] that, reduced to the target, fills a volume; the rest of the mass is water.

    Parameters: the volume wanted [L] at a temperature [degC], the mass fractions of the spirit and of the
    target [0..1]; they broadcast. All of it is spirit where the target is its strength, but for rounding; NaN where
    water cannot reach the target.
    """
    w, aim = np.asarray(mass_fraction, dtype=np.float64), np.asarray(target, dtype=np.float64)
    filled = mass_from_volume(volume_L_wanted, aim, at_degC)
    with np.errstate(divide="ignore", invalid="ignore"):
        spirit = np.minimum(filled * aim / w, filled)
    return np.where((aim > 0.0) & ~below(w, aim), spirit, np.nan)[()]
