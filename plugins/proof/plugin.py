"""The door of the plugin: what gauging adds to the pipeline."""

from pipeline import Setting, SheetKind, UnitWords, hookimpl
from pipeline.stages import Report, Stage

api = 1


@hookimpl
def sheet_kinds() -> list[SheetKind]:
    from plugins.proof.kinds import KINDS

    return KINDS


@hookimpl
def unit_words() -> list[UnitWords]:
    from plugins.proof.kinds import STRENGTH_UNITS

    return STRENGTH_UNITS


@hookimpl
def settings() -> list[Setting]:
    from plugins.proof.settings import SETTINGS

    return SETTINGS


@hookimpl
def stages() -> list[Stage]:
    from plugins.proof.correct import correct_proof

    return [correct_proof]


@hookimpl
def reports() -> list[Report]:
    from plugins.proof.gauges import gauges

    return [gauges]
