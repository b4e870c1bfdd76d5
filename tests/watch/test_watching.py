"""Files that come while the inbox is watched: copies, renames, saves, bursts, lock files, what cannot be read."""

from __future__ import annotations

import os
import sys
import threading
import time
from pathlib import Path
from typing import Any

import pytest

from pipeline.inbox import folder as door
from pipeline.inbox.intake import Intake
from tests.pipeline import kit
from tests.sets import share
from tests.support import lying_in
from tests.watch.kit import LONG, Watched, until

LINUX = pytest.mark.skipif(sys.platform != "linux", reason="events as Linux tells them")
ROWS = kit.csv(*kit.ROWS)


def row(number: int) -> bytes:
    return kit.csv(f"V-{number},2026-03-02,100,20,")


@pytest.mark.parametrize("notice", ["events", "polling"])
def test_files_there_at_start_and_files_that_come_are_taken(watched: Watched, notice: str) -> None:
    """One way for both: by events and by polling; the outputs follow."""
    watched.settings(notice=notice)
    watched.room.drop("first.csv", ROWS)
    watched.start()
    watched.taken("first.csv")
    watched.room.drop("second.csv", row(1))
    watched.taken("first.csv", "second.csv")
    until(lambda: watched.vessels() == {"C-1", "C-2", "C-3", "V-1"})
    assert watched.told(f"by {notice}") and lying_in(watched.inbox) == []
    assert watched.heartbeat()["by"] == notice


def test_a_slow_copy_into_a_watched_inbox_is_taken_whole(watched: Watched) -> None:
    """Pieces with pauses; one file comes out, with all its rows."""
    watched.settings(quiet_seconds=0.3, patience_seconds=5.0)
    watched.start()
    with open(watched.inbox / "slow.csv", "wb") as stream:
        for line in ROWS.splitlines(keepends=True):
            stream.write(line)
            stream.flush()
            time.sleep(0.1)
    until(lambda: watched.names())
    assert [fate.rows for fate in watched.fates] == [3]


@LINUX
def test_a_copy_that_stalls_longer_than_patience_is_not_cut_in_two(watched: Watched) -> None:
    """The writer still has the file open: nothing is taken, and why is said; the rest is not lost."""
    watched.start()
    with open(watched.inbox / "stalled.csv", "wb") as stream:
        stream.write(b"\n".join(ROWS.splitlines()[:2]) + b"\n")
        stream.flush()
        until(lambda: watched.told("stalled.csv stays in the inbox. Another program has it open for writing"))
        why = (watched.out / "returned" / "stalled.csv.why.txt").read_text("utf-8")
        assert "taken as soon as that program closes it" in why and not watched.fates
        stream.write(b"\n".join(ROWS.splitlines()[2:]) + b"\n")
    until(lambda: watched.names())
    assert [(fate.name, fate.rows) for fate in watched.fates] == [("stalled.csv", 3)]


@pytest.mark.parametrize("temporary", ["lab.csv.part", ".lab.csv.a8Zk"])
@LINUX
def test_a_rename_from_a_temporary_name_is_taken_at_once(watched: Watched, temporary: str) -> None:
    """Without the quiet time, which here is longer than the test may last."""
    watched.settings(quiet_seconds=300.0, patience_seconds=300.0)
    watched.start()
    (watched.inbox / temporary).write_bytes(ROWS)
    os.rename(watched.inbox / temporary, watched.inbox / "lab.csv")
    watched.taken("lab.csv")


@pytest.mark.long
@pytest.mark.parametrize("over", [False, True])
@LINUX
def test_a_file_moved_in_from_outside_is_taken_at_once(
    watched: Watched, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, over: bool
) -> None:
    """Only "created" is told of it, also when it replaces a file that waits there."""
    monkeypatch.setattr("pipeline.inbox.complete.wall", time.time)
    watched.settings(quiet_seconds=300.0, patience_seconds=300.0)
    watched.start()
    if over:
        watched.room.drop("lab.csv", ROWS[:-20])
        time.sleep(0.3)
    (tmp_path / "outside.csv").write_bytes(ROWS)
    os.replace(tmp_path / "outside.csv", watched.inbox / "lab.csv")
    watched.taken("lab.csv")
    assert watched.fates[0].rows == 3


