"""Commands that plugins add to ``vatting``: listed without being loaded, loaded when one is called."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from functools import partial
from importlib import metadata
from pathlib import Path
from typing import Any

from pipeline.contract.commands import Command
from pipeline.site.source import FILE, FOLDER, disabled_in


def plugin_commands(folder: Path = Path(FOLDER)) -> dict[str, Command]:
    """The commands of all installed plugins, and of those that site.toml in the site's ``folder`` names, by name.

    A plugin that cannot be loaded is passed over: a command that needs it says so. The first plugin
    that gives a name keeps it, the built-in ones before all others.
    """
    stated = _stated(folder)
    left_out = disabled_in(stated)
    entries = [entry for entry in metadata.entry_points(group="vatting") if entry.name not in left_out]
    loads: list[Callable[[], Any]] = [entry.load for entry in sorted(entries, key=lambda entry: not _built_in(entry))]
    places = [path for path in _of_site(folder, stated) if path.parent.name not in left_out]
    if places:
        from pipeline.site.loading import _load_file

        loads += [partial(_load_file, path) for path in places]
    found: dict[str, Command] = {}
    for load in loads:
        for command in _commands(load):
            found.setdefault(command.name, command)
    return found


def _built_in(entry: metadata.EntryPoint) -> bool:
    return entry.dist is not None and entry.dist.name == "vatting"


def _stated(folder: Path) -> dict[str, Any]:
    """What site.toml states; nothing where there is none, or one that the command which needs it will speak of."""
    try:
        return tomllib.loads((folder / FILE).read_text("utf-8-sig"))
    except (OSError, ValueError):
        return {}


def _of_site(folder: Path, stated: dict[str, Any]) -> list[Path]:
    try:
        return [
            path for name in stated.get("plugin_folders", []) for path in sorted((folder / name).glob("*/plugin.py"))
        ]
    except TypeError:
        return []


def _commands(load: Callable[[], Any]) -> list[Command]:
    try:
        return list(getattr(load(), "commands", list)())
    except Exception:
        return []
