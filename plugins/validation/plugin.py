"""Validation: plausibility across sheets."""

from __future__ import annotations

from pipeline import Setting, hookimpl
from pipeline.contract.stages import Stage

api = 1


@hookimpl
def stages() -> list[Stage]:
    from plugins.validation.blends.blend_checks import check_blends
    from plugins.validation.casks.cask_checks import check_casks
    from plugins.validation.readings.reading_checks import check_readings, doubt_readings

    return [doubt_readings, check_readings, check_casks, check_blends]


@hookimpl
def settings() -> list[Setting]:
    def tolerance(name: str, default: float, unit: str, meaning: str) -> Setting:
        return Setting("tolerances", name, "number", default, unit, f"{meaning} (house tolerance; no source)", low=0.0)

    return [
        tolerance("jump_proof", 6.0, "proof", "change of a cask's strength between gauges that is let pass"),
        tolerance("jump_proof_per_year", 3.0, "proof", "further change for each year between them"),
        tolerance("temperature_apart_degC", 18.0, "degC", "how far a jar may be from the other jars of its day"),
        tolerance("label_abv", 0.05, "% vol", "difference between label and brief that is let pass"),
    ]
