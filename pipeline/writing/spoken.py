"""Names, figures and shares as people read them on pages."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from markupsafe import Markup


def spoken(name: Any) -> str:
    """The name of a column or family in words."""
    return str(name).replace("_", " ")


def number(value: float | None, places: int = 1) -> str:
    """A number with a narrow space between thousands; a dash where there is none."""
    return "–" if value is None else f"{value:,.{places}f}".replace(",", "\u202f")


def makeup(parts: list[dict[str, Any]]) -> Markup:
    """Shares of ``component``s (``share``, of 1; None is nothing) as one bar; every second one is hatched, so that
    neighbours part without colour."""
    from markupsafe import Markup

    drawn, place = [], 0.0
    for at, part in enumerate(parts):
        share = part["share"] or 0.0
        width = 1000.0 * share
        drawn.append(
            Markup('<rect class="c{}" x="{}" width="{}" y="1" height="18"><title>{}</title></rect>').format(
                at % 2, round(place, 1), round(width, 1), f"{part['component']} {100.0 * share:.0f} %"
            )
        )
        place += width
    return Markup(
        '<svg class="makeup" viewBox="0 0 1000 20" preserveAspectRatio="none" aria-hidden="true">{}</svg>'
    ).format(Markup("").join(drawn))
