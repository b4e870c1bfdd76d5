"""Templates to bytes: one Jinja2 environment that escapes everything, one style sheet set into each page."""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from typing import Any

from jinja2 import Environment, FunctionLoader, StrictUndefined
from markupsafe import Markup

from plugins.records.record import words


def _source(name: str) -> str:
    return (files("plugins.records.pages") / "templates" / name).read_text(encoding="utf-8")


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=FunctionLoader(_source),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters.update(
        number=words.number,
        free=words.free,
        spoken=words.spoken,
        day=words.day,
        place=words.place,
        ranges=words.ranges,
        unit=words.unit,
    )
    environment.globals.update(count=words.count, style=Markup(_source("style.css")), words=words)
    return environment


def page(template: str, values: dict[str, Any]) -> bytes:
    """The page as UTF-8 with LF; equal values give equal bytes."""
    text = _environment().get_template(template).render(values)
    return text.replace("\r\n", "\n").encode("utf-8", "replace")
