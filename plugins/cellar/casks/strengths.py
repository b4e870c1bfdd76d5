"""Strengths as sheets of casks and movements state them."""

from __future__ import annotations

import numpy as np
import pandas as pd

from plugins import proof


def stated_proof(values: pd.Series, units: pd.Series) -> np.ndarray:
    """Strengths as stated in a sheet as proof at 60 degF; NaN where there is none."""
    fraction = proof.mass_fraction_from_strength(values.to_numpy(float), units.to_numpy(object))
    return np.asarray(proof.proof_from_mass_fraction(fraction), dtype=float)
