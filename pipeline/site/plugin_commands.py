"""Commands that plugins add to ``vatting``: listed without being loaded, loaded when one is called."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from functools import partial
from importlib import metadata
from pathlib import Path
from typing import Any

from pipeline.contract.commands import Command
from pipeline.site.source import FILE, FOLDER


def plugin_commands(folder: Path = Path(FOLDER)) -> dict[str, Command]:
    """The commands of all installed plugins, and of those that site.toml in the site's ``folder`` names, by name.

    A plugin that cannot be loaded is passed over: a command that needs it says so. The first plugin
    that gives a name keeps it, the built-in ones before all others.
    """
    entries = sorted(metadata.entry_points(group="vatting"), key=lambda entry: not _built_in(entry))
    found: dict[str, Command] = {}
    for load in [*(entry.load for entry in entries), *_of_site(folder)]:
        for command in _commands(load):
            found.setdefault(command.name, command)
    return found


def _built_in(entry: metadata.EntryPoint) -> bool:
    return entry.dist is not None and entry.dist.name == "vatting"


def _of_site(folder: Path) -> list[Callable[[], Any]]:
    try:
        stated = tomllib.loads((folder / FILE).read_text("utf-8-sig")).get("plugin_folders", [])
        places = [path for name in stated for path in sorted((folder / name).glob("*/plugin.py"))]
    except (OSError, ValueError, TypeError):
        return []  # no site here, or one that the command which needs it will speak of
    if not places:
        return []
    from pipeline.site.loading import _load_file

    return [partial(_load_file, path) for path in places]


def _commands(load: Callable[[], Any]) -> list[Command]:
    try:
        return list(getattr(load(), "commands", list)())
    except Exception:
        return []