@LINUX
def test_a_file_written_in_place_waits_for_its_quiet_time(watched: Watched, monkeypatch: pytest.MonkeyPatch) -> None:
    """It was opened after it was made: that is no rename."""
    monkeypatch.setattr("pipeline.inbox.complete.wall", time.time)
    watched.settings(quiet_seconds=300.0, patience_seconds=300.0)
    watched.start()
    watched.room.drop("lab.csv", ROWS)
    watched.room.drop("moved.csv.part", row(1))
    os.rename(watched.inbox / "moved.csv.part", watched.inbox / "moved.csv")
    watched.taken("moved.csv")
    time.sleep(0.3)
    assert watched.names() == ["moved.csv"] and (watched.inbox / "lab.csv").exists()


def test_saves_in_place_in_leave_mode_are_revisions(watched: Watched) -> None:
    """The file stays; each save that changes it is read, a save that does not is known."""
    watched.settings('after_taking = "leave"')
    watched.room.drop("lab.csv", ROWS)
    watched.start()
    watched.room.drop("lab.csv", ROWS.replace(b"120", b"121"))
    until(lambda: len(watched.names()) == 2)
    temporary = watched.inbox / ".lab.tmp"  # many programs save under another name and rename
    temporary.write_bytes(ROWS.replace(b"120", b"122"))
    os.replace(temporary, watched.inbox / "lab.csv")
    until(lambda: len(watched.names()) == 3)
    assert (watched.inbox / "lab.csv").exists()
    until(lambda: b"102" in (watched.out / "warm.csv").read_bytes())


@pytest.mark.long
def test_leave_mode_does_not_read_what_did_not_change(watched: Watched, monkeypatch: pytest.MonkeyPatch) -> None:
    """Not with every look; only the listing of everything reads again, and says nothing new of it."""
    read: list[str] = []
    plain = door.read
    monkeypatch.setattr(door, "read", lambda file, most: (read.append(file.name), plain(file, most))[1])
    watched.settings('after_taking = "leave"', notice="polling", poll_seconds=0.1, rescan_seconds=1.0)
    watched.room.drop("lab.csv", ROWS)
    watched.room.drop("bad.csv", b"nothing,known\n1,2\n")
    watched.start()
    time.sleep(0.5)
    assert read == ["bad.csv", "lab.csv"]
    until(lambda: len(read) >= 8)  # after some rescans
    assert [(fate.name, fate.outcome) for fate in watched.fates] == [
        ("bad.csv", "returned"),
        ("lab.csv", "taken"),
        ("lab.csv", "known"),
    ]


def test_lock_and_temporary_files_never_are_taken(watched: Watched) -> None:
    """Nor do they stop the others, be they links to nothing or not to be read."""
    watched.start()
    watched.room.drop("~$lab.csv", b"owner")
    watched.room.drop("lab.csv.part", ROWS)
    watched.room.drop(".~lock.lab.csv#", b"")
    os.symlink("nowhere", watched.inbox / ".#lab.csv")
    watched.room.drop("lab.csv", ROWS)
    watched.taken("lab.csv")
    assert len(list(watched.inbox.iterdir())) == 5 and not watched.told("stays in the inbox")


@pytest.mark.long
@pytest.mark.searching
def test_a_burst_of_renames_loses_none(watched: Watched, monkeypatch: pytest.MonkeyPatch) -> None:
    """2,000 files renamed in as fast as it goes: each has its fate, once."""
    count = share(2000)
    monkeypatch.setattr(os, "fsync", lambda handle: None)  # thousands of flushes are no part of this
    watched.start()
    for number in range(count):
        (watched.inbox / f"{number}.csv.part").write_bytes(b"x\n%d\n" % number)
        os.rename(watched.inbox / f"{number}.csv.part", watched.inbox / f"{number}.csv")
    until(lambda: len(watched.fates) >= count, 5 * LONG)
    assert len({fate.name for fate in watched.fates}) == len(watched.fates) == count
    until(lambda: lying_in(watched.inbox) == [])


