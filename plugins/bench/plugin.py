"""The door of the bench: trials from card to answer."""

from __future__ import annotations

from pipeline import Setting, SheetKind, hookimpl
from pipeline.stages import Report, Stage

api = 1


@hookimpl
def sheet_kinds() -> list[SheetKind]:
    from plugins.bench.kinds import KINDS

    return KINDS


@hookimpl
def settings() -> list[Setting]:
    from plugins.bench.settings import SETTINGS

    return SETTINGS


@hookimpl
def stages() -> list[Stage]:
    return []


@hookimpl
def reports() -> list[Report]:
    return []
