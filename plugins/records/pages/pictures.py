"""Small inline pictures. Each is one SVG without text that stretches to its column; the words and
figures stand beside it in the page, so that it reads at any width, in print and aloud."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from markupsafe import Markup, escape

WIDTH = 1000.0


@dataclass(frozen=True)
class Piece:
    """A piece of a bar from ``start`` to ``end`` in the bar's unit; ``look`` is its CSS class."""

    start: float
    end: float
    look: str
    says: str = ""


@dataclass(frozen=True)
class Scale:
    """Maps a value to the picture's width."""

    low: float
    high: float

    def at(self, value: float) -> float:
        span = self.high - self.low
        share = (value - self.low) / span if span > 0 else 0.0
        return round(min(max(share, 0.0), 1.0) * WIDTH, 2)


def bar(pieces: Iterable[Piece], scale: Scale) -> Markup:
    """Pieces end to end or apart, in one row."""
    drawn = Markup("").join(_block(piece, scale, 2.0, 16.0) for piece in pieces)
    return _picture("bar", 20, drawn)


def span(low: float | None, value: float, high: float | None, scale: Scale, look: str = "") -> Markup:
    """A value as a tick with the interval in which it lies."""
    parts = [Markup('<line class="axis" x1="0" x2="1000" y1="10" y2="10"/>')]
    if low is not None and high is not None:
        parts.append(_block(Piece(low, high, f"interval {look}"), scale, 6.0, 8.0))
    at = scale.at(value)
    parts.append(Markup('<line class="tick {}" x1="{}" x2="{}" y1="2" y2="18"/>').format(look, at, at))
    return _picture("span", 20, Markup("").join(parts))


def small_account(rows: Sequence[tuple[str, float]]) -> Markup:
    """A batch at a glance: one thin bar per entry, on the scale of the largest."""
    scale = Scale(0.0, max((value for _, value in rows), default=0.0))
    height = 6 * max(len(rows), 1)
    drawn = Markup("").join(
        _block(Piece(0.0, value, look), scale, 6.0 * place + 0.5, 4.5) for place, (look, value) in enumerate(rows)
    )
    return _picture("glance", height, drawn)


def _block(piece: Piece, scale: Scale, top: float, height: float) -> Markup:
    left, right = sorted((scale.at(piece.start), scale.at(piece.end)))
    says = Markup("<title>{}</title>").format(piece.says) if piece.says else Markup("")
    return Markup('<rect class="{}" x="{}" width="{}" y="{}" height="{}">{}</rect>').format(
        piece.look, left, round(right - left, 2), round(top, 1), height, says
    )


def _picture(kind: str, height: int, drawn: Markup) -> Markup:
    return Markup(
        '<svg class="{}" viewBox="0 0 1000 {}" preserveAspectRatio="none" aria-hidden="true">{}</svg>'
    ).format(escape(kind), height, drawn)


def stacked(values: Iterable[tuple[float, str, str]]) -> list[Piece]:
    """(value, look, words) one after another, as pieces of a bar."""
    pieces, at = [], 0.0
    for value, look, says in values:
        pieces.append(Piece(at, at + value, look, says))
        at += value
    return pieces


def around(values: Iterable[float | None], margin: float = 0.12) -> Scale:
    """A scale a little wider than the values that are there."""
    known = [value for value in values if value is not None]
    low, high = min(known), max(known)
    room = (high - low) * margin or max(abs(high) * 0.001, 0.01)
    return Scale(low - room, high + room)
