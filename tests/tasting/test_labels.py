"""Precision and recall on notes labelled by hand."""

from __future__ import annotations

import pytest

from tests.tasting.labels import measure


@pytest.mark.parametrize(
    ("name", "notes", "precision", "recall"),
    [("labelled_notes.csv", 150, 0.95, 0.95), ("kept_notes.csv", 60, 0.90, 0.90)],
)
def test_words_are_found_where_a_person_found_them(name: str, notes: int, precision: float, recall: float) -> None:
    """Of what is found nearly all is labelled, of what is labelled nearly all is found; denials are never missed."""
    found = measure(name)
    assert found.notes >= notes
    assert found.precision >= precision, found.wrong
    assert found.recall >= recall, found.missed
    assert len(found.unlike) <= 0.02 * found.right, found.unlike
    assert len(found.doubt) <= 0.03 * found.right, found.doubt
