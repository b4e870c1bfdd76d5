"""Findings: what they must say, and ids that never depend on values."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.contract.findings import Finding, Place, Ruling, finding_id

WORDS = st.text(st.characters(exclude_categories=("Cs", "Cc")), max_size=12)


@given(WORDS, WORDS, st.lists(WORDS, max_size=5), WORDS, st.randoms())
def test_ids_do_not_depend_on_the_order_of_keys(
    code: str, subject: str, keys: list[str], column: str, chance: object
) -> None:  # noqa: E501
    """F- and ten letters, the same for the same facts in any order."""
    shuffled = list(keys)
    chance.shuffle(shuffled)  # type: ignore[attr-defined]
    made = finding_id(code, subject, keys, column)
    assert made == finding_id(code, subject, shuffled, column)
    assert re.fullmatch(r"F-[A-Z]{10}", made)


def test_ids_differ_by_code_subject_key_and_column() -> None:
    """Each of the four tells findings apart."""
    made = {
        finding_id(*parts)
        for parts in (
            ("a.b", "C-1", ["k"], "x"),
            ("a.c", "C-1", ["k"], "x"),
            ("a.b", "C-2", ["k"], "x"),
            ("a.b", "C-1", ["l"], "x"),
            ("a.b", "C-1", ["k"], "y"),
            ("a.b", "C-1", [], "x"),
            ("a.b", "C-1", ["k", "k2"], "x"),
        )
    }
    assert len(made) == 7


def test_a_published_id_stays() -> None:
    """The id of this finding is written in reviewers' workbooks: it may never change."""
    assert finding_id("toy.hot", "C-1", ["gauges:c-1\x1f2026-03-02\x1f"], "temperature") == "F-KRKGBJHHIF"


def test_a_finding_says_something_with_a_known_severity() -> None:
    """An unknown severity and an empty message are refused where they are written."""
    with pytest.raises(ValueError, match="'panic'"):
        Finding("a.b", "panic", "m")
    with pytest.raises(ValueError, match="says nothing"):
        Finding("a.b", "note", "")


def test_places_and_rulings_read_as_text() -> None:
    """A place is file, sheet and cell; a ruling closes a finding."""
    assert str(Place("a.xlsx", "Lab", "C14")) == "a.xlsx · Lab · C14"
    assert str(Place("a.csv", "", "C14")) == "a.csv · C14"
    ruling = Ruling("accept", "as seen", "mb", "2026-03-02")
    assert str(ruling) == "accept by mb on 2026-03-02: as seen"
    assert Finding("a.b", "note", "m").is_open and not Finding("a.b", "note", "m", ruling=ruling).is_open
