"""The instruments of the invented lab, and the readings that people took with them.

Each reading is made forwards: from the true strength through density, temperature, glass and the
instrument's error to a figure read off a scale, with a little noise.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime
from random import Random

import numpy as np

from plugins import proof
from tests.make_inbox_world import BISECTIONS, Spirit

Points = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Instrument:
    """An instrument with its certificate: ``points`` are (reading, correction to add)."""

    name: str
    kind: str
    scale: str
    base: str
    low: float
    high: float
    graduation: float
    points: Points
    expanded: float
    noise: float
    certificate: str
    decimals: int = 1

    def correction(self, reading: float) -> float:
        return float(np.interp(reading, [p for p, _ in self.points], [c for _, c in self.points]))

    def shown(self, corrected: float) -> float:
        """The reading whose correction leads to a corrected value."""
        reading = corrected
        for _ in range(5):
            reading = corrected - self.correction(reading)
        return reading


H1 = Instrument(
    "H-1", "hydrometer", "proof", "60 °F", 95, 135, 0.2,
    ((95, 0.1), (105, 0.2), (115, 0.2), (125, 0.1), (135, -0.1)), 0.16, 0.05, "OF-24-011",
)  # fmt: skip
H2 = Instrument(
    "H-2", "hydrometer", "% vol", "20 °C", 45, 70, 0.1,
    ((45, -0.05), (52, -0.08), (60, -0.1), (70, 0.0)), 0.08, 0.03, "OF-24-012",
)  # fmt: skip
DM1 = Instrument(
    "DM-1", "density meter", "g/cm3", "20 °C", 0.7, 1.1, 0.00001,
    ((0.85, 0.00003), (0.92, 0.00002), (0.9982, 0.0)), 0.00005, 0.00001, "OF-24-020", 5,
)  # fmt: skip
T1 = Instrument(
    "T-1", "thermometer", "°F", "60 °F", 20, 120, 0.5,
    ((32, 0.1), (60, 0.1), (80, 0.2), (100, 0.2)), 0.2, 0.1, "OF-24-031",
)  # fmt: skip
INSTRUMENTS = (H1, H2, DM1, T1)
SCALE = {"proof": "proof", "% vol": "%vol", "g/cm3": "g/cm3"}


@dataclass
class Reading:
    """One line of a lab book: who read what, when, and what was shown.

    ``moment`` is a date where no time was noted. ``temperature`` is in ``unit`` as written down.
    """

    vessel: str
    moment: date | datetime
    instrument: Instrument
    reading: float = 0.0
    temperature: float = 0.0
    unit: str = "°F"
    by: str = ""
    remark: str = ""
    more: dict[str, object] = field(default_factory=dict)


Asked = tuple[Reading, Spirit]


def to_celsius(fahrenheit: float) -> float:
    return (fahrenheit - 32.0) / 1.8


def read_all(asked: list[Asked], rng: Random, jar_F: Callable[[date, Random], float]) -> list[Reading]:
    """Fill in what the instruments showed. ``jar_F`` gives a jar's true temperature on a day."""
    true_F = []
    for reading, _ in asked:
        if reading.instrument is DM1:
            reading.temperature, reading.unit = 20.0, "°C"
            true_F.append(68.0 + rng.gauss(0.0, 0.01))
            continue
        true_F.append(jar_F(_day(reading.moment), rng))
        reading.temperature = _on_thermometer(true_F[-1], reading.unit, rng)
    shown = _shown([spirit.fraction for _, spirit in asked], true_F, [reading.instrument for reading, _ in asked])
    for (reading, _), value in zip(asked, shown, strict=True):
        tool = reading.instrument
        reading.reading = round(tool.shown(value) + rng.gauss(0.0, tool.noise), tool.decimals)
    return [reading for reading, _ in asked]


def _day(moment: date | datetime) -> date:
    return moment.date() if isinstance(moment, datetime) else moment


def _on_thermometer(true_F: float, unit: str, rng: Random) -> float:
    """To half a degree Fahrenheit or a tenth of a degree Celsius, as T-1 shows it."""
    shown = T1.shown(true_F) + rng.gauss(0.0, T1.noise)
    return round(shown * 2.0) / 2.0 if unit == "°F" else round(to_celsius(shown), 1)


def _shown(fractions: list[float], true_F: list[float], tools: list[Instrument]) -> list[float]:
    """Corrected readings that the liquids give, before instrument error: the strength formula turned round."""
    wanted, at = np.array(fractions), np.array([to_celsius(jar) for jar in true_F])
    out = np.zeros(len(wanted))
    for tool in INSTRUMENTS:
        rows = np.array([used is tool for used in tools], dtype=bool)
        if not rows.any():
            continue
        if tool is DM1:
            out[rows] = proof.density(wanted[rows], at[rows]) / 1000.0
            continue
        low, high = np.full(rows.sum(), 1.0), np.full(rows.sum(), 190.0 if tool is H1 else 95.0)
        for _ in range(BISECTIONS):
            middle = 0.5 * (low + high)
            found = proof.read_strength(middle, SCALE[tool.scale], at[rows])
            low, high = np.where(found < wanted[rows], middle, low), np.where(found < wanted[rows], high, middle)
        out[rows] = 0.5 * (low + high)
    return [float(value) for value in out]


def lab_room(day: date, rng: Random) -> float:
    """Jars stand in an unheated annexe: cool in winter, warm in summer. [°F]"""
    usual = {12: 63.0, 1: 63.0, 2: 64.0, 3: 65.0, 6: 73.0, 9: 70.0}.get(day.month, 68.0)
    return usual + rng.uniform(-3.0, 3.0)


def found_by_lab(reading: Reading) -> float:
    """Apparent proof at 60 °F that the lab works out from its own reading."""
    tool = reading.instrument
    jar_F = reading.temperature if reading.unit == "°F" else reading.temperature * 1.8 + 32.0
    if tool is not DM1:
        jar_F += T1.correction(jar_F)
    corrected = reading.reading + tool.correction(reading.reading)
    method = "density meter" if tool is DM1 else "hydrometer"
    fraction = proof.read_strength(corrected, SCALE[tool.scale], to_celsius(jar_F), method)
    return float(proof.proof_from_mass_fraction(fraction))
