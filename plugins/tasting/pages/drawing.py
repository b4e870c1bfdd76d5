"""Templates to bytes, words marked in notes, and the filters of the tasting pages."""

from __future__ import annotations

import base64
import hashlib
from functools import cache
from importlib.resources import files
from typing import Any
from urllib.parse import quote

from jinja2 import Environment, FunctionLoader, StrictUndefined
from markupsafe import Markup, escape

from pipeline import give_way
from pipeline.common.file_names import safe_name
from plugins.tasting.stock.stock import spoken

ENDS = {"body": ("thin", "oily"), "length_balance": ("short", "long"), "sweetness": ("dry", "sweet")}


def _source(name: str) -> str:
    return (files("plugins.tasting.pages") / "templates" / name).read_text(encoding="utf-8")


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
    environment.filters.update(figure=figure, day=day, spoken=spoken, marked=marked, path=path)
    script = _source("table.js")
    digest = base64.b64encode(hashlib.sha256(script.encode("utf-8")).digest()).decode("ascii")
    environment.globals.update(
        style=Markup(_source("style.css")), table_script=Markup(script), script_hash=digest, ends=ENDS
    )
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
    """A figure with so many places, a minus as a minus; a dash where there is none."""
    if value is None:
        return "–"
    text = f"{value:.{places}f}"
    return text.replace("-", "−") if float(text) else text.replace("-", "")


def day(moment: str | None) -> str:
    """The day of an ISO moment; a dash where there is none."""
    return moment[:10] if moment else "–"


def path(name: str) -> str:
    """A name as part of an address in the outputs."""
    return quote(safe_name(name))


def marked(text: str, hits: list[dict[str, Any]]) -> Markup:
    """A note with the words that were understood marked: what each is, and how it is meant, in its title.

    Said, denied, doubtful and striking words differ in how they are underlined, not in colour alone.
    """
    made, at = [], 0
    for hit in hits:
        kind = "no" if hit["negated"] else "maybe" if hit["doubtful"] else "strong" if hit["striking"] else "yes"
        made.append(escape(text[at : hit["start"]]))
        word = escape(text[hit["start"] : hit["end"]])
        made.append(Markup('<mark class="{}" title="{}">{}</mark>').format(kind, _title(hit), word))
        at = hit["end"]
    made.append(escape(text[at:]))
    return Markup("").join(made)


def _title(hit: dict[str, Any]) -> str:
    told = [spoken(hit["family"])]
    if hit["respelt"]:
        told.append(f"read as {hit['term']}")
    if hit["negated"]:
        told.append("less" if hit["compared"] == "less" else "not there")
    if hit["doubtful"]:
        told.append("doubtful")
    if hit["striking"]:
        told.append("striking")
    if hit["weight"] != 1:
        told.append("a little" if hit["weight"] < 1 else "much")
    if hit["compared"] and not hit["negated"]:
        told.append(f"{hit['compared']} than {hit['reference'] or 'another'}".replace("same than", "as much as"))
    return ", ".join(told)
