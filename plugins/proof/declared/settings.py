"""Settings of gauging. All uncertainties are standard ones (k=1) and common practice, without a source."""

from pipeline import Setting
from plugins.proof.declared.kinds_instruments import SCALES


def _spread(name: str, default: float, unit: str, meaning: str) -> Setting:
    said = f"standard uncertainty of {meaning} (common practice, no source)"
    return Setting("uncertainty", name, "number", default, unit, said, low=0.0)


SETTINGS = [
    Setting(
        "instruments",
        "default_scale",
        "text",
        "",
        meaning="scale of a reading that states none; empty: % vol in a house whose markets lack the US, else proof",
        choices=("", *(scale for scale, _ in SCALES)),
    ),
    Setting("instruments", "thermometer", "text", "", "", "thermometer used with the hydrometers, for its corrections"),
    Setting(
        "instruments",
        "check_days",
        "number",
        0.0,
        "d",
        "days from one check of an instrument to the next; 0: as its checks were apart till now",
        low=0.0,
    ),
    Setting(
        "tolerances",
        "meter_base_degC",
        "number",
        0.5,
        "degC",
        "how far from 20 °C and 60 °F the cell of a meter that shows strength may be",
        low=0.0,
    ),
    Setting(
        "tolerances",
        "columns_apart_proof",
        "number",
        0.5,
        "proof",
        "difference that is let pass between two columns of one sheet that state one strength",
        low=0.0,
    ),
    Setting(
        "tolerances",
        "net_weight_kg",
        "number",
        0.5,
        "kg",
        "difference between net weight and gross less tare that is let pass",
        low=0.0,
    ),
    _spread("hydrometer_proof", 0.1, "proof", "a hydrometer without certificate, reading it included"),
    _spread("hydrometer_mark_proof", 0.05, "proof", "reading a hydrometer whose graduation is not stated"),
    _spread("temperature_degC", 0.25, "degC", "the temperature of the jar"),
    _spread("thermometer_degC", 0.15, "degC", "the thermometer of the jars itself, a part of temperature_degC"),
    _spread("density_meter_kg_m3", 0.1, "kg/m3", "a density meter without certificate"),
    _spread("density_meter_repeat_kg_m3", 0.05, "kg/m3", "what a density meter does not repeat, a part of the above"),
    _spread("cell_temperature_degC", 0.03, "degC", "the temperature of a density meter's cell"),
    _spread("distillation_proof", 0.1, "proof", "distilling a sample and restoring it to volume"),
    _spread("solids_mg_100mL", 10.0, "mg/100mL", "dissolved solids"),
    Setting(
        "uncertainty",
        "unstated_solids_mg_100mL",
        "number",
        250.0,
        "mg/100mL",
        "most dissolved solids of spirit of which none are stated, but at entry (from memory)",
        low=0.0,
    ),
    _spread("weighed_percent", 0.2, "%", "a content that was weighed"),
    _spread("metered_percent", 0.4, "%", "a content stated as a volume"),
    _spread("dipped_tank_percent", 0.5, "%", "a content by dip and the vessel's table"),
]
