"""Strength that dissolved solids hide from a hydrometer and from a density meter alike.

27 CFR 30.32(b): 100 mg/100 mL hide 0.4 proof. 30.31 and 30.32(a): with more than 400 and up to 600
mg/100 mL the obscuration is added; 30.71 and 30.72: up to 400 it may be. 30.41: above 600 the true
proof wants distillation or an equal method, and nothing is added here; nor is anything taken from a
distilled sample's proof, whose apparent strength then is not known. The slope is by the
evaporation method, which 30.32(b) allows for spirits of 80 to 100 proof only; outside it is a house figure.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from plugins.proof.alcoholometry.formula import Array

PROOF_PER_MG_100ML = 0.004
ADDED_ABOVE, DISTILLED_ABOVE = 400.0, 600.0
EVAPORATION_PROOF = (80.0, 100.0)

COMPUTED = "computed from the density formula of OIML R 22, not read from an official table"
BASES = (
    f"{COMPUTED}; solids not known: apparent strength",
    f"{COMPUTED}; optional obscuration added (27 CFR 30.71)",
    f"{COMPUTED}; obscuration added (27 CFR 30.32)",
    f"{COMPUTED}; solids above 600 mg/100 mL: apparent strength, distillation needed (27 CFR 30.41)",
    f"{COMPUTED}; sample distilled and restored to volume: true strength (27 CFR 30.32)",
)
UNKNOWN, OPTIONAL, ADDED, TOO_HIGH, DISTILLED = range(len(BASES))
NOT_MEASURED = "; apparent strength not measured: volume and weight go by the density of the true strength"
HOUSE_FIGURE = "; the 0.4 proof per 100 mg/100 mL is a house figure outside 80 to 100 proof (27 CFR 30.32(b))"


def obscuration(solids_mg_100mL: ArrayLike) -> Array:
    """Proof hidden by dissolved solids. [proof]

    Parameters: solids [mg/100 mL]. NaN where they are not known or above 600 mg/100 mL, where the
    law wants distillation.
    """
    solids = np.asarray(solids_mg_100mL, dtype=np.float64)
    return np.where((solids >= 0.0) & (solids <= DISTILLED_ABOVE), PROOF_PER_MG_100ML * solids, np.nan)[()]


def ways(solids_mg_100mL: Array, is_distilled: NDArray[np.bool_]) -> NDArray[np.int8]:
    """Place in ``BASES`` that says how each strength was found. Parameters: solids, and who was distilled."""
    solids = solids_mg_100mL
    rules = [is_distilled, solids > DISTILLED_ABOVE, solids > ADDED_ABOVE, solids >= 0.0]
    return np.select(rules, [DISTILLED, TOO_HIGH, ADDED, OPTIONAL], UNKNOWN).astype(np.int8)


def basis_text(way: NDArray[np.int8], apparent_proof: Array) -> NDArray[np.object_]:
    """The sentence of each reading. Parameters: ``ways`` and the apparent proof (NaN: not measured)."""
    low, high = EVAPORATION_PROOF
    outside = ((apparent_proof < low) | (apparent_proof > high)) & np.isin(way, (OPTIONAL, ADDED))
    blind = (way == DISTILLED) & np.isnan(apparent_proof)
    texts = [text + more for more in ("", HOUSE_FIGURE, NOT_MEASURED) for text in BASES]
    return np.array(texts, dtype=object)[way + len(BASES) * (outside + 2 * blind)]
