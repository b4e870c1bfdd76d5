"""The stage ``correct_proof``: lab readings → strengths at reference temperature, and contents."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline import Finding, stage
from plugins.proof.alcoholometry.amounts import LITRES_PER_GALLON, volume_L
from plugins.proof.alcoholometry.formula import Array, density
from plugins.proof.alcoholometry.instruments import METHODS, Sensed, sense
from plugins.proof.alcoholometry.rounding import official_proof
from plugins.proof.alcoholometry.strength import (
    SCALES,
    T_20C,
    T_60F,
    abv_from_mass_fraction,
    default_scale,
    mass_fraction_from_proof,
    proof_from_mass_fraction,
)
from plugins.proof.alcoholometry.uncertainty import Parts
from plugins.proof.declared.frames import PROOFS
from plugins.proof.gauging import obscuration as solids
from plugins.proof.gauging.certificates import (
    Certificate,
    InForce,
    certificates_of,
    facts_of,
    in_force,
    thermometer_unit,
)
from plugins.proof.gauging.content import Contents, contents
from plugins.proof.gauging.dips import DipTable, dip_tables, with_dips
from plugins.proof.gauging.judge import (
    judge_amounts,
    judge_content,
    judge_doubts,
    judge_unmeasured,
    judge_usable,
)
from plugins.proof.gauging.meters import by_density, for_duty
from plugins.proof.gauging.remarks import Remarks
from plugins.proof.gauging.resolve import DISTILLED, METER, Resolved, resolve
from plugins.proof.gauging.spread import Doubts, content_spread, parts_of, thermometers_of

Rows = NDArray[np.bool_]
CARRIED = (
    "vessel", "taken_at", "taken_at_timed", "instrument", "reading_no", "purpose", "sample_point", "reading",
    "temperature_degC", "temperature_unit", "solids_mg_100mL",
)  # fmt: skip


@stage(gives=PROOFS, per="row of readings")
def correct_proof(
    readings: pd.DataFrame, instruments: pd.DataFrame, vessels: pd.DataFrame, site: Any
) -> tuple[pd.DataFrame, list[Finding]]:
    """Proof at 60 °F, % vol at 20 °C and content of every lab reading, by instrument and temperature.

    Certificate corrections come first (27 CFR 30.23), then glass and temperature (OIML R 22), then
    what dissolved solids hide (27 CFR 30.32). A reading that cannot be used is a finding, not a row.
    """
    if readings.empty:
        return PROOFS.empty(), []
    known = certificates_of(instruments)
    tables = dip_tables(vessels)
    readings, by_ullage = with_dips(readings, tables)
    chosen = in_force(readings["instrument"], readings["taken_at"], known)
    settled = resolve(readings, chosen, default_scale(site["instruments.default_scale"], site.markets), site.markets)
    remarks = Remarks(readings, np.array(SCALES, dtype=object)[settled.scale])
    jar, jar_expanded, thermometers = _jar_temperature(readings, settled, known, site)
    certified = ~chosen.too_early & ((settled.graduation < 0) | (settled.graduation == settled.scale))
    corrected, expanded = _by_certificate(readings["reading"].to_numpy(np.float64), chosen, certified)
    sensed = sense(
        corrected,
        settled.scale,
        jar,
        settled.sensor,
        settled.state,
        chosen.described("base_temperature_degC"),
        chosen.described("glass_expansion_per_K"),
    )
    sensed, expanded_kg_m3 = by_density(sensed, chosen, settled)
    fraction = np.where(settled.unknown_word, np.nan, sensed.mass_fraction)
    judge_usable(remarks, settled, sensed, fraction)
    judge_doubts(remarks, settled, sensed, fraction, chosen, site["tolerances.meter_base_degC"])
    facts = facts_of(_joined(readings["facts"].tolist(), thermometers), chosen)
    doubts = Doubts(expanded, expanded_kg_m3, jar_expanded)
    standing = chosen.standing(readings["taken_at"])
    for code, rows in by_ullage.items():
        remarks.say(code, rows)
    frame = _frame(readings, settled, sensed, fraction, doubts, facts, standing, tables, site, remarks)
    return frame, remarks.findings


def _joined(own: list[tuple[int, ...]], further: list[tuple[int, ...]]) -> list[tuple[int, ...]]:
    return [first + second for first, second in zip(own, further, strict=True)] if further else own


def _by_certificate(reading: Array, chosen: InForce, certified: Rows) -> tuple[Array, Array]:
    """Readings with their corrections added, and expanded uncertainties (NaN where none is stated)."""
    corrected, expanded = reading.copy(), np.full(reading.size, np.nan)
    for certificate, rows in chosen.groups():
        if certificate is not None:
            rows = rows[certified[rows]]
            corrected[rows] += certificate.correction(reading[rows])
            expanded[rows] = certificate.uncertainty(reading[rows])
    return corrected, expanded


def _jar_temperature(
    readings: pd.DataFrame, settled: Resolved, known: dict[str, list[Certificate]], site: Any
) -> tuple[Array, Array, list[tuple[int, ...]]]:
    """Temperatures with the corrections of the site's thermometer, their expanded uncertainty, the facts of both."""
    stated = readings["temperature_degC"].to_numpy(np.float64)
    expanded = np.full(stated.size, np.nan)
    name = site["instruments.thermometer"]
    if not name:
        return stated, expanded, []
    names = pd.Series([name] * len(readings), index=readings.index, dtype="str")
    chosen = in_force(names, readings["taken_at"], known)
    in_jar = (settled.sensor != METER) & ~chosen.too_early
    jar = stated.copy()
    facts: list[tuple[int, ...]] = [()] * len(readings)
    for certificate, rows in chosen.groups():
        unit = thermometer_unit(certificate)
        if certificate is None or not unit:
            continue
        rows = rows[in_jar[rows]]
        per_K = 1.8 if unit == "degF" else 1.0
        shown = stated[rows] * per_K + (32.0 if unit == "degF" else 0.0)
        jar[rows] += certificate.correction(shown) / per_K
        expanded[rows] = certificate.uncertainty(shown) / per_K
        for row in rows.tolist():
            facts[row] = certificate.facts
    return jar, expanded, facts


