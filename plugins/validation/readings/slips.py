"""What a reading would say if one common slip were undone: arrays in, strengths out.

The slips (common practice, no source): the temperature keyed in the other scale; proof written as
% vol or the reverse; a strength that was already corrected, corrected again; two digits swapped or
the decimal sign moved. Nothing is judged here.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from plugins.proof import proof_from_mass_fraction, read_strength

METER = "density meter"
OTHER_SCALE = {"proof": "%vol", "%vol": "proof"}
AT_REFERENCE = {"proof": "at 60 °F", "%vol": "at 20 °C", "sg60": "at 60 °F"}


def to_fahrenheit(degC: np.ndarray) -> np.ndarray:
    return degC * 1.8 + 32.0


def to_celsius(degF: np.ndarray) -> np.ndarray:
    return (degF - 32.0) / 1.8


def other_temperature(temperature_degC: np.ndarray, unit: np.ndarray) -> np.ndarray:
    """The stated figure read in the other scale [degC]: 16 stated in °F is 16 °C. NaN without a unit."""
    as_celsius = to_fahrenheit(temperature_degC)
    as_fahrenheit = to_celsius(temperature_degC)
    return np.where(unit == "degF", as_celsius, np.where(unit == "degC", as_fahrenheit, np.nan))


@dataclass(frozen=True)
class Readings:
    """What is needed to work a reading out again; arrays of one length, text as objects.

    ``scale`` is resolved, ``method`` and ``state`` may be missing; ``base_degC`` and ``glass_per_K``
    are the instrument's, NaN where not known.
    """

    reading: np.ndarray
    scale: np.ndarray
    temperature_degC: np.ndarray
    method: np.ndarray
    state: np.ndarray
    base_degC: np.ndarray
    glass_per_K: np.ndarray

    def __getitem__(self, rows: np.ndarray) -> Readings:
        return Readings(*(getattr(self, name)[rows] for name in self.__dataclass_fields__))

    def proof(
        self,
        *,
        reading: np.ndarray | None = None,
        scale: np.ndarray | None = None,
        temperature_degC: np.ndarray | None = None,
        state: np.ndarray | None = None,
    ) -> np.ndarray:
        """Apparent proof at 60 °F, with what is given in place of what was stated; NaN outside the formula."""
        fraction = read_strength(
            self.reading if reading is None else reading,
            self.scale if scale is None else scale,
            self.temperature_degC if temperature_degC is None else temperature_degC,
            self.method,
            self.state if state is None else state,
            self.base_degC,
            self.glass_per_K,
        )
        return proof_from_mass_fraction(fraction)

    def with_other_temperature(self, temperature_degC: np.ndarray) -> np.ndarray:
        return self.proof(temperature_degC=temperature_degC)

    def with_other_scale(self) -> np.ndarray:
        """Proof taken for % vol and the reverse; NaN for other scales."""
        other = pd.Series(self.scale).map(OTHER_SCALE)
        possible = other.notna().to_numpy() & (self.reading <= np.where(other == "%vol", 100.0, 200.0))
        out = np.full(len(self.reading), np.nan)
        rows = np.flatnonzero(possible)
        if rows.size:
            out[rows] = self[rows].proof(scale=other.to_numpy(dtype=object)[rows])
        return out

    def on_other_scales(self) -> list[tuple[str, np.ndarray]]:
        """Strengths with the figure taken on other scales, the likeliest first, each with its words."""
        stronger = (self.scale == "%vol") | (self.reading > 100.0)
        other = self.with_other_scale()
        share = np.isin(self.scale, ("proof", "%vol")) & (self.reading <= 1.0)
        return [
            ("proof", np.where(stronger, other, np.nan)),
            ("% vol", np.where(stronger, np.nan, other)),
            ("a share of 1", self._where(share, 100.0 * self.reading, "%vol", self.method)),
            ("a density in g/cm3", self._where(self._between(0.79, 1.0), self.reading, "g/cm3", METER)),
            ("a density in kg/m3", self._where(self._between(790.0, 1000.0), self.reading, "kg/m3", METER)),
        ]

    def _between(self, low: float, high: float) -> np.ndarray:
        return np.isin(self.scale, ("proof", "%vol", "%mass")) & (self.reading > low) & (self.reading < high)

    def _where(self, possible: np.ndarray, reading: np.ndarray, scale: str, method: object) -> np.ndarray:
        """Strengths of these rows with another figure and scale; NaN in the others."""
        out = np.full(len(self.reading), np.nan)
        rows = np.flatnonzero(possible)
        if rows.size:
            part = self[rows]
            if method is METER:
                part = replace(part, method=np.full(rows.size, METER, dtype=object))
            out[rows] = part.proof(reading=reading[rows], scale=np.full(rows.size, scale, dtype=object))
        return out

    def without_correction(self) -> np.ndarray:
        """The reading taken as already at its reference temperature; NaN for scales that have none."""
        state = pd.Series(self.scale).map(AT_REFERENCE)
        out = np.full(len(self.reading), np.nan)
        rows = np.flatnonzero(state.notna().to_numpy())
        if rows.size:
            out[rows] = self[rows].proof(state=state.to_numpy(dtype=object)[rows])
        return out


@dataclass(frozen=True)
class Rewritten:
    """Figures that a slip of the pen may have come from: for each the place of its reading, and the slip."""

    place: np.ndarray
    reading: np.ndarray
    slip: np.ndarray


def rewritten(reading: np.ndarray) -> Rewritten:
    """For each reading the figures with two neighbouring digits swapped or the decimal sign moved by one."""
    places: list[int] = []
    figures: list[float] = []
    slips: list[str] = []
    for place, value in enumerate(reading.tolist()):
        text = f"{value:.10g}"
        if not text.replace(".", "").isdecimal():
            continue
        for first, second in _neighbours(text):
            if text[first] != text[second]:
                letters = list(text)
                letters[first], letters[second] = letters[second], letters[first]
                places.append(place)
                figures.append(float("".join(letters)))
                slips.append("with two digits swapped")
        for factor in (0.1, 10.0):
            places.append(place)
            figures.append(value * factor)
            slips.append("with the decimal sign moved")
    return Rewritten(np.array(places, dtype=np.int64), np.array(figures, dtype=float), np.array(slips, dtype=object))


def _neighbours(text: str) -> list[tuple[int, int]]:
    """Places of neighbouring digits, across the decimal sign too."""
    digits = [place for place, char in enumerate(text) if char != "."]
    return list(zip(digits, digits[1:], strict=False))
