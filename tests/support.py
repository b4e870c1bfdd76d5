"""What tests share: settings without a file, and a whole run in a folder of the test's own."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from importlib import import_module
from pathlib import Path
from typing import Any

from pipeline.common.file_names import MARK
from pipeline.contract.site import DataFile, Site
from pipeline.site.settings_file import ENGINE_SETTINGS

BUILT_IN = ("proof", "validation", "tasting", "blending", "label_age", "cellar", "proposals", "bench", "records")


def site_with(
    values: dict[str, Any] | None = None,
    *,
    markets: tuple[str, ...] = (),
    book_date: date | None = None,
    data: dict[str, tuple[DataFile, ...]] | None = None,
) -> Site:
    """Default settings of the engine and all built-in plugins, with the given ones changed."""
    declared = list(ENGINE_SETTINGS)
    for name in BUILT_IN:
        try:
            module = import_module(f"plugins.{name}.plugin")
        except ModuleNotFoundError:
            continue
        if hasattr(module, "settings"):
            declared.extend(module.settings())
    known = {setting.path: setting.default for setting in declared}
    unknown = set(values or {}) - set(known)
    if unknown:
        raise KeyError(f"nobody declares {sorted(unknown)}")
    site = Site({**known, **(values or {}), "markets": list(markets)}, data=data or {})
    return replace(site, book_date=book_date)


def write_site(inbox: Path, text: str) -> Path:
    """Write the site.toml of an inbox whose outputs lie beside it: into the site's folder, which it gives."""
    folder = inbox.parent / "site"
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "site.toml").write_text(text, "utf-8")
    return folder


def lying_in(inbox: Path) -> list[str]:
    """Names of what lies in an inbox, but for the mark of its outputs."""
    return sorted(path.name for path in inbox.iterdir() if path.name != MARK)


def document_of(document: Any, given: dict[str, Any], value: str = "") -> Any:
    """What a document made per value gives of these frames: of all values, or of those rows that bear one value."""
    column = document.per.rpartition(".")[2]
    if value:
        given = {name: _bearing(thing, column, value) for name, thing in given.items()}
    return document(**{need.name: given[need.name] for need in document.needs if need.name in given})


def _bearing(thing: Any, column: str, value: str) -> Any:
    if column not in getattr(thing, "columns", ()):
        return thing
    return thing[thing[column] == value].reset_index(drop=True)
