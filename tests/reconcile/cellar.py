"""A cellar of which the truth is known: casks, vats and bottles, and what people write down of them.

Nothing here uses the code that is tested, but for the alcoholometry. Errors are drawn as the settings' default
uncertainties say: one hydrometer and one thermometer err alike in all readings of a batch (a quarter of the
hydrometer's variance by day), one scale or meter in half of its uncertainty; casks drift after they were read;
some quantities stand on paper only; losses are half-normal, 1 in 20 above the house's normal loss,
and casks lose a little unlike each other at their dump, though none gains.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from plugins import proof

Random = np.random.Generator
Array = NDArray[np.float64]
Losses = Callable[[Random, float], float]
COMMON, OF_THE_DAY, OF_CASK = 0.5, 0.25, 0.3
PERCENT = {"weighed": 0.2, "metered": 0.4, "regauge on paper": 3.0, "dipped": 3.0}
FULL_NORMAL = 1.959964
HYDROMETER, MARK, THERMOMETER, JAR = np.sqrt(0.1**2 - 0.05**2), 0.05, 0.15, np.sqrt(0.25**2 - 0.15**2)
LOSS = {"dump": 2.0, "process": 1.0, "filter": 0.8, "bottling": 1.5}
NEAR, STEP_DEGC, JARS_DEGC = 0.2, 0.5, (-5.0, 35.0)
FIRST_DAY = date(2026, 3, 2)


def half_normal(random: Random, normal_percent: float) -> float:
    """A share lost: 19 in 20 are below the house's normal loss."""
    return abs(random.normal()) * normal_percent / 100.0 / FULL_NORMAL


def evenly(random: Random, normal_percent: float) -> float:
    """A share lost: anything up to the house's normal loss, as another house might lose."""
    return random.uniform(0.0, normal_percent / 100.0)


def shown(fraction: float, degC: float, scale: str = "proof") -> float:
    """What a hydrometer of a scale shows in spirit of a mass fraction at a temperature: the formula turned round,
    by a grid that is made once and one more step."""
    marks, degrees, table = _grid(scale)
    place = min(max(int((degC - degrees[0]) / STEP_DEGC), 0), degrees.size - 2)
    share = (degC - degrees[place]) / STEP_DEGC
    near = float(np.interp(fraction, (1.0 - share) * table[place] + share * table[place + 1], marks))
    ends = np.array([near - NEAR, near + NEAR])
    return float(np.interp(fraction, proof.read_strength(ends, scale, degC), ends))


@cache
def _grid(scale: str) -> tuple[Array, Array, Array]:
    """Marks of a scale, temperatures [°C], and the mass fraction that each mark means at each. (degrees × marks)"""
    marks = np.linspace(20.0, 200.0, 721) / (1.0 if scale == "proof" else 2.0)
    degrees = np.arange(*JARS_DEGC, STEP_DEGC)
    table = np.array([proof.read_strength(marks, scale, degC) for degC in degrees])
    kept = np.isfinite(table).all(axis=0)
    return marks[kept], degrees, table[:, kept]


@dataclass
class Batch:
    """One batch as written down, and the truth that a planted slip needs."""

    name: str
    blends: list[dict[str, Any]] = field(default_factory=list)
    readings: list[dict[str, Any]] = field(default_factory=list)
    casks: list[dict[str, Any]] = field(default_factory=list)
    briefs: list[dict[str, Any]] = field(default_factory=list)
    bottlings: list[dict[str, Any]] = field(default_factory=list)
    tares: dict[str, tuple[float, float]] = field(default_factory=dict)
    strength_of: dict[str, float] = field(default_factory=dict)
    jar_of: dict[str, float] = field(default_factory=dict)
    basis: str = ""


class Instruments:
    """The errors that readings of one batch share."""

    def __init__(self, random: Random) -> None:
        self.random = random
        self.hydrometer = random.normal() * HYDROMETER
        self.thermometer = random.normal() * THERMOMETER
        self.days: dict[tuple[str, date], float] = {}

    def _of_day(self, what: str, day: date, whole: float, constant: float) -> float:
        today = self.days.setdefault((what, day), self.random.normal())
        return float(constant * np.sqrt(1 - OF_THE_DAY) + today * whole * np.sqrt(OF_THE_DAY))

    def read(self, fraction: float, day: date) -> tuple[float, float, float]:
        """Reading [proof] and temperature [°F] as written, and the jar's true temperature [°C]."""
        jar = self.random.uniform(12.0, 26.0)
        stated = jar + self._of_day("thermometer", day, THERMOMETER, self.thermometer) + self.random.normal() * JAR
        error = self._of_day("hydrometer", day, HYDROMETER, self.hydrometer)
        mark = self.random.normal() * np.sqrt(MARK**2 - 0.1**2 / 12.0)
        return round(shown(fraction, jar) + error + mark, 1), round(stated * 1.8 + 32.0, 1), jar


