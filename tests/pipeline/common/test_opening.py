"""Only a plain file with one name is opened, whatever its name led to a moment before."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline.common.opening import NotPlain, open_plain, read_plain
from pipeline.inbox import folder as door
from pipeline.runs.run import run
from pipeline.runs.session import Session
from tests.pipeline import toy_plugin
from tests.pipeline.kit import Room, csv, use
from tests.support import lying_in

pytestmark = pytest.mark.skipif(os.name == "nt", reason="no such links and pipes")
SHEET = csv("C-1,2026-03-02,120,20,B-1")
OTHERS = b"somebody else's\n"


def a_link(path: Path, other: Path) -> None:
    path.symlink_to(other)


def a_hard_link(path: Path, other: Path) -> None:
    os.link(other, path)


def a_pipe(path: Path, other: Path) -> None:
    os.mkfifo(path)


def a_device(path: Path, other: Path) -> None:
    path.symlink_to("/dev/zero")


def a_folder(path: Path, other: Path) -> None:
    path.mkdir()


NOT_PLAIN = [a_link, a_hard_link, a_pipe, a_device, a_folder]
Put = Callable[[Path, Path], None]


@pytest.mark.parametrize("put", NOT_PLAIN)
def test_what_is_no_plain_file_is_not_opened(tmp_path: Path, put: Put) -> None:
    """Nor does a pipe hold us."""
    (tmp_path / "other").write_bytes(OTHERS)
    put(tmp_path / "it", tmp_path / "other")
    with pytest.raises(NotPlain):
        open_plain(tmp_path / "it")


@pytest.fixture
def room(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Room:
    use(monkeypatch, toy_plugin)
    return Room(tmp_path)


def account(room: Room) -> str:
    """The account of the file that was taken last."""
    return str([line for line in room.journal() if line["outcome"] == "taken"][-1]["account"])


def kept_of_others(room: Room) -> list[Path]:
    return [path for path in room.out.rglob("*") if path.is_file() and OTHERS in path.read_bytes()]


@pytest.mark.parametrize("put", NOT_PLAIN)
@pytest.mark.parametrize("moment", ["before it is claimed", "when it was claimed"])
def test_an_exchange_is_noticed(
    room: Room, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, put: Put, moment: str
) -> None:
    """A sheet that becomes something else between look, claim and reading: nothing of that is read or removed."""
    (tmp_path / "other").write_bytes(OTHERS)
    claim = door.claim

    def exchanged(file: door.Waiting, inbox: Path) -> door.Waiting:
        if moment == "before it is claimed":
            file.path.unlink()
            put(file.path, tmp_path / "other")
            return claim(file, inbox)
        claimed = claim(file, inbox)
        claimed.path.unlink()
        put(claimed.path, tmp_path / "other")
        return claimed

    monkeypatch.setattr(door, "claim", exchanged)
    result = room.run(("lab.csv", SHEET))
    assert result.fates == [] and set(result.staying) == {"lab.csv"}
    assert lying_in(room.inbox) == ["lab.csv"] and (tmp_path / "other").read_bytes() == OTHERS
    assert kept_of_others(room) == []


@pytest.mark.parametrize("change", ["exchanged", "written on"])
def test_what_came_after_reading_is_not_removed(room: Room, monkeypatch: pytest.MonkeyPatch, change: str) -> None:
    """The claimed file is another, or longer, by the time it would leave: it goes back and is taken next."""
    finish = Session._finish

    def late(self: Session) -> None:
        for file in self.intake.leaving:
            if change == "exchanged":
                file.path.unlink()
                file.path.write_bytes(csv("C-2,2026-03-02,118,20,B-1"))
            else:
                with open(file.path, "ab") as stream:
                    stream.write(b"C-3,2026-03-02,119,20,B-1\n")
        finish(self)

    with monkeypatch.context() as patch:
        patch.setattr(Session, "_finish", late)
        room.run(("lab.csv", SHEET))
    assert lying_in(room.inbox) == ["lab.csv"]
    assert room.run().fates[0].outcome == "taken" and lying_in(room.inbox) == []


def test_a_known_file_that_got_a_second_name_is_told(room: Room, tmp_path: Path) -> None:
    """Where files stay in the inbox, a run that finds nothing new opens them no less carefully."""
    room.set_site('timezone = "UTC"\nafter_taking = "leave"\n')
    room.drop("lab.csv", SHEET)
    run(room.inbox, room.out, now=room.now)
    os.link(room.inbox / "lab.csv", tmp_path / "second")
    assert "second name" in run(room.inbox, room.out, now=room.now).staying["lab.csv"]


def test_a_folder_for_claimed_files_that_is_a_link_is_not_used(room: Room, tmp_path: Path) -> None:
    """Else files of another folder would be taken and removed."""
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "elsewhere" / "letter.csv").write_bytes(SHEET)
    (room.inbox / door.TAKING).symlink_to(tmp_path / "elsewhere")
    result = room.run(("lab.csv", SHEET))
    assert result.fates == [] and {door.TAKING, "lab.csv"} <= set(result.staying)
    assert [path.name for path in (tmp_path / "elsewhere").iterdir()] == ["letter.csv"]


@pytest.mark.long
def test_the_account_is_kept(room: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    """The owner by name, by number where it has none, and that the system does not tell on a share."""
    room.run(("lab.csv", SHEET))
    import pwd

    assert account(room) == pwd.getpwuid(os.getuid()).pw_name
    if os.getuid() == 0:
        room.drop("two.csv", csv("C-2,2026-03-02,118,20,B-1"))
        os.chown(room.inbox / "two.csv", 987654, -1)
        room.run()
        assert account(room) == "user 987654"
    monkeypatch.setattr("pipeline.runs.session.network_share", lambda path: "nfs")
    room.run(("three.csv", csv("C-3,2026-03-02,118,20,B-1")))
    assert account(room) == "the system does not tell"


def test_a_file_beyond_the_bound_is_read_no_further(tmp_path: Path) -> None:
    """One byte more than the bound, so that it is known to be beyond."""
    (tmp_path / "big").write_bytes(b"x" * 100)
    assert len(read_plain(tmp_path / "big", 10).data) == 11
