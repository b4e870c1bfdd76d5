"""Templates to bytes, and the filters of the cellar's pages."""

from __future__ import annotations

import base64
import hashlib
from functools import cache
from importlib.resources import files
from typing import Any
from urllib.parse import quote

from jinja2 import Environment, FunctionLoader, StrictUndefined
from markupsafe import Markup

from pipeline import give_way
from pipeline.common.file_names import safe_name


def _source(name: str) -> str:
    return (files("plugins.cellar.pages") / "templates" / name).read_text(encoding="utf-8")


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
    environment.filters.update(figure=figure, day=day, path=path)
    script = _source("table.js")
    digest = base64.b64encode(hashlib.sha256(script.encode("utf-8")).digest()).decode("ascii")
    environment.globals.update(style=Markup(_source("style.css")), table_script=Markup(script), script_hash=digest)
    return environment


def page(template: str, values: dict[str, Any]) -> bytes:
    """The page as UTF-8 with LF; equal values give equal bytes."""
    parts = []
    for part in _environment().get_template(template).generate(values):
        give_way()
        parts.append(part)
    text = "".join(parts)
    return text.replace("\r\n", "\n").encode("utf-8", "replace")


def figure(value: float | None, places: int = 1) -> str:
    """A figure with so many places, thousands apart, a minus as a minus; a dash where there is none."""
    if value is None:
        return "–"
    text = f"{value:,.{places}f}"
    return text.replace("-", "−") if float(text.replace(",", "")) else text.replace("-", "")


def day(moment: str | None) -> str:
    """The day of an ISO moment; a dash where there is none."""
    return moment[:10] if moment else "–"


def path(name: str) -> str:
    """A name as part of an address in the outputs."""
    return quote(safe_name(name))
