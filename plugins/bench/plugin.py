"""The door of the bench: trials from card to answer."""

from __future__ import annotations

from typing import Any

from pipeline import Command, Setting, SheetKind, hookimpl
from pipeline.contract.stages import Report, Stage

api = 1


@hookimpl
def sheet_kinds() -> list[SheetKind]:
    from plugins.bench.declared.kinds import KINDS

    return KINDS


@hookimpl
def settings() -> list[Setting]:
    from plugins.bench.declared.settings import SETTINGS

    return SETTINGS


@hookimpl
def stages() -> list[Stage]:
    from plugins.bench.stages import STAGES

    return STAGES


@hookimpl
def reports() -> list[Report]:
    from plugins.bench.answers.answer_reports import REPORTS as ANSWERS
    from plugins.bench.cards.card_reports import REPORTS

    return [*REPORTS, *ANSWERS]


@hookimpl
def commands() -> list[Command]:
    return [
        Command("card", "Make a batch's bench card anew.", _card),
        Command("sheet trials", "A bench card of your own: --casks … --design …", _trials),
    ]


def _card() -> Any:
    from plugins.bench.cards.command import card

    return card


def _trials() -> Any:
    from plugins.bench.cards.command import trials

    return trials
