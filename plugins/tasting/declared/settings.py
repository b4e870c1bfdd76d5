"""The settings of the tasting plugin."""

from __future__ import annotations

from typing import Any

from pipeline import Setting


def _mine(name: str, default: float, meaning: str, low: float, high: float | None = None, unit: str = "") -> Setting:
    return Setting("plugins.tasting", name, "number", default, unit=unit, meaning=meaning, low=low, high=high)


def _count(name: str, default: int, meaning: str, low: float, unit: str = "") -> Setting:
    return Setting("plugins.tasting", name, "count", default, unit=unit, meaning=meaning, low=low)


def _choice(name: str, default: Any, meaning: str, choices: tuple[str, ...]) -> Setting:
    return Setting("plugins.tasting", name, "text", default, meaning=meaning, choices=choices)


SETTINGS = [
    Setting("lexicon", "words", "table", {}, meaning='the house\'s own tasting words: "burnt toast" = "nut_roast"'),
    _mine("score_top", 10.0, "highest score of the house's scale", 1.0),
    _mine("plain_word", 5.0, "intensity, 0 to 10, of a word without a degree", 0.5, 10.0),
    _mine("doubt_weight", 0.5, "what a word marked ? counts", 0.0, 1.0),
    _mine("silence_weight", 0.5, "what a note counts as evidence that a family it does not name is absent", 0.0, 1.0),
    _mine("spread", 2.0, "usual standard deviation between tasters, of 10 points", 0.1, 5.0),
    _count("panel_tasters", 3, "tasters from which agreement and the additive model are worked out", 3),
    _count("panel_samples", 6, "samples in common from which they are worked out", 6),
    _mine("strength_span", 6.0, "nosing strengths this far apart are different measurements", 0.5, unit="% vol"),
    _count("sample_days", 180, "age at which a sample no longer speaks for its cask", 1, unit="days"),
    Setting(
        "plugins.tasting",
        "months",
        "table",
        {"leave": "12", "watch": "6", "recask": "3", "finish": "3"},
        meaning="months after which a cask is tasted again, by decision",
    ),
    _choice(
        "taster_figures",
        "own",
        "figures about a taster: own (a page of one's own), all (on the session's page too), none",
        ("own", "all", "none"),
    ),
]
