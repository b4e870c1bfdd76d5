"""What ``vatting calc proof`` answers: the strength that a reading at a temperature means."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from plugins.proof.alcoholometry import official
from plugins.proof.alcoholometry.formula import density
from plugins.proof.alcoholometry.instruments import BASE_DEGC, GLASS_PER_K, read_strength
from plugins.proof.alcoholometry.rounding import official_proof
from plugins.proof.alcoholometry.strength import (
    SCALES,
    T_20C,
    T_60F,
    mass_fraction_from_proof,
    proof_from_mass_fraction,
)
from plugins.proof.alcoholometry.uncertainty import proof_uncertainty
from plugins.proof.calc.reckon import SOURCE, USUAL, Answer, entry
from plugins.proof.calc.typed_in import Strength, Unclear, scale_and_value, strength, temperature
from plugins.proof.gauging.obscuration import DISTILLED_ABOVE, PROOF_PER_MG_100ML, basis_text, obscuration, ways

HIGHEST = {"proof": 200.0, "%vol": 100.0, "%mass": 100.0}


@dataclass(frozen=True)
class Reading:
    """What an instrument showed: figure, scale and temperature [degC]; where the scale holds and how the glass
    expands (NaN: as usual); by a density meter or by glass; a density by weight in air or in vacuo."""

    value: float
    scale: str
    jar_degC: float
    base_degC: float = math.nan
    glass_per_K: float = math.nan
    by_meter: bool = False
    in_air: bool = False

    @property
    def method(self) -> str:
        return "density meter" if self.by_meter else "hydrometer"

    def mass_fraction(self) -> float:
        """Apparent mass fraction of ethanol. Raises Unclear where the reading fits no mixture."""
        highest = HIGHEST.get(self.scale, math.inf)
        if not 0.0 <= self.value <= highest:
            raise Unclear(f"{self.value:g} {self.scale}: the scale runs from 0 to {highest:g}.")
        state = "in air" if self.in_air else "as read"
        figures = self.value, self.scale, self.jar_degC, self.method, state, self.base_degC, self.glass_per_K
        apparent = float(read_strength(*figures))
        if math.isnan(apparent):
            raise Unclear(
                f"{self.value:g} {self.scale} at {_both(self.jar_degC)} fits no mixture of ethanol and water: check "
                "reading, scale and temperature."
            )
        return apparent

    @property
    def settled(self) -> Reading:
        """A meter's density above that of water by no more than twice its standard uncertainty is that of water."""
        per, water = {"kg/m3": 1.0, "g/cm3": 1000.0}.get(self.scale, math.nan), float(density(0.0, self.jar_degC))
        of_water = self.by_meter and 0.0 <= self.value * per - water <= 2.0 * USUAL["density_meter_kg_m3"]
        return replace(self, value=water / per * (1.0 - 1e-12)) if of_water and not self.in_air else self


def strength_of(text: str) -> Strength:
    """A strength as typed, or a reading of glass at a temperature, such as ``126.1proof@75degF``."""
    shown, at, degrees = text.partition("@")
    if not at:
        return strength(text)
    value, scale = scale_and_value(shown)
    fraction = Reading(value, scale, temperature(degrees)).mass_fraction()
    return Strength(float(proof_from_mass_fraction(fraction)), "proof", fraction, float(BASE_DEGC[SCALES.index(scale)]))


def _both(degC: float) -> str:
    return f"{degC:.4g} °C ({degC * 1.8 + 32.0:.4g} °F)"


def read(reading: Reading, solids: float) -> Answer:
    """Strength at 60 °F and 20 °C, and what solids [mg/100 mL] hide (NaN: not stated)."""
    reading = reading.settled
    apparent = reading.mass_fraction()
    shown = float(proof_from_mass_fraction(apparent))
    hidden = float(obscuration(solids))
    known = not math.isnan(hidden)
    true = min(200.0, shown + hidden) if known else shown
    way = ways(np.array([solids]), np.array([False]))
    answer = entry(None, float(mass_fraction_from_proof(true)), apparent)
    answer |= {
        "proof_60F": true,
        "proof_apparent_60F": shown,
        "obscuration_proof": hidden if known else None,
        "strength_basis": "true" if known else "apparent",
        "proof_official": float(official_proof(true)),
        "official_table": _table_1(reading),
        "solids_mg_100mL": None if math.isnan(solids) else solids,
        "uncertainty": _uncertainty(reading, apparent, known),
        "basis": str(basis_text(way, np.array([shown]))[0]),
        "method": _method(reading),
        "metric": reading.scale == "%vol",
        "source": f"{SOURCE}; instrument corrections as 27 CFR 30.23, obscuration as 27 CFR 30.31 and 30.32",
    }
    if solids > DISTILLED_ABOVE:
        answer["caution"] = "Solids above 600 mg/100 mL: only distillation shows the true proof (27 CFR 30.41)."
    return answer


def _method(reading: Reading) -> str:
    air = ", by weight in air of 1.2 kg/m3" if reading.in_air else ""
    if reading.by_meter:
        return f"density meter{air}: a density holds at the cell's temperature, a strength at its reference; no glass"
    own = T_60F if reading.scale in ("proof", "sg60") else T_20C
    base = own if math.isnan(reading.base_degC) else reading.base_degC
    glass = GLASS_PER_K if math.isnan(reading.glass_per_K) else reading.glass_per_K
    return (
        f"glass hydrometer in {reading.scale}{air}, true at {_both(base)}, cubic expansion of the glass {glass:g} per "
        "°C; the density it floats in gives the strength"
    )


def _uncertainty(reading: Reading, apparent: float, solids_known: bool) -> Answer:
    """Standard uncertainty of the proof by the usual defaults, and upwards what unstated solids may hide."""
    degrees = USUAL["cell_temperature_degC" if reading.by_meter else "temperature_degC"]
    way = reading.method, reading.base_degC, reading.glass_per_K
    temperature = float(proof_uncertainty(reading.value, reading.scale, reading.jar_degC, 0.0, degrees, *way))
    instrument = USUAL["hydrometer_proof"]
    if reading.by_meter:
        spread = USUAL["density_meter_kg_m3"]
        instrument = float(proof_uncertainty(density(apparent, T_20C), "kg/m3", T_20C, spread, 0.0, "density meter"))
    measured = PROOF_PER_MG_100ML * USUAL["solids_mg_100mL"] if solids_known else 0.0
    total = math.sqrt(instrument**2 + temperature**2 + measured**2)
    most = 0.0 if solids_known else PROOF_PER_MG_100ML * USUAL["unstated_solids_mg_100mL"]
    return {"proof_60F": total, "proof_60F_up": math.sqrt(total**2 + most**2 / 3.0)}


def _table_1(reading: Reading) -> Answer | None:
    """What Table 1 of the Gauging Manual makes of a reading, where its cells were seen in print."""
    usual = math.isnan(reading.glass_per_K) and not abs(reading.base_degC - T_60F) > 1e-6
    if reading.by_meter or reading.scale != "proof" or not usual:
        return None
    value = official.true_proof(reading.value, round(reading.jar_degC * 1.8 + 32.0, 9))
    if math.isnan(value):
        return None
    return {"proof": float(official_proof(value)), "section": "27 CFR 30.61, Table 1, interpolated as 30.23"}
