"""What is said about readings: those that cannot be used, and those that are used with a doubt."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from pipeline import Finding
from plugins.proof.certificates import Certificate, InForce
from plugins.proof.content import Contents
from plugins.proof.formula import HIGHEST_DEGC, LOWEST_DEGC, Array, density
from plugins.proof.instruments import STATES, Sensed, is_at_reference
from plugins.proof.inverse import mass_fraction_from_density
from plugins.proof.obscuration import DISTILLED_ABOVE
from plugins.proof.remarks import Remarks, degrees
from plugins.proof.resolve import DISTILLED, METER, Resolved
from plugins.proof.strength import SCALES, T_20C, T_60F, proof_from_mass_fraction

Rows = NDArray[np.bool_]
# Ends of the scales of strength; a density is judged by the formula itself.
HIGHEST_READING = np.array([200.0, 100.0, 100.0, np.inf, np.inf, np.inf])
ASSUMED = {T_60F: ("gallons", "60 °F"), T_20C: ("litres", "20 °C")}
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


def judge_certificates(remarks: Remarks, chosen: InForce, usable: Rows) -> None:
    """One finding per certificate that was not in force, one note per instrument without any."""
    readings = remarks.readings
    days = readings["taken_at"].to_numpy("datetime64[D]")
    for certificate, rows in chosen.groups():
        rows = rows[usable[rows]]
        if certificate is None or not rows.size:
            continue
        if not certificate.is_certificate:
            remarks.add(_no_certificate(certificate.instrument, readings["facts"].iloc[rows[0]], rows.size))
            continue
        early = rows[chosen.too_early[rows]]
        late = rows[days[rows] > certificate.until_day]
        if early.size:
            remarks.add(_out_of_calibration(remarks, certificate, early, days, "valid only from", certificate.from_day))
        if late.size:
            remarks.add(_out_of_calibration(remarks, certificate, late, days, "valid until", certificate.until_day))
    unlisted = np.flatnonzero(usable & (chosen.place < 0))
    first: dict[str, list[int]] = {}
    for row, name in zip(unlisted.tolist(), readings["instrument"].iloc[unlisted].fillna("").tolist(), strict=True):
        first.setdefault(name.strip(), []).append(row)
    for name, at in sorted(first.items()):
        remarks.add(_no_certificate(name, readings["facts"].iloc[at[0]], len(at)))


def _out_of_calibration(
    remarks: Remarks,
    certificate: Certificate,
    rows: NDArray[np.intp],
    days: NDArray[np.datetime64],
    said: str,
    day: np.datetime64,
) -> Finding:
    facts = {fact for own in remarks.readings["facts"].iloc[rows] for fact in own}
    first, last = days[rows].min(), days[rows].max()
    taken = f"{rows.size} readings from {first} to {last} rest" if rows.size > 1 else f"a reading of {first} rests"
    used = "its corrections were used all the same" if said == "valid until" else "no corrections were added"
    return Finding(
        "proof.instrument-out-of-calibration",
        "review",
        f"{certificate.instrument}: its certificate is {said} {day}, but {taken} on it; {used}.",
        subject=certificate.instrument,
        facts=(*certificate.facts, *sorted(facts)),
        column="valid_until" if said == "valid until" else "calibrated_on",
        observed=str(last if said == "valid until" else first),
        expected=f"{said} {day}",
        rule="27 CFR 30.23 adds the instrument's own corrections",
        remedy="Drop the certificate that was in force, or read again with a calibrated instrument.",
    )


def _no_certificate(name: str, facts: tuple[int, ...], count: int) -> Finding:
    who = f"{name} has no certificate" if name else "No instrument is named"
    readings = f"{count} readings were" if count > 1 else "one reading was"
    return Finding(
        "proof.no-certificate",
        "note",
        f"{who}: {readings} taken without corrections and with the usual uncertainty.",
        subject=name,
        facts=facts,
        column="instrument",
        expected="a calibration certificate on an instruments sheet",
        remedy="Drop the points of its certificate as an instruments sheet." if name else "Name the instrument.",
    )


def note_assumptions(remarks: Remarks, settled: Resolved, usable: Rows) -> None:
    """One note for all readings whose scale is the site's default, one each for methods that were assumed."""
    _note_methods(remarks, settled, usable)
    rows = np.flatnonzero(usable & settled.scale_assumed)
    if rows.size:
        scale = str(remarks.scale[rows[0]])
        remarks.add(
            Finding(
                "proof.scale-assumed",
                "note",
                f"No scale is stated for {_counted(rows.size, 'reading')}; the site's default, {scale}, was taken.",
                facts=remarks.readings["facts"].iloc[rows[0]],
                column="reading",
                expected="a scale in its column, the header or the cell",
                remedy="State the scale, or set default_scale under [instruments] in site.toml.",
            )
        )


def _note_methods(remarks: Remarks, settled: Resolved, usable: Rows) -> None:
    of_gravity = settled.scale == SCALES.index("sg60")
    for marked, what, taken in (
        (~of_gravity, "in a unit of density", "by a density meter, at its cell's temperature and without glass"),
        (of_gravity, "of specific gravity", "by a glass hydrometer at the jar's temperature"),
    ):
        rows = np.flatnonzero(usable & settled.method_assumed & marked)
        if rows.size:
            remarks.add(
                Finding(
                    "proof.method-assumed",
                    "note",
                    f"No method and no kind of instrument is stated for {_counted(rows.size, 'reading')} {what}; "
                    f"{'they were' if rows.size > 1 else 'it was'} taken as {taken}.",
                    facts=remarks.readings["facts"].iloc[rows[0]],
                    column="method",
                    expected="hydrometer or density meter, on the row or on an instruments sheet",
                    rule="common practice, no source",
                    remedy="State the method beside the reading, or the kind of the instrument on its sheet.",
                )
            )


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
    """Findings about contents, and one note for each temperature that volumes were taken at."""
    for code, rows in content.faults.items():
        remarks.say(code, rows)
    for temperature, (unit, at) in ASSUMED.items():
        taken = np.flatnonzero(content.assumed_degC == temperature)
        if taken.size:
            remarks.add(
                Finding(
                    "proof.volume-temperature-assumed",
                    "note",
                    f"{_counted(taken.size, 'volume')} in {unit} without a temperature "
                    f"{'were' if taken.size > 1 else 'was'} taken at {at}.",
                    facts=remarks.readings["facts"].iloc[taken[0]],
                    column="volume_temperature",
                    expected="the temperature of the vessel",
                    remedy="Enter the vessel's temperature beside its volume.",
                )
            )


def _counted(count: int, what: str) -> str:
    return f"{count} {what}s" if count > 1 else f"one {what}"
