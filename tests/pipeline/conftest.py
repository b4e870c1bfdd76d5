"""Fixtures of the engine's tests."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.site.house import House
from tests.pipeline import kit, toy_plugin


@pytest.fixture
def house(monkeypatch: pytest.MonkeyPatch) -> House:
    """The toy house with the time zone UTC and nothing else set."""
    return kit.toy_house(monkeypatch)


@pytest.fixture
def room(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> kit.Room:
    """An inbox and outputs, with the toy plugin alone."""
    kit.use(monkeypatch, toy_plugin)
    return kit.Room(tmp_path)
