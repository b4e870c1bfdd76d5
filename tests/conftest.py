"""What all tests share."""

from __future__ import annotations

import os
import time

import pytest

from tests import made_once, sets


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--long", action="store_true", help="the long set: what is marked long, and searches in full")


@pytest.hookimpl(tryfirst=True)  # before the seed is read
def pytest_configure(config: pytest.Config) -> None:
    sets.begin(config)
    made_once.begin(config)


@pytest.hookimpl(optionalhook=True)  # a run without workers does not know it
def pytest_xdist_auto_num_workers() -> int:
    """Many tests wait for watchers and processes: one worker more than cores keeps the cores at work."""
    return len(os.sched_getaffinity(0)) + 1 if hasattr(os, "sched_getaffinity") else (os.cpu_count() or 1) + 1


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out the other set, but not what is asked for by its own name."""
    if any("::" in asked for asked in config.args):
        return
    chosen = [sets.is_chosen(item, config.option.long) for item in items]
    config.hook.pytest_deselected(items=[item for item, stays in zip(items, chosen, strict=True) if not stays])
    items[:] = [item for item, stays in zip(items, chosen, strict=True) if stays]


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    terminalreporter.write_line(sets.said(config))


@pytest.fixture(autouse=True)
def files_have_rested(monkeypatch: pytest.MonkeyPatch) -> None:
    """Files that a test has just written have lain there for an hour; tests of that itself undo it."""
    monkeypatch.setattr("pipeline.inbox.complete.wall", lambda: time.time() + 3600.0)
