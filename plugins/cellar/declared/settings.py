"""The settings of the cellar: what is taken of a cask before it has told anything, and when a person looks.

Every default is common practice without a source, and the house's own to set.
"""

from __future__ import annotations

from pipeline import Setting

PLACE = (
    r"(?:(?:warehouse|whse|store|shed|rackhouse)\b[\s.:]*)?(?P<warehouse>[a-z]{0,3}\d+[a-z]?|[^\s,;:/.-]+)"
    r"(?:[\s,;:/.-]+(?:(?:floor|fl|level|tier)\b[\s.:]*)?(?P<floor>\w+))?"
)


def _mine(name: str, default: float, unit: str, meaning: str, low: float | None = 0.0) -> Setting:
    return Setting("plugins.cellar", name, "number", default, unit, meaning, low=low)


SETTINGS = [
    _mine("loss_percent_per_year", 3.0, "%/year", "loss of volume expected before any cask has told it"),
    _mine("loss_spread_percent", 1.5, "%/year", "standard uncertainty of that expectation"),
    _mine("strength_per_year", 0.0, "proof/year", "change of strength expected before any cask has told it", None),
    _mine("strength_spread", 1.5, "proof/year", "standard uncertainty of that expectation"),
    _mine("entry_percent", 1.0, "%", "standard uncertainty of a volume at filling"),
    _mine("stated_percent", 2.0, "%", "standard uncertainty of a regauged volume that an inventory states"),
    _mine("estimate_percent", 5.0, "%", "standard uncertainty of an estimated volume in an inventory"),
    _mine("season_percent", 0.5, "%", "spread of a cask's volume about its steady course"),
    _mine("season_proof", 0.25, "proof", "spread of a cask's strength about its steady course"),
    _mine("apart_spreads", 3.5, "", "standard uncertainties from which a loss is told as more than the neighbours'"),
    _mine("apart_percent", 1.0, "%", "loss beyond the neighbours' that is let pass (house tolerance)"),
    _mine("empty_percent", 5.0, "%", "share of a cask's volume from which it is run dry"),
    Setting(
        "plugins.cellar",
        "place_pattern",
        "text",
        PLACE,
        meaning="regular expression with the groups warehouse and floor, tried at the start of a location",
    ),
]
