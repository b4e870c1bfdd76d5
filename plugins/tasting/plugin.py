"""Tasting: notes and scores → mentions and flavour profiles."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from pipeline import Command, Setting, SheetKind, hookimpl
from pipeline.contract.stages import Document, Report, Stage

api = 1


@hookimpl
def sheet_kinds() -> list[SheetKind]:
    from plugins.tasting.declared.kinds import KINDS

    return KINDS


@hookimpl
def stages() -> list[Stage]:
    from plugins.tasting.stages import STAGES

    return STAGES


@hookimpl
def reports() -> list[Report | Document]:
    from plugins.tasting.pages.cask_sheet import taste_casks
    from plugins.tasting.pages.overviews import OVERVIEWS
    from plugins.tasting.pages.reports import REPORTS
    from plugins.tasting.pages.session_sheet import give_panels, show_sessions

    return [taste_casks, show_sessions, give_panels, *OVERVIEWS, *REPORTS]


@hookimpl
def settings() -> list[Setting]:
    from plugins.tasting.declared.settings import SETTINGS

    return SETTINGS


@hookimpl
def data_files() -> dict[str, list[Path]]:
    from plugins.tasting.declared.data_files import DATA_FILES

    return DATA_FILES


@hookimpl
def commands() -> list[Command]:
    return [Command("sheet tastings", "Sheets of a blind flight: --blind --samples … --tasters …", _blind)]


def _blind() -> Any:
    from plugins.tasting.blind.command import blind_sheets

    return blind_sheets
