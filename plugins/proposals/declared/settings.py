"""The settings of this plugin. What is no measurement says so."""

from __future__ import annotations

from typing import Any

from pipeline import Setting

TABLE = "plugins.proposals"


def _number(name: str, default: float, unit: str, meaning: str, high: float | None = None) -> Setting:
    return Setting(TABLE, name, "number", default, unit, meaning, low=0.0, high=high)


def _count(name: str, default: int, meaning: str) -> Setting:
    return Setting(TABLE, name, "count", default, "", meaning, low=1)


SETTINGS: list[Any] = [
    _count("proposals", 5, "how many proposals a brief gets at most"),
    _count("nodes", 120, "search nodes for each proposal: more is slower and closer; equal nodes give equal proposals"),
    _number(
        "seconds", 60.0, "s", "processor time after which a brief's search is given up and said not to be repeatable"
    ),
    _number("dead_band", 0.5, "points", "deviation that counts as none, where the panel's noise is smaller", 5.0),
    _number("volume_tolerance_percent", 3.0, "%", "by how much whole casks may miss the volume", 50.0),
    _number("part_tolerance_percent", 0.2, "%", "by how much part draws may exceed the volume", 50.0),
    _number("least_draw_L", 20.0, "L", "smallest part draw of a cask"),
    _number("measure_L", 0.5, "L", "step to which a part draw can be measured"),
    _number("price_cask", 0.004, "points", "what one cask more counts against deviation from the target"),
    _number("price_scarce", 0.02, "points", "what a batch all of scarce stock counts"),
    _number("price_cost", 0.02, "points", "what a batch of twice the stock's mean cost counts"),
    _number("departure", 1.5, "points", "how far the departing proposal goes from the target on its family", 10.0),
    _number("fault_budget", 0.0, "points", "off notes that a cask may have and be proposed: 0 is none", 10.0),
    _number("evaporation_percent", 3.0, "% a year", "loss of content in the runway where a house states none", 30.0),
    Setting(
        TABLE,
        "untasted",
        "text",
        "leave out",
        meaning="casks without a profile: leave out, or average (the stock's average, with its spread)",
        choices=("leave out", "average"),
    ),
]
