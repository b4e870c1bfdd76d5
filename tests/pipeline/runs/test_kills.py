"""A process killed at every step and at 200 random moments: the next start finishes as if nothing had been."""

from __future__ import annotations

import os
import random
import signal
import sqlite3
import time
from pathlib import Path
from typing import Any

import pytest

from pipeline.common.errors import VattingError
from pipeline.runs.watch import Stop, Watcher
from tests.pipeline import kills, kit, toy_plugin
from tests.sets import few, in_full

pytestmark = [
    pytest.mark.searching,
    pytest.mark.skipif(not hasattr(os, "fork"), reason="kills real processes, made by fork"),
]
MOMENTS = few(200)


@pytest.fixture
def unharmed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> dict[str, object]:
    """What a run without faults leaves."""
    kit.use(monkeypatch, toy_plugin)
    folder = kills.fresh(tmp_path / "unharmed")
    kills.once(folder)
    found = kills.state(folder)
    outcomes = [line["outcome"] for line in found["journal"]]
    assert outcomes == ["settings", "taken", "taken", "returned", "taken", "taken", "taken"]
    assert found["inbox"] == []
    return found


def steps_of(folder: Path) -> list[str]:
    """The names of all steps of a run, in order."""
    kills.fresh(folder)
    told = folder / "steps.txt"

    def counted() -> None:
        steps = kills.Steps(None)
        steps.install()
        kills.once(folder)
        names = "\n".join(steps.names)
        told.write_text(names, "utf-8")

    assert kills.in_a_process(counted) == 0
    return told.read_text("utf-8").splitlines()


def test_killed_before_every_step(tmp_path: Path, unharmed: dict[str, object]) -> None:
    """Each rename, flush, write and statement in turn is the one before which the process dies."""
    folder = tmp_path / "killed"
    names = steps_of(folder)
    assert len(names) > 100 and {"COMMIT", "open journal.jsonl", "rename a_lab.csv"} <= set(names)
    for wanted in range(0, len(names), len(names) // few(len(names))):
        name = names[wanted]
        kills.fresh(folder)

        def killed(wanted: int = wanted) -> None:
            kills.Steps(wanted).install()
            kills.once(folder)

        assert kills.in_a_process(killed) == signal.SIGKILL, (wanted, name)
        kills.once(folder)
        assert kills.state(folder) == unharmed, f"killed before step {wanted}: {name}"
        assert kills.leftovers(folder) == []


def test_every_step_fails_once(tmp_path: Path, unharmed: dict[str, object]) -> None:
    """Each rename, flush, write and statement in turn fails, as on a bad disk: it is told, and the next run is whole.

    What a failed flush was to keep is gone, as on a real disk: what lies there is read back and written again.
    """
    folder, alone = tmp_path / "failed", set[str]()
    names = steps_of(folder)
    told = folder / "told.txt"
    for wanted in range(1, len(names), len(names) // few(len(names))):
        kills.fresh(folder)

        def failing(wanted: int = wanted) -> None:
            kills.Faults(wanted).install()
            try:
                kills.once(folder)
            except (OSError, sqlite3.Error, VattingError) as error:
                told.write_text(f"{type(error).__name__} {getattr(error, 'filename', '')}", "utf-8")

        assert kills.in_a_process(failing) == 0, (wanted, names[wanted])
        if told.exists() and names[wanted].startswith(("fsync", "write")):
            alone.add(told.read_text("utf-8"))
        kills.once(folder)
        found, wants = kills.state(folder), dict(unharmed)
        if names[wanted].split()[-1] in kills.DROPPED:  # one file alone was passed over: it came after the others
            found, wants = _came(found), _came(wants)
        assert found == wants, f"failed at step {wanted}: {names[wanted]}"
        assert kills.leftovers(folder) == []
    assert (alone or not in_full()) and not any(said.endswith((" ", "None")) for said in alone)  # each names a file


def _came(state: dict[str, Any]) -> dict[str, Any]:
    """The bytes that came, in any order, under the one or the other of two names."""
    came = {line["sha256"] for line in state["journal"] if line["outcome"] in ("taken", "returned")}
    return {"bytes": came, "inbox": state["inbox"]}


def test_killed_at_random_moments(tmp_path: Path, unharmed: dict[str, object]) -> None:
    """Wherever the clock strikes, once or twice in a row, nothing is lost and nothing counts twice."""
    draw, folder = random.Random(3), tmp_path / "killed"
    kills.fresh(folder)
    start = time.monotonic()
    assert kills.in_a_process(lambda: kills.once(folder)) == 0
    span, hit = time.monotonic() - start, 0
    for moment in range(MOMENTS):
        kills.fresh(folder)
        for _ in range(draw.choice((1, 1, 2))):
            after = draw.uniform(0.0, span)
            if kills.in_a_process(lambda: kills.once(folder), after) == signal.SIGKILL:
                hit += 1
            else:
                span = after  # it had ended by then: the machine was busier when the span was measured
        kills.once(folder)
        assert kills.state(folder) == unharmed, f"moment {moment}"
        assert kills.leftovers(folder) == []
    assert hit > MOMENTS / 2  # most strike while the run is at work


def test_a_killed_watcher_is_followed_by_one_that_finishes(tmp_path: Path, unharmed: dict[str, object]) -> None:
    """The same of vatting watch, which lets go of its lock when it dies."""
    draw, folder = random.Random(5), tmp_path / "watched"

    def watch() -> None:
        Watcher(folder / "in", folder / "out", Stop(), lambda *_: None, lambda _: None, lambda _: None).watch()

    for _ in range(few(12)):
        kills.fresh(folder)
        assert kills.in_a_process(watch, draw.uniform(0.01, 0.6)) == signal.SIGKILL
        kills.once(folder)
        found, wanted = kills.state(folder), dict(unharmed)
        for told in (found, wanted):  # a watcher takes at the hour that it is, and says that it lives
            told["names"] = [(line["name"], line["outcome"], line["sha256"]) for line in told.pop("journal")]
            told["facts"] = [told["book"][name] for name in ("sheets", "blocks", "copies", "entry_findings")]
            told.pop("book")
            told["outputs"] = {
                name: data
                for name, data in told["outputs"].items()
                if name.endswith((".json", ".why.txt")) and name != "looked.js"
            }
        assert found == wanted
