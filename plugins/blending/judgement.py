"""When a loss or a gain is more than the house lets pass. Shares are of what there was before."""

from __future__ import annotations

from typing import Any

import numpy as np

CERTAIN = 2.0


def is_gain(alcohol: Any, allowed: float) -> Any:
    """Whether alcohol grew by more than the allowed share, certain or not: a person always looks."""
    return -np.asarray(alcohol) > allowed


def is_loss(alcohol: Any, alcohol_u: Any, mass: Any, mass_u: Any, limit: float) -> Any:
    """Whether more alcohol was lost than the limit, beyond twice the uncertainty.

    Parameters: lost shares of alcohol and of mass with their standard uncertainties. Spilt spirit
    takes both alike, so that the mass, mostly better known, may show it as well as the alcohol does.
    """
    by_alcohol = np.asarray(alcohol) > limit + CERTAIN * np.asarray(alcohol_u)
    by_mass = np.asarray(mass) > limit + CERTAIN * np.asarray(mass_u)
    return by_alcohol | (by_mass & (np.asarray(alcohol) > limit))
