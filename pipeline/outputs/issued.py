"""Issued documents in the journal: entered with their bytes when first made, read back from there."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import datetime
from typing import Any

from pipeline.book.book import Book
from pipeline.book.entering import new_line
from pipeline.book.journal import Originals
from pipeline.common.files import text_digest
from pipeline.site.house import House
from pipeline.stages.issuing import Issue


class Issuer:
    """Keeps what is issued in originals/ and the journal (outcome ``issued``).

    ``anew`` names what a person asked for again; with ``may_issue=False`` nothing is made, only read.
    """

    def __init__(
        self,
        house: House,
        book: Book,
        originals: Originals,
        now: datetime | None = None,
        anew: Iterable[str] = (),
        may_issue: bool = True,
    ) -> None:
        self.house, self.book, self.originals, self.now = house, book, originals, now
        self.anew = set(anew)
        self.may_issue = may_issue and now is not None
        self.made: list[str] = []
        self._lines: dict[str, dict[str, Any]] = {}
        for line in book.files():
            if line["outcome"] == "issued":
                self._lines[line["name"]] = line

    def latest(self, name: str) -> Issue | None:
        """The last issue of a name. Raises JournalBroken where its bytes are lost."""
        line = self._lines.get(name)
        if line is None:
            return None
        return Issue(int(line["issue"]), str(line["basis"]), self.originals.read(line["sha256"]))

    def state(self, frame: str) -> str:
        """A digest of all issues of a frame, and of what a person asked for again."""
        own = f"{frame}/"
        lines = [
            (name, line["issue"], line["basis"], line["sha256"], self.originals.has(line["sha256"]))
            for name, line in self._lines.items()
            if name.startswith(own)
        ]
        asked = sorted(name for name in self.anew if name.startswith(own))
        return text_digest(sorted(lines), asked)

    def wanted(self, name: str) -> bool:
        """Whether a person asked for it anew."""
        return name in self.anew

    def issue(self, name: str, basis: str, make: Callable[[int], bytes]) -> Issue | None:
        """Make the next issue, journal it and enter it; None where nothing may be issued."""
        if not self.may_issue or self.now is None:
            return None
        before = self._lines.get(name)
        number = int(before["issue"]) + 1 if before else 1
        data = make(number)
        line = new_line(self.originals, self.book, self.house, self.now)
        line.update(name=name, sha256=self.originals.keep(data), outcome="issued", issue=number, basis=basis)
        self.originals.append(line)
        self.book.enter(line, [], [], [])
        self._lines[name] = line
        self.anew.discard(name)
        self.made.append(name)
        return Issue(number, basis, data)
