"""The settings in force, as stages and reports see them, and the data files that go with them."""

from __future__ import annotations

import difflib
import hashlib
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo


@dataclass(frozen=True)
class DataFile:
    """A data file that a plugin ships or a site adds, read once at start.

    ``plugin`` is the plugin or folder it is of, ``name`` the file's name, ``text`` its content, ``sha256`` its digest.
    """

    plugin: str
    name: str
    text: str
    sha256: str


@dataclass(frozen=True)
class Site:
    """All settings in force. ``site["tolerances.gauge_days"]`` reads one by its path.

    ``values`` are all by path and ``sources`` say where each comes from; ``folder`` is the site's, ``text`` that of its
    site.toml; ``data`` holds the data files by table.
    ``book_date`` is the latest measuring, inventory, tasting or bottling date among the facts.
    """

    values: dict[str, Any]
    sources: dict[str, str] = field(default_factory=dict)
    folder: Path | None = None
    text: str = ""
    book_date: date | None = None
    data: dict[str, tuple[DataFile, ...]] = field(default_factory=dict)

    def __getitem__(self, path: str) -> Any:
        try:
            return self.values[path]
        except KeyError:
            near = difflib.get_close_matches(path, self.values, 1)
            hint = f"; did you mean {near[0]}?" if near else ""
            raise KeyError(f"no plugin declares the setting {path}{hint}") from None

    @property
    def house(self) -> str:
        return str(self.values["house"])

    @property
    def markets(self) -> tuple[str, ...]:
        return tuple(self.values["markets"])

    @property
    def timezone(self) -> str:
        return str(self.values["timezone"])

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.timezone)

    @property
    def date_order(self) -> str:
        return str(self.values["date_order"])

    @property
    def decimal(self) -> str:
        return str(self.values["decimal"])

    @property
    def sha256(self) -> str:
        return hashlib.sha256(self.text.encode("utf-8")).hexdigest()

    @property
    def book_month(self) -> date | None:
        """The first day of the book date's month: what is pooled over the whole house is settled on that day."""
        return self.book_date.replace(day=1) if self.book_date else None

    def having(self, values: dict[str, Any]) -> Site:
        """The same with some settings changed. Raises KeyError for one that nobody declares."""
        for path in values:
            self[path]
        return replace(self, values={**self.values, **values})

    def on(self, book_date: date | None) -> Site:
        """The same settings with the book date that stages may see."""
        return replace(self, book_date=book_date)
