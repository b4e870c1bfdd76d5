"""What all tests share."""

from __future__ import annotations

import time

import pytest


@pytest.fixture(autouse=True)
def files_have_rested(monkeypatch: pytest.MonkeyPatch) -> None:
    """Files that a test has just written have lain there for an hour; tests of that itself undo it."""
    monkeypatch.setattr("pipeline.inbox.complete.wall", lambda: time.time() + 3600.0)