def make(name: str, random: Random, only_vat: bool = False, lose: Losses = half_normal) -> Batch:
    """A batch in which nothing is wrong. ``only_vat``: never a filter, bottles or dump gauges: two balances."""
    batch = Batch(name)
    tools = Instruments(random)
    count = int(random.integers(3, 25))
    batch.basis = str(random.choice(["weighed", "metered", "regauge on paper", "dipped"], p=[0.5, 0.3, 0.12, 0.08]))
    dumped = not only_vat and batch.basis == "weighed" and random.random() < 0.25
    style = random.uniform(104.0, 128.0)
    mass = random.uniform(100.0, 170.0, count)
    strength = proof.mass_fraction_from_proof(np.clip(style + random.normal(0.0, 3.0, count), 90.0, 138.0))
    of_scale = random.normal()
    lost_at_dump = lose(random, LOSS["dump"]) if dumped else 0.0
    of_dump_scale = random.normal()
    for place in range(count):
        cask = f"{name}-C{place:02d}"
        _cask(batch, cask, float(strength[place]), random, tools, dumped)
        written = _measured(float(mass[place]), batch.basis, of_scale, random)
        batch.blends.append(_line(batch, cask, written, float(strength[place]), random))
        if dumped:
            lost = max(lost_at_dump + OF_CASK * LOSS["dump"] / 100.0 / FULL_NORMAL * random.normal(), 0.0)
            content = _measured(float(mass[place]) / (1.0 - lost), "weighed", of_dump_scale, random)
            batch.readings[-1]["net_weight"] = f"{_weight(content, float(strength[place])):.2f} kg"
            batch.blends[-1]["emptied"] = True
    total, ethanol = float(mass.sum()), float(mass @ strength)
    water = _water(batch, total, ethanol, random)
    _vat(batch, total, ethanol, water, random, tools, only_vat, lose)
    batch.briefs.append({"batch": name, "vessel": f"{name}-VAT", "vessel_empty": True, "market": "EU"})
    return batch


def _measured(mass: float, basis: str, in_common: float, random: Random) -> float:
    spread = PERCENT[basis] / 100.0
    return mass * (1.0 + spread * (np.sqrt(1.0 - COMMON**2) * random.normal() + COMMON * in_common))


def _weight(mass: float, fraction: float) -> float:
    return float(proof.weight_from_mass(mass, proof.density(fraction, 20.0)))


def _cask(batch: Batch, cask: str, fraction: float, random: Random, tools: Instruments, dumped: bool) -> None:
    """The cask's stock card, often an earlier gauge, and the reading that counts, up to two months old."""
    now = float(proof.proof_from_mass_fraction(fraction))
    batch.casks.append(
        {"cask": cask, "as_of": "2026-02-01", "filled_on": "2020-01-15", "capacity": "250 L",
         "entry_proof": f"{round(now + random.normal(0.0, 4.0), 1)} proof"}
    )  # fmt: skip
    tare = round(random.uniform(42.0, 56.0), 1)
    batch.tares[cask] = tare, round(tare + random.choice([-1, 1]) * random.uniform(3.0, 8.0), 1)
    if random.random() < 0.6:
        year_ago = now + random.normal(0.0, 1.0)
        gross = round(random.uniform(160.0, 200.0) + tare, 1)
        old = batch.tares[cask][1] if random.random() < 0.3 else tare
        batch.readings.append(
            _reading(cask, FIRST_DAY - timedelta(days=360), round(year_ago, 1), 60.0,
                     gross_weight=f"{gross} kg", tare_weight=f"{old} kg", purpose="regauge")
        )  # fmt: skip
        if old != tare:
            other = FIRST_DAY - timedelta(days=180)
            batch.readings.append(
                _reading(cask, other, round(year_ago, 1), 60.0, gross_weight=f"{gross - 2} kg",
                         tare_weight=f"{tare} kg", purpose="regauge")
            )  # fmt: skip
    age = 0 if dumped or random.random() < 0.6 else int(random.integers(1, 60))
    day = FIRST_DAY - timedelta(days=age)
    then = float(proof.mass_fraction_from_proof(now + random.normal() * age / 365.25))
    reading, temperature, jar = tools.read(then, day)
    batch.strength_of[cask], batch.jar_of[cask] = then, jar
    batch.readings.append(_reading(cask, day, reading, temperature, purpose="dump" if age == 0 else "regauge"))


