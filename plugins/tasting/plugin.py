"""Tasting: notes and scores → mentions and flavour profiles."""

from __future__ import annotations

from pathlib import Path

from pipeline import Setting, SheetKind, hookimpl
from pipeline.stages import Document, Report, Stage

api = 1
DATA = Path(__file__).with_name("data")


@hookimpl
def sheet_kinds() -> list[SheetKind]:
    from plugins.tasting.kinds import KINDS

    return KINDS


@hookimpl
def stages() -> list[Stage]:
    from plugins.tasting.again import list_again
    from plugins.tasting.cask_table import list_casks, write_diary
    from plugins.tasting.growth import find_new_words, suggest_same
    from plugins.tasting.impressions import weigh_words
    from plugins.tasting.notes import find_mentions, keep_notes
    from plugins.tasting.panel_stages import (
        compare_tasters,
        list_sessions,
        measure_agreement,
        measure_noise,
        measure_order,
    )
    from plugins.tasting.profile_stages import profile_samples, score_samples
    from plugins.tasting.resolve import resolve_samples
    from plugins.tasting.stock_stages import find_for_targets, find_like, group_casks, measure_wood, place_casks

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
    from plugins.tasting.book import bind_book
    from plugins.tasting.report import REPORTS

    return [bind_book, *REPORTS]


@hookimpl
def settings() -> list[Setting]:
    from plugins.tasting.settings import SETTINGS

    return SETTINGS


@hookimpl
def data_files() -> dict[str, list[Path]]:
    return {
        "lexicon": [DATA / "lexicon.csv"],
        "lexicon_modifiers": [DATA / "modifiers.csv"],
        "lexicon_plain_words": [DATA / "plain_words.txt"],
    }
