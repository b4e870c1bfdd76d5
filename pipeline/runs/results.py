"""What a run did, and what the book says now."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from pipeline.book.fates import Fate

if TYPE_CHECKING:
    from pipeline.outputs.run_info import RunInfo
    from pipeline.stages.work import Worked

FAILED = ("stage.failed", "report.failed", "plugin.not-loaded")


@dataclass
class Result:
    """The fate of each file, and how things stand.

    ``findings`` counts those that are open by severity; ``failed`` says whether a stage or report failed or a plugin
    was left out. ``worked`` and ``run`` are there where something was worked out, not where nothing was new.
    """

    fates: list[Fate]
    statuses: dict[str, str] = field(default_factory=dict)
    findings: dict[str, int] = field(default_factory=dict)
    problems: list[str] = field(default_factory=list)
    book_date: str | None = None
    failed: bool = False
    staying: dict[str, str] = field(default_factory=dict)
    changed: int = 0
    unread: int = 0
    notes: list[str] = field(default_factory=list)
    _worked: Worked | None = None
    _run: RunInfo | None = None

    @property
    def worked(self) -> Worked:
        """What was worked out. Raises ValueError where nothing was new."""
        if self._worked is None:
            raise ValueError("nothing was new, so nothing was worked out")
        return self._worked

    @property
    def run(self) -> RunInfo:
        """What reports knew of the run. Raises ValueError where nothing was new."""
        if self._run is None:
            raise ValueError("nothing was new, so nothing was published")
        return self._run

    def standing(self) -> dict[str, Any]:
        """How things stand, as plain data."""
        return {
            name: getattr(self, name) for name in ("statuses", "findings", "problems", "book_date", "failed", "notes")
        }


def result_of(fates: list[Fate], worked: Worked, run: RunInfo, statuses: dict[str, str], changed: int) -> Result:
    """The result of a run that worked things out."""
    counts = {
        severity: sum(f.severity == severity and f.is_open for f in worked.findings)
        for severity in ("stop", "review", "note")
    }
    return Result(
        fates,
        statuses,
        counts,
        list(run.problems),
        run.book_date.isoformat() if run.book_date else None,
        any(finding.code in FAILED for finding in worked.findings),
        changed=changed,
        notes=list(run.notes),
        _worked=worked,
        _run=run,
    )
