"""Which findings concern a batch, and what that makes of its status."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from pipeline.book.releases import RELEASED, RELEASED_AGAINST
from pipeline.common.names import fold
from pipeline.contract.findings import SEVERITIES, Finding
from plugins.records.record.plain import natural

HELD, IN_REVIEW, RECONCILED = "held", "in review", "reconciled"
STATUSES = (RELEASED_AGAINST, HELD, IN_REVIEW, RECONCILED, RELEASED)
NAMELESS = ("water", "heel", "addition")


@dataclass(frozen=True)
class Batch:
    """What a finding is held against: the batch's id, its casks and vessels, and the facts it uses."""

    id: str
    names: frozenset[str]
    facts: frozenset[int]

    @classmethod
    def of(cls, batch: str, components: Iterable[tuple[str, str | None]], facts: frozenset[int]) -> Batch:
        """From (component, kind) pairs. Water, heel and additions are no names: every batch has them."""
        named = {fold(name) for name, kind in components if kind not in NAMELESS}
        return cls(batch, frozenset({fold(batch), *named}), facts)


def concerns(finding: Finding, batch: Batch) -> bool:
    """True if the finding is the batch's, or speaks of a fact, a cask or a vessel that it uses.

    A finding on another batch stays with that batch (its age claim, its balance), though both drew
    from one cask; it concerns this one too only where it speaks of the shared cask or vessel
    itself and rests on a fact that this batch uses.
    """
    named = fold(finding.subject) in batch.names
    used = not batch.facts.isdisjoint(finding.facts)
    if finding.batch and fold(finding.batch) != fold(batch.id):
        return named and used
    return bool(finding.batch) or named or used


def in_order(findings: Iterable[Finding]) -> list[Finding]:
    """Most severe first, then by batch, code, subject and id."""
    return sorted(findings, key=_order)


def _order(finding: Finding) -> tuple[int, object, str, object, str]:
    severity = SEVERITIES.index(finding.severity)
    return severity, natural(finding.batch or None), finding.code, natural(finding.subject or None), finding.id


def is_open(finding: Finding, severity: str) -> bool:
    return finding.severity == severity and (finding.is_open or finding.of_law)


def status(
    findings: Sequence[Finding],
    *,
    expected: bool,
    gauged: bool,
    agrees: bool | None,
    lost: Sequence[str] = (),
) -> str:
    """The batch's status by the contract's rule, but for releases.

    ``findings`` are those that concern the batch; ``expected`` and ``gauged`` say whether the
    balance has that entry, ``agrees`` whether the two agree within the house's tolerance (None:
    not judged); ``lost`` names frames that a failed stage left out.
    """
    if lost or any(is_open(finding, "stop") for finding in findings):
        return HELD
    if any(is_open(finding, "review") for finding in findings):
        return IN_REVIEW
    if not (expected and gauged and agrees):
        return IN_REVIEW
    return RECONCILED
