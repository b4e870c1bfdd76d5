"""Standard uncertainty of a proof: first order (GUM), what readings share kept apart from what each has alone.

The slopes are those of the density formula at the reading itself; in the cold, where weak spirit
changes its density little with strength, they make the uncertainty as large as it is. An error that many
readings share (one hydrometer, one thermometer, one guess of solids) does not average away, so that its
part is carried with its sign beside the part that each reading has alone. ``combine_shared`` adds both up.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from plugins.proof.alcoholometry.formula import Array, density, slope_by_fraction, slope_by_temperature
from plugins.proof.alcoholometry.instruments import METHODS, Sensed, is_at_reference, sense
from plugins.proof.alcoholometry.strength import SCALES, T_20C, T_60F, of_each, word_codes


@dataclass(frozen=True)
class Slopes:
    """Change of the proof at 60 degF per unit of what goes in, row by row.

    ``by_reading`` per unit of the scale, ``by_density`` per kg/m3, ``by_temperature`` per K of jar
    or cell.
    """

    by_reading: Array
    by_density: Array
    by_temperature: Array


def proof_slopes(sensed: Sensed, mass_fraction: Array) -> Slopes:
    """Slopes at readings. Parameters: ``sense`` of them, and the apparent mass fraction that it means."""
    by_temperature = slope_by_temperature(mass_fraction, sensed.temperature_degC)
    of_proof = strength_slope(mass_fraction, T_60F, 200.0)
    by_density = of_proof / slope_by_fraction(mass_fraction, sensed.temperature_degC)
    glass = sensed.density_kg_m3 * sensed.glass_per_K / sensed.glass_factor
    return Slopes(
        _mark_slope(sensed) / sensed.glass_factor * by_density, by_density, -(by_temperature + glass) * by_density
    )


def strength_slope(fraction: Array, temperature_degC: ArrayLike, full: float) -> Array:
    """Change of a strength by volume per mass fraction; ``full`` is the strength of pure ethanol."""
    rho, slope = density(fraction, temperature_degC), slope_by_fraction(fraction, temperature_degC)
    return full * (rho + fraction * slope) / density(1.0, temperature_degC)


def _mark_slope(sensed: Sensed) -> Array:
    """Change of the density that a mark stands for per unit of the scale. [kg/m3]"""
    out = np.empty(sensed.scale.shape)
    for code, rows in of_each(sensed.scale):
        out[rows] = _mark_slope_of(SCALES[code], sensed.scale_fraction[rows], sensed.base_degC[rows])
    return out


def _mark_slope_of(scale: str, fraction: Array, base: Array) -> Array:
    if scale == "kg/m3":
        return np.ones(fraction.shape)
    if scale == "g/cm3":
        return np.full(fraction.shape, 1000.0)
    if scale == "sg60":
        return np.full(fraction.shape, density(0.0, T_60F))
    by_fraction = slope_by_fraction(fraction, base)
    if scale == "%mass":
        return 0.01 * by_fraction
    if scale == "proof":
        return by_fraction / strength_slope(fraction, T_60F, 200.0)
    return by_fraction / strength_slope(fraction, np.where(np.isnan(base), T_20C, base), 100.0)


def proof_uncertainty(
    reading: ArrayLike,
    scale: ArrayLike,
    temperature_degC: ArrayLike,
    reading_u: ArrayLike,
    temperature_u_K: ArrayLike,
    method: ArrayLike = "hydrometer",
    base_temperature_degC: ArrayLike = np.nan,
    glass_expansion_per_K: ArrayLike = np.nan,
) -> Array:
    """Standard uncertainty of the proof at 60 degF that readings mean, first order. [proof]

    Parameters as ``read_strength`` has them, for readings as read, with the standard uncertainties of
    reading (in the scale's unit) and temperature [K]; they broadcast. NaN where there is no strength.
    """
    numbers = (reading, temperature_degC, base_temperature_degC, glass_expansion_per_K, reading_u, temperature_u_K)
    codes = word_codes(scale, SCALES, "scale"), word_codes(method, METHODS, "method")
    value, jar, base, glass, by, degrees, marked, way = np.broadcast_arrays(
        *(np.asarray(number, dtype=np.float64) for number in numbers), *codes
    )
    state = np.zeros(value.shape, dtype=np.int8)
    sensed = sense(value, marked, jar, way, state, base, glass)
    slopes = proof_slopes(sensed, np.asarray(sensed.mass_fraction))
    settled = is_at_reference(marked, way, state)
    return np.hypot(slopes.by_reading * by, np.where(settled, 0.0, slopes.by_temperature * degrees))[()]


@dataclass(frozen=True)
class Parts:
    """Standard uncertainty of proofs in its parts, row by row. [proof]

    ``own`` is independent from reading to reading. ``by_instrument`` and ``by_thermometer`` are, with
    their signs, what one standard uncertainty of the instrument or thermometer does to the proof: all
    readings with it err together. ``may_hide`` is what the solids of aged spirit would hide at most where
    none are stated (0 where they are): the true strength lies above by anything up to it, never below.
    """

    own: Array
    by_instrument: Array
    by_thermometer: Array
    may_hide: Array

    @property
    def total(self) -> Array:
        """Standard uncertainty, unknown solids left aside."""
        return combined(self.own, self.by_instrument, self.by_thermometer)

    @property
    def upward(self) -> Array:
        """Standard uncertainty upwards: the root mean square of what the true strength may lie above.

        Unknown solids are taken as anything from none to the most with equal probability, whose mean
        square is a third of the most; the strength itself is not shifted.
        """
        return combined(self.total, self.may_hide / np.sqrt(3.0))


def combine_shared(own: ArrayLike, shared: ArrayLike, effect: ArrayLike, by: ArrayLike | None = None) -> Array:
    """Standard uncertainty of sums of which many terms err together.

    Parameters, arrays of one length: the independent standard uncertainty of each term, what one standard
    uncertainty of its shared effect does to it (with its sign), the name or number of that effect, and
    optionally the group that each term belongs to. Returns one value, or one per group in the order of
    ``numpy.unique(by)``: own parts added as squares, shared ones added up effect by effect and then as
    squares. A NaN term makes its group NaN.
    """
    groups, place = np.unique(np.zeros(np.shape(own)) if by is None else np.asarray(by), return_inverse=True)
    _, effects = np.unique(np.asarray(effect), return_inverse=True)
    variance = np.bincount(place, np.square(np.asarray(own, np.float64)), groups.size)
    pairs, pair = np.unique(place * (effects.max(initial=0) + 1) + effects, return_inverse=True)
    sums = np.bincount(pair, np.asarray(shared, np.float64), pairs.size)
    variance += np.bincount(pairs // (effects.max(initial=0) + 1), np.square(sums), groups.size)
    made = np.sqrt(variance)
    return made[0] if by is None and made.size else made


def combined(*terms: Array) -> Array:
    """Root of the sum of squares; a NaN term counts as absent."""
    total = np.zeros(np.broadcast_shapes(*(np.shape(term) for term in terms)))
    for term in terms:
        total += np.nan_to_num(np.square(term))
    return np.sqrt(total)
