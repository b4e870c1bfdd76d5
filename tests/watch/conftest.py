"""Fixtures of the watcher's tests."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.pipeline import kit, toy_plugin
from tests.watch.kit import Watched


@pytest.fixture
def room(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> kit.Room:
    """An inbox and outputs, with the toy plugin alone."""
    kit.use(monkeypatch, toy_plugin)
    return kit.Room(tmp_path)


@pytest.fixture
def watched(room: kit.Room, monkeypatch: pytest.MonkeyPatch) -> Iterator[Watched]:
    """A watcher on the room, to be started by the test and stopped after it."""
    monkeypatch.setattr("pipeline.runs.watch.AGAIN", 0.3)
    monkeypatch.setattr("pipeline.runs.watch.REST", 0.1)
    made = Watched(room)
    made.settings()
    yield made
    made.stop()
