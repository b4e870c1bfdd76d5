"""The door of the records: the batch record and the reports that people read."""

from __future__ import annotations

from pipeline import hookimpl
from pipeline.contract.stages import Document, Report

api = 1


@hookimpl
def reports() -> list[Report | Document]:
    from plugins.records.reports import REPORTS

    return REPORTS
