"""The door of the bench: trials from card to answer."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipeline import Command, Setting, SheetKind, hookimpl
from pipeline.contract.stages import Report, Stage

if TYPE_CHECKING:
    import click

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
    from plugins.bench.answers.answer_reports import list_trial_batches
    from plugins.bench.answers.answer_stages import STAGES
    from plugins.bench.cards.card_stage import find_cards_due, issue_cards
    from plugins.bench.cards.needs import find_needs
    from plugins.bench.returned.parts import read_parts
    from plugins.bench.returned.reading_stages import read_chosen, read_glasses, read_notes

    return [
        find_cards_due,
        issue_cards,
        find_needs,
        read_glasses,
        read_chosen,
        read_notes,
        read_parts,
        list_trial_batches,
        *STAGES,
    ]


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


def _card() -> click.Command:
    from plugins.bench.cards.command import card

    return card


def _trials() -> click.Command:
    from plugins.bench.cards.command import trials

    return trials
