"""Which findings a batch's record is given: of its casks and readings, and not of all that one hydrometer read."""

from __future__ import annotations

import pytest

from pipeline import Column, Finding, Frame
from pipeline.kept.basis import Ties
from pipeline.kept.frame_states import made_state
from pipeline.stages.findings_by_subject import FindingsBySubject
from pipeline.testing import HASHER

LINES = Frame("lines", ("batch", "cask"), (Column("batch", "text"), Column("cask", "text")))
HYDROMETER, OTHER = 7, 8
ROWS = {  # batch, cask → the draw's fact, the reading's and the hydrometer's
    ("B-1", "C-1"): (11, 21, HYDROMETER),
    ("B-1", "C-2"): (12, 22, HYDROMETER),
    ("B-2", "C-3"): (13, 23, HYDROMETER),
    ("B-3", "C-4"): (14, 24, OTHER),
}


def given(finding: Finding) -> list[str]:
    """The batches whose records show a finding."""
    columns = {"batch": [batch for batch, _ in ROWS], "cask": [cask for _, cask in ROWS]}
    state = made_state(LINES, HASHER, frozenset(["batch"]), LINES.build(columns, ROWS.values()))
    owned = Ties("batch").owners("lines", {"lines": state})
    assert owned is not None
    found = FindingsBySubject([finding], "batch", [owned], HASHER, {HYDROMETER, OTHER})
    return [batch for batch in ("B-1", "B-2", "B-3") if found.of(batch)]


@pytest.mark.parametrize(
    ("subject", "batch", "facts", "batches"),
    [
        ("C-9", "", (40, 50, HYDROMETER), []),  # another cask's account, read with the same hydrometer
        ("C-2", "", (40, 50, HYDROMETER), ["B-1"]),  # a cask of the batch
        ("C-9", "", (40, 23, HYDROMETER), ["B-2"]),  # one of its readings is in it
        ("H-2", "", (HYDROMETER,), ["B-1", "B-2"]),  # the hydrometer itself
        ("H-2", "", (OTHER, 40, HYDROMETER), ["B-3"]),
        ("C-9", "B-3", (40, HYDROMETER), ["B-3"]),
    ],
)
def test_batches_of_a_finding(subject: str, batch: str, facts: tuple[int, ...], batches: list[str]) -> None:
    """By name, by batch, and by facts of its own; by an instrument's only where the finding rests first on it."""
    assert given(Finding("test.finding", "review", "Said.", subject=subject, batch=batch, facts=facts)) == batches
