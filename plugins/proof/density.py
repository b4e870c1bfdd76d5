"""Density of ethanol-water mixtures and its inverse (OIML R 22, -20 to +40 degC).

Whole arrays are worked through in blocks that stay in the processor's cache. No matrix product is
used: its fused multiply-add would give other last digits on another machine.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from plugins.proof.oiml_r22 import A, B, C

Array = NDArray[np.float64]

LOWEST_DEGC, HIGHEST_DEGC = -20.0, 40.0
BLOCK = 8192
TERMS = len(A)
# By how much a density may lie beyond pure water or pure ethanol and still count as it: the noise of
# the formula is 1e-10 kg/m3, a hydrometer reading of exactly 0 or 200 proof comes out within 1e-9.
END_KG_M3 = 1e-7
NEWTON_STEPS, BISECTIONS = 5, 60
STEP_DONE = 1e-9


def density(mass_fraction: ArrayLike, temperature_degC: ArrayLike) -> Array:
    """Density of an ethanol-water mixture in vacuo. [kg/m3]

    Parameters: mass fraction of ethanol [0..1] and temperature [degC], scalars or arrays that
    broadcast. Returns float64 of the broadcast shape, NaN outside 0..1 or -20..40 degC.
    Source: OIML R 22 (1975), formula of the density.
    """
    return _in_blocks(_density_block, mass_fraction, temperature_degC)


def slope_by_fraction(mass_fraction: ArrayLike, temperature_degC: ArrayLike) -> Array:
    """Change of the density per mass fraction. [kg/m3] Parameters and range as in ``density``."""
    return _in_blocks(_slope_by_fraction, mass_fraction, temperature_degC)


def slope_by_temperature(mass_fraction: ArrayLike, temperature_degC: ArrayLike) -> Array:
    """Change of the density per degree. [kg/m3 per K] Parameters and range as in ``density``."""
    return _in_blocks(_slope_by_temperature, mass_fraction, temperature_degC)


def mass_fraction_from_density(density_kg_m3: ArrayLike, temperature_degC: ArrayLike) -> Array:
    """Mass fraction of ethanol of the mixture that has this density at this temperature. [0..1]

    Parameters: density in vacuo [kg/m3] and temperature [degC], scalars or arrays that broadcast.
    Returns float64, NaN where the temperature is outside -20..40 degC or no mixture has the density.
    Inverts OIML R 22 by Newton's method with bisection where that does not settle. The formula
    falls strictly with the mass fraction everywhere in its range (least slope 6 kg/m3 at -20 degC
    and a mass fraction of 0.19), so that no density fits two strengths.
    """
    return _in_blocks(_invert_block, density_kg_m3, temperature_degC)


def density_and_slope(mass_fraction: Array, temperature_degC: float) -> tuple[Array, Array]:
    """Density [kg/m3] and its slope by mass fraction at one temperature; the fractions lie in 0..1."""
    value, slope = np.empty(mass_fraction.shape), np.empty(mass_fraction.shape)
    rows = _coefficients(np.array([temperature_degC]))
    flat, flat_value, flat_slope = mass_fraction.reshape(-1), value.reshape(-1), slope.reshape(-1)
    for start in range(0, flat.size, BLOCK):
        part = slice(start, start + BLOCK)
        flat_value[part], flat_slope[part] = _value_and_slope(rows, flat[part])
    return value, slope


def _in_blocks(function: Callable[[Array, Array], Array], first: ArrayLike, second: ArrayLike) -> Array:
    """Apply block by block; where all temperatures are one, its terms are summed once."""
    left, right = np.asarray(first, dtype=np.float64), np.asarray(second, dtype=np.float64)
    shape = np.broadcast_shapes(left.shape, right.shape)
    flat_left = np.broadcast_to(left, shape).reshape(-1)
    is_single = right.size > 0 and bool((right == right.flat[0]).all())
    flat_right = right.reshape(-1)[:1] if is_single else np.broadcast_to(right, shape).reshape(-1)
    out = np.empty(flat_left.size)
    for start in range(0, flat_left.size, BLOCK):
        part = slice(start, start + BLOCK)
        out[part] = function(flat_left[part], flat_right if flat_right.size == 1 else flat_right[part])
    return out.reshape(shape)[()]


def _within(value: Array, low: float, high: float) -> NDArray[np.bool_]:
    return (value >= low) & (value <= high)


def _coefficients(temperature_degC: Array) -> Array:
    """The formula as a polynomial in the mass fraction: one row per power, one column per temperature."""
    tau = temperature_degC - 20.0
    rows = np.empty((TERMS, tau.size))
    rows[0] = _horner((0.0, *B), tau) + A[0]
    for power in range(1, TERMS):
        series = (A[power], *(row[power - 1] for row in C if len(row) >= power))
        rows[power] = _horner(series, tau)
    return rows


def _horner(series: tuple[float, ...] | Array, at: Array) -> Array:
    total = np.zeros(at.shape) + series[-1]
    for term in series[-2::-1]:
        total *= at
        total += term
    return total


def _value_and_slope(rows: Array, fraction: Array) -> tuple[Array, Array]:
    slope = np.zeros(fraction.shape)
    value = slope + rows[-1]
    for row in rows[-2::-1]:
        slope *= fraction
        slope += value
        value *= fraction
        value += row
    return value, slope


def _usable(fraction: Array, temperature_degC: Array) -> tuple[NDArray[np.bool_], Array, Array]:
    known = _within(temperature_degC, LOWEST_DEGC, HIGHEST_DEGC)
    usable = known & _within(fraction, 0.0, 1.0)
    return usable, np.where(usable, fraction, 0.0), np.where(known, temperature_degC, 20.0)


def _density_block(fraction: Array, temperature_degC: Array) -> Array:
    usable, p, t = _usable(fraction, temperature_degC)
    return np.where(usable, _horner(_coefficients(t), p), np.nan)


def _slope_by_fraction(fraction: Array, temperature_degC: Array) -> Array:
    usable, p, t = _usable(fraction, temperature_degC)
    return np.where(usable, _value_and_slope(_coefficients(t), p)[1], np.nan)


def _slope_by_temperature(fraction: Array, temperature_degC: Array) -> Array:
    usable, p, t = _usable(fraction, temperature_degC)
    tau = t - 20.0
    slope = _horner(tuple(power * term for power, term in enumerate(B, start=1)), tau)
    by_mixing = np.zeros(p.shape)
    for power in range(len(C), 0, -1):
        by_mixing *= tau
        by_mixing += power * _horner((0.0, *C[power - 1]), p)
    return np.where(usable, slope + by_mixing, np.nan)


GUESS_TEMPERATURES = int(HIGHEST_DEGC - LOWEST_DEGC) + 1
GUESS_PLACES = 512


@cache
def _guesses() -> Array:
    """Mass fractions by whole degree and by how far the density lies from water towards ethanol."""
    fine = np.linspace(0.0, 1.0, 4001)
    share = np.linspace(0.0, 1.0, GUESS_PLACES + 1)
    table = np.empty((GUESS_TEMPERATURES, share.size))
    for row, temperature in enumerate(np.linspace(LOWEST_DEGC, HIGHEST_DEGC, GUESS_TEMPERATURES)):
        curve = _density_block(fine, np.full(fine.size, temperature))
        table[row] = np.interp(share, (curve[0] - curve) / (curve[0] - curve[-1]), fine)
    return table


def _invert_block(rho: Array, temperature_degC: Array) -> Array:
    known = _within(temperature_degC, LOWEST_DEGC, HIGHEST_DEGC)
    t = np.where(known, temperature_degC, 20.0)
    rows = _coefficients(t)
    water, ethanol = rows[0], rows.sum(axis=0)
    usable = known & (rho <= water + END_KG_M3) & (rho >= ethanol - END_KG_M3)
    target = np.where(usable, np.clip(rho, ethanol, water), water)
    place = np.rint((water - target) / (water - ethanol) * GUESS_PLACES).astype(np.intp)
    fraction = _guesses()[np.rint(t - LOWEST_DEGC).astype(np.intp), place]
    _newton(np.broadcast_to(rows, (TERMS, rho.size)), target, fraction)
    return np.where(usable, fraction, np.nan)


def _newton(rows: Array, target: Array, fraction: Array) -> None:
    """Refine ``fraction`` in place until each step is below 1e-9; what does not settle is bisected."""
    step = fraction
    for _ in range(NEWTON_STEPS):
        value, slope = _value_and_slope(rows, fraction)
        value -= target
        step = np.divide(value, slope, out=value)
        fraction -= step
        np.clip(fraction, 0.0, 1.0, out=fraction)
        if np.abs(step).max(initial=0.0) < STEP_DONE:
            return
    restless = np.flatnonzero(~(np.abs(step) < STEP_DONE))
    fraction[restless] = _bisect(rows[:, restless], target[restless])


def _bisect(rows: Array, target: Array) -> Array:
    low, high = np.zeros(target.size), np.ones(target.size)
    for _ in range(BISECTIONS):
        middle = 0.5 * (low + high)
        too_dense = _horner(rows, middle) > target
        low, high = np.where(too_dense, middle, low), np.where(too_dense, high, middle)
    return 0.5 * (low + high)
