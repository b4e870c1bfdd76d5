"""The navigation of a house, from what its reports declare and its frames hold, put round its pages."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import astuple

from pipeline.common.files import text_digest
from pipeline.kept.frame_states import FrameState
from pipeline.kept.store import Kept
from pipeline.site.house import House
from pipeline.writing.framing import Framing, Way

RECORD = "framing of pages"


class Framed:
    """Puts the house's framing round pages. ``changed``: those that lie in the outputs may have another."""

    def __init__(self, house: House, states: Mapping[str, FrameState], kept: Kept) -> None:
        self._framing = framing(house, states)
        self._kept, self._digest = kept, text_digest(list(astuple(self._framing)))
        self.changed = kept.record(RECORD) != self._digest

    def is_due(self, path: str) -> bool:
        """Whether the file at a path must be made anew for its framing's sake."""
        return self.changed and path.endswith(".html")

    def put_round(self, data: bytes, path: str) -> bytes:
        """A file's bytes as they are to be written."""
        return self._framing.put_round(data, path) if path.endswith(".html") else data

    def keep(self) -> None:
        """All pages now have this framing."""
        if self.changed:
            self._kept.keep_record(RECORD, self._digest)


def framing(house: House, states: Mapping[str, FrameState]) -> Framing:
    """The words whose pages this house has: known before any page is made, so that all pages have the same."""
    found = [
        (nav.place, Way(nav.word, report.path, nav.anchor, nav.folders))
        for report in house.plugins.reports
        for nav in report.nav
        if not nav.frames or any(name in states and len(states[name].frame) for name in nav.frames)
    ]
    return Framing(tuple(way for _, way in sorted(found, key=lambda one: (one[0], one[1].word))), house.site.markets)
