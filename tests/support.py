"""What tests share: a site's folder beside an inbox, and documents as the engine makes them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from pipeline.common.file_names import MARK


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
