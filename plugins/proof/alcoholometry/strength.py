"""Proof, % vol, % mass, density and specific gravity, each from and to the mass fraction of ethanol.

Proof is twice the % vol at 60 degF (27 CFR 5.1 and 19.1), % vol is at 20 degC (OIML R 22) unless
another temperature is given. Volumes of pure ethanol are by OIML R 22 too: 0.793818 of water at
60 degF, where 27 CFR 19.1 prints 0.7939.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from plugins.proof.alcoholometry.formula import Array, Room, density, evaluate_both, in_blocks
from plugins.proof.alcoholometry.inverse import mass_fraction_from_density

T_60F = 15.555555555555555
T_20C = 20.0
SCALES = ("proof", "%vol", "%mass", "kg/m3", "g/cm3", "sg60")

TABLE_STEPS = 2048
NEWTON_STEPS = 2
# A strength of 200 proof worked out elsewhere may arrive as 200.0000000001.
END_SHARE = 1e-9


def default_scale(stated: str, markets: Collection[str]) -> str:
    """The scale of a strength that states none: the house's own, else % vol where no market is the US, else proof."""
    return stated or ("%vol" if markets and "US" not in markets else "proof")


def volume_fraction(mass_fraction: ArrayLike, temperature_degC: float) -> Array:
    """Volume of pure ethanol per volume of mixture, both at one temperature. [0..1]

    Parameters: mass fraction [0..1] and one temperature [degC]. NaN outside the range of ``density``.
    """
    w = np.asarray(mass_fraction, dtype=np.float64)
    return w * density(w, temperature_degC) / density(1.0, temperature_degC)


def mass_fraction_from_volume_fraction(fraction: ArrayLike, temperature_degC: float) -> Array:
    """Mass fraction of the mixture with this volume fraction of ethanol at one temperature. [0..1]

    Parameters: volume fraction [0..1] and one temperature [degC]. NaN outside 0..1.
    Newton's method from a table of the same formula, which it meets again within 1e-13.
    """
    return in_blocks(_solve_block, fraction, float(temperature_degC))


def _solve_block(fraction: Array, temperature_degC: Array, out: Array, room: Room) -> None:
    usable = (fraction >= -END_SHARE) & (fraction <= 1.0 + END_SHARE)
    target = np.where(usable, fraction, 0.0)
    np.clip(target, 0.0, 1.0, out=target)
    temperature = float(temperature_degC[0])
    np.take(_volume_table(temperature), np.rint(target * TABLE_STEPS).astype(np.intp), out=out, mode="clip")
    target *= density(1.0, temperature)
    rows = room.rows(temperature_degC)
    rho, slope = room.pair(out.size)
    for _ in range(NEWTON_STEPS):
        evaluate_both(rows, out, rho, slope)
        slope *= out
        slope += rho
        rho *= out
        rho -= target
        rho /= slope
        out -= rho
        np.clip(out, 0.0, 1.0, out=out)
    np.copyto(out, np.nan, where=~usable)


@cache
def _volume_table(temperature_degC: float) -> Array:
    """Mass fractions at volume fractions of equal distance."""
    mass = np.linspace(0.0, 1.0, 4 * TABLE_STEPS + 1)
    return np.interp(np.linspace(0.0, 1.0, TABLE_STEPS + 1), volume_fraction(mass, temperature_degC), mass)


def proof_from_mass_fraction(mass_fraction: ArrayLike) -> Array:
    """Proof at 60 degF = 200 w rho(w, 60 degF) / rho(1, 60 degF). [proof]"""
    return 200.0 * volume_fraction(mass_fraction, T_60F)


def mass_fraction_from_proof(proof_60F: ArrayLike) -> Array:
    """Mass fraction of ethanol at this proof at 60 degF; NaN outside 0..200 proof. [0..1]"""
    return mass_fraction_from_volume_fraction(np.asarray(proof_60F, dtype=np.float64) / 200.0, T_60F)


def abv_from_mass_fraction(mass_fraction: ArrayLike) -> Array:
    """% vol at 20 degC = 100 w rho(w, 20 degC) / rho(1, 20 degC). [% vol]"""
    return 100.0 * volume_fraction(mass_fraction, T_20C)


