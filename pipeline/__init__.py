"""What a site developer imports. Nothing here loads pandas before a stage runs.

Rooms: commands, doctor, runs, outputs, inbox, stages, verify, book, site, sheets, kept, contract, writing, tables,
common.
Read: testing, __main__.
"""

from pipeline.contract.commands import Command
from pipeline.contract.findings import Finding
from pipeline.contract.frames import Column, Frame, unite
from pipeline.contract.hooks import API, hookimpl
from pipeline.contract.kinds import InWords, SheetColumn, SheetKind
from pipeline.contract.settings import Setting
from pipeline.contract.stages import document, report, stage
from pipeline.contract.units import UnitWords

__all__ = [
    "API",
    "Column",
    "Command",
    "Finding",
    "Frame",
    "InWords",
    "Setting",
    "SheetColumn",
    "SheetKind",
    "UnitWords",
    "document",
    "hookimpl",
    "report",
    "stage",
    "unite",
]
