"""The roundings that law prescribes for figures ending in ``_official``, each with its section.

27 CFR 30.23: a proof to the nearest tenth; in the hundredths digit less than five is dropped, five or
more adds a tenth. 30.51, 30.63 and 30.64 round wine gallons and proof gallons alike. Nothing else in
this plugin is rounded.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from plugins.proof.alcoholometry.formula import Array

# 35.05 is stored as 35.0499999999999972, and a reading comes back from its density within 1e-10 proof; what is
# that near a half (5e-10) was meant as one.
MEANT_DECIMALS = 8
RULES = {
    "proof_official": "27 CFR 30.23: to the nearest tenth of a proof, a half upwards",
    "wine_gallons_official": "27 CFR 30.64: to the nearest tenth of a gallon, a half upwards",
    "proof_gallons_official": "27 CFR 30.51: gallons by the proof to a tenth, to the nearest tenth, a half upwards",
}


def official_tenth(value: ArrayLike) -> Array:
    """To the nearest tenth, a half upwards, as the decimal figure reads. NaN stays NaN."""
    tenths = np.round(np.asarray(value, dtype=np.float64) * 10.0, MEANT_DECIMALS)
    return (np.floor(tenths + 0.5) / 10.0)[()]


def official_proof(proof: ArrayLike) -> Array:
    """Proof to the nearest tenth, a half upwards (27 CFR 30.23). [proof]"""
    return official_tenth(proof)


def official_proof_gallons(gallons_60F: ArrayLike, proof_60F: ArrayLike) -> Array:
    """Proof gallons of one gauge: gallons at 60 degF by the proof to a tenth, to the nearest tenth (27 CFR 30.51)."""
    gallons = np.asarray(gallons_60F, dtype=np.float64)
    return official_tenth(gallons * official_proof(proof_60F) / 100.0)