def mass_fraction_from_abv(abv_20C: ArrayLike) -> Array:
    """Mass fraction of ethanol at this % vol at 20 degC; NaN outside 0..100. [0..1]"""
    return mass_fraction_from_volume_fraction(np.asarray(abv_20C, dtype=np.float64) / 100.0, T_20C)


def mass_fraction_from_strength(value: ArrayLike, unit: ArrayLike) -> Array:
    """Mass fraction of ethanol of strengths stated in mixed units. [0..1]

    Parameters: values, and for each its unit: ``proof`` (at 60 degF), ``%vol`` (at 20 degC),
    ``%mass``, ``kg/m3`` or ``g/cm3`` (density in vacuo at 20 degC), ``sg60`` (density relative to
    water, both at 60 degF, in vacuo); a missing unit (NaN, None or empty) is proof. They broadcast.
    Returns float64, NaN where the value is none of that unit. Raises ValueError at another unit.
    """
    return strength_at(value, unit, None)


def strength_at(value: ArrayLike, unit: ArrayLike, temperature_degC: ArrayLike | None) -> Array:
    """As ``mass_fraction_from_strength``, with the reference temperature that the scale is made for.

    Parameters: as there, and the temperature [degC] at which densities and % vol hold; NaN or None
    is the unit's own (60 degF for proof and sg60, 20 degC for the others). Proof at another reference
    temperature is still the proof at 60 degF of that liquid; % vol is the % vol at that temperature.
    """
    own = np.nan if temperature_degC is None else temperature_degC
    codes = word_codes(unit, SCALES, "strength unit")
    values, codes, base = np.broadcast_arrays(np.asarray(value, float), codes, np.asarray(own, float))
    out = np.full(values.shape, np.nan)
    for code, rows in of_each(codes):
        out[rows] = _one_unit(SCALES[code], values[rows], base[rows])
    return out[()]


def of_each(codes: NDArray[np.int8]) -> Iterator[tuple[int, Any]]:
    """Each code that occurs and its rows: all of them as a slice where there is but one."""
    if codes.size and bool((codes == codes.flat[0]).all()):
        yield int(codes.flat[0]), ...
        return
    for code in np.unique(codes):
        yield int(code), codes == code


def word_codes(words: ArrayLike, known: tuple[str, ...], what: str) -> NDArray[np.int8]:
    """Place of each word in ``known``; a missing one (NaN, None, empty) counts as the first.

    Raises ValueError, which names ``what``, at a word that is not among them.
    """
    array = np.asarray(words, dtype=object)
    places = {word: place for place, word in enumerate(known)}
    codes = [places[word] if word in places else _missing(word, known, what) for word in array.reshape(-1)]
    return np.array(codes, dtype=np.int8).reshape(array.shape)


def _missing(word: object, known: tuple[str, ...], what: str) -> int:
    # NaN and pandas' NA are the values that do not equal themselves.
    if word is None or word == "" or (word == word) is not True:
        return 0
    raise ValueError(f"{what} {word!r} is not one of {', '.join(known)}")


def _one_unit(unit: str, values: Array, base: Array) -> Array:
    if unit == "proof":
        return mass_fraction_from_proof(values)
    if unit == "%mass":
        return np.where((values >= 0.0) & (values <= 100.0), values / 100.0, np.nan)
    if unit == "%vol":
        return _from_abv_at(values, np.where(np.isnan(base), T_20C, base))
    if unit == "sg60":
        return mass_fraction_from_density(values * density(0.0, T_60F), T_60F)
    in_kg = values * (1000.0 if unit == "g/cm3" else 1.0)
    return mass_fraction_from_density(in_kg, np.where(np.isnan(base), T_20C, base))


def _from_abv_at(values: Array, base: Array) -> Array:
    out = np.full(values.shape, np.nan)
    for temperature in np.unique(base):
        rows = base == temperature
        out[rows] = mass_fraction_from_volume_fraction(values[rows] / 100.0, float(temperature))
    return out
