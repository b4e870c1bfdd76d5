"""What ``vatting calc proof`` answers: the strength that a reading at a temperature means."""

from __future__ import annotations

import math

import numpy as np

from plugins.proof import official
from plugins.proof.formula import density
from plugins.proof.instruments import GLASS_PER_K, METHODS, read_strength
from plugins.proof.obscuration import DISTILLED_ABOVE, PROOF_PER_MG_100ML, basis_text, obscuration, ways
from plugins.proof.reckon import SOURCE, USUAL, Answer, entry
from plugins.proof.rounding import official_proof
from plugins.proof.stated import Unclear
from plugins.proof.strength import T_20C, T_60F, mass_fraction_from_proof, proof_from_mass_fraction
from plugins.proof.uncertainty import proof_uncertainty


def read(
    reading: float, scale: str, jar_degC: float, base_degC: float, solids: float, glass: float, by_meter: bool
) -> Answer:
    """A reading at a temperature: strength at 60 °F and 20 °C, and what solids hide (NaN: not stated)."""
    method = METHODS.index("density meter" if by_meter else "hydrometer")
    highest = {"proof": 200.0, "%vol": 100.0, "%mass": 100.0}.get(scale, math.inf)
    if not 0.0 <= reading <= highest:
        raise Unclear(f"{reading:g} {scale}: the scale runs from 0 to {highest:g}.")
    apparent = float(read_strength(reading, scale, jar_degC, METHODS[method], "as read", base_degC, glass))
    if math.isnan(apparent):
        raise Unclear(
            f"{reading:g} {scale} at {jar_degC:.4g} °C ({jar_degC * 1.8 + 32:.4g} °F) fits no mixture of ethanol and "
            "water: check reading, scale and temperature."
        )
    shown = float(proof_from_mass_fraction(apparent))
    hidden = float(obscuration(solids))
    true = min(200.0, shown + (0.0 if math.isnan(hidden) else hidden))
    way = ways(np.array([solids]), np.array([False]))
    answer = entry(None, float(mass_fraction_from_proof(true)), apparent)
    answer |= {
        "proof_60F": true,
        "proof_apparent_60F": shown,
        "obscuration_proof": None if math.isnan(hidden) else hidden,
        "strength_basis": "true" if not math.isnan(hidden) else "apparent",
        "proof_official": float(official_proof(true)),
        "official_table": _table_1(reading, scale, jar_degC, base_degC, glass, by_meter),
        "solids_mg_100mL": None if math.isnan(solids) else solids,
        "uncertainty": _of_reading(reading, scale, jar_degC, base_degC, glass, method, apparent, hidden),
        "basis": str(basis_text(way, np.array([shown]))[0]),
        "method": _way_of_reading(scale, base_degC, glass, by_meter),
        "source": f"{SOURCE}; instrument corrections as 27 CFR 30.23, obscuration as 27 CFR 30.31 and 30.32",
    }
    if solids > DISTILLED_ABOVE:
        answer["caution"] = "Solids above 600 mg/100 mL: only distillation shows the true proof (27 CFR 30.41)."
    return answer


def _way_of_reading(scale: str, base_degC: float, glass: float, by_meter: bool) -> str:
    if by_meter:
        return "density meter: a density holds at the cell's temperature, a strength at its reference already; no glass"
    own = T_60F if scale in ("proof", "sg60") else T_20C
    base = own if math.isnan(base_degC) else base_degC
    expansion = GLASS_PER_K if math.isnan(glass) else glass
    return (
        f"glass hydrometer in {scale}, true at {base:.4g} °C ({base * 1.8 + 32:.4g} °F), cubic expansion of the glass "
        f"{expansion:g} per °C; the density it floats in gives the strength"
    )


def _of_reading(
    reading: float, scale: str, jar: float, base: float, glass: float, method: int, apparent: float, hidden: float
) -> Answer:
    """Standard uncertainty of the proof by the usual defaults, and upwards what unstated solids may hide."""
    by_meter = METHODS[method] == "density meter"
    degrees = USUAL["cell_temperature_degC" if by_meter else "temperature_degC"]
    way = METHODS[method], base, glass
    temperature = float(proof_uncertainty(reading, scale, jar, 0.0, degrees, *way))
    instrument = USUAL["hydrometer_proof"]
    if by_meter:
        spread = USUAL["density_meter_kg_m3"]
        instrument = float(proof_uncertainty(density(apparent, T_20C), "kg/m3", T_20C, spread, 0.0, "density meter"))
    solids = 0.0 if math.isnan(hidden) else PROOF_PER_MG_100ML * USUAL["solids_mg_100mL"]
    total = math.sqrt(instrument**2 + temperature**2 + solids**2)
    most = PROOF_PER_MG_100ML * USUAL["unstated_solids_mg_100mL"] if math.isnan(hidden) else 0.0
    return {"proof_60F": total, "proof_60F_up": math.sqrt(total**2 + most**2 / 3.0)}


def _table_1(
    reading: float, scale: str, jar_degC: float, base_degC: float, glass: float, by_meter: bool
) -> Answer | None:
    """What Table 1 of the Gauging Manual makes of a reading, where its cells were seen in print."""
    usual = math.isnan(glass) and (math.isnan(base_degC) or abs(base_degC - T_60F) < 1e-6)
    if by_meter or scale != "proof" or not usual:
        return None
    value = official.true_proof(reading, round(jar_degC * 1.8 + 32.0, 9))
    if math.isnan(value):
        return None
    return {"proof": float(official_proof(value)), "section": "27 CFR 30.61, Table 1, interpolated as 30.23"}
