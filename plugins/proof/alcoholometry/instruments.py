"""What an instrument showed, turned into the density that it met and so into strength.

A glass hydrometer of mass m floats at the same mark in every liquid of density m / V, and its volume
V grows with temperature: rho(t) = rho_mark / (1 + g (t - base)), with g the cubic expansion of the
glass and rho_mark the density that the mark stands for at the base temperature (as in OIML R 22,
which uses the same model for its tables of glass instruments). Certificate corrections are added to
the reading before (27 CFR 30.23).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from plugins.proof.alcoholometry.air import AIR_KG_M3, density_from_air
from plugins.proof.alcoholometry.formula import BLOCK, Array, density
from plugins.proof.alcoholometry.inverse import mass_fraction_from_density
from plugins.proof.alcoholometry.strength import SCALES, T_20C, T_60F, of_each, strength_at, word_codes

Codes = NDArray[np.int8]
METHODS = ("hydrometer", "density meter", "distilled")
STATES = ("as read", "at 60 °F", "at 20 °C", "in air", "corrected")
"""``corrected``: to a temperature that nobody states; of itself that is the scale's own."""
AT_STATED_BASE = (STATES.index("at 60 °F"), STATES.index("at 20 °C"))
OF_OWN_BASE = STATES.index("corrected")
CORRECTED = (*AT_STATED_BASE, OF_OWN_BASE)
IN_AIR = STATES.index("in air")
# Soda-lime glass. From memory, as the contract fixes it; 27 CFR 30.61 and the published table of
# glass readings in tests/published agree with it.
GLASS_PER_K = 25e-6
DENSITY_SCALES = (SCALES.index("kg/m3"), SCALES.index("g/cm3"))
BASE_DEGC = np.array([T_60F, T_20C, T_20C, T_20C, T_20C, T_60F])


@dataclass(frozen=True)
class Sensed:
    """What readings say of the liquid, row by row (arrays of one shape).

    ``density_kg_m3`` is the liquid's density at ``temperature_degC``: the jar's for a reading as
    read, the reference temperature for one already corrected. ``base_degC`` is where the scale
    holds, ``glass_per_K`` the expansion of the glass (0 where none stands behind the reading),
    ``scale_fraction`` the mass fraction that the mark stands for (NaN for a scale of density).
    """

    density_kg_m3: Array
    temperature_degC: Array
    scale: Codes
    base_degC: Array
    glass_per_K: Array
    scale_fraction: Array

    @property
    def mass_fraction(self) -> Array:
        """Apparent mass fraction of ethanol."""
        return mass_fraction_from_density(self.density_kg_m3, self.temperature_degC)

    @property
    def glass_factor(self) -> Array:
        """The instrument's volume relative to its volume at the base temperature."""
        return 1.0 + self.glass_per_K * (self.temperature_degC - self.base_degC)


def read_strength(
    reading: ArrayLike,
    scale: ArrayLike,
    temperature_degC: ArrayLike,
    method: ArrayLike = "hydrometer",
    state: ArrayLike = "as read",
    base_temperature_degC: ArrayLike = np.nan,
    glass_expansion_per_K: ArrayLike = np.nan,
) -> Array:
    """Apparent mass fraction of ethanol from what instruments showed. [0..1]

    Parameters, scalars or arrays that broadcast: the reading, with certificate corrections added;
    its scale (``proof``, ``%vol``, ``%mass``, ``kg/m3``, ``g/cm3``, ``sg60``; missing: proof); the
    temperature of jar or cell [degC], not needed where the reading is at a reference already; the
    method (``hydrometer``, ``density meter``, ``distilled``, which is read by a hydrometer; missing:
    hydrometer); the state (``as read``, ``at 60 °F``, ``at 20 °C``; missing: as read; ``in air``: as
    read, and a density or specific gravity is by weight in air of 1.2 kg/m3); the
    hydrometer's base temperature [degC] (NaN: 60 degF for proof and sg60, else 20 degC) and the cubic
    expansion of its glass [1/K] (NaN: 25e-6).

    A density meter has no glass, and what it shows in proof, % vol, % mass or as specific gravity
    60/60 is at reference by construction: only its density holds at the cell's temperature. A proof
    or specific gravity 60/60 said to be ``at 20 °C`` is taken as at 60 degF, where it is defined.
    Returns float64, NaN outside the range of OIML R 22. Raises ValueError at an unknown word.
    """
    columns = (
        np.asarray(reading, dtype=np.float64),
        word_codes(scale, SCALES, "scale"),
        np.asarray(temperature_degC, dtype=np.float64),
        word_codes(method, METHODS, "method"),
        word_codes(state, STATES, "state"),
        np.asarray(base_temperature_degC, dtype=np.float64),
        np.asarray(glass_expansion_per_K, dtype=np.float64),
    )
    shape = np.broadcast_shapes(*(column.shape for column in columns))
    flat = [
        column.reshape(-1) if column.size == 1 else np.broadcast_to(column, shape).reshape(-1) for column in columns
    ]
    out = np.empty(shape).reshape(-1)
    for start in range(0, out.size, BLOCK):
        part = slice(start, start + BLOCK)
        block = np.broadcast_arrays(out[part], *(column if column.size == 1 else column[part] for column in flat))
        out[part] = sense(*block[1:]).mass_fraction
    return out.reshape(shape)[()]


