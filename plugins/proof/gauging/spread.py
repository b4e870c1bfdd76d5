"""How sure the figures of a reading are: certificate, mark, temperature, solids, distillation, content."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from plugins.proof.alcoholometry.amounts import LITRES_PER_GALLON
from plugins.proof.alcoholometry.formula import Array, density, slope_by_fraction
from plugins.proof.alcoholometry.instruments import Sensed, is_at_reference
from plugins.proof.alcoholometry.strength import T_60F
from plugins.proof.alcoholometry.uncertainty import Parts, combined, proof_slopes, strength_slope
from plugins.proof.gauging import obscuration as solids
from plugins.proof.gauging.content import Contents
from plugins.proof.gauging.resolve import DISTILLED, METER, Resolved

LITRES_PER_M3 = 1000.0


@dataclass(frozen=True)
class Doubts:
    """Expanded uncertainties (k=2) that certificates state, row by row; NaN where none does.

    ``reading`` in the scale's unit, ``density_kg_m3`` of a meter certified in density that shows
    strength, ``jar_K`` of the thermometer.
    """

    reading: Array
    density_kg_m3: Array
    jar_K: Array


@dataclass(frozen=True)
class ContentSpread:
    """Standard uncertainties of contents, row by row."""

    mass_kg: Array
    volume_gal: Array
    proof_gallons: Array


def parts_of(
    settled: Resolved,
    sensed: Sensed,
    fraction: Array,
    doubts: Doubts,
    way: NDArray[np.int8],
    is_entry: pd.Series,
    site: Any,
) -> Parts:
    """The parts of each proof's uncertainty, from the certificate where it states one, else from the settings.

    Parameters: readings as resolved and sensed, their apparent mass fractions, what certificates state,
    ``obscuration.ways``, which readings are of new spirit at entry, and the site.
    """
    slopes = proof_slopes(sensed, fraction)
    meter = settled.sensor == METER
    instrument, mark = _instrument(slopes.by_reading, slopes.by_density, doubts, meter, site)
    at_reference = meter & is_at_reference(settled.scale, settled.sensor, settled.state)
    by_temperature = np.where(at_reference, 0.0, slopes.by_temperature)
    common, alone = _degrees(doubts, meter, site)
    distilling = np.where(settled.method == DISTILLED, site["uncertainty.distillation_proof"], 0.0)
    stated = np.isin(way, (solids.OPTIONAL, solids.ADDED))
    measuring = np.where(stated, solids.PROOF_PER_MG_100ML * site["uncertainty.solids_mg_100mL"], 0.0)
    unknown = (way == solids.UNKNOWN) & ~is_entry.fillna(False).to_numpy(dtype=bool)
    most = solids.PROOF_PER_MG_100ML * site["uncertainty.unstated_solids_mg_100mL"]
    return Parts(
        combined(mark, by_temperature * alone, distilling, measuring),
        instrument,
        by_temperature * common,
        np.where(unknown, most, 0.0),
    )


def _instrument(by_reading: Array, by_density: Array, doubts: Doubts, meter: Array, site: Any) -> tuple[Array, Array]:
    """What one standard uncertainty of the instrument does to the proof, and what reading its mark adds."""
    usual, usual_mark = site["uncertainty.hydrometer_proof"], site["uncertainty.hydrometer_mark_proof"]
    mark = min(usual_mark, usual)
    unstated = np.where(meter, by_density * site["uncertainty.density_meter_kg_m3"], np.sqrt(usual**2 - mark**2))
    certified, in_density = ~np.isnan(doubts.reading), ~np.isnan(doubts.density_kg_m3)
    instrument = np.select(
        [certified, in_density], [by_reading * doubts.reading / 2.0, by_density * doubts.density_kg_m3 / 2.0], unstated
    )
    # What a meter does not repeat is a part of what is stated of it.
    unrepeated = np.minimum(np.abs(by_density) * site["uncertainty.density_meter_repeat_kg_m3"], np.abs(instrument))
    steady = np.copysign(np.sqrt(np.square(instrument) - np.square(unrepeated)), instrument)
    alone = np.where(meter, unrepeated, np.where(certified, usual_mark, mark))
    return np.where(meter, steady, instrument), alone


def _degrees(doubts: Doubts, meter: Array, site: Any) -> tuple[Array, Array]:
    """Standard uncertainty of temperatures that readings with one thermometer share, and that each has alone. [K]"""
    whole = site["uncertainty.temperature_degC"]
    usual = min(site["uncertainty.thermometer_degC"], whole)
    common = np.where(np.isnan(doubts.jar_K), usual, doubts.jar_K / 2.0)
    alone = np.sqrt(whole**2 - usual**2)
    return np.where(meter, site["uncertainty.cell_temperature_degC"], common), np.where(meter, 0.0, alone)


def thermometers_of(settled: Resolved, instruments: pd.Series, site: Any) -> NDArray[np.object_]:
    """Name of the thermometer behind each reading: the site's for jars, the meter itself for its cell."""
    jar = site["instruments.thermometer"] or "thermometer of the jars"
    own = instruments.fillna("meter").astype(object).to_numpy()
    return np.where(settled.sensor == METER, own, jar)


def content_spread(content: Contents, liquid: Array, true: Array, share: Array, parts: Parts) -> ContentSpread:
    """Standard uncertainties of mass, volume at 60 °F and proof gallons of contents.

    ``liquid`` is the apparent mass fraction, ``true`` the true proof, ``share`` the standard uncertainty
    of what was measured (weight or volume) relative to it. A strength that is too high makes spirit too
    light: of a weight it makes too much volume, of a volume too little mass.
    """
    rho, by_fraction = density(liquid, T_60F), slope_by_fraction(liquid, T_60F)
    fraction = parts.total / strength_slope(liquid, T_60F, 200.0)
    thinner = by_fraction / rho * fraction
    weighed = content.basis == "weighed"
    gallons = content.mass_kg / rho * LITRES_PER_M3 / LITRES_PER_GALLON
    mass = content.mass_kg * np.where(weighed, share, np.hypot(share, thinner))
    volume = gallons * np.where(weighed, np.hypot(share, thinner), share)
    with np.errstate(divide="ignore", invalid="ignore"):
        strength = np.where(true > 0.0, parts.total / true, 0.0)
    together = np.where(weighed, strength - thinner, strength)
    return ContentSpread(mass, volume, gallons * true / 100.0 * np.hypot(share, together))
