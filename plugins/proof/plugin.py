"""The door of the plugin: what gauging adds to the pipeline."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from pipeline import Command, Setting, SheetKind, UnitWords, hookimpl
from pipeline.contract.stages import Report, Stage

api = 1


@hookimpl
def sheet_kinds() -> list[SheetKind]:
    from plugins.proof.declared.kinds import KINDS

    return KINDS


@hookimpl
def unit_words() -> list[UnitWords]:
    from plugins.proof.declared.kinds import INDICATION_UNITS, STRENGTH_UNITS

    return [*STRENGTH_UNITS, *INDICATION_UNITS]


@hookimpl
def data_files() -> dict[str, list[Path]]:
    """Header words of other languages, for the kinds of all plugins."""
    return {"headers": [Path(__file__).parent / "declared" / "header_words.csv"]}


@hookimpl
def settings() -> list[Setting]:
    from plugins.proof.declared.settings import SETTINGS

    return SETTINGS


@hookimpl
def stages() -> list[Stage]:
    from plugins.proof.gauging.assumptions import note_assumptions
    from plugins.proof.gauging.correct import correct_proof
    from plugins.proof.gauging.dip_checks import check_dips
    from plugins.proof.gauging.instrument_checks import check_instruments

    return [correct_proof, note_assumptions, check_instruments, check_dips]


@hookimpl
def reports() -> list[Report]:
    from plugins.proof.gauging.gauges import gauges
    from plugins.proof.gauging.instrument_report import drift_file

    return [gauges, drift_file]


@hookimpl
def commands() -> list[Command]:
    return [Command("calc", "Alcoholometry at a prompt: proof, gauge, reduce, mix.", _calc)]


def _calc() -> Any:
    from plugins.proof.calc.command import calc

    return calc
