"""The door of proposals: from a brief and the stock to blends that can be poured."""

from __future__ import annotations

from typing import Any

from pipeline import Command, Setting, SheetKind, hookimpl
from pipeline.contract.stages import Report, Stage

api = 1


@hookimpl
def sheet_kinds() -> list[SheetKind]:
    from plugins.proposals.declared.kinds import KINDS

    return KINDS


@hookimpl
def settings() -> list[Setting]:
    from plugins.proposals.declared.settings import SETTINGS

    return SETTINGS


@hookimpl
def stages() -> list[Stage]:
    from plugins.proposals.stages import STAGES

    return STAGES


@hookimpl
def reports() -> list[Report]:
    from plugins.proposals.reports import REPORTS

    return REPORTS


@hookimpl
def commands() -> list[Command]:
    return [
        Command("propose", "Propose anew for a brief.", _propose),
        Command("taste", "Say what a recipe of your own would be.", _taste),
        Command("find", "Find casks by what they taste of, hold and may be called.", _find),
        Command("swap", "Say what can stand in for a cask of a proposal.", _swap),
    ]


def _propose() -> Any:
    from plugins.proposals.propose_command import propose

    return propose


def _taste() -> Any:
    from plugins.proposals.ask_commands import taste

    return taste


def _find() -> Any:
    from plugins.proposals.ask_commands import find

    return find


def _swap() -> Any:
    from plugins.proposals.swap_command import swap

    return swap
