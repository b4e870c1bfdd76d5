"""What the last working out gave, so that what has not changed is not worked out again.

Kept in memory for as long as one process has an inbox open; a new process starts with nothing. A
*mark* is a number that stands for a value: it stays while the value stays equal, so that marks can
be compared instead of frames. Within one session the settings do not change; a new site.toml is a
new session.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from pipeline.common.spelling import Spelling
from pipeline.contract.site import Site

if TYPE_CHECKING:
    import pandas as pd

MOST_COMPARED = 50_000


@dataclass
class Kept:
    """What a call gave, and the marks of what it was given and of what it asked for beside that."""

    marks: Any
    asked: dict[str, int]
    result: Any


@dataclass
class Stood:
    """What a stage gave when it was last run: findings with their plugin, and a frame or what was missing."""

    missing: str
    findings: list[Any]
    frame: Any = None
    mark: int = 0


@dataclass
class Memory:
    """Marks of values, and results of calls by the marks of what they were given."""

    stood: dict[str, Stood] = field(default_factory=dict)
    spelling: Spelling = field(default_factory=Spelling)
    grown: dict[str, tuple[Any, Any]] = field(default_factory=dict)
    """Of kinds a frame and the one that it grew to: the same rows in their places, and more after them."""

    _next: Any = field(default_factory=lambda: itertools.count(1))
    _values: dict[Any, tuple[Any, int]] = field(default_factory=dict)
    _calls: dict[Any, Kept] = field(default_factory=dict)

    def mark(self, key: Any, value: Any, same: Callable[[Any, Any], bool] | None = None) -> int:
        """The mark of the value that now stands under a key."""
        before = self._values.get(key)
        if before is not None and (before[0] is value or (same or _equal)(before[0], value)):
            return before[1]
        made = next(self._next)
        self._values[key] = (value, made)
        return made

    def settled(self, key: Any, frame: pd.DataFrame) -> tuple[pd.DataFrame, int]:
        """The frame, or the equal one that stood under the key before, and its mark.

        A very long frame that was made anew counts as changed.
        """
        mark = self.mark(key, frame, _same_frame)
        return self._values[key][0], mark

    def frame_mark(self, key: Any, frame: pd.DataFrame) -> int:
        """The mark of a frame, as ``settled`` gives it."""
        return self.mark(key, frame, _same_frame)

    def recall(self, key: Any, marks: Any, current: Callable[[str], int]) -> Kept | None:
        """What a call gave when it was given the same; ``current`` marks what it had asked for beside that."""
        kept = self._calls.get(key)
        if kept is None or kept.marks != marks:
            return None
        return kept if all(current(name) == mark for name, mark in kept.asked.items()) else None

    def keep(self, key: Any, marks: Any, asked: dict[str, int], result: Any) -> Kept:
        """Keep what a call gave."""
        self._calls[key] = Kept(marks, asked, result)
        return self._calls[key]

    def once(self, key: Any, marks: Any, work: Callable[[], Any]) -> Any:
        """The result of ``work``, done again only when the marks are others."""
        kept = self.recall(key, marks, lambda name: 0) or self.keep(key, marks, {}, work())
        return kept.result


def _equal(one: Any, other: Any) -> bool:
    """Whether two values are the same to whoever writes them: 1 is not 1.0, and the order of keys counts."""
    if type(one) is not type(other):
        return False
    if isinstance(one, dict):
        return len(one) == len(other) and all(map(_equal, one.items(), other.items()))
    if isinstance(one, list | tuple):
        return len(one) == len(other) and all(map(_equal, one, other))
    try:
        return bool(one == other) and (one != 0 or str(one) == str(other))  # 0.0 is not -0.0
    except Exception:  # values that cannot be compared count as changed
        return False


def _same_frame(one: pd.DataFrame, other: pd.DataFrame) -> bool:
    return len(one) == len(other) <= MOST_COMPARED and one.equals(other)


def noting(thing: Any, names: set[str], asked: set[str], prefix: str) -> Any:
    """The same object, but that it notes in ``asked`` which of the attributes ``names`` were looked at."""
    kind: Any = type(thing)

    def look(self: Any, name: str) -> Any:
        if name in names:
            asked.add(f"{prefix}.{name}")
        return kind.__getattribute__(self, name)

    made: Any = object.__new__(type(kind.__name__, (kind,), {"__getattribute__": look}))
    kind.__getattribute__(made, "__dict__").update(thing.__dict__)
    return made


def noting_site(site: Site, asked: set[str]) -> Site:
    """Settings that note whether the book date was asked for: all else stays within a session."""
    noted: Site = noting(site, {"book_date"}, asked, "site")
    return noted
