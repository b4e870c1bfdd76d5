"""Status and the findings that bear on it: each transition, both ways."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from pipeline.book.releases import Signed, signed_out
from pipeline.contract.findings import Finding, Ruling
from plugins.records.record.concerns import Batch, concerns, status
from plugins.records.record.reasons import why
from tests.records.fake import World, finding, world

ACCEPTED = Ruling("accept", "It stands.", "M. Orrin", "2026-03-20")
STOP, REVIEW, NOTE = (finding("a.b", severity, "Said.") for severity in ("stop", "review", "note"))
CLOSES = {"expected": True, "gauged": True, "agrees": True}
BATCH = Batch.of("B-1", [("C-1", "cask"), ("V-2", "vessel"), ("water", "water"), ("heel", "heel")], frozenset({11, 12}))


@pytest.fixture
def made() -> World:
    return world()


@pytest.mark.parametrize(
    ("findings", "balance", "wanted"),
    [
        ([], CLOSES, "reconciled"),
        ([NOTE], CLOSES, "reconciled"),
        ([STOP], CLOSES, "held"),
        ([REVIEW], CLOSES, "in review"),
        ([REVIEW, STOP], CLOSES, "held"),
        ([replace(STOP, ruling=ACCEPTED)], CLOSES, "reconciled"),
        ([replace(REVIEW, ruling=ACCEPTED)], CLOSES, "reconciled"),
        ([], {**CLOSES, "gauged": False}, "in review"),
        ([], {**CLOSES, "expected": False}, "in review"),
        ([], {**CLOSES, "agrees": False}, "in review"),
        ([], {**CLOSES, "agrees": None}, "in review"),
        ([STOP], {**CLOSES, "gauged": False}, "held"),
    ],
)
def test_status_follows_findings_and_balance(findings: list[Finding], balance: dict[str, bool], wanted: str) -> None:
    """Held by an open stop; in review by an open review, no gauge or a misfit; else reconciled."""
    assert status(findings, **balance) == wanted


def test_no_ruling_closes_a_verdict_of_law() -> None:
    """A stop that is a verdict of law holds, and a review keeps in review, whatever ruling stands with it."""
    for found, wanted in ((STOP, "held"), (REVIEW, "in review")):
        assert status([replace(found, of_law=True, ruling=ACCEPTED)], **CLOSES) == wanted


def test_a_frame_that_was_lost_holds_the_batch() -> None:
    """A batch is held while a figure of it could not be worked out."""
    assert status([], **CLOSES, lost=["labels"]) == "held"


def signed(word: str = "release", by: str = "Ilse", **more: Any) -> Signed:
    return Signed(word, by, "2026-03-20", "2026-03-20T10:00:00Z", "Checked.", "2:abc", 50, **more)


AGAINST = [signed("release against the verdict", by) for by in ("Ilse", "Tam")]


@pytest.mark.parametrize(
    ("state", "but_for_law", "releases", "wanted"),
    [
        ("reconciled", "reconciled", [signed()], "released"),
        ("reconciled", "reconciled", [signed(passed=True)], "reconciled"),
        ("reconciled", "reconciled", [signed(withdrawn=True)], "reconciled"),
        ("reconciled", "reconciled", [replace(signed(), code="2:abd")], "reconciled"),
        ("reconciled", "reconciled", AGAINST, "reconciled"),
        ("held", "reconciled", [signed()], "held"),
        ("in review", "in review", [signed()], "in review"),
        ("held", "reconciled", AGAINST, "released against the verdict"),
        ("held", "held", AGAINST, "held"),
        ("held", "reconciled", AGAINST[:1], "held"),
        ("held", "reconciled", [AGAINST[0], replace(AGAINST[1], by="ilse ")], "held"),
        ("held", "reconciled", [AGAINST[0], replace(AGAINST[1], passed=True)], "held"),
    ],
)
def test_what_signed_releases_make_of_a_batch(
    state: str, but_for_law: str, releases: list[Signed], wanted: str
) -> None:
    """Only of the version signed; released only when reconciled; against a verdict only by two persons."""
    assert signed_out("abc", state, but_for_law, "reconciled", releases) == wanted


@pytest.mark.parametrize(
    ("given", "wanted"),
    [
        ({"batch": "B-1"}, True),
        ({"batch": " b-1 "}, True),
        ({"subject": "B-1"}, True),
        ({"subject": "c-1"}, True),
        ({"subject": "V-2"}, True),
        ({"facts": (12, 99)}, True),
        ({"subject": "C-2"}, False),
        ({"facts": (99,)}, False),
        ({"subject": "water"}, False),
        ({"subject": "heel"}, False),
        ({}, False),
        ({"batch": "B-2", "subject": "B-2", "facts": (12,)}, False),
        ({"batch": "B-2", "facts": (12,)}, False),
        ({"batch": "B-2", "subject": "C-1", "facts": (12,)}, True),
        ({"batch": "B-2", "subject": "C-1", "facts": (99,)}, False),
        ({"batch": "B-2", "subject": "B-2 · US · age statement", "facts": (12,)}, False),
    ],
)
def test_a_finding_concerns_by_batch_subject_or_facts(given: dict[str, Any], wanted: bool) -> None:
    """By the batch's name, by a cask or vessel of it, by a fact it uses; not by what another batch claims."""
    assert concerns(finding("a.b", "stop", "Said.", **given), BATCH) is wanted


