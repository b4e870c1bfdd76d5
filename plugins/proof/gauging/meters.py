"""Density meters: a certificate in density where strength is shown, and what UK duty wants of a measurement."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from plugins.proof.alcoholometry.formula import Array, density
from plugins.proof.alcoholometry.instruments import DENSITY_SCALES, IN_AIR, Sensed
from plugins.proof.alcoholometry.strength import SCALES, T_20C, T_60F
from plugins.proof.gauging.certificates import InForce
from plugins.proof.gauging.resolve import METER, Resolved

GRAVITY = SCALES.index("sg60")
OF_DENSITY = (*DENSITY_SCALES, GRAVITY)
AT_20C_WITHIN = 0.05
NOT_FOR_DUTY = "; not for UK duty, which wants the density measured in air at 20 °C itself (HMRC SPIR3320)"
FOR_DUTY = "; density measured in air at 20 °C as UK duty wants it, but strength not by its own tables (HMRC SPIR3320)"
AIR = "; density read in air of 1.2 kg/m3"
PERHAPS_FOR_DUTY = "; density measured at 20 °C; UK duty wants it in air, which is not stated (HMRC SPIR3320)"


def by_density(sensed: Sensed, chosen: InForce, settled: Resolved) -> tuple[Sensed, Array]:
    """Corrections in density added to what meters showed on another scale.

    A meter measures density and is certified in it, whatever it is set to show. Parameters: readings as
    sensed without that correction, the certificates in force, and scales as resolved. Returns the
    readings with it, and the expanded uncertainties [kg/m3], NaN where this does not apply.
    """
    other = np.isin(settled.graduation, OF_DENSITY) & (settled.graduation != settled.scale)
    applies = other & (settled.sensor == METER) & ~chosen.too_early
    expanded = np.full(applies.size, np.nan)
    if not applies.any():
        return sensed, expanded
    rho = sensed.density_kg_m3.copy()
    for certificate, rows in chosen.groups():
        rows = rows[applies[rows]]
        if certificate is None or not rows.size:
            continue
        shown, per_unit = _on_its_scale(sensed, rows, int(settled.graduation[rows[0]]))
        rho[rows] += certificate.correction(shown) * per_unit
        expanded[rows] = certificate.uncertainty(shown) * per_unit
    return replace(sensed, density_kg_m3=rho), expanded


def _on_its_scale(sensed: Sensed, rows: NDArray[np.intp], graduation: int) -> tuple[Array, float]:
    """What a meter would have shown on the scale of its certificate, and the kg/m3 of that scale's unit."""
    rho = sensed.density_kg_m3[rows]
    if SCALES[graduation] == "kg/m3":
        return rho, 1.0
    if SCALES[graduation] == "g/cm3":
        return rho / 1000.0, 1000.0
    water = float(density(0.0, T_60F))
    return density(sensed.mass_fraction[rows], T_60F) / water, water


def for_duty(settled: Resolved, sensed: Sensed, site: Any) -> NDArray[np.object_]:
    """What the basis adds for densities in air, and where the house bottles for the UK, reading by reading."""
    in_air = (settled.state == IN_AIR) & np.isin(settled.scale, OF_DENSITY)
    if "UK" not in site.markets:
        return np.where(in_air, AIR, "").astype(object)
    measured = (settled.sensor == METER) & np.isin(settled.scale, DENSITY_SCALES)
    at_20C = np.abs(sensed.temperature_degC - T_20C) <= AT_20C_WITHIN
    rules = [measured & at_20C & in_air, measured & at_20C]
    return np.select(rules, [FOR_DUTY, PERHAPS_FOR_DUTY], NOT_FOR_DUTY).astype(object)
