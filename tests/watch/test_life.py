"""A watcher's sign of life, and its end: what it says, who holds the book, what a stop lets finish."""

from __future__ import annotations

import os
import threading
import time
from typing import Any

import pytest

from pipeline.common.errors import BookHeld
from pipeline.inbox.wakeup import Bell
from pipeline.runs import watch
from tests.pipeline import kit
from tests.sets import share
from tests.watch.kit import Watched, until

ROWS = kit.csv(*kit.ROWS)


def row(number: int) -> bytes:
    return kit.csv(f"V-{number},2026-03-02,100,20,")


def test_the_sign_of_life(watched: Watched) -> None:
    """What it says, in JSON for programs and in looked.js for the first page, and that it ends with "stopped"."""
    watched.start()
    told = until(lambda: watched.heartbeat() if watched.heartbeat()["state"] == "waiting" else None)
    assert told["pid"] == os.getpid() and told["watching"] is True and told["trouble"] == ""
    assert told["inbox"] == str(watched.inbox) and told["every_seconds"] == 20.0 and told["at"].endswith("Z")
    page = (watched.out / "looked.js").read_text("utf-8")
    assert told["at"] in page and '"watching": true' in page and "/*LOOKED*/" not in page
    watched.stop()
    told = watched.heartbeat()
    assert (told["state"], told["watching"]) == ("stopped", False)
    assert '"watching": false' in (watched.out / "looked.js").read_text("utf-8")


@pytest.mark.long
def test_the_sign_of_life_is_renewed_while_nothing_happens_and_while_much_does(
    watched: Watched, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every so often without a file, and during a long working out."""
    monkeypatch.setattr("pipeline.runs.heartbeat.SECONDS", 0.1)
    monkeypatch.setattr(watch, "SECONDS", 0.1)
    watched.start()

    def stamp() -> int:
        return (watched.out / ".vatting.heartbeat").stat().st_mtime_ns

    before = stamp()
    until(lambda: stamp() > before)
    from pipeline.runs import session

    plain, seen = session.work_and_publish, set[int]()

    def slow(*args: Any) -> Any:
        for _ in range(5):
            time.sleep(0.12)
            args[4]("working out", "gauges")
            seen.add(stamp())
        return plain(*args)

    monkeypatch.setattr(session, "work_and_publish", slow)
    watched.room.drop("lab.csv", ROWS)
    watched.taken("lab.csv")
    until(lambda: len(seen) >= 4)


def test_a_heartbeat_that_cannot_be_written_stops_nothing(watched: Watched, monkeypatch: pytest.MonkeyPatch) -> None:
    """It is the work that matters."""
    (watched.out).mkdir()
    (watched.out / ".vatting.heartbeat.part").mkdir()
    (watched.out / "looked.js").mkdir()
    watched.room.drop("lab.csv", ROWS)
    watched.start()
    watched.taken("lab.csv")


def test_a_second_watcher_says_who_holds_the_book(watched: Watched) -> None:
    """And touches nothing."""
    watched.start()
    second = Watched(watched.room)
    with pytest.raises(BookHeld, match=rf"vatting watch {watched.inbox}, process {os.getpid()}, since 20"):
        second.watcher.watch()
    watched.room.drop("lab.csv", ROWS)
    watched.taken("lab.csv")
    assert watched.heartbeat()["watching"] is True


def test_a_stop_lets_the_file_in_hand_finish(watched: Watched, monkeypatch: pytest.MonkeyPatch) -> None:
    """It is taken and published; the next one stays in the inbox."""
    from pipeline.inbox.intake import Intake

    plain, begun, go = Intake._judge, threading.Event(), threading.Event()

    def judge(self: Intake, *args: Any) -> Any:
        begun.set()
        assert go.wait(20.0)
        return plain(self, *args)

    monkeypatch.setattr(Intake, "_judge", judge)
    watched.start()
    for name in ("a.csv.part", "b.csv.part"):
        watched.room.drop(name, ROWS if name[0] == "a" else row(1))
    for name in ("a.csv", "b.csv"):
        os.rename(watched.inbox / f"{name}.part", watched.inbox / name)
    assert begun.wait(20.0)
    watched.asked()
    go.set()
    watched.stop()
    assert watched.names() == ["a.csv"] and (watched.inbox / "b.csv").exists()
    assert watched.vessels() == {"C-1", "C-2", "C-3"} and not (watched.inbox / ".taking").exists()


@pytest.mark.searching
def test_a_bell_may_be_rung_by_a_signals_handler_at_any_moment() -> None:
    """Rung 20,000 times in the middle of waiting and clearing, on the thread that waits: it never locks up."""
    import signal

    bell, rung = Bell(), 0

    def ring(*_: object) -> None:
        nonlocal rung
        rung += 1
        bell.ring()

    before = signal.signal(signal.SIGALRM, ring)
    signal.setitimer(signal.ITIMER_REAL, 0.00005, 0.00005)
    try:
        while rung < share(20_000):
            bell.wait(0.0001)
            bell.clear()
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0.0)
        signal.signal(signal.SIGALRM, before)
    bell.clear()
    assert not bell.wait(0.0)
    bell.ring()
    bell.ring()
    assert bell.wait(0.0) and not bell.wait(0.0)


def test_a_watch_of_months_keeps_no_list_of_fates(watched: Watched, monkeypatch: pytest.MonkeyPatch) -> None:
    """What was told is let go of."""
    from pipeline.runs.session import Session

    sessions: list[Session] = []
    plain = Session.look
    monkeypatch.setattr(Session, "look", lambda self, arrived=(): (sessions.append(self), plain(self, arrived))[1])
    watched.start()
    for number in range(3):
        watched.room.drop(f"{number}.csv", row(number))
    watched.taken("0.csv", "1.csv", "2.csv")
    until(lambda: not sessions[-1].fates)
    assert not sessions[-1].patience._settled
