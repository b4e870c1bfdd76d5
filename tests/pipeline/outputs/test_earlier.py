"""Documents compared figure by figure."""

from __future__ import annotations

import json
from typing import Any

import pytest

from pipeline.book.versions import compare
from pipeline.outputs.earlier_versions import changed_finding

LEFT_OUT = ("made_by",)


def packed(data: Any) -> bytes:
    return json.dumps(data).encode()


def record(**changes: Any) -> dict[str, Any]:
    return {
        "batch": "B-1",
        "status": "in review",
        "components": [{"component": "C-1", "mass_kg": 1.0}, {"component": "water", "mass_kg": 2.0}],
        "balance": {"expected": {"proof_60F": 93.1}, "gauged": None},
        "findings": [],
        "sources": [{"file": "lab.csv", "sha256": "aa", "sheet": "", "rows": [2]}],
        "made_by": {"vatting": "1"},
        **changes,
    }


def paths(old: Any, new: Any) -> list[str]:
    return [change.path for change in compare(packed(old), packed(new), LEFT_OUT)]


def test_equal_documents_have_no_changes() -> None:
    """Versions are left out; spacing is nothing."""
    assert paths(record(), record(made_by={"vatting": "2"})) == []
    assert compare(packed(record()), json.dumps(record(), indent=4).encode(), LEFT_OUT) == []


@pytest.mark.parametrize(
    ("changes", "path"),
    [
        ({"status": "held"}, "status"),
        ({"balance": {"expected": {"proof_60F": 93.2}, "gauged": None}}, "balance.expected.proof_60F"),
        ({"balance": {"expected": {"proof_60F": 93.1}, "gauged": {"proof_60F": 1.0}}}, "balance.gauged"),
        (
            {"components": [{"component": "C-1", "mass_kg": 1.5}, {"component": "water", "mass_kg": 2.0}]},
            "components[C-1].mass_kg",
        ),
        ({"components": []}, "components[C-1].component"),
    ],
)
def test_each_figure_is_named_by_its_path(changes: dict[str, Any], path: str) -> None:
    """A change is told where it stands in the document."""
    assert path in paths(record(), record(**changes))


def test_a_new_first_row_does_not_change_the_others() -> None:
    """Rows are told apart by what they are of."""
    new = record(components=[{"component": "C-0", "mass_kg": 9.0}, *record()["components"]])
    assert all("C-0" in path for path in paths(record(), new))


def test_two_rows_of_one_name_are_both_compared() -> None:
    """Two additions of water: a change in either is seen."""
    old = [{"component": "water", "mass_kg": 1.0}, {"component": "water", "mass_kg": 2.0}]
    first = [{"component": "water", "mass_kg": 1.1}, {"component": "water", "mass_kg": 2.0}]
    second = [{"component": "water", "mass_kg": 1.0}, {"component": "water", "mass_kg": 2.2}]
    assert len(paths(record(components=old), record(components=first))) == 1
    assert len(paths(record(components=old), record(components=second))) == 1
    assert paths(record(components=old), record(components=old[:1])) != []


def finding(old: Any, new: Any) -> Any:
    return changed_finding("B-1", "batches/B-1/record.json", packed(old), packed(new), LEFT_OUT)


def test_the_finding_lists_figure_old_new_and_cause() -> None:
    """Figure by figure, with the file that came."""
    new = record(
        balance={"expected": {"proof_60F": 95.2}, "gauged": None},
        sources=[*record()["sources"], {"file": "late.csv", "sha256": "bb", "sheet": "", "rows": [2]}],
    )
    said = finding(record(), new)
    assert said.code == "record.changed" and said.batch == "B-1" and said.severity == "note"
    assert "balance.expected.proof_60F 93.1 → 95.2" in said.message and "late.csv came" in said.message
    assert "earlier/" in said.remedy


def test_a_change_is_a_note_that_says_how_the_record_stood() -> None:
    """A change holds nothing up: a release that it ends has to be signed anew, and the note names the status."""
    for status in ("reconciled", "released", "held"):
        said = finding(record(status=status), record(status=status, batch="B-2"))
        assert said.severity == "note" and f"({status})" in said.message


def test_other_causes_and_many_changes() -> None:
    """A file that no longer counts, or none; a long list is cut with a count."""
    gone = finding(record(), record(sources=[], status="held"))
    assert "lab.csv no longer counts" in gone.message
    many = finding(
        record(components=[]), record(components=[{"component": f"C-{n}", "mass_kg": 1.0} for n in range(30)])
    )
    assert "and 48 more" in many.message or "more" in many.message
    assert "a ruling, the settings or a new version" in many.message


def test_findings_and_sources_alone_are_no_change_of_figures() -> None:
    """Nothing to say where only findings or sources differ."""
    assert finding(record(), record(findings=[{"id": "F-A"}], sources=[])) is None
