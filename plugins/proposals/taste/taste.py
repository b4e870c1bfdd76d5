"""How taste blends: a power law for each flavour family, honest about what it rests on.

Intensity I of a family grows with concentration C as I = k C^n. So x = I^(1/n) is a concentration in
units of its own, x mixes by volume at one strength, and the blend's intensity is x^n. With n below 1 a
tenth of a smoky cask is far more than a tenth of its smoke.

The exponents are proposals, not measurements: about 0.5 for smoke and faults (0.3 to 0.8), 0.6 for other
aromas (0.4 to 0.9), 1 for sweetness, body and dryness. Sources of the ranges: odour exponents 0.2 to 0.8
and sugars about 1.3 of the psychophysical literature; burn of ethanol about 1 from 32 to 48 % vol.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[Any]  # of float64 where nothing else is said

SCALES = ("body", "sweetness", "dry_grip", "heat", "length_balance")
NOTICED = 4  # people pick out three or four odours of a mixture, trained or not
PROPOSED = "proposal, not measured"


@dataclass(frozen=True)
class Exponent:
    """The exponent n of a family with the range in which it may lie."""

    n: float
    low: float
    high: float
    source: str = PROPOSED


_STRONG = Exponent(0.5, 0.3, 0.8)
_AROMA = Exponent(0.6, 0.4, 0.9)
_EXPONENTS = {
    "smoke_peat": _STRONG,
    "off_notes": _STRONG,
    "sweetness": Exponent(1.0, 0.8, 1.3),
    **dict.fromkeys(("body", "dry_grip", "heat", "length_balance"), Exponent(1.0, 0.8, 1.2)),
}


def exponent(family: str) -> Exponent:
    """The proposed exponent of a family of the lexicon."""
    return _EXPONENTS.get(family, _AROMA)


def to_x(intensity: ArrayLike, n: ArrayLike) -> Array:
    """Intensity 0..10 → what mixes by volume. NaN stays NaN; below 0 counts as 0."""
    value = np.asarray(intensity, dtype=np.float64)
    return np.power(np.where(value < 0.0, 0.0, value), 1.0 / np.asarray(n, dtype=np.float64))


def to_intensity(x: ArrayLike, n: ArrayLike) -> Array:
    """What mixes by volume → intensity."""
    value = np.asarray(x, dtype=np.float64)
    return np.power(np.where(value < 0.0, 0.0, value), np.asarray(n, dtype=np.float64))


def mixed(shares: ArrayLike, intensity: ArrayLike, n: ArrayLike) -> Array:
    """Intensity of a blend by family.

    ``shares`` (k,) of the spirit at one strength (shares of alcohol), adding up to 1; ``intensity`` (k, F);
    ``n`` (F,) or a number. Returns (F,). I = (sum of share x I^(1/n))^n.
    """
    return to_intensity(np.asarray(shares, dtype=np.float64) @ to_x(intensity, n), n)


def interval(shares: Array, mean: Array, low: Array, high: Array, exponents: list[Exponent]) -> tuple[Array, Array]:
    """Lower and upper end of a blend's intensity by family, about 95 %.

    The casks' own intervals are taken as independent of each other and add up as squares; the exponent's
    range moves all of them together and is added to that as a square too.
    """
    n = np.array([item.n for item in exponents])
    middle = mixed(shares, mean, n)
    ends = []
    for far in (low, high):
        # each cask alone at the end of its interval, the others at their means
        base = shares @ to_x(mean, n)
        moved = to_intensity(np.maximum(base + shares[:, None] * (to_x(far, n) - to_x(mean, n)), 0.0), n) - middle
        ends.append(np.sqrt((moved**2).sum(axis=0)))
    others = np.array([mixed(shares, mean, np.array([getattr(e, end) for e in exponents])) for end in ("low", "high")])
    below, above = middle - others.min(axis=0), others.max(axis=0) - middle
    lower = middle - np.sqrt(ends[0] ** 2 + np.maximum(below, 0.0) ** 2)
    upper = middle + np.sqrt(ends[1] ** 2 + np.maximum(above, 0.0) ** 2)
    return np.clip(lower, 0.0, 10.0), np.clip(upper, 0.0, 10.0)


def masked(families: list[str], intensity: Array) -> list[str]:
    """Aroma families that will hardly be picked out beside the strongest ones of the blend.

    The NOTICED strongest are named; of the rest those that are there at all (1 point) count as masked.
    """
    aromas = [(value, family) for family, value in zip(families, intensity, strict=True) if family not in SCALES]
    ranked = sorted(aromas, key=lambda item: (-item[0], item[1]))
    return sorted(family for value, family in ranked[NOTICED:] if value >= 1.0)
