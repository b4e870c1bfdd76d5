"""The house as the journal last knew it, for commands that are given only the outputs."""

from __future__ import annotations

from pathlib import Path

from pipeline.book.journal import Originals
from pipeline.common.errors import PluginError
from pipeline.site.house import House, build_house


def last_house(originals: Originals) -> House:
    """The house of the last file that was taken. Raises PluginError where nothing was."""
    lines = originals.lines()
    if not lines:
        raise PluginError(f"{originals.path.name} is empty; nothing was taken yet")
    text = originals.read(lines[-1]["settings"]).decode("utf-8")
    return build_house(text, Path(lines[-1]["site"]))
