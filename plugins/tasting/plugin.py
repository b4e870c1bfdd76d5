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
    from plugins.tasting.notes import find_mentions, keep_notes
    from plugins.tasting.profile_stages import profile_samples, score_samples

    return [keep_notes, find_mentions, profile_samples, score_samples]


@hookimpl
def reports() -> list[Report | Document]:
    from plugins.tasting.report import profiles_csv

    return [profiles_csv]


@hookimpl
def settings() -> list[Setting]:
    mine = "plugins.tasting"
    return [
        Setting("lexicon", "words", "table", {}, meaning='the house\'s own tasting words: "burnt toast" = "nut_roast"'),
        Setting(mine, "score_top", "number", 10.0, meaning="highest score of the house's scale", low=1.0),
        Setting(
            mine,
            "plain_word",
            "number",
            5.0,
            meaning="intensity, 0 to 10, of a word without a degree",
            low=0.5,
            high=10.0,
        ),
        Setting(mine, "doubt_weight", "number", 0.5, meaning="what a word marked ? counts", low=0.0, high=1.0),
        Setting(
            mine,
            "spread",
            "number",
            2.0,
            meaning="usual standard deviation between tasters, of 10 points",
            low=0.1,
            high=5.0,
        ),
    ]


@hookimpl
def data_files() -> dict[str, list[Path]]:
    return {
        "lexicon": [DATA / "lexicon.csv"],
        "lexicon_modifiers": [DATA / "modifiers.csv"],
        "lexicon_plain_words": [DATA / "plain_words.txt"],
    }
