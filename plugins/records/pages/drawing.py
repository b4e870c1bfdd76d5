"""The records' pages."""

from __future__ import annotations

from functools import cache
from typing import Any

from pipeline.common.codes import groups, in_groups
from pipeline.common.heads import on_paper
from pipeline.writing.pages import Pages
from plugins.records.record import words


@cache
def _pages() -> Pages:
    return Pages(
        "plugins.records.pages",
        {"count": words.count, "words": words},
        number=words.number,
        free=words.free,
        spoken=words.spoken,
        day=words.day,
        place=words.place,
        ranges=words.ranges,
        unit=words.unit,
        on_paper=on_paper,
        code=in_groups,
        groups=groups,
    )


def page(template: str, values: dict[str, Any]) -> bytes:
    """The page as UTF-8 with LF; equal values give equal bytes."""
    return _pages().page(template, values)
