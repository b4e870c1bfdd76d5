"""What takes long to make and many tests only read: made by the first test of a session that asks, in any process."""

from __future__ import annotations

import hashlib
import os
import pickle
import shutil
import tempfile
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest
from filelock import FileLock

from pipeline.runs.run import Result, run
from tests.make_docs import ROOT

WHERE = "VATTING_TESTS_MADE_ONCE"  # the first process of a session sets it, and its workers inherit it
INBOX = ROOT / "inbox_example"
NOW = datetime(2026, 11, 1, tzinfo=UTC)


def begin(config: pytest.Config) -> None:
    """A folder for the session, removed at its end."""
    if WHERE not in os.environ:
        os.environ[WHERE] = tempfile.mkdtemp(prefix="vatting-tests-")
        config.add_cleanup(lambda: shutil.rmtree(os.environ.pop(WHERE), ignore_errors=True))


def made_once(name: str, make: Callable[[Path], Any]) -> tuple[Path, Any]:
    """The folder that ``make`` filled and what it gave. Nobody may change the folder: copy it."""
    folder = Path(os.environ[WHERE]) / name
    given = folder.with_suffix(".given")
    with FileLock(folder.with_suffix(".lock")):
        if not given.exists():
            folder.mkdir()
            given.write_bytes(pickle.dumps(make(folder)))
    return folder, pickle.loads(given.read_bytes())


def run_from_nothing(inbox: Path, out: Path, now: datetime) -> Result:
    """A run into outputs that are not there yet: of the same files at the same hour a copy of what it made before.

    Its journal names the folder it was made in. Not for who changed the program: call ``run`` then.
    """
    told = hashlib.sha256(f"{now}".encode())
    site = inbox.parent / "site"
    for path in [*sorted(inbox.iterdir()), *sorted(path for path in site.rglob("*") if path.is_file())]:
        told.update(f"{path.name}\0".encode() + hashlib.sha256(path.read_bytes()).digest())

    def make(folder: Path) -> Result:
        shutil.copytree(inbox, folder / "inbox")
        if site.exists():
            shutil.copytree(site, folder / "site")
        return _at_hand(run(folder / "inbox", folder / "out", now=now))

    folder, given = made_once(f"run-{told.hexdigest()}", make)
    shutil.rmtree(inbox)
    for name, to in (("inbox", inbox), ("out", out)):
        shutil.copytree(folder / name, to)
    result: Result = given
    return result


def demo() -> tuple[Path, Result]:
    """The outputs of the example inbox, and the run's answer."""
    return made_once("demo", lambda out: _at_hand(run(INBOX, out, now=NOW)))


def _at_hand(result: Result) -> Result:
    """The same, with all that its outputs' stores would be asked for read from them."""
    worked = result.worked
    held = SimpleNamespace(frames=dict(worked.frames), findings=worked.findings, missing=worked.missing)
    return replace(result, _worked=cast(Any, held))