def sense(
    reading: Array, scale: Codes, jar_degC: Array, method: Codes, state: Codes, base_degC: Array, glass_per_K: Array
) -> Sensed:
    """The densities behind readings.

    Parameters as in ``read_strength``, but arrays of one shape and words as places in ``SCALES``,
    ``METHODS`` and ``STATES``.
    """
    reading, jar_degC = (np.where(np.isfinite(values), values, np.nan) for values in (reading, jar_degC))
    floats = floats_in_liquid(method, state)
    at_reference = is_at_reference(scale, method, state)
    base = np.where(floats & ~np.isnan(base_degC), base_degC, _reference(scale, state))
    glass = np.where(floats, np.where(np.isnan(glass_per_K), GLASS_PER_K, glass_per_K), 0.0)
    at = np.where(at_reference, base, jar_degC)
    fraction, marked = _marked(reading, scale, base)
    if (state == IN_AIR).any():
        marked = np.where(state == IN_AIR, _from_air(marked, scale), marked)
    return Sensed(marked / (1.0 + glass * (at - base)), at, scale, base, glass, fraction)


def is_at_reference(scale: Codes, method: Codes, state: Codes) -> NDArray[np.bool_]:
    """Whether a reading holds at the reference temperature already, by its state or by the meter.

    Parameters: codes as ``word_codes`` gives them for SCALES, METHODS and STATES.
    """
    of_density = np.isin(scale, DENSITY_SCALES)
    return np.isin(state, CORRECTED) | ((method == METHODS.index("density meter")) & ~of_density)


def floats_in_liquid(method: Codes, state: Codes) -> NDArray[np.bool_]:
    """Whether a reading is of glass at the jar's temperature. Parameters as in ``is_at_reference``."""
    return (method != METHODS.index("density meter")) & ~np.isin(state, CORRECTED)


def _reference(scale: Codes, state: Codes) -> Array:
    """Where a scale holds: the stated reference for densities and % vol, else the scale's own."""
    own = BASE_DEGC[scale]
    defined_at_60F = own == T_60F
    stated = np.where(state == STATES.index("at 60 °F"), T_60F, T_20C)
    return np.where(~np.isin(state, AT_STATED_BASE) | defined_at_60F, own, stated)


def _from_air(marked: Array, scale: Codes) -> Array:
    """Densities and specific gravities by weight in air as they are in vacuo; strengths stay as they are."""
    water = density(0.0, T_60F)
    of_gravity = marked / water * (water - AIR_KG_M3) + AIR_KG_M3
    by_gravity = scale == SCALES.index("sg60")
    return np.select([np.isin(scale, DENSITY_SCALES), by_gravity], [density_from_air(marked), of_gravity], marked)


def _marked(values: Array, scale: Codes, base: Array) -> tuple[Array, Array]:
    """The mass fraction and the density that the marks stand for at the base temperature."""
    fraction = np.full(values.shape, np.nan)
    marked = np.full(values.shape, np.nan)
    for code, rows in of_each(scale):
        name = SCALES[code]
        if name in ("kg/m3", "g/cm3"):
            marked[rows] = values[rows] * (1000.0 if name == "g/cm3" else 1.0)
        elif name == "sg60":
            marked[rows] = values[rows] * density(0.0, T_60F)
        else:
            fraction[rows] = strength_at(values[rows], name, base[rows])
            marked[rows] = density(fraction[rows], base[rows])
    return fraction, marked
