"""From a density to the mass fraction: the inverse of OIML R 22.

A fixed number of Newton steps from a table of the same formula, in place. At a fixed temperature the
formula falls strictly with the mass fraction in its whole range, so that no density fits two
strengths; its slope is least (6 kg/m3) at -20 degC and a mass fraction of 0.19, where it is bent most.
There a step may not settle: an error e leaves at most BEND e^2 after the next step, so that the last
step tells how good a row is. Rows that are not good enough go on, and are bisected in the end.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from plugins.proof.alcoholometry.formula import (
    HIGHEST_DEGC,
    LOWEST_DEGC,
    Array,
    Room,
    Rows,
    density,
    evaluate,
    evaluate_both,
    in_blocks,
    within,
)

# By how much a density may lie beyond pure water or pure ethanol and still count as it: the noise of
# the formula is 1e-10 kg/m3, a hydrometer reading of exactly 0 or 200 proof comes out within 1e-9.
END_KG_M3 = 1e-7
STEPS, MORE_STEPS, BISECTIONS = 3, 4, 60
# Half the curvature over the slope, at its largest (-20 degC, a mass fraction of 0.16) 18.6: a last step
# of 2e-7 leaves less than 1e-12 of mass fraction, 3e-10 proof.
BEND, LAST_STEP = 18.6, 2e-7
ROWS_PER_DEGC, PLACES = 2, 1024


def mass_fraction_from_density(density_kg_m3: ArrayLike, temperature_degC: ArrayLike) -> Array:
    """Mass fraction of ethanol of the mixture that has this density at this temperature. [0..1]

    Parameters: density in vacuo [kg/m3] and temperature [degC], scalars or arrays that broadcast.
    Returns float64, NaN where the temperature is outside -20..40 degC or no mixture has the density.
    Good to 1e-8 proof against a bracketed solution everywhere; source as ``density``.
    """
    return in_blocks(_invert, density_kg_m3, temperature_degC)


@cache
def _guesses() -> Array:
    """Mass fractions by half a degree and by how far the density lies from water towards ethanol."""
    temperatures = np.linspace(LOWEST_DEGC, HIGHEST_DEGC, round(HIGHEST_DEGC - LOWEST_DEGC) * ROWS_PER_DEGC + 1)
    fine, share = np.linspace(0.0, 1.0, 8001), np.linspace(0.0, 1.0, PLACES + 1)
    curves = np.array([density(fine, temperature) for temperature in temperatures])  # one for many costs half
    shares = (curves[:, :1] - curves) / (curves[:, :1] - curves[:, -1:])
    return np.concatenate([np.interp(share, row, fine) for row in shares])


def _invert(rho: Array, temperature_degC: Array, out: Array, room: Room) -> None:
    known = within(temperature_degC, LOWEST_DEGC, HIGHEST_DEGC)
    t = np.where(known, temperature_degC, 20.0)
    rows = room.rows(t)
    water, ethanol = rows[0], rows[0] + rows[1]
    for row in rows[2:]:
        ethanol += row
    usable = known & (rho <= water + END_KG_M3) & (rho >= ethanol - END_KG_M3)
    target = np.where(usable, rho, water)
    np.clip(target, ethanol, water, out=target)
    share = np.subtract(water, target, out=out)
    share *= PLACES / (water - ethanol)
    place = np.rint(share).astype(np.intp)
    place += np.rint((t - LOWEST_DEGC) * ROWS_PER_DEGC).astype(np.intp) * (PLACES + 1)
    np.take(_guesses(), place, out=out, mode="clip")
    value, slope = room.pair(out.size)
    step = _newton(rows, target, out, value, slope, STEPS)
    restless = np.flatnonzero(~(np.abs(step, out=step) < LAST_STEP))
    if restless.size:
        out[restless] = _settled(_taken(rows, restless), target[restless], out[restless])
    np.copyto(out, np.nan, where=~usable)


def _newton(rows: Rows, target: Array, fraction: Array, value: Array, slope: Array, steps: int) -> Array:
    """Refine ``fraction`` in place; gives the last step."""
    for _ in range(steps):
        evaluate_both(rows, fraction, value, slope)
        value -= target
        value /= slope
        fraction -= value
        np.clip(fraction, 0.0, 1.0, out=fraction)
    return value


def _taken(rows: Rows, places: NDArray[np.intp]) -> Rows:
    return [row if np.ndim(row) == 0 else row[places] for row in rows]  # type: ignore[index]


def _settled(rows: Rows, target: Array, fraction: Array) -> Array:
    value, slope = np.empty(target.size), np.empty(target.size)
    step = _newton(rows, target, fraction, value, slope, MORE_STEPS)
    still = np.flatnonzero(~(np.abs(step) < LAST_STEP))
    if still.size:
        fraction[still] = _bisect(_taken(rows, still), target[still])
    return fraction


def _bisect(rows: Rows, target: Array) -> Array:
    low, high, value = np.zeros(target.size), np.ones(target.size), np.empty(target.size)
    for _ in range(BISECTIONS):
        middle = 0.5 * (low + high)
        evaluate(rows, middle, value)
        too_dense = value > target
        low, high = np.where(too_dense, middle, low), np.where(too_dense, high, middle)
    return 0.5 * (low + high)
