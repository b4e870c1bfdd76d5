"""One thing that does not agree, and what was looked at."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True)
class Disagreement:
    """``what``: journal, head, original, book, output, record or history row; ``place`` is where, ``said`` how.

    ``since`` is the day of the last journal line that still agrees, where that can be told.
    """

    what: str
    place: str
    said: str
    since: str = ""

    def __str__(self) -> str:
        since = f" The last line that still agrees is of {self.since}." if self.since else ""
        return f"{self.place} {self.said}{since}"


@dataclass
class Report:
    """All that does not agree, what is to be known beside it, and how much was looked at."""

    disagreements: list[Disagreement] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    head: str = ""
    identity: str = ""
    lines: int = 0
    originals: int = 0
    outputs: int = 0
    heads: int = 0
    facts: int | None = None  # rows held against their originals; None where that was not asked for
    full: bool = False

    def say(self, what: str, place: str, said: str, since: str = "") -> None:
        self.disagreements.append(Disagreement(what, place, said, since))
