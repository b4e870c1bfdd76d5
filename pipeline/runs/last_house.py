"""The house as the journal last knew it, for commands that are given only the outputs."""

from __future__ import annotations

from pathlib import Path

from pipeline.book.journal import Originals
from pipeline.common.errors import PluginError
from pipeline.site.house import House, build_house


def last_house(originals: Originals, site: Path | None = None) -> House:
    """The house of the last file that was taken, its plugins from where they lay or lie now (``site``).

    A line that names no site folder had its settings from an inbox. Raises PluginError where nothing was taken.
    """
    lines = originals.lines()
    if not lines:
        raise PluginError(f"{originals.path.name} is empty; nothing was taken yet")
    text = originals.read(lines[-1]["settings"]).decode("utf-8")
    return build_house(text, site or (Path(named) if (named := lines[-1].get("site_folder")) else None))
