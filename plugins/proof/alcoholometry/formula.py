"""Density of ethanol-water mixtures (OIML R 22, -20 to +40 degC) and its slopes; inverse.py has its inverse.

Whole arrays are worked through in place, in blocks that stay in the processor's cache. No matrix product
is used: its fused multiply-add would give other last digits on another machine.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from plugins.proof.alcoholometry.oiml_r22 import A, B, C

Array = NDArray[np.float64]
# The formula at given temperatures as a polynomial in the mass fraction: one number or one array per power.
Rows = Sequence[float] | Array
Block = Callable[[Array, Array, Array, "Room"], None]

LOWEST_DEGC, HIGHEST_DEGC = -20.0, 40.0
BLOCK = 16384
TERMS = len(A)
# Coefficients of each power of the mass fraction, by powers of (t - 20).
SERIES = ((A[0], *B), *((A[k], *(row[k - 1] for row in C if len(row) >= k)) for k in range(1, TERMS)))


def density(mass_fraction: ArrayLike, temperature_degC: ArrayLike) -> Array:
    """Density of an ethanol-water mixture in vacuo. [kg/m3]

    Parameters: mass fraction of ethanol [0..1] and temperature [degC], scalars or arrays that
    broadcast. Returns float64 of the broadcast shape, NaN outside 0..1 or -20..40 degC.
    Source: OIML R 22 (1975), formula of the density.
    """
    return in_blocks(_density_block, mass_fraction, temperature_degC)


def slope_by_fraction(mass_fraction: ArrayLike, temperature_degC: ArrayLike) -> Array:
    """Change of the density per mass fraction. [kg/m3] Parameters and range as in ``density``."""
    return in_blocks(_slope_block, mass_fraction, temperature_degC)


def slope_by_temperature(mass_fraction: ArrayLike, temperature_degC: ArrayLike) -> Array:
    """Change of the density per degree. [kg/m3 per K] Parameters and range as in ``density``."""
    return in_blocks(_by_temperature_block, mass_fraction, temperature_degC)


class Room:
    """Arrays to work in, made once for all blocks of a call."""

    def __init__(self, size: int) -> None:
        self._rows = np.empty((TERMS, size))
        self._tau, self._slope, self._value = np.empty(size), np.empty(size), np.empty(size)
        self._single: list[float] | None = None

    def rows(self, temperature_degC: Array) -> Rows:
        """The polynomials at these temperatures; where there is one for all blocks, plain numbers."""
        if temperature_degC.size == 1:
            if self._single is None:
                self._single = [float(row[0]) for row in _fill(np.empty((TERMS, 1)), temperature_degC, np.empty(1))]
            return self._single
        return _fill(self._rows[:, : temperature_degC.size], temperature_degC, self._tau[: temperature_degC.size])

    def pair(self, size: int) -> tuple[Array, Array]:
        """Two arrays for a value and a slope."""
        return self._value[:size], self._slope[:size]


def in_blocks(function: Block, first: ArrayLike, second: ArrayLike) -> Array:
    """Apply ``function(first, second, out, room)`` block by block; one temperature for all stays one number."""
    left, right = np.asarray(first, dtype=np.float64), np.asarray(second, dtype=np.float64)
    shape = np.broadcast_shapes(left.shape, right.shape)
    flat_left = np.broadcast_to(left, shape).reshape(-1)
    is_single = right.size > 0 and bool((right == right.flat[0]).all())
    flat_right = right.reshape(-1)[:1] if is_single else np.broadcast_to(right, shape).reshape(-1)
    out = np.empty(flat_left.size)
    room = Room(min(BLOCK, out.size))
    for start in range(0, out.size, BLOCK):
        part = slice(start, start + BLOCK)
        function(flat_left[part], flat_right if is_single else flat_right[part], out[part], room)
    return out.reshape(shape)[()]


def within(value: Array, low: float, high: float) -> NDArray[np.bool_]:
    return (value >= low) & (value <= high)


def _fill(rows: Array, temperature_degC: Array, tau: Array) -> Array:
    np.subtract(temperature_degC, 20.0, out=tau)
    for row, series in zip(rows, SERIES, strict=True):
        row.fill(series[-1])
        for term in series[-2::-1]:
            row *= tau
            row += term
    return rows


def evaluate(rows: Rows, fraction: Array, value: Array) -> None:
    """Put the polynomials' values into ``value``."""
    np.multiply(fraction, rows[-1], out=value)
    for power in range(TERMS - 2, 0, -1):
        value += rows[power]
        value *= fraction
    value += rows[0]


def evaluate_both(rows: Rows, fraction: Array, value: Array, slope: Array) -> None:
    """Put the polynomials' values and their slopes by mass fraction into ``value`` and ``slope``."""
    np.multiply(fraction, rows[-1], out=value)
    slope[...] = rows[-1]
    for power in range(TERMS - 2, 0, -1):
        value += rows[power]
        slope *= fraction
        slope += value
        value *= fraction
    value += rows[0]


def _usable(fraction: Array, temperature_degC: Array) -> tuple[NDArray[np.bool_], Array, Array]:
    known = within(temperature_degC, LOWEST_DEGC, HIGHEST_DEGC)
    usable = known & within(fraction, 0.0, 1.0)
    return usable, np.where(usable, fraction, 0.0), np.where(known, temperature_degC, 20.0)


def _density_block(fraction: Array, temperature_degC: Array, out: Array, room: Room) -> None:
    usable, p, t = _usable(fraction, temperature_degC)
    evaluate(room.rows(t), p, out)
    np.copyto(out, np.nan, where=~usable)


def _slope_block(fraction: Array, temperature_degC: Array, out: Array, room: Room) -> None:
    usable, p, t = _usable(fraction, temperature_degC)
    evaluate_both(room.rows(t), p, room.pair(p.size)[0], out)
    np.copyto(out, np.nan, where=~usable)


def _by_temperature_block(fraction: Array, temperature_degC: Array, out: Array, room: Room) -> None:
    usable, p, t = _usable(fraction, temperature_degC)
    tau = t - 20.0
    slope = _horner(tuple(power * term for power, term in enumerate(B, start=1)), tau)
    by_mixing = np.zeros(p.shape)
    for power in range(len(C), 0, -1):
        by_mixing *= tau
        by_mixing += power * _horner((0.0, *C[power - 1]), p)
    out[...] = np.where(usable, slope + by_mixing, np.nan)


def _horner(series: tuple[float, ...], at: Array) -> Array:
    total = np.zeros(at.shape) + series[-1]
    for term in series[-2::-1]:
        total *= at
        total += term
    return total
