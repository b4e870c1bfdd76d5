"""The auditors' own alcoholometry: the density formula summed term by term, solved by halving, nothing of plugins.

Units: mass fraction 0..1, temperature in degC, density in kg/m3 in vacuo, masses in kg, volumes in L.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import cache
from pathlib import Path

COEFFICIENTS = Path(__file__).parent.parent / "published" / "data" / "oiml_r22_coefficients.txt"
T_60F = (60 - 32) / 1.8
GALLON_L = 3.785411784  # US gallon, exact
IMPERIAL_GALLON_L = 4.54609  # exact
POUND_KG = 0.45359237  # exact
TERMS = (11, 10, 9, 4, 2)


@cache
def coefficients() -> dict[tuple[str, int, int], float]:
    found = {}
    for line in COEFFICIENTS.read_text("utf-8").splitlines():
        if match := re.match(r"^([ABC])(\d+)(?:,(\d+))?\s+(\S+)$", line.strip()):
            letter, first, second, value = match.groups()
            found[letter, int(first), int(second or 0)] = float(value)
    assert len(found) == 54
    return found


@cache
def density(fraction: float, celsius: float) -> float:
    """OIML R 22 (1975)."""
    c, d = coefficients(), celsius - 20
    total = c["A", 1, 0]
    total += sum(c["A", k, 0] * fraction ** (k - 1) for k in range(2, 13))
    total += sum(c["B", k, 0] * d**k for k in range(1, 7))
    total += sum(c["C", i, k] * fraction**k * d**i for i, m in enumerate(TERMS, start=1) for k in range(1, m + 1))
    return total


def solve(target: float, function: Callable[[float], float]) -> float:
    """The mass fraction at which a monotonic function has the target, by halving."""
    low, high = 0.0, 1.0
    rising = function(high) > function(low)
    for _ in range(80):
        middle = (low + high) / 2
        if (function(middle) < target) == rising:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def proof(fraction: float) -> float:
    """Twice the % vol at 60 °F."""
    return 200 * fraction * density(fraction, T_60F) / density(1.0, T_60F)


def abv(fraction: float) -> float:
    """% vol at 20 °C."""
    return 100 * fraction * density(fraction, 20.0) / density(1.0, 20.0)


def of_proof(value: float) -> float:
    return solve(value, proof)


def of_abv(value: float) -> float:
    return solve(value, abv)


def of_density(value: float, celsius: float) -> float:
    return solve(value, lambda fraction: density(fraction, celsius))


def celsius(fahrenheit: float) -> float:
    return (fahrenheit - 32) / 1.8


def by_hydrometer(mark: float, temperature: float, base: float, expansion: float = 25e-6) -> float:
    """A stem floats where liquid density times its own volume is what it was at the base temperature.

    ``mark`` is the density that the stem shows at ``base``.
    """
    return of_density(mark / (1 + expansion * (temperature - base)), temperature)


def by_proof_hydrometer(reading: float, fahrenheit: float) -> float:
    return by_hydrometer(density(of_proof(reading), T_60F), celsius(fahrenheit), T_60F)


def true_mass(weight_kg: float, fraction: float) -> float:
    """contract.md: weight × (1 − 1.2/8000)/(1 − 1.2/ρ), ρ at 20 °C."""
    return weight_kg * (1 - 1.2 / 8000) / (1 - 1.2 / density(fraction, 20.0))


def mass(volume_L: float, fraction: float, temperature: float) -> float:
    return volume_L * density(fraction, temperature) / 1000


def entry(mass_kg: float, fraction: float) -> dict[str, float]:
    """The quantities of a balance entry."""
    gallons = mass_kg / density(fraction, T_60F) * 1000 / GALLON_L
    return {
        "mass_kg": mass_kg,
        "ethanol_kg": mass_kg * fraction,
        "volume_60F_gal": gallons,
        "volume_20C_L": mass_kg / density(fraction, 20.0) * 1000,
        "proof_60F": proof(fraction),
        "abv_20C": abv(fraction),
        "proof_gallons": gallons * proof(fraction) / 100,
        "lpa": mass_kg * fraction / density(1.0, 20.0) * 1000,
    }
