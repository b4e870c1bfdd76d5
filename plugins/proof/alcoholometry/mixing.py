"""Mixing by conservation of total mass and of ethanol mass. Volumes are never added."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from plugins.proof.alcoholometry.formula import Array

ROUNDING = 1e-12
"""Part by which two mass fractions of one strength may differ, since each was reckoned from a proof."""


def mix(mass_kg: ArrayLike, mass_fraction: ArrayLike, by: ArrayLike | None = None) -> tuple[Array, Array]:
    """Total mass [kg] and mass fraction of ethanol [0..1] of what is mixed.

    Parameters: true masses and mass fractions of the parts (they broadcast; water has fraction 0),
    and optionally ``by``, the group that each part belongs to. Without ``by`` two scalars; with it
    one value per group, in the order of ``numpy.unique(by)``. A negative mass takes out. A NaN part
    makes its group NaN; a total of nothing has no strength (NaN).
    """
    mass, w = np.broadcast_arrays(np.asarray(mass_kg, dtype=np.float64), np.asarray(mass_fraction, dtype=np.float64))
    if by is None:
        total, ethanol = mass.sum(), (mass * w).sum()
    else:
        groups, place = np.unique(np.asarray(by), return_inverse=True)
        total = np.bincount(place.reshape(-1), weights=mass.reshape(-1), minlength=groups.size)
        ethanol = np.bincount(place.reshape(-1), weights=(mass * w).reshape(-1), minlength=groups.size)
    with np.errstate(divide="ignore", invalid="ignore"):
        return total, np.where(total != 0.0, ethanol / total, np.nan)[()]


def below(mass_fraction: ArrayLike, target: ArrayLike) -> NDArray[np.bool_]:
    """Whether a strength lies below a target by more than rounding; both as mass fractions [0..1], False for NaN."""
    return np.asarray(target, dtype=np.float64) > np.asarray(mass_fraction, dtype=np.float64) * (1.0 + ROUNDING)


def water_to_reach(mass_kg: ArrayLike, mass_fraction: ArrayLike, target_mass_fraction: ArrayLike) -> Array:
    """Mass of water that brings a spirit down to a strength. [kg]

    Parameters: true mass of spirit [kg], its mass fraction and the target's [0..1]; they broadcast.
    Zero where the strength is reached already, but for rounding; NaN where the target is above the
    strength (water cannot raise it), not above 0, or anything is missing.
    """
    mass, w = np.asarray(mass_kg, dtype=np.float64), np.asarray(mass_fraction, dtype=np.float64)
    target = np.asarray(target_mass_fraction, dtype=np.float64)
    possible = (target > 0.0) & ~below(w, target)
    return np.where(possible, mass * np.maximum(w / np.where(target > 0.0, target, 1.0) - 1.0, 0.0), np.nan)[()]
