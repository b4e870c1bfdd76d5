"""Page templates of a plugin: compiled once, all that is put in escaped, equal values give equal bytes.

A plugin keeps its templates in a folder ``templates`` with ``style.css`` and, where a page sorts, ``table.js``; both
are set into the pages, which name the script by its hash and load nothing. A template that is not there is the one of
that name in the folder beside this file: ``frame.html``, how every page begins and ends; ``paper.css``, how a page of
few tables looks; ``page.html``, a page that looks so: a template of a site's plugin that says
``{% extends "page.html" %}`` fills its blocks ``title`` and ``main``.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Callable, Mapping
from importlib.resources import files
from pathlib import Path
from typing import Any
from urllib.parse import quote

from jinja2 import Environment, FunctionLoader, StrictUndefined
from markupsafe import Markup

from pipeline.common.file_names import safe_name
from pipeline.writing.bytecode import TemplateBytecode


class _Environment(Environment):
    def getattr(self, obj: Any, attribute: str) -> Any:
        """A key of a row before anything else: rows are what most of a page is made of."""
        if type(obj) is dict and attribute in obj:
            return obj[attribute]
        return super().getattr(obj, attribute)


class Pages:
    """The pages of a plugin's package, or of its folder: ``Pages(Path(__file__).parent)``.

    ``more`` are filters of its own, ``functions`` what its templates call.
    """

    def __init__(
        self, package: str | Path, functions: Mapping[str, Any] | None = None, **more: Callable[..., Any]
    ) -> None:
        own = package if isinstance(package, Path) else files(package)
        folders = [of / "templates" for of in (own, files("pipeline.writing"))]

        def template(name: str) -> tuple[str, str, None] | None:
            found = next((folder / name for folder in folders if (folder / name).is_file()), None)
            return (found.read_text(encoding="utf-8"), str(found), None) if found is not None else None

        def text(name: str) -> str:
            found = template(name)
            return found[0] if found is not None else ""

        self.environment = _Environment(
            loader=FunctionLoader(template),
            bytecode_cache=TemplateBytecode(),
            autoescape=True,
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
            keep_trailing_newline=True,
        )
        script = text("table.js")
        digest = base64.b64encode(hashlib.sha256(script.encode("utf-8")).digest()).decode("ascii")
        self.environment.filters.update({"figure": figure, "day": day, "path": path, **more})
        self.environment.globals.update(
            style=Markup(text("style.css")),
            table_script=Markup(script),
            script_hash=digest,
            **(functions or {}),
        )

    def page(self, template: str, values: dict[str, Any]) -> bytes:
        """The page as UTF-8 with LF."""
        text = self.environment.get_template(template).render(values)
        return text.replace("\r\n", "\n").encode("utf-8", "replace")


def figure(value: float | None, places: int = 1) -> str:
    """A figure with so many places, thousands apart, a minus as a minus; a dash where there is none."""
    if value is None:
        return "–"
    text = f"{value:,.{places}f}"
    if text[0] != "-":
        return text
    return text.replace("-", "−" if text.strip("-0.,") else "")


def day(moment: str | None) -> str:
    """The day of an ISO moment; a dash where there is none."""
    return moment[:10] if moment else "–"


def path(name: str) -> str:
    """A name as part of an address in the outputs."""
    return quote(safe_name(name))
