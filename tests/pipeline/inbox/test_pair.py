"""An inbox and its outputs know each other: no other outputs take its files, and none that went away."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline.common.errors import WrongOutputs
from pipeline.common.file_names import MARK
from pipeline.doctor.all_checks import examine
from pipeline.runs.run import run
from pipeline.runs.session import Session
from tests.pipeline import toy_plugin
from tests.pipeline.kit import NOW, Room, csv, finding, have, use
from tests.support import lying_in

SHEET = csv("C-1,2026-03-02,120,20,B-1")
MORE = csv("C-2,2026-03-02,118,20,B-1")


@pytest.fixture
def room(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Room:
    """A room that took one file."""
    use(monkeypatch, toy_plugin)
    made = Room(tmp_path)
    made.run(("lab.csv", SHEET))
    return made


def emptied(out: Path) -> None:
    shutil.rmtree(out)
    out.mkdir()


def gone(out: Path) -> None:
    out.rename(out.with_name("away"))


def exchanged(out: Path) -> None:
    gone(out)
    inbox = out.with_name("another")
    inbox.mkdir()
    run(inbox, out, now=NOW.replace(year=2020))


AWAY = [emptied, gone, exchanged]
Do = Callable[[Path], None]


@pytest.mark.parametrize("away", AWAY)
def test_outputs_that_are_not_the_inboxes_take_nothing(room: Room, away: Do) -> None:
    """At the start of a run, with what to do; the doctor says it, too."""
    away(room.out)
    with pytest.raises(WrongOutputs, match=MARK):
        room.run(("two.csv", MORE))
    assert lying_in(room.inbox) == ["two.csv"]
    assert any(check.state == "bad" and MARK in check.said for check in examine(room.inbox, room.out))


@pytest.mark.parametrize("away", AWAY)
def test_outputs_that_go_away_while_files_are_taken(room: Room, monkeypatch: pytest.MonkeyPatch, away: Do) -> None:
    """Nothing leaves the inbox, though it was read and claimed."""
    finish = Session._finish

    def late(self: Session) -> None:
        if self.intake.leaving:
            away(room.out)
        finish(self)

    monkeypatch.setattr(Session, "_finish", late)
    with pytest.raises(WrongOutputs, match="not those that were opened"):
        room.run(("two.csv", MORE))
    assert lying_in(room.inbox) == ["two.csv"] and (room.inbox / "two.csv").read_bytes() == MORE


def test_second_outputs_and_a_copy_are_refused(room: Room, tmp_path: Path) -> None:
    """Another folder, and one that holds the same journal while the first is still there."""
    room.drop("two.csv", MORE)
    shutil.copytree(room.out, tmp_path / "copy")
    for out, said in ((tmp_path / "second", "hold no journal"), (tmp_path / "copy", "are a copy")):
        with pytest.raises(WrongOutputs, match=said):
            run(room.inbox, out, now=NOW)
    assert lying_in(room.inbox) == ["two.csv"]
    (room.inbox / MARK).unlink()
    assert [fate.name for fate in run(room.inbox, tmp_path / "copy", now=NOW).fates] == ["two.csv"]


def test_outputs_that_moved_go_on(room: Room, tmp_path: Path) -> None:
    """The same journal at another place, and none at the old one; so does an inbox that was copied with them."""
    room.out.rename(tmp_path / "moved")
    room.out = tmp_path / "moved"
    assert [fate.outcome for fate in room.run(("two.csv", MORE)).fates] == ["taken"]
    for name in ("inbox", "moved", "site"):
        shutil.copytree(tmp_path / name, tmp_path / "both" / name)
    (tmp_path / "both" / "inbox" / "three.csv").write_bytes(csv("C-3,2026-03-02,110,20,B-1"))
    assert run(tmp_path / "both" / "inbox", tmp_path / "both" / "moved", now=NOW).fates[0].outcome == "taken"


def test_an_inbox_whose_files_stay_stays_clean(room: Room, tmp_path: Path) -> None:
    """No mark where nothing leaves: a checkout stays as it was, and others may try it with outputs of their own."""
    room.set_site('timezone = "UTC"\nafter_taking = "leave"\n')
    other = tmp_path / "checkout"
    other.mkdir()
    (other / "lab.csv").write_bytes(SHEET)
    for out in ("one", "two"):
        assert run(other, tmp_path / out, now=NOW).fates[0].outcome == "taken"
    assert [path.name for path in other.iterdir()] == ["lab.csv"]


def test_a_spoilt_mark_takes_nothing(room: Room) -> None:
    """Nobody knows then where the files go."""
    (room.inbox / MARK).write_text("{", "utf-8")
    with pytest.raises(WrongOutputs, match="cannot be read"):
        room.run(("two.csv", MORE))


@pytest.mark.parametrize("bound", ["files_a_day = 3", "megabytes_a_day = 0.001"])
def test_what_is_beyond_a_days_bound_stays(room: Room, bound: str) -> None:
    """With a finding; it is taken the next day, or when the bound is raised. What was taken before counts."""
    room.set_site(f'timezone = "UTC"\n[limits]\n{bound}\n')
    names = [f"{letter}.csv" for letter in "abc"]
    result = room.run(*((name, csv(f"C-{name},2026-03-02,120,20,B-{'1' * 350}")) for name in names))
    assert [fate.name for fate in result.fates] == ["a.csv", "b.csv"]
    assert set(result.staying) == {"c.csv"} == set(lying_in(room.inbox))
    assert "under [limits]" in finding(result, "file.daily-bound").message
    room.now = room.now.replace(day=room.now.day + 1)
    assert [fate.name for fate in room.run().fates] == ["c.csv"] and not have(result := room.run(), "file.daily-bound")
    assert result.staying == {}
