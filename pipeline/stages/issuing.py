"""What is issued once and then read back, never worked out again under the same number.

A stage declared with ``issued="due_frame"`` is called once for each row of that frame which is due: one
that is ``open`` and was never issued, whose ``basis`` is another than when it was issued, or that a person
asked for anew. The bytes that it gives are kept; from then on they are what counts.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

from pipeline.contract.frames import FACTS

if TYPE_CHECKING:
    import pandas as pd

    from pipeline.contract.stages import Stage


@dataclass(frozen=True)
class Issue:
    """One issue: its number among those of its name, on what it was made, and its bytes."""

    number: int
    basis: str
    data: bytes


class Issuing(Protocol):
    """Where issues are kept; ``may_issue`` says whether new ones may be made."""

    may_issue: bool

    def state(self, frame: str) -> str:
        """A digest of all issues of a frame and of what a person asked for again."""

    def latest(self, name: str) -> Issue | None:
        """The last issue of a name, if there is one."""

    def wanted(self, name: str) -> bool:
        """Whether a person asked for it anew."""

    def issue(self, name: str, basis: str, make: Callable[[int], bytes]) -> Issue | None:
        """Make and keep the next issue; None where nothing may be kept."""


def issue_all(
    stage: Stage, due: pd.DataFrame, kept: Issuing | None, call: Callable[[dict[str, Any], int], bytes]
) -> tuple[pd.DataFrame, bool]:
    """The frame of an issuing stage: the last issue of each value of the due frame's first column.

    Says too whether all that is due was issued.
    """
    frame = stage.frame
    assert frame is not None
    key = frame.key[0]
    rows: list[tuple[Any, Issue, tuple[int, ...]]] = []
    settled = True
    for row in due.to_dict("records"):
        name = f"{stage.gives}/{row[key]}"
        last = kept.latest(name) if kept else None
        stale = last is None or last.basis != row["basis"] or (kept is not None and kept.wanted(name))
        if stale and row["open"] is True:
            made = kept.issue(name, row["basis"], lambda number, row=row: call(row, number)) if kept else None  # type: ignore[misc]
            last, settled = made or last, settled and made is not None
        if last:
            rows.append((row[key], last, row[FACTS]))
    columns = {
        key: [value for value, _, _ in rows],
        "issue": [issue.number for _, issue, _ in rows],
        "document": [issue.data.decode("utf-8") for _, issue, _ in rows],
    }
    return frame.build(columns, [facts for _, _, facts in rows]), settled
