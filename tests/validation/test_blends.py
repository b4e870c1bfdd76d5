"""Blend sheets and bottlings against plan, count and brief."""

from __future__ import annotations

from typing import Any

import pytest

from tests.validation.sheets import checked_blends, codes, sheet

BRIEF = {"batch": "B-1", "bottling_abv": 46.0, "bottle_size_L": 0.7}


def lines(*volumes: tuple[float, float], **more: Any) -> Any:
    rows = [
        {"batch": "B-1", "component": f"C-{place}", "drawn_at": "2025-11-03", "line": str(place), **more}
        | {"planned_volume_L": planned, "drawn_volume_L": drawn}
        for place, (planned, drawn) in enumerate(volumes)
    ]
    return sheet("blends", *rows)


def bottling(**more: Any) -> Any:
    run = {"batch": "b-1", "bottled_on": "2026-01-15", "bottle_size_L": 0.7, "bottles": 1206.0, "label_abv": 46.0}
    return sheet("bottlings", {**run, **more})


def test_plan_copied() -> None:
    """Four draws equal to the plan to the last figure are a note; one that differs, or three, are none."""
    briefs = sheet("briefs", BRIEF)
    frame, findings = checked_blends(blends=lines(*[(181.2, 181.2)] * 4), briefs=briefs)
    assert [(f.code, f.severity, f.batch) for f in findings] == [("blend.plan-copied", "note", "B-1")]
    assert list(frame["planned_equals_drawn"]) == [True] * 4 and set(frame["verdict"]) == {"blend.plan-copied"}
    assert checked_blends(blends=lines(*[(181.2, 181.2)] * 3, (181.2, 180.9)), briefs=briefs)[1] == []
    assert checked_blends(blends=lines(*[(181.2, 181.2)] * 3), briefs=briefs)[1] == []


def test_weighed_draws_are_not_copied() -> None:
    """Where every draw was weighed the volume column is no witness."""
    weighed = lines(*[(181.2, 181.2)] * 4, drawn_weight_kg=165.0)
    assert checked_blends(blends=weighed, briefs=sheet("briefs", BRIEF))[1] == []


def test_batch_without_brief() -> None:
    """A batch that is drawn or bottled without a brief is asked about once; names compare without case."""
    _, findings = checked_blends(blends=lines((1.0, 2.0), (1.0, 2.0)), bottlings=bottling())
    assert [(f.code, f.severity, f.subject) for f in findings] == [("batch.no-brief", "review", "B-1")]
    assert "3 lines" in findings[0].message
    assert checked_blends(bottlings=bottling(), briefs=sheet("briefs", BRIEF))[1] == []


@pytest.mark.parametrize(
    ("run", "agrees"),
    [
        ({"cases": 100.0, "bottles_per_case": 12.0, "part_case": 6.0}, True),
        ({"cases": 100.0, "bottles_per_case": 12.0, "part_case": 4.0, "samples": 2.0}, True),
        ({"cases": 100.0, "bottles_per_case": 12.0, "samples": 2.0, "destroyed": 3.0, "dumped_back": 1.0}, True),
        ({"cases": 200.0, "bottles_per_case": 6.0, "part_case": 6.0, "destroyed": 4.0}, True),
        ({"cases": 101.0, "bottles_per_case": 12.0}, False),
        ({"cases": 100.0, "bottles_per_case": 12.0, "part_case": 4.0}, False),
        ({"cases": 100.0}, True),
        ({}, True),
    ],
)
def test_cases_and_bottles(run: dict[str, float], agrees: bool) -> None:
    """1,206 bottles against cases and part case, whichever losses the house counts in; what is not stated agrees."""
    _, findings = checked_blends(bottlings=bottling(**run), briefs=sheet("briefs", BRIEF))
    assert codes(findings) == ([] if agrees else ["bottling.cases-do-not-add-up"])


def test_one_bottle_in_one_case_is_singular() -> None:
    """A count of one is said in the singular."""
    run = {"bottles": 1.0, "cases": 1.0, "bottles_per_case": 12.0}
    _, findings = checked_blends(bottlings=bottling(**run), briefs=sheet("briefs", BRIEF))
    assert "1 bottle, but 1 case of 12 and a part case of 0 are 12." in findings[0].message


def test_label_of_another_batch() -> None:
    """A label of 43 % on a batch briefed at 46 % is a stop that rests on both rows."""
    _, findings = checked_blends(bottlings=bottling(label_abv=43.0), briefs=sheet("briefs", BRIEF))
    assert [(f.code, f.severity, f.facts) for f in findings] == [("bottling.label-differs", "stop", (800, 600))]


def test_label_of_a_brief_in_proof() -> None:
    """92 proof is 46 % on the label."""
    briefs = sheet("briefs", {"batch": "B-1", "bottling_proof": 92.0, "bottle_size_L": 0.7})
    assert checked_blends(bottlings=bottling(), briefs=briefs)[1] == []
    assert codes(checked_blends(bottlings=bottling(label_abv=46.1), briefs=briefs)[1]) == ["bottling.label-differs"]


def test_bottle_of_another_size() -> None:
    """750 mL bottles where the brief says 700 mL are a review."""
    _, findings = checked_blends(bottlings=bottling(bottle_size_L=0.75), briefs=sheet("briefs", BRIEF))
    assert [(f.code, f.severity) for f in findings] == [("bottling.size-differs", "review")]
    assert "750 mL" in findings[0].message and "700 mL" in findings[0].message


def test_nothing_blended() -> None:
    """Empty sheets give an empty frame and no findings."""
    frame, findings = checked_blends()
    assert len(frame) == 0 and findings == []
