"""A filling's course as a picture: points, the fitted line, and the forecast with its interval.

One SVG that scales as a whole. What a point is shows in its shape, what is forecast in dashes and hatching, so that
nothing hangs on colour; the same figures stand in a table below it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from markupsafe import Markup, escape

WIDTH, HEIGHT = 760.0, 290.0
LEFT, RIGHT, TOP, BOTTOM = 56.0, 14.0, 16.0, 34.0
STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)


@dataclass(frozen=True)
class Dot:
    """A point on a day (ordinal), its value, one standard uncertainty, what it is, and what it says."""

    day: int
    value: float
    spread: float
    kind: str
    says: str


@dataclass(frozen=True)
class Forecast:
    """A value on a day with the 95 % interval around it."""

    day: int
    low: float
    value: float
    high: float


def ticks(low: float, high: float, wanted: int = 5) -> list[float]:
    """Round values that cover a range."""
    rough = max((high - low) / wanted, 1e-9)
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * one for one in STEPS if power * one >= rough - 1e-12)
    first = math.ceil(low / step - 1e-9)
    return [step * place for place in range(first, math.floor(high / step + 1e-9) + 1)]


class _Frame:
    def __init__(self, days: Sequence[int], values: Sequence[float]) -> None:
        self.first, self.last = min(days), max(max(days), min(days) + 30)
        low, high = min(values), max(values)
        room = max((high - low) * 0.08, abs(high) * 0.002, 0.05)
        self.low, self.high = low - room, high + room

    def x(self, day: float) -> float:
        return round(LEFT + (day - self.first) / (self.last - self.first) * (WIDTH - LEFT - RIGHT), 1)

    def y(self, value: float) -> float:
        value = min(max(value, self.low), self.high)
        return round(TOP + (self.high - value) / (self.high - self.low) * (HEIGHT - TOP - BOTTOM), 1)


def course(
    dots: Sequence[Dot],
    ahead: Sequence[Forecast],
    levels: Sequence[tuple[float, str]],
    unit: str,
    label: str,
) -> Markup:
    """The picture. ``levels`` are lines with names, drawn only where they lie in the range of the figures."""
    values = [dot.value for dot in dots] + [end for one in ahead for end in (one.low, one.high)]
    if not values:
        return Markup("")
    frame = _Frame([dot.day for dot in dots] + [one.day for one in ahead], values)
    parts = [*_axes(frame, unit), *_ahead(frame, ahead), *_levels(frame, levels)]
    if ahead and dots:
        at = frame.x(ahead[0].day)
        parts.append(f'<line class="today" x1="{at}" x2="{at}" y1="{TOP}" y2="{HEIGHT - BOTTOM}"/>')
        parts.append(f'<text x="{at + 4}" y="{TOP + 9}" class="soft">forecast</text>')
    parts += [_dot(frame, dot) for dot in dots]
    view = f'viewBox="0 0 {WIDTH:.0f} {HEIGHT:.0f}" role="img" aria-label="{escape(label)}"'
    return Markup(f'<svg class="course" {view}>{_PATTERN}{"".join(parts)}</svg>')


_PATTERN = (
    '<defs><pattern id="hatch" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
    '<line class="hatch" x1="0" y1="0" x2="0" y2="6"/></pattern></defs>'
)


def _axes(frame: _Frame, unit: str) -> list[str]:
    made = []
    marks = ticks(frame.low, frame.high)
    places = 0 if all(abs(mark - round(mark)) < 1e-9 for mark in marks) else 1
    for mark in marks:
        at = frame.y(mark)
        made.append(f'<line class="grid" x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{at}" y2="{at}"/>')
        made.append('<text x="{}" y="{}" class="end">{:.{}f}</text>'.format(LEFT - 7, at + 4, mark, places))
    made.append(f'<text x="{4}" y="{TOP - 4}" class="soft">{escape(unit)}</text>')
    first, last = date.fromordinal(frame.first), date.fromordinal(frame.last)
    every = max(1, math.ceil((last.year - first.year + 1) / 11))
    for year in range(first.year + 1, last.year + 1, every):
        at = frame.x(date(year, 1, 1).toordinal())
        made.append(f'<line class="grid" x1="{at}" x2="{at}" y1="{TOP}" y2="{HEIGHT - BOTTOM}"/>')
        made.append(f'<text x="{at}" y="{HEIGHT - BOTTOM + 17}" class="mid">{year}</text>')
    return made


def _ahead(frame: _Frame, ahead: Sequence[Forecast]) -> list[str]:
    if not ahead:
        return []
    upper = " ".join(f"{frame.x(one.day)},{frame.y(one.high)}" for one in ahead)
    lower = " ".join(f"{frame.x(one.day)},{frame.y(one.low)}" for one in reversed(ahead))
    middle = " ".join(f"{frame.x(one.day)},{frame.y(one.value)}" for one in ahead)
    return [
        f'<polygon class="band" points="{upper} {lower}"/>',
        f'<polyline class="middle" points="{middle}"/>',
    ]


def _levels(frame: _Frame, levels: Sequence[tuple[float, str]]) -> list[str]:
    made = []
    for value, name in levels:
        if frame.low < value < frame.high:
            at = frame.y(value)
            made.append(f'<line class="level" x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{at}" y2="{at}"/>')
            made.append(f'<text x="{LEFT + 5}" y="{at - 4}" class="soft">{escape(name)}</text>')
    return made


def _dot(frame: _Frame, dot: Dot) -> str:
    x, y = frame.x(dot.day), frame.y(dot.value)
    if dot.kind == "filled":
        shape = f'<rect class="dot" x="{x - 4.5:.1f}" y="{y - 4.5:.1f}" width="9" height="9"/>'
    elif dot.kind == "gauged":
        shape = f'<circle class="dot" cx="{x}" cy="{y}" r="4.5"/>'
    else:  # listed by an inventory
        shape = f'<path class="hollow" d="M{x} {y - 6} L{x + 6} {y} L{x} {y + 6} L{x - 6} {y} Z"/>'
    above, below = frame.y(dot.value + 1.96 * dot.spread), frame.y(dot.value - 1.96 * dot.spread)
    arm = f'<line class="arm" x1="{x}" x2="{x}" y1="{above}" y2="{below}"/>'
    return f"<g><title>{escape(dot.says)}</title>{arm}{shape}</g>"
