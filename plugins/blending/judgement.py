"""When a loss or a gain is more than the house lets pass and uncertainty explains. Shares are of what there was before."""

from __future__ import annotations

from typing import Any

import numpy as np

from pipeline.site import Site
from plugins.blending.reconciling.levels import one_sided_score


def certain(site: Site, steps: int) -> float:
    """How many standard uncertainties are beyond chance, where so many steps of a batch are looked at.

    Each is looked at for a gain and for a loss, and all together give no more false alarms than
    ``false_alarms_in_100`` of [tolerances] says.
    """
    return one_sided_score(site["tolerances.false_alarms_in_100"] / 100.0, 2 * steps)


def is_gain(alcohol: Any, alcohol_u: Any, allowed: float, sure: float) -> Any:
    """Whether alcohol grew by more than the allowed share, beyond ``sure`` times the uncertainty."""
    gain = -np.asarray(alcohol)
    return (gain > allowed) & (gain > sure * np.asarray(alcohol_u))


def is_loss(alcohol: Any, alcohol_u: Any, mass: Any, mass_u: Any, limit: float, sure: float) -> Any:
    """Whether more alcohol was lost than the limit, beyond ``sure`` times the uncertainty.

    Parameters: lost shares of alcohol and of mass with their standard uncertainties. Spilt spirit
    takes both alike, so that the mass, mostly better known, may show it as well as the alcohol does.
    """
    by_alcohol = np.asarray(alcohol) > limit + sure * np.asarray(alcohol_u)
    by_mass = np.asarray(mass) > limit + sure * np.asarray(mass_u)
    return by_alcohol | (by_mass & (np.asarray(alcohol) > limit))
