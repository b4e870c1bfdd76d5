"""What a setting is. site.py reads site.toml against these declarations."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Setting:
    """One setting of site.toml.

    ``table`` is empty for a top-level key, else the table (``tolerances``; ``plugins.NAME`` for a
    plugin's own). ``type`` is ``text``, ``number``, ``count``, ``yes_no``, ``list`` (of texts),
    ``table`` (text → text), ``tables`` (text → table) or ``people`` (the engine's own list of persons).
    ``choices`` bounds a text.
    """

    table: str
    name: str
    type: str
    default: Any
    unit: str = ""
    meaning: str = ""
    choices: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None

    @property
    def path(self) -> str:
        return f"{self.table}.{self.name}" if self.table else self.name
