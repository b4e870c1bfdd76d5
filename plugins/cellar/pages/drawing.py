"""The cellar's pages."""

from __future__ import annotations

from markupsafe import Markup

from pipeline.writing.pages import Pages, figure


def span(low: float | None, value: float | None, high: float | None) -> Markup:
    """A likely value, and below it its interval."""
    return Markup(f"{figure(value)} <small>{figure(low)} to {figure(high)}</small>")


PAGES = Pages("plugins.cellar.pages", {"span": span})
