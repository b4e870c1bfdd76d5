"""Tasting: notes and scores → mentions and flavour profiles."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from pipeline import Command, Setting, SheetKind, hookimpl
from pipeline.contract.stages import Document, Report, Stage

if TYPE_CHECKING:
    import click

api = 1
DATA = Path(__file__).parent / "words" / "data"


@hookimpl
def sheet_kinds() -> list[SheetKind]:
    from plugins.tasting.declared.kinds import KINDS

    return KINDS


@hookimpl
def stages() -> list[Stage]:
    from plugins.tasting.panel.growth import find_new_words, suggest_same
    from plugins.tasting.panel.panel_stages import (
        compare_tasters,
        list_sessions,
        measure_agreement,
        measure_noise,
        measure_order,
    )
    from plugins.tasting.panel.taste_again import list_again
    from plugins.tasting.profiles.impressions import weigh_words
    from plugins.tasting.profiles.profile_stages import profile_samples, score_samples
    from plugins.tasting.profiles.resolve import resolve_samples
    from plugins.tasting.stock.cask_table import list_casks, write_diary
    from plugins.tasting.stock.stock_stages import find_for_targets, find_like, group_casks, measure_wood, place_casks
    from plugins.tasting.words.notes import find_mentions, keep_notes

    return [
        resolve_samples,
        keep_notes,
        find_mentions,
        weigh_words,
        profile_samples,
        score_samples,
        list_sessions,
        measure_agreement,
        compare_tasters,
        measure_order,
        measure_noise,
        list_again,
        find_new_words,
        suggest_same,
        find_like,
        find_for_targets,
        place_casks,
        group_casks,
        measure_wood,
        list_casks,
        write_diary,
    ]


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
    return {
        "lexicon": [DATA / "lexicon.csv"],
        "lexicon_modifiers": [DATA / "modifiers.csv"],
        "lexicon_plain_words": [DATA / "plain_words.txt"],
    }


@hookimpl
def commands() -> list[Command]:
    return [Command("sheet tastings", "Sheets of a blind flight: --blind --samples … --tasters …", _blind)]


def _blind() -> click.Command:
    from plugins.tasting.blind.command import blind_sheets

    return blind_sheets
