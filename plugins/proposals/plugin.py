"""The door of proposals: from a brief and the stock to blends that can be poured."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipeline import Command, Setting, SheetKind, hookimpl
from pipeline.contract.stages import Report, Stage

if TYPE_CHECKING:
    import click

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
    from plugins.proposals.briefs.due import find_due
    from plugins.proposals.stages import (
        list_stock,
        propose_blends,
        read_draws,
        read_profiles,
        read_proposals,
        read_runway,
        trace_batches,
    )
    from plugins.proposals.taste.taste_stages import model_pairs, model_taste
    from plugins.proposals.taste.taught_stages import judge_model, model_moves

    reads = [read_proposals, read_draws, read_profiles, read_runway, trace_batches]
    taught = [model_taste, model_pairs, judge_model, model_moves]
    return [list_stock, *taught, find_due, propose_blends, *reads]


@hookimpl
def reports() -> list[Report]:
    from plugins.proposals.reports import REPORTS

    return REPORTS


@hookimpl
def commands() -> list[Command]:
    return [
        Command("propose", "Propose anew for a brief.", _propose),
        Command("swap", "Say what can stand in for a cask of a proposal.", _swap),
    ]


def _propose() -> click.Command:
    from plugins.proposals.propose_command import propose

    return propose


def _swap() -> click.Command:
    from plugins.proposals.swap_command import swap

    return swap
