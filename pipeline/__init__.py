"""What a site developer imports. Nothing here loads pandas before a stage runs."""

from pipeline.commands import Command
from pipeline.findings import Finding
from pipeline.frames import Column, Frame, unite
from pipeline.giving_way import give_way
from pipeline.hooks import API, hookimpl
from pipeline.kinds import SheetColumn, SheetKind
from pipeline.settings import Setting
from pipeline.stages import document, report, stage
from pipeline.units import UnitWords

__all__ = [
    "API",
    "Column",
    "Command",
    "Finding",
    "Frame",
    "Setting",
    "SheetColumn",
    "SheetKind",
    "UnitWords",
    "document",
    "give_way",
    "hookimpl",
    "report",
    "stage",
    "unite",
]
