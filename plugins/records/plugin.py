"""The door of the records: the batch record and the reports that people read."""

from __future__ import annotations

from typing import Any

from pipeline import Command, Setting, hookimpl
from pipeline.contract.stages import Document, Report, Stage

api = 1


@hookimpl
def reports() -> list[Report | Document]:
    from plugins.records.month_reports import MONTH_REPORTS
    from plugins.records.reports import REPORTS

    return [*REPORTS, *MONTH_REPORTS]


@hookimpl
def stages() -> list[Stage]:
    from plugins.records.record.months import list_record_months

    return [list_record_months]


@hookimpl
def settings() -> list[Setting]:
    from plugins.records.declared.settings import SETTINGS

    return SETTINGS


@hookimpl
def commands() -> list[Command]:
    return [Command("dossier", "Write a batch's record with its originals and journal as one package.", _dossier)]


def _dossier() -> Any:
    from plugins.records.dossier.command import dossier

    return dossier
