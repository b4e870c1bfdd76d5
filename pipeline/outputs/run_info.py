"""What reports may know of the run that makes them."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Any

from pipeline.book.fates import Fate
from pipeline.book.releases import Signed
from pipeline.book.rulings import HistoryLine
from pipeline.site.description import Loosened


@dataclass
class RunInfo:
    """What reports may know of the run: the reserved parameter ``run``.

    ``releases`` maps a batch (case-folded) to all its signed releases, the last last; ``missing`` maps a frame that
    could not be worked out to the frame whose stage failed; ``loosened``: settings that let more pass than
    their defaults; ``links`` are paths that the first page shows, each with what lies there, and ``head`` is
    the journal's: known only to ``last`` reports. ``notes`` say how the settings came to be.
    """

    files: list[Fate] = field(default_factory=list)
    versions: dict[str, Any] = field(default_factory=dict)
    problems: list[str] = field(default_factory=list)
    book_date: date | None = None
    releases: dict[str, list[Signed]] = field(default_factory=dict)
    history: list[HistoryLine] = field(default_factory=list)
    missing: dict[str, str] = field(default_factory=dict)
    loosened: list[Loosened] = field(default_factory=list)
    links: list[tuple[str, str]] = field(default_factory=list)
    head: str = ""
    notes: list[str] = field(default_factory=list)