def test_a_folder_and_a_link_are_told_when_they_come(watched: Watched, tmp_path: Path) -> None:
    """Though nothing is taken, whoever dropped them reads why, on the screen and in returned/."""
    (tmp_path / "secret.csv").write_bytes(ROWS)
    watched.start()
    (watched.inbox / "x.csv").mkdir()
    os.symlink(tmp_path / "secret.csv", watched.inbox / "link.csv")
    until(lambda: watched.told("x.csv stays in the inbox. It is a folder"))
    until(lambda: watched.told("link.csv stays in the inbox. It is a link that leads out"))
    assert "only files directly" in (watched.out / "returned" / "x.csv.why.txt").read_text("utf-8")
    time.sleep(0.3)
    assert len(watched.told("stays in the inbox")) == 2 and not watched.fates  # once each


@pytest.mark.long
def test_a_file_that_cannot_be_read_stays_while_others_go_on(watched: Watched, monkeypatch: pytest.MonkeyPatch) -> None:
    """It is said why, tried again now and then, and taken when it can be; meanwhile the others are."""
    plain, tried = door.read, list[float]()
    locked = True

    def read(file: Any, most: float) -> bytes:
        if file.name == "a_locked.csv" and locked:
            tried.append(time.monotonic())
            raise door.CannotBeRead("It cannot be read (Permission denied). Close it in the other program.")
        return plain(file, most)

    monkeypatch.setattr(door, "read", read)
    monkeypatch.setattr("pipeline.runs.watch.AGAIN", 1.0)
    watched.start()
    watched.room.drop("a_locked.csv", ROWS)
    watched.room.drop("b.csv", row(1))
    watched.taken("b.csv")
    until(lambda: watched.told("a_locked.csv stays in the inbox. It cannot be read"))
    until(lambda: len(tried) == 3)
    assert tried[2] - tried[0] > 1.8  # its own coming and going wakes nobody to try it at once
    locked = False
    watched.taken("a_locked.csv", "b.csv")
    assert len(watched.told("a_locked.csv stays")) == 1


@pytest.mark.long
@pytest.mark.parametrize("number", [16, 26, 13, 116])
def test_a_file_that_is_busy_does_not_keep_the_others(
    watched: Watched, monkeypatch: pytest.MonkeyPatch, number: int
) -> None:
    """A share answers with "busy", "text busy", "permission denied" or "stale" for one of the files."""
    plain = os.rename

    def rename(source: Any, target: Any) -> None:
        if os.path.basename(source) == "a_busy.csv" and not watched.names():
            raise OSError(number, os.strerror(number))
        plain(source, target)

    monkeypatch.setattr(os, "rename", rename)
    watched.room.drop("a_busy.csv", ROWS)
    watched.room.drop("b.csv", row(1))
    watched.start()
    watched.taken("a_busy.csv", "b.csv")
    assert watched.names()[0] == "b.csv"


def test_a_file_that_vanishes_while_it_is_read(watched: Watched, monkeypatch: pytest.MonkeyPatch) -> None:
    """Somebody takes it back at that moment: no fate, no word of trouble, the others go on."""
    plain = door.read

    def read(file: Any, most: float) -> bytes:
        if file.name == "a_gone.csv":
            file.path.unlink()
        return plain(file, most)

    monkeypatch.setattr(door, "read", read)
    watched.start()
    watched.room.drop("a_gone.csv", ROWS)
    watched.room.drop("b.csv", row(1))
    watched.taken("b.csv")
    time.sleep(0.2)
    assert [fate.name for fate in watched.fates] == ["b.csv"] and watched.watcher.heart.trouble == ""