def test_a_finding_on_a_gauge_that_counts_holds_the_batch(made: World) -> None:
    """A stop that names no batch but rests on a fact of the balance holds the batch."""
    assert made.record("B-26-01")["status"] == "reconciled"
    made.findings.append(finding("proof.out-of-range", "stop", "Out of range.", subject="V-3", facts=(1060,)))
    record = made.record("B-26-01")
    assert record["status"] == "held"
    assert "proof.out-of-range" in [found["code"] for found in record["findings"]]


def test_a_finding_on_a_fact_of_no_batch_holds_none(made: World) -> None:
    """A stop on a fact that no batch uses leaves every status as it was."""
    before = {name: record["status"] for name, record in made.records().items()}
    made.findings.append(finding("proof.out-of-range", "stop", "Out of range.", subject="V-9", facts=(777_777,)))
    assert {name: record["status"] for name, record in made.records().items()} == before


def test_the_worlds_batches_stand_as_told(made: World) -> None:
    """The five invented batches have the five standings they were made for."""
    statuses = {name: record["status"] for name, record in made.records().items()}
    assert statuses == {
        "B-26-01": "reconciled",
        "B-26-02": "held",
        "B-26-03": "held",
        "B-26-04": "in review",
        "B-25-11": "released",
    }


def test_a_release_is_of_the_figures_that_were_signed(made: World) -> None:
    """A figure that changed takes the release back, and the record says so; words that were improved do not."""
    made.findings = [replace(found, message=f"{found.message} Said better.") for found in made.findings]
    assert made.record("B-25-11")["status"] == "released"
    components: Any = made.frames["components"]
    made.frames["components"] = components.assign(proof_60F=components["proof_60F"] + 0.001)
    record = made.record("B-25-11")
    assert record["status"] == "reconciled"
    assert record["releases"][0]["state"].startswith("lapsed")
    assert "does not hold any more" in " ".join(why(record))


@pytest.mark.parametrize("frame", ["balances", "losses", "imbalances", "component_ages", "ages", "labels"])
def test_a_failed_stage_holds_every_batch(made: World, frame: str) -> None:
    """A frame in which every batch would have had rows holds every batch when it is missing."""
    made.frames[frame] = None
    assert {record["status"] for record in made.records().values()} == {"held"}
    assert why(made.record("B-26-04"))


def test_a_failed_tasting_stage_holds_only_tasted_batches(made: World) -> None:
    """Without profiles, the batch that was tasted is held, and one that was not is not."""
    made.frames["profiles"] = None
    assert made.record("B-26-01")["status"] == "held"
    assert made.record("B-25-11")["status"] == "released"


def test_missing_figures_to_check_hold_a_batch_that_does_not_balance(made: World) -> None:
    """Without figures_to_check, a batch that balances is not held for it."""
    made.frames["figures_to_check"] = None
    made.findings = []
    assert made.record("B-26-02")["status"] == "held"
    assert made.record("B-26-01")["status"] == "reconciled"


def test_reasons_name_what_is_open(made: World) -> None:
    """The reasons count open findings and name the missing gauge and the misfit."""
    assert why(made.record("B-26-02")) == ["2 open stop findings must be settled first."]
    assert why(made.record("B-26-04")) == ["It is drawn but not yet gauged."]
    made.findings = []
    assert "does not agree" in why(made.record("B-26-02"))[0]
