"""What is said about readings: those that cannot be used, and those that are used with a doubt."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from plugins.proof.alcoholometry.formula import HIGHEST_DEGC, LOWEST_DEGC, Array, density
from plugins.proof.alcoholometry.instruments import STATES, Sensed, is_at_reference
from plugins.proof.alcoholometry.inverse import mass_fraction_from_density
from plugins.proof.alcoholometry.strength import SCALES, T_20C, T_60F, proof_from_mass_fraction
from plugins.proof.gauging.certificates import InForce
from plugins.proof.gauging.content import Contents
from plugins.proof.gauging.obscuration import DISTILLED_ABOVE
from plugins.proof.gauging.remarks import Remarks, degrees
from plugins.proof.gauging.resolve import DISTILLED, METER, Resolved

Rows = NDArray[np.bool_]
# Ends of the scales of strength; a density is judged by the formula itself.
HIGHEST_READING = np.array([200.0, 100.0, 100.0, np.inf, np.inf, np.inf])
# 5 °C of a cask-strength volume at 0.09 % per °C: standard, for a volume whose temperature is not stated.
UNSTATED_TEMPERATURE_PERCENT = 0.45
AT_BOTTLING = ("bottling tank", "line")


def judge_usable(remarks: Remarks, settled: Resolved, sensed: Sensed, fraction: Array) -> None:
    """One finding for every reading without a strength: the first reason that applies."""
    readings = remarks.readings
    reading = readings["reading"].to_numpy(np.float64)
    temperature = readings["temperature_degC"].to_numpy(np.float64)
    highest = HIGHEST_READING[settled.scale]
    needs_jar = ~is_at_reference(settled.scale, settled.sensor, settled.state)
    cold_or_hot = needs_jar & ((temperature < LOWEST_DEGC) | (temperature > HIGHEST_DEGC))
    reasons = {
        "proof.unknown-word": settled.unknown_word,
        "proof.no-reading": ~np.isfinite(reading),
        "proof.reading-outside-scale": (reading < 0.0) | (reading > highest),
        "proof.no-temperature": needs_jar & np.isnan(temperature),
        "proof.temperature-outside-formula": cold_or_hot,
        "proof.no-such-strength": np.ones(reading.size, dtype=bool),
    }
    at = sensed.temperature_degC
    units = readings["temperature_unit"].tolist()
    remarks.more["at"] = np.full(reading.size, "", dtype=object)
    for row in np.flatnonzero(np.isnan(fraction)).tolist():
        remarks.more["at"][row] = degrees(at[row], units[row])
    remarks.more |= {"lowest": np.zeros(reading.size), "highest": highest, "density": sensed.density_kg_m3}
    remarks.more |= {"ethanol": density(1.0, at), "water": density(0.0, at)}
    open_rows = np.isnan(fraction)
    for code, rows in reasons.items():
        remarks.say(code, rows & open_rows)
        open_rows = open_rows & ~rows


def judge_doubts(
    remarks: Remarks, settled: Resolved, sensed: Sensed, fraction: Array, chosen: InForce, meter_base_degC: float
) -> None:
    """Findings about readings that count although something does not fit."""
    readings = remarks.readings
    usable = ~np.isnan(fraction)
    reading = readings["reading"].to_numpy(np.float64)
    temperature = readings["temperature_degC"].to_numpy(np.float64)
    low, high = chosen.described("range_low"), chosen.described("range_high")
    same_scale = (settled.graduation < 0) | (settled.graduation == settled.scale)
    scales = np.array([*SCALES, ""], dtype=object)
    remarks.more |= {
        "low": low,
        "high": high,
        "graduated": np.where(settled.graduation < 0, remarks.scale, scales[np.maximum(settled.graduation, -1)]),
        "unit": scales[np.maximum(settled.unit, -1)],
        "kind": chosen.described("kind"),
        "as_is": np.round(proof_from_mass_fraction(fraction), 1),
    }
    remarks.say("proof.outside-instrument-range", usable & same_scale & ((reading < low) | (reading > high)))
    remarks.say("proof.scale-in-doubt", usable & (settled.unit >= 0) & (settled.unit != settled.scale))
    # A meter is calibrated in density and shows what it is set to.
    remarks.say("proof.scale-differs", usable & ~same_scale & (settled.kind != METER))
    remarks.say("proof.method-in-doubt", usable & _kinds_differ(settled))
    at_20C = settled.state == STATES.index("at 20 °C")
    at_60F_only = np.isin(settled.scale, (SCALES.index("proof"), SCALES.index("sg60")))
    remarks.say("proof.state-in-doubt", usable & at_20C & at_60F_only)
    _judge_meters(remarks, settled, sensed, usable, temperature, meter_base_degC)
    too_high = readings["solids_mg_100mL"].to_numpy(np.float64) > DISTILLED_ABOVE
    remarks.say("proof.solids-above-limit", usable & too_high & (settled.method != DISTILLED))
    unknown_solids = readings["solids_mg_100mL"].isna().to_numpy() & (settled.method != DISTILLED)
    at_bottling = readings["purpose"].isin(AT_BOTTLING).to_numpy()
    remarks.say("proof.apparent-only", usable & unknown_solids & at_bottling)


def _kinds_differ(settled: Resolved) -> Rows:
    """The row names one of hydrometer and density meter, the instrument list the other."""
    stated = settled.method != DISTILLED
    return stated & (settled.kind >= 0) & (settled.kind != settled.method)


def _judge_meters(
    remarks: Remarks, settled: Resolved, sensed: Sensed, usable: Rows, temperature: Array, tolerance: float
) -> None:
    """A meter that shows strength, as read, with a cell away from any reference temperature."""
    shows_strength = is_at_reference(settled.scale, settled.sensor, settled.state)
    as_read = settled.state == STATES.index("as read")
    away = np.minimum(np.abs(temperature - T_20C), np.abs(temperature - T_60F)) > tolerance
    rows = usable & (settled.sensor == METER) & shows_strength & as_read & away
    otherwise = np.full(rows.size, np.nan)
    uncorrected = mass_fraction_from_density(sensed.density_kg_m3[rows], temperature[rows])
    otherwise[rows] = np.round(proof_from_mass_fraction(uncorrected), 1)
    remarks.more["otherwise"] = otherwise
    remarks.say("proof.maybe-already-corrected", rows)


def judge_unmeasured(remarks: Remarks, rows: Rows) -> None:
    """Contents beside a distilled strength, whose apparent density is not known."""
    remarks.say("proof.apparent-not-measured", rows)


def judge_amounts(remarks: Remarks, content: Contents, site: Any) -> None:
    """Rows whose weight and volume differ by more than twice their standard uncertainty."""
    by_volume = np.where(
        content.beside_dipped, site["uncertainty.dipped_tank_percent"], site["uncertainty.metered_percent"]
    )
    unknown = np.where(content.beside_assumed, UNSTATED_TEMPERATURE_PERCENT, 0.0)
    share = np.hypot(by_volume, unknown) * content.beside_kg
    spread = np.hypot(share, site["uncertainty.weighed_percent"] * content.mass_kg) / 100.0
    remarks.more |= {"by_weight": np.round(content.mass_kg, 1), "by_volume": np.round(content.beside_kg, 1)}
    remarks.say("proof.weight-and-volume-differ", np.abs(content.beside_kg - content.mass_kg) > 2.0 * spread)


def judge_content(remarks: Remarks, content: Contents) -> None:
    """Findings about contents."""
    for code, rows in content.faults.items():
        remarks.say(code, rows)
