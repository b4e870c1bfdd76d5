"""What a site developer imports: ``__all__`` is public, nothing else is. Nothing here loads pandas before it is used.

Rooms: commands, doctor, trying, runs, outputs, inbox, stages, verify, book, site, sheets, kept, contract, writing,
tables, common.
Read: testing, __main__.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from pipeline.common.names import fold, folded, folded_or_missing
from pipeline.contract.commands import Command
from pipeline.contract.findings import Finding
from pipeline.contract.frames import Column, Frame, unite
from pipeline.contract.hooks import API, hookimpl
from pipeline.contract.kinds import InWords, SheetColumn, SheetKind
from pipeline.contract.settings import Setting
from pipeline.contract.site import DataFile, Site
from pipeline.contract.stages import document, report, stage
from pipeline.contract.units import UnitWords
from pipeline.writing.plain import csv_bytes, frame_csv, plain_rows, shown_rows, spreadsheet_safe

if TYPE_CHECKING:
    from pipeline.common.sums import mean_by, sum_by
    from pipeline.writing.pages import Pages

__all__ = [
    "API",
    "Column",
    "Command",
    "DataFile",
    "Finding",
    "Frame",
    "InWords",
    "Pages",
    "Setting",
    "SheetColumn",
    "SheetKind",
    "Site",
    "UnitWords",
    "csv_bytes",
    "document",
    "fold",
    "folded",
    "folded_or_missing",
    "frame_csv",
    "hookimpl",
    "mean_by",
    "plain_rows",
    "report",
    "shown_rows",
    "spreadsheet_safe",
    "stage",
    "sum_by",
    "unite",
]
_WHEN_ASKED = {
    "Pages": "pipeline.writing.pages",
    "mean_by": "pipeline.common.sums",
    "sum_by": "pipeline.common.sums",
}


def __getattr__(name: str) -> Any:
    """What brings a library with it is loaded when somebody first asks for it."""
    if name not in _WHEN_ASKED:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(_WHEN_ASKED[name]), name)
