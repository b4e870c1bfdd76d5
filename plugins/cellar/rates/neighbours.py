"""Losses between two gauges that are more than casks like it explain, and gains. Nobody is accused of anything."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from pipeline import Finding
from plugins.cellar.rates.rates import Array, Course

SMALLEST_YEARS = 1.0 / 365.25
LITRES_PER_GALLON = 3.785411784
SAME_VOLUME = 0.08  # share within which a volume in the other unit is the cask's last one


@dataclass(frozen=True)
class Intervals:
    """Between each two volumes that follow each other in a filling: place, the two points, years, the share lost
    (logarithm, positive), what the neighbours say it should be, and how many standard uncertainties the two lie
    apart; ``gain`` is how many uncertainties of the two gauges alone the volume rose."""

    place: Array
    first: Array
    second: Array
    years: Array
    lost: Array
    expected: Array
    apart: Array
    gain: Array


def intervals(found: Course) -> Intervals:
    """All intervals of all fillings, in order of filling and time."""
    points = found.points
    second = np.flatnonzero(points.place[1:] == points.place[:-1]) + 1
    first = second - 1
    place = points.place[second]
    length = np.maximum(points.years[second] - points.years[first], SMALLEST_YEARS)
    lost = points.y[first] - points.y[second]
    gauges = found.settled.scatter * (points.spread[first] ** 2 + points.spread[second] ** 2)
    expected = -found.neighbours[place] * length
    total = np.sqrt(gauges + length**2 * found.neighbours_variance[place])
    return Intervals(place, first, second, length, lost, expected, (lost - expected) / total, -lost / np.sqrt(gauges))


def flagged(parts: Intervals, found: Course, spreads: float, percent: float) -> Array:
    """The worst interval of each filling that lost more than its neighbours: rows of ``intervals``.

    More than ``spreads`` standard uncertainties, and more than ``percent`` of the content.
    """
    much = (parts.apart > spreads) & (parts.lost - parts.expected > percent / 100.0)
    rows = np.flatnonzero(much)
    order = rows[np.lexsort((-parts.apart[rows], parts.place[rows]))]
    return order[np.unique(parts.place[order], return_index=True)[1]]


def gained(parts: Intervals, spreads: float, percent: float) -> Array:
    """Intervals in which a volume rose beyond what the two gauges can err; the first of each filling."""
    rows = np.flatnonzero((parts.gain > spreads) & (-parts.lost > percent / 100.0))
    return rows[np.unique(parts.place[rows], return_index=True)[1]]


def told(
    parts: Intervals,
    losses: Array,
    gains: Array,
    rows: Array,
    histories: pd.DataFrame,
    fillings: pd.DataFrame,
    litres: Array,
) -> list[Finding]:
    """Findings of both kinds; ``rows``: the history row of each point, ``litres``: its volume as gauged."""
    made = []
    for at in losses.tolist():
        made.append(_loss(parts, at, *_ends(parts, at, rows, histories, fillings), litres))
    for at in gains.tolist():
        made.append(_gain(parts, at, *_ends(parts, at, rows, histories, fillings), litres))
    return made


def _ends(
    parts: Intervals, at: int, rows: Array, histories: pd.DataFrame, fillings: pd.DataFrame
) -> tuple[Any, Any, Any]:
    one, two = (histories.iloc[rows[end]] for end in (parts.first[at], parts.second[at]))
    return one, two, fillings.iloc[parts.place[at]]


def _loss(parts: Intervals, at: int, one: Any, two: Any, filling: Any, litres: Array) -> Finding:
    before = float(litres[parts.first[at]])
    lost, expected = before * (1 - np.exp(-parts.lost[at])), before * (1 - np.exp(-parts.expected[at]))
    span = f"{_day(one['at'])} and {_day(two['at'])}"
    return Finding(
        code="cask.loses-more-than-neighbours",
        severity="review",
        message=f"{filling.cask} lost {lost:.1f} L between {span}; casks like it lose about {expected:.1f} L in that "
        f"time, and the difference is {parts.apart[at]:.1f} times what gauges and casks vary by."
        f"{_in_other_unit(before - lost, before)}",
        subject=str(filling.cask),
        facts=tuple(dict.fromkeys((*two.facts, *one.facts))),
        column=_column(two),
        observed=f"{lost:.1f} L lost",
        expected=f"about {expected:.1f} L",
        rule="[plugins.cellar] apart_spreads and apart_percent (house tolerances, no allowance in law)",
        remedy="Look at heads, staves and bung and gauge it again; check weight, tare and dip of both gauges, and "
        "whether a draw or a sample was not written down. A loss that stays unexplained may have to be reported.",
    )


def _gain(parts: Intervals, at: int, one: Any, two: Any, filling: Any, litres: Array) -> Finding:
    before, after = float(litres[parts.first[at]]), float(litres[parts.second[at]])
    return Finding(
        code="cask.gains-volume",
        severity="review",
        message=f"{filling.cask} held {before:.1f} L on {_day(one['at'])} and {after:.1f} L on {_day(two['at'])}: more "
        f"by {parts.gain[at]:.1f} times what the two gauges can err, with nothing written down as put in."
        f"{_in_other_unit(after, before)}",
        subject=str(filling.cask),
        facts=tuple(dict.fromkeys((*two.facts, *one.facts))),
        column=_column(two),
        observed=f"{after:.1f} L",
        expected=f"at most {before:.1f} L",
        rule="[plugins.cellar] apart_spreads (house tolerance)",
        remedy="Check the cask's number against its neighbours', the scale and the tare, and whether it was topped up; "
        "correct the figure that is wrong, or send the movement.",
    )


def _in_other_unit(litres: float, before: float) -> str:
    """What a volume would be if gallons were written for litres, or litres for gallons, where that fits; a sentence."""
    as_gallons, as_litres = litres * LITRES_PER_GALLON, litres / LITRES_PER_GALLON
    if abs(as_gallons / before - 1.0) <= SAME_VOLUME:
        return f" Read as {litres:.0f} gallons, not litres, it is {as_gallons:.0f} L."
    if abs(as_litres / before - 1.0) <= SAME_VOLUME:
        return f" Read as {as_litres:.0f} litres, not gallons, it fits."
    return ""


def _column(point: Any) -> str:
    if point.kind == "listed":
        return "volume"
    if point.kind == "filled":
        return "entry_volume"
    return {"weighed": "gross_weight", "dipped": "depth"}.get(point.basis, "volume")


def _day(moment: Any) -> str:
    return f"{moment:%Y-%m-%d}"