def _frame(
    readings: pd.DataFrame,
    settled: Resolved,
    sensed: Sensed,
    fraction: Array,
    doubts: Doubts,
    facts: list[tuple[int, ...]],
    standing: NDArray[np.object_],
    tables: dict[str, DipTable],
    site: Any,
    remarks: Remarks,
) -> pd.DataFrame:
    """The rows of the usable readings."""
    hidden = readings["solids_mg_100mL"].to_numpy(np.float64)
    distilled = settled.method == DISTILLED
    obscured = solids.obscuration(hidden)
    way = solids.ways(hidden, distilled)
    shown = proof_from_mass_fraction(fraction)
    apparent = np.where(distilled, shown - obscured, shown)
    true = np.where(distilled, shown, np.fmin(200.0, shown + np.nan_to_num(obscured)))
    # What floats or vibrates meets the solids too: volume and weight go by the apparent density.
    liquid = np.where(distilled & ~np.isnan(apparent), mass_fraction_from_proof(apparent), fraction)
    content = contents(readings, liquid, tables, site["tolerances.net_weight_kg"])
    judge_unmeasured(remarks, distilled & np.isnan(apparent) & ~np.isnan(content.mass_kg))
    judge_amounts(remarks, content, site)
    judge_content(remarks, content)
    usable = np.flatnonzero(~np.isnan(fraction))
    true_fraction = np.where(true == shown, fraction, mass_fraction_from_proof(true))
    parts = parts_of(settled, sensed, fraction, doubts, way, readings["purpose"] == "entry", site)
    columns = {
        "method": np.array(METHODS, dtype=object)[settled.method],
        "scale": remarks.scale,
        "proof_apparent_60F": apparent,
        "obscuration_proof": obscured,
        "proof_60F": true,
        "strength_basis": np.where(np.isin(way, (solids.UNKNOWN, solids.TOO_HIGH)), "apparent", "true").astype(object),
        "abv_20C": abv_from_mass_fraction(true_fraction),
        "mass_fraction": true_fraction,
        "density_kg_m3": density(liquid, T_20C),
        "proof_official": official_proof(true),
        "basis": solids.basis_text(way, apparent) + for_duty(settled, sensed, site),
        "proof_uncertainty": parts.total,
        "proof_uncertainty_up": parts.upward,
        "proof_uncertainty_own": parts.own,
        "proof_by_instrument": parts.by_instrument,
        "proof_by_thermometer": parts.by_thermometer,
        "thermometer": thermometers_of(settled, readings["instrument"], site),
        "proof_may_hide": parts.may_hide,
        "certificate": standing,
        "scale_assumed": settled.scale_assumed,
        "method_assumed": settled.method_assumed,
        "base_assumed_degC": settled.base_assumed_degC,
        "volume_temperature_assumed_degC": content.assumed_degC,
        **_content_columns(content, liquid, true, parts, site),
    }
    rows = [own + dip if dip else own for own, dip in zip(facts, content.facts, strict=True)]
    every = len(usable) == len(readings)
    carried = readings if every else readings.iloc[usable]
    return PROOFS.build(
        {name: carried[name] for name in CARRIED}
        | {name: values if every else values[usable] for name, values in columns.items()},
        rows if every else [rows[row] for row in usable.tolist()],
    )


def _content_columns(content: Contents, liquid: Array, true: Array, parts: Parts, site: Any) -> dict[str, NDArray[Any]]:
    percent = {
        "weighed": site["uncertainty.weighed_percent"],
        "metered": site["uncertainty.metered_percent"],
        "dipped": site["uncertainty.dipped_tank_percent"],
        "": np.nan,
    }
    share = np.array([percent[way] for way in content.basis.tolist()], dtype=np.float64) / 100.0
    gallons = volume_L(content.mass_kg, liquid, T_60F) / LITRES_PER_GALLON
    spread = content_spread(content, liquid, true, share, parts)
    return {
        "content_mass_kg": content.mass_kg,
        "content_volume_60F_gal": gallons,
        "content_volume_20C_L": volume_L(content.mass_kg, liquid, T_20C),
        "content_proof_gallons": gallons * true / 100.0,
        "content_basis": np.array([way or None for way in content.basis.tolist()], dtype=object),
        "content_uncertainty_kg": spread.mass_kg,
        "content_volume_uncertainty_gal": spread.volume_gal,
        "content_proof_gallons_uncertainty": spread.proof_gallons,
    }
