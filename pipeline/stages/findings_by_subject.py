"""Which findings a document or report of one subject is given: those that speak of it, or of what its rows hold."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np

from pipeline.common.names import fold
from pipeline.contract.findings import Finding
from pipeline.contract.frames import FACTS
from pipeline.kept.basis import Owned
from pipeline.kept.digests import NOBODY, Hasher, Vector


class FindingsBySubject:
    """Findings by subject of a column.

    A finding goes to the subject that its ``batch`` or ``subject`` names, to those in whose rows its subject
    stands as part of a key, and to those whose rows rest on one of its facts; on one of ``shared`` (an instrument's)
    where it is the first: a cask's account says nothing of all others that were read with one hydrometer. ``tied``
    are the frames whose rows belong to subjects.
    """

    def __init__(
        self,
        findings: list[Finding],
        column: str,
        tied: list[Owned],
        hasher: Hasher,
        shared: Collection[int] = frozenset(),
    ) -> None:
        self.hasher = hasher
        telling = [(*finding.facts[:1], *(f for f in finding.facts[1:] if f not in shared)) for finding in findings]
        by_name = _by_name(findings, column, tied, hasher)
        by_fact = _by_fact(telling, tied)
        self._of: dict[int, list[Finding]] = {}
        names = [fold(finding.subject) for finding in findings]
        batches = hasher.ids(finding.batch for finding in findings).tolist()
        subjects = hasher.ids(names).tolist()
        for finding, facts, name, batch, subject in zip(findings, telling, names, batches, subjects, strict=True):
            owners = {batch, subject} | by_name.get(name, set())
            for fact in facts:
                owners |= by_fact.get(fact, set())
            for owner in owners:
                self._of.setdefault(owner, []).append(finding)
        self.vector = self._vector()

    def of(self, value: str) -> list[Finding]:
        """The findings of one subject, in their order."""
        return self._of.get(int(self.hasher.ids([value])[0]), [])

    def _vector(self) -> Vector:
        if not self._of:
            return NOBODY
        own: dict[int, np.uint64] = {}
        for findings in self._of.values():
            for finding in findings:
                if id(finding) not in own:
                    own[id(finding)] = self.hasher.number("finding", repr(finding))
        ids = np.array(list(self._of), np.uint64)
        sums = [self.hasher.number(*(own[id(finding)] for finding in found)) for found in self._of.values()]
        return Vector.of(ids, np.array(sums, np.uint64))


def _by_name(findings: list[Finding], column: str, tied: list[Owned], hasher: Hasher) -> dict[str, set[int]]:
    """Folded names of findings' subjects → the subjects in whose rows they stand as part of the key."""
    wanted = {fold(finding.subject) for finding in findings if finding.subject}
    names = sorted(wanted)
    places = dict(zip(hasher.ids(names).tolist(), names, strict=True))
    found: dict[str, set[int]] = {}
    for state in (owned.state for owned in tied if owned.column == column):
        for key in state.declared.key:
            if key == column or state.declared.column(key).dtype != "text" or not len(state.frame):
                continue
            subjects, others = state.pairs(column, key)
            for at in np.flatnonzero(np.isin(others, np.array(list(places), np.uint64))).tolist():
                found.setdefault(places[int(others[at])], set()).add(int(subjects[at]))
    return found


def _by_fact(telling: list[tuple[int, ...]], tied: list[Owned]) -> dict[int, set[int]]:
    """Facts of findings → the subjects whose rows rest on them."""
    wanted = {fact for facts in telling for fact in facts}
    found: dict[int, set[int]] = {}
    if not wanted:
        return found
    for owned in tied:
        subjects = owned.of_rows()
        ids: list[int] = owned.state.ids(owned.column).tolist()
        for name, facts in zip(ids, owned.state.frame[FACTS].tolist(), strict=True):
            for fact in facts:
                if fact in wanted and name in subjects:
                    found.setdefault(fact, set()).update(subjects[name])
    return found