def _reading(vessel: str, day: date, reading: float, degF: float, **more: Any) -> dict[str, Any]:
    base = {"vessel": vessel, "taken_at": day.isoformat(), "reading": f"{reading} proof", "scale": "proof"}
    own = {"temperature": f"{degF} degF", "method": "hydrometer", "instrument": "H-1", "reading_no": "1"}
    return {**base, **own, **more}


def _line(batch: Batch, cask: str, mass: float, fraction: float, random: Random) -> dict[str, Any]:
    line = {
        "batch": batch.name,
        "component": cask,
        "drawn_at": FIRST_DAY.isoformat(),
        "line": "1",
        "basis": batch.basis,
    }
    if batch.basis == "weighed":
        kilograms = _weight(mass, fraction)
        in_pounds = random.random() < 0.3
        weight = f"{kilograms / 0.45359237:.1f} lb" if in_pounds else f"{kilograms:.1f} kg"
        return {**line, "drawn_weight": weight}
    degC = round(random.uniform(12.0, 26.0), 1)
    litres = float(proof.volume_L(mass, fraction, degC))
    gallons = random.random() < 0.4
    volume = f"{litres / 3.785411784:.2f} gal" if gallons else f"{litres:.1f} L"
    return {**line, "drawn_volume": volume, "temperature": f"{degC} degC"}


def _water(batch: Batch, total: float, ethanol: float, random: Random) -> float:
    """Water to some lower strength, in two batches of three."""
    if random.random() < 0.33:
        return 0.0
    target = float(proof.mass_fraction_from_proof(random.uniform(86.0, 100.0)))
    mass = ethanol / target - total
    basis = str(random.choice(["weighed", "metered"]))
    written = _measured(mass, basis, random.normal(), random)
    line = {"batch": batch.name, "component": "water", "drawn_at": "2026-03-03", "line": "1", "basis": basis}
    if basis == "weighed":
        line["drawn_weight"] = f"{_weight(written, 0.0):.1f} kg"
    else:
        line |= {"drawn_volume": f"{float(proof.volume_L(written, 0.0, 15.0)):.1f} L", "temperature": "15 degC"}
    batch.blends.append(line)
    return mass


def _vat(
    batch: Batch, total: float, ethanol: float, water: float, random: Random, tools: Instruments, only_vat: bool,
    lose: Losses,
) -> None:  # fmt: skip
    """What truly is in the vat, its gauges, and what was bottled of it."""
    whole, strong = total + water, ethanol / total
    lost = lose(random, LOSS["process"]) * whole
    thin = ethanol / whole
    strength_lost = random.uniform(min(thin, strong), max(thin, strong))
    mass, pure = whole - lost, ethanol - lost * strength_lost
    fraction = pure / mass
    filtered = not only_vat and random.random() < 0.2
    _gauge(batch, mass, fraction, "2026-03-05", "after water", random, tools)
    if filtered:
        mass *= 1.0 - lose(random, LOSS["filter"])
        after = float(proof.proof_from_mass_fraction(fraction)) + random.normal() * 0.2
        fraction = float(proof.mass_fraction_from_proof(after))
        _gauge(batch, mass, fraction, "2026-03-08", "after filter", random, tools)
    if not only_vat and random.random() < 0.5:
        left = mass * (1.0 - lose(random, LOSS["bottling"]))
        litres = float(proof.volume_L(left, fraction, 20.0))
        bottles = round(litres / (0.7 * (1.0 + 0.003 * random.normal())))
        batch.bottlings.append(
            {"batch": batch.name, "bottled_on": "2026-03-10", "bottle_size": "700 mL", "bottles": bottles, "run": "1"}
        )


def _gauge(
    batch: Batch, mass: float, fraction: float, day: str, purpose: str, random: Random, tools: Instruments
) -> None:
    reading, temperature, jar = tools.read(fraction, date.fromisoformat(day))
    vat = f"{batch.name}-VAT"
    batch.strength_of[vat], batch.jar_of[vat] = fraction, jar
    row = _reading(vat, date.fromisoformat(day), reading, temperature, purpose=purpose)
    if random.random() < 0.6:
        weighed = mass * (1.0 + 0.002 * random.normal())
        row["net_weight"] = f"{_weight(weighed, fraction):.1f} kg"
    else:
        metered = mass * (1.0 + 0.004 * random.normal())
        row |= {"volume": f"{float(proof.volume_L(metered, fraction, 18.0)):.1f} L", "volume_temperature": "18 degC"}
    batch.readings.append(row)
