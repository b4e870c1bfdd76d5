"""The settings of the bench. What is custom and no measurement says so."""

from __future__ import annotations

from typing import Any

from pipeline import Setting

TABLE = "plugins.bench"


def _number(name: str, default: float, unit: str, meaning: str, low: float, high: float) -> Setting:
    return Setting(TABLE, name, "number", default, unit, meaning, low=low, high=high)


SETTINGS: list[Any] = [
    _number("step_ml", 0.1, "ml", "smallest step the bench can measure: a pipette's 0.1, a dropper's drop", 0.001, 5.0),
    _number("base_ml", 20.0, "ml", "least that is poured of a trial's largest part", 1.0, 500.0),
    _number("most_ml", 300.0, "ml", "most that is made of one trial", 5.0, 5000.0),
    _number("pour_ml", 20.0, "ml", "spirit and water in each glass", 2.0, 60.0),
    _number("nosing_abv", 20.0, "% vol", "strength at which trials are nosed", 5.0, 80.0),
    _number("match_margin", 1.0, "", "points within which a trial matches its standard", 0.1, 5.0),
    Setting(TABLE, "tasters", "list", [], meaning="who tastes at the bench; without it the house's latest tasters"),
    Setting(TABLE, "glasses", "count", 9, meaning="most glasses in one flight (common practice, no source)", low=3),
]
