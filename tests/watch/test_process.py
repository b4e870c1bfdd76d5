"""``vatting watch`` as a process: how it ends, what it prints, who holds the book."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.support import lying_in, write_site
from tests.watch.kit import LONG, until

pytestmark = pytest.mark.skipif(os.name == "nt", reason="signals as POSIX has them")
SITE = 'timezone = "UTC"\n[watch]\nnotice = "events"\nquiet_seconds = 0.1\npatience_seconds = 0.1\n'
LAB = "Cask No.,Date,Observed Proof,Temp (°F)\nC-1,2026-03-02,120.5,68\n"


class Process:
    """A real watcher."""

    def __init__(self, folder: Path) -> None:
        self.inbox, self.out, self.told = folder / "in", folder / "out", folder / "told.txt"
        self.inbox.mkdir()
        write_site(self.inbox, SITE)
        self.process: subprocess.Popen[bytes] | None = None

    def start(self) -> Process:
        with open(self.told, "ab") as told:
            self.process = subprocess.Popen(self.command(), stdout=told, stderr=told, start_new_session=True)
        until(lambda: "Watching " in self.text() or self.process is None or self.process.poll() is not None)
        assert self.process.poll() is None, self.text()
        return self

    def command(self) -> list[str]:
        return [sys.executable, "-m", "pipeline", "watch", str(self.inbox), "--out", str(self.out)]

    def text(self) -> str:
        return self.told.read_text("utf-8")

    def end(self, number: int) -> int:
        assert self.process is not None
        self.process.send_signal(number)
        return self.process.wait(LONG)


@pytest.fixture
def process(tmp_path: Path) -> Iterator[Process]:
    made = Process(tmp_path)
    yield made
    if made.process is not None and made.process.poll() is None:
        os.killpg(made.process.pid, signal.SIGKILL)
        made.process.wait()


@pytest.mark.long
@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_it_ends_cleanly_when_it_is_told_to(process: Process, number: int) -> None:
    """Status 0; what was taken is in the outputs; nothing but sentences is printed; the lock is let go of."""
    process.start()
    (process.inbox / "lab.csv").write_text(LAB, "utf-8")
    until(lambda: "lab.csv: taken, readings, 1 row" in process.text())
    assert process.end(number) == 0
    lines = process.text().splitlines()
    assert lines[-1].endswith("Stopped.") and all(line[2] == line[5] == ":" for line in lines if line), lines
    assert "C-1" in (process.out / "casks" / "gauges.csv").read_text("utf-8")
    told = json.loads((process.out / ".vatting.heartbeat").read_text("utf-8"))
    assert told["watching"] is False and told["state"] == "stopped"
    assert not (process.out / ".vatting.holder").exists()


@pytest.mark.long
def test_it_ends_while_a_large_file_is_read_apart(process: Process) -> None:
    """A service manager signals the whole group: the reader finishes the file in hand, and all end with status 0."""
    head = "Cask No.,Date,Observed Proof,Temp (°F)\n"
    rows = "".join(f"C-{n:06d},2026-03-02,1{n % 20 + 10}.5,68\n" for n in range(80_000))
    process.start()
    (process.inbox / "large.csv.part").write_text(head + rows, "utf-8")
    os.rename(process.inbox / "large.csv.part", process.inbox / "large.csv")
    until(lambda: (process.out / ".vatting.tries").exists())
    assert process.process is not None
    os.killpg(process.process.pid, signal.SIGTERM)
    assert process.process.wait(60.0) == 0
    assert "large.csv: taken, readings, 80000 rows" in process.text()
    assert lying_in(process.inbox) == []
    assert not (process.out / ".vatting.tries").exists()
    log = process.out / "log" / "vatting.log"
    assert not log.exists() or "ended over it" not in log.read_text("utf-8")


@pytest.mark.long
def test_a_second_one_says_who_holds_the_book_and_ends(process: Process) -> None:
    """With status 1 and a sentence; the first goes on."""
    process.start()
    assert process.process is not None
    second = subprocess.run(process.command(), capture_output=True, text=True, timeout=LONG)
    assert second.returncode == 1 and second.stdout == ""
    assert f"vatting watch {process.inbox}, process {process.process.pid}, since " in second.stderr
    assert (
        second.stderr.startswith("vatting: Another vatting works on these outputs") and second.stderr.count("\n") == 1
    )
    assert process.end(signal.SIGTERM) == 0


@pytest.mark.long
def test_a_reader_whose_parent_was_killed_does_not_stay(process: Process) -> None:
    """Nobody waits for its answer, however long the file would take it."""
    process.start()
    rows = "".join(f"C-{n:06d},2026-03-02,120.5,68\n" for n in range(400_000))
    (process.inbox / "large.csv.part").write_text("Cask No.,Date,Observed Proof,Temp (°F)\n" + rows, "utf-8")
    os.rename(process.inbox / "large.csv.part", process.inbox / "large.csv")
    until(lambda: (process.out / ".vatting.tries").exists())
    assert process.process is not None
    group = process.process.pid
    time.sleep(0.3)
    process.end(signal.SIGKILL)
    until(lambda: not _alive(group))
    assert (process.inbox / ".taking" / "large.csv").exists()


def _alive(group: int) -> bool:
    try:
        os.killpg(group, 0)
    except ProcessLookupError:
        return False
    return True
