"""When a loss or a gain is beyond what the house lets pass and uncertainty explains, as shares of what was there."""

from __future__ import annotations

from typing import Any

import numpy as np

from pipeline.contract.site import Site
from plugins.blending.reconciling.levels import one_sided_score


def certain(site: Site, steps: int) -> float:
    """How many standard uncertainties are beyond chance, where so many steps of a batch are looked at.

    Each is looked at for a gain and for a loss, and all together give no more false alarms than
    ``false_alarms_in_100`` of [tolerances] says.
    """
    return one_sided_score(site["tolerances.false_alarms_in_100"] / 100.0, 2 * steps)


def is_gain(alcohol: Any, alcohol_u: Any, mass: Any, mass_u: Any, allowed: float, sure: float) -> Any:
    """Whether alcohol grew by more than the allowed share, and it or the mass beyond ``sure`` times its uncertainty."""
    return _beyond(-np.asarray(alcohol), alcohol_u, -np.asarray(mass), mass_u, allowed, sure, sure_of_zero=True)


def is_loss(alcohol: Any, alcohol_u: Any, mass: Any, mass_u: Any, limit: float, sure: float) -> Any:
    """Whether more alcohol was lost than the limit, beyond ``sure`` times the uncertainty of it or of the mass."""
    return _beyond(np.asarray(alcohol), alcohol_u, np.asarray(mass), mass_u, limit, sure, sure_of_zero=False)


def _beyond(alcohol: Any, alcohol_u: Any, mass: Any, mass_u: Any, limit: float, sure: float, sure_of_zero: bool) -> Any:
    """Shares of alcohol and of mass with their standard uncertainties: beyond the limit, and beyond chance.

    Spilt spirit takes both alike, so that the mass, mostly better known, may show it as well as the alcohol.
    Of a loss it must be certain that it is beyond the limit; of a gain only that there is one.
    """
    start = 0.0 if sure_of_zero else limit
    certain_by_either = (alcohol > start + sure * np.asarray(alcohol_u)) | (mass > start + sure * np.asarray(mass_u))
    return (alcohol > limit) & certain_by_either
