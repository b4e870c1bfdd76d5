"""A watcher at work in a thread of the test's own, and waiting for what it does."""

from __future__ import annotations

import csv
import json
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from pipeline.book.fates import Fate
from pipeline.inbox.complete import Look, Patience
from pipeline.inbox.folder import Waiting
from pipeline.runs.watch import Stop, Watcher
from tests.pipeline.kit import Room

LONG = 120.0  # a busy machine may take so long; nothing waits for it to pass
WATCH = {"quiet_seconds": 0.0, "patience_seconds": 0.0, "poll_seconds": 0.1, "rescan_seconds": 600.0}


def until(found: Callable[[], Any], seconds: float = LONG) -> Any:
    """Wait until something is true and give it; fail when it does not come to be."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        answer = found()
        if answer:
            return answer
        time.sleep(0.01)
    raise AssertionError("it did not come to be")


class Watched:
    """A watcher on a room, with what it told."""

    def __init__(self, room: Room) -> None:
        self.room, self.inbox, self.out = room, room.inbox, room.out
        self.fates: list[Fate] = []
        self.said: list[str] = []
        self.asked = Stop()
        self.error: BaseException | None = None
        self.watcher = Watcher(self.inbox, self.out, self.asked, lambda *_: None, self.fates.append, self.said.append)
        self._thread: threading.Thread | None = None

    def settings(self, top: str = "", notice: str = "events", **watch: float) -> None:
        """Write site.toml."""
        lines = [f'timezone = "UTC"\n{top}\n[watch]\nnotice = "{notice}"']
        lines += [f"{name} = {value}" for name, value in {**WATCH, **watch}.items()]
        self.room.set_site("\n".join(lines) + "\n")

    def start(self, wait: bool = True) -> Watched:
        """Begin to watch, and wait until the first look is over."""
        self._thread = threading.Thread(target=self._watch)
        self._thread.start()
        if wait:
            until(lambda: self.told("Outputs written") or self.error)
        assert self.error is None
        return self

    def _watch(self) -> None:
        try:
            self.watcher.watch()
        except BaseException as error:
            self.error = error

    def stop(self) -> None:
        """Ask it to stop, and wait until it has."""
        self.asked()
        if self._thread is not None:
            self._thread.join(LONG)
            assert not self._thread.is_alive()
        self._thread = None

    def told(self, words: str) -> list[str]:
        """The sentences that have the words in them."""
        return [sentence for sentence in self.said if words in sentence]

    def names(self, outcome: str = "taken") -> list[str]:
        """The files that had this fate, in order."""
        return [fate.name for fate in self.fates if fate.outcome == outcome]

    def taken(self, *names: str) -> None:
        """Wait until just these were taken."""
        until(lambda: len(self.names()) >= len(names))
        assert sorted(self.names()) == sorted(names)

    def heartbeat(self) -> dict[str, Any]:
        found: dict[str, Any] = json.loads((self.out / ".vatting.heartbeat").read_text("utf-8"))
        return found

    def door(self) -> dict[str, str]:
        """File → fate, as door.csv has it."""
        with open(self.out / "door.csv", encoding="utf-8", newline="") as stream:
            return {line["file"]: line["fate"] for line in csv.DictReader(stream)}

    def vessels(self) -> set[str]:
        """The vessels in the outputs."""
        try:
            lines = (self.out / "warm.csv").read_text("utf-8").splitlines()[1:]
        except OSError:
            return set()
        return {line.split(",")[0] for line in lines}


class Clock:
    """A clock that goes when it is told to."""

    def __init__(self) -> None:
        self.now = 1000.0

    def __call__(self) -> float:
        return self.now


class Looking:
    """Patience on a folder, under a clock that is told; the system's clock says that nothing has rested."""

    def __init__(self, folder: Path, monkeypatch: Any, quiet: float = 2.0, patience: float = 6.0, **more: Any) -> None:
        self.folder, self.clock = folder, Clock()
        self.patience = Patience(quiet, patience, **more)
        self.patience.clock = self.clock
        self.wall = 0.0
        monkeypatch.setattr("pipeline.inbox.complete.wall", lambda: self.wall)

    def look(self, after: float = 0.0, *names: str, arrived: tuple[str, ...] = ()) -> Look:
        """Look when so many seconds have passed; without names at all files that are not passed over."""
        from pipeline.inbox.complete import unfinished
        from pipeline.inbox.folder import waiting

        self.clock.now += after
        files = waiting(self.folder)[0]
        chosen = [file for file in files if not names or file.name in names]
        return self.patience.look(chosen, unfinished(self.folder), arrived)

    def whole(self, after: float = 0.0, **more: Any) -> list[str]:
        """The names of the whole files, when so many seconds have passed."""
        return [file.name for file in self.look(after, **more).whole]


def waiting_for(path: Path) -> Waiting:
    return Waiting(path, path.name)