def test_a_new_file_of_the_name_of_one_in_hand_is_taken_too(watched: Watched, monkeypatch: pytest.MonkeyPatch) -> None:
    """Dropped while the first is being judged: both are taken, in order, and none waits for the next listing."""
    plain, dropped = Intake._judge, threading.Event()

    def judge(self: Intake, name: str, data: bytes, now: Any) -> Any:
        if not dropped.is_set():
            dropped.set()
            watched.room.drop("lab.csv", ROWS.replace(b"120", b"121"))
        return plain(self, name, data, now)

    monkeypatch.setattr(Intake, "_judge", judge)
    watched.start()
    watched.room.drop("lab.csv", ROWS)
    watched.taken("lab.csv", "lab.csv")
    until(lambda: b"101" in (watched.out / "warm.csv").read_bytes())


def test_what_a_killed_watcher_had_claimed_is_taken_first(watched: Watched) -> None:
    """.taking/ is emptied at start, also of a name that is in the inbox again, and is gone afterwards."""
    (watched.inbox / ".taking").mkdir()
    (watched.inbox / ".taking" / "lab.csv").write_bytes(ROWS)
    watched.room.drop("lab.csv", ROWS.replace(b"120", b"121"))
    watched.start()
    watched.taken("lab.csv", "lab.csv")
    assert b",101," in (watched.out / "warm.csv").read_bytes()
    assert lying_in(watched.inbox) == []


def test_every_fate_is_at_the_door_at_once(watched: Watched, monkeypatch: pytest.MonkeyPatch) -> None:
    """door.csv has a file's fate while the stages have not begun, and returned/ the reason in words."""
    seen: list[dict[str, str]] = []
    monkeypatch.setattr("pipeline.runs.session.work_and_publish", lambda *_: seen.append(watched.door()) or 1 / 0)
    watched.room.drop("good.csv", ROWS)
    watched.room.drop("hot.csv", kit.csv("C-9,2026-03-02,120,warm,", "C-8,2026-03-02,120,20,"))
    watched.room.drop("bad.csv", b"nothing,known\n1,2\n")
    watched.start(wait=False)
    until(lambda: watched.error)
    assert seen == [{"good.csv": "taken", "hot.csv": "taken with findings", "bad.csv": "returned"}]
    why = (watched.out / "returned" / "bad.csv.why.txt").read_text("utf-8")
    assert why.startswith("bad.csv was not taken.\n\nWhy: ") and "What to do: " in why


def test_two_reviewers_with_copies_of_one_sheet(watched: Watched) -> None:
    """Both rule on the same finding from copies: they disagree, so neither counts, and both stay in the history."""
    watched.start()
    watched.room.drop("lab.csv", kit.csv("C-1,2026-03-02,120,55,B-1"))
    until(lambda: (watched.out / "open.json").exists() and b"toy.hot" in (watched.out / "open.json").read_bytes())
    import json

    (name,) = [row["id"] for row in json.loads((watched.out / "open.json").read_bytes()) if row["code"] == "toy.hot"]
    head = ["finding", "ruling", "corrected_value", "reason", "by", "ruled_on"]
    for who, ruling in (("ab", "accept"), ("cd", "void")):
        filled = [[name, ruling, None, "seen", who, "2026-05-01"], ["F-AAAAAAAAAA", None, None, None, None, None]]
        watched.room.drop(f"open ({who}).xlsx", kit.xlsx({"open": [head, *filled]}))
        until(lambda who=who: f"open ({who}).xlsx" in watched.names())
    history = until(lambda: _two(watched.out / "history.json"))
    assert [line[1:3] for line in history] == [
        ["accept", "does not count: cd ruled otherwise"],
        ["void", "does not count: ab ruled otherwise"],
    ]
    assert watched.vessels() == {"C-1"}


def _two(path: Path) -> Any:
    import json

    told = json.loads(path.read_bytes())
    return told if len(told) == 2 else None
