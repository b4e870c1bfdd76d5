"""The one rounding that law prescribes: to the nearest tenth, a half upwards.

27 CFR 30.23: in the hundredths digit less than five is dropped, five or more adds a tenth; 30.51 and
30.63 round gallons and proof gallons alike. Nothing else in this plugin is rounded.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from plugins.proof.formula import Array

# 35.05 is stored as 35.0499999999999972; what is that near a half was meant as one.
MEANT_DECIMALS = 9


def official_tenth(value: ArrayLike) -> Array:
    """To the nearest tenth, a half upwards, as the decimal figure reads. NaN stays NaN."""
    tenths = np.round(np.asarray(value, dtype=np.float64) * 10.0, MEANT_DECIMALS)
    return (np.floor(tenths + 0.5) / 10.0)[()]


def official_proof(proof: ArrayLike) -> Array:
    """Proof to the nearest tenth, a half upwards (27 CFR 30.23). [proof]"""
    return official_tenth(proof)
