"""When a file is whole: slow copies, stalls, renames, saves in place. The clock is the test's own."""

from __future__ import annotations

import os
import sys
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline.inbox import complete as whole
from pipeline.inbox.complete import has_its_end
from pipeline.inbox.folder import passed_over
from pipeline.inbox.open_files import being_written
from tests.pipeline import kit
from tests.watch.kit import Looking, waiting_for

ROWS = kit.csv(*kit.ROWS)
LINUX = pytest.mark.skipif(sys.platform != "linux", reason="only Linux tells who writes a file")


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Looking:
    """A folder that is looked at under the default settings."""
    return Looking(tmp_path, monkeypatch)


def test_a_file_is_whole_when_it_has_lain_unchanged(here: Looking) -> None:
    """Two seconds by default; the look says when to look again."""
    (here.folder / "a.csv").write_bytes(ROWS)
    look = here.look()
    assert (look.whole, look.waiting, look.again_in) == ([], ["a.csv"], 2.0)
    assert here.look(1.5).again_in == pytest.approx(0.5)
    assert here.whole(0.6) == ["a.csv"]


def test_a_slow_copy_with_pauses_is_waited_for(here: Looking) -> None:
    """Every piece that comes begins the quiet time anew, also when the pieces end with whole lines."""
    path = here.folder / "slow.csv"
    with open(path, "ab") as stream:
        for line in ROWS.splitlines(keepends=True):
            stream.write(line)
            stream.flush()
            assert here.whole(1.9) == []
    assert here.whole(1.9) == [] and here.whole(0.2) == ["slow.csv"]


def test_a_copy_that_bears_an_old_time_is_waited_for(here: Looking) -> None:
    """Some programs give a file the time of its original, or one long ago, before it is finished."""
    path = here.folder / "old.csv"
    path.write_bytes(ROWS[:-10])
    os.utime(path, (315_619_200, 315_619_200))  # 1980-01-02, as one of them marks what is not finished
    here.wall = os.stat(path).st_ctime + 0.5
    assert here.whole() == []
    path.write_bytes(ROWS)
    os.utime(path, (315_619_200, 315_619_200))
    here.wall = os.stat(path).st_ctime + 0.5
    assert here.whole(1.0) == []
    here.wall += 2.0
    assert here.whole() == ["old.csv"]


def test_a_time_in_the_future_only_costs_the_wait(here: Looking) -> None:
    """Another machine's clock may be ahead of ours."""
    path = here.folder / "ahead.csv"
    path.write_bytes(ROWS)
    os.utime(path, (4_000_000_000, 4_000_000_000))
    here.wall = os.stat(path).st_ctime + 100.0
    assert here.whole() == [] and here.whole(2.1) == ["ahead.csv"]


def test_on_a_share_only_what_was_seen_here_counts(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A share's clock may be wrong by hours: its times say that something changed, not when."""
    here, share = Looking(tmp_path, monkeypatch), Looking(tmp_path, monkeypatch, remote=True)
    (tmp_path / "a.csv").write_bytes(ROWS)
    here.wall = os.stat(tmp_path / "a.csv").st_ctime + 3600.0
    share.wall = here.wall
    monkeypatch.setattr("pipeline.inbox.complete.wall", lambda: here.wall)
    assert here.whole() == ["a.csv"]
    assert share.whole() == [] and share.whole(2.1) == ["a.csv"]


@pytest.mark.parametrize("name", ["cut.csv", "cut.xlsx"])
def test_a_stalled_copy_is_given_patience(here: Looking, name: str) -> None:
    """A file whose end is missing is not taken after the quiet time, but in the end it is, and judged as it is."""
    whole_file = ROWS if name.endswith("csv") else kit.xlsx({"lab": kit.PLAIN})
    path = here.folder / name
    path.write_bytes(whole_file[:-30])
    assert here.whole() == [] and here.whole(5.9) == []
    path.write_bytes(whole_file[:-20])  # it goes on: patience begins anew
    assert here.whole() == [] and here.whole(5.9) == []
    assert here.whole(0.2) == [name]


def test_space_set_aside_for_a_copy_is_no_end(here: Looking) -> None:
    """Programs that set a file's size first fill it with zeros."""
    path = here.folder / "a.csv"
    path.write_bytes(ROWS + bytes(10_000))
    assert not has_its_end(path)
    assert here.whole() == [] and here.whole(2.1) == []
    path.write_bytes(ROWS)
    assert here.whole() == [] and here.whole(2.1) == ["a.csv"]


@LINUX
def test_a_file_that_is_open_for_writing_is_not_taken(here: Looking) -> None:
    """However long the writer pauses: what it wrote later would be lost. It is said after a while."""
    path = here.folder / "log.csv"
    with open(path, "wb") as stream:
        stream.write(ROWS)
        stream.flush()
        assert being_written(path)
        assert here.whole() == [] and here.whole(3.0) == []
        look = here.look(600.0)
        assert (look.whole, look.held) == ([], ["log.csv"])
    assert not being_written(path)
    look = here.look(1.0)
    assert ([file.name for file in look.whole], look.held) == (["log.csv"], [])


@LINUX
def test_a_file_that_stays_may_be_read_while_it_is_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """With after_taking = "leave" nothing is lost: what comes later is read later."""
    here = Looking(tmp_path, monkeypatch, leaves=False)
    with open(tmp_path / "log.csv", "wb") as stream:
        stream.write(ROWS)
        stream.flush()
        assert here.whole() == [] and here.whole(3.0) == [] and here.whole(3.1) == ["log.csv"]


@LINUX
def test_who_only_reads_a_file_does_not_keep_it(here: Looking) -> None:
    """A virus scanner or a viewer has it open too."""
    path = here.folder / "a.csv"
    path.write_bytes(ROWS)
    with open(path, "rb"):
        assert not being_written(path)
        assert here.whole() == [] and here.whole(2.1) == ["a.csv"]
    assert not being_written(here.folder / "gone.csv")


@pytest.mark.parametrize("temporary", ["lab.csv.part", ".lab.csv.Xy12", "lab.csv.filepart", "~lab.tmp", "lab.csv.tmp"])
def test_a_file_renamed_from_a_temporary_name_is_whole(here: Looking, temporary: str) -> None:
    """Whoever writes under another name and renames has finished: also where no event tells of it."""
    (here.folder / temporary).write_bytes(ROWS)
    assert here.look().waiting == []
    os.rename(here.folder / temporary, here.folder / "lab.csv")
    assert here.whole() == ["lab.csv"]


def test_a_file_that_an_event_says_was_renamed_is_whole(here: Looking) -> None:
    """Moved in from another folder: the event is what tells."""
    (here.folder / "lab.csv").write_bytes(ROWS)
    assert here.whole() == [] and here.whole(arrived=("lab.csv",)) == ["lab.csv"]
    (here.folder / "cut.csv").write_bytes(ROWS[:-10])
    assert here.whole(arrived=("cut.csv",)) == ["lab.csv"]  # its end is missing all the same


def test_a_file_written_to_after_its_rename_has_to_rest(here: Looking) -> None:
    """A rename speaks of the bytes that were there then."""
    (here.folder / "lab.csv.part").write_bytes(ROWS)
    here.look()
    os.rename(here.folder / "lab.csv.part", here.folder / "lab.csv")
    with open(here.folder / "lab.csv", "ab") as stream:
        stream.write(b"C-9,2026-03-02,99,20,\n")
    here.look()
    with open(here.folder / "lab.csv", "ab") as stream:
        stream.write(b"C-8,2026-03-02,99,20,\n")
    assert here.whole() == [] and here.whole(2.1) == ["lab.csv"]


def test_a_file_replaced_while_it_waits_begins_anew(here: Looking) -> None:
    """The same name, size and time, but another file."""
    (here.folder / "a.csv").write_bytes(ROWS)
    os.utime(here.folder / "a.csv", ns=(10**18, 10**18))
    assert here.whole() == [] and here.whole(1.9) == []
    other = here.folder.parent / "other.csv"
    other.write_bytes(ROWS.replace(b"120", b"121"))
    os.utime(other, ns=(10**18, 10**18))
    os.replace(other, here.folder / "a.csv")
    assert here.whole(0.2) == [] and here.whole(2.1) == ["a.csv"]


def test_a_file_that_stays_is_looked_at_again_only_when_it_changed(here: Looking) -> None:
    """Settled until its bytes may be others, also when its size and time are set back."""
    path = here.folder / "a.csv"
    path.write_bytes(ROWS)
    os.utime(path, ns=(10**18, 10**18))
    here.look()
    assert here.whole(2.1) == ["a.csv"]
    here.patience.settle(waiting_for(path))
    look = here.look(2.1)
    assert (look.whole, look.waiting, look.again_in) == ([], [], None)
    path.write_bytes(ROWS.replace(b"120", b"121"))
    os.utime(path, ns=(10**18, 10**18))
    assert here.look().waiting == ["a.csv"] and here.whole(2.1) == ["a.csv"]
    here.patience.settle(waiting_for(path))
    assert here.whole(9.0) == []
    here.patience.forget()
    assert here.whole(9.0) == [] and here.whole(2.1) == ["a.csv"]


def test_a_file_that_changed_while_it_was_read_is_read_again(here: Looking) -> None:
    """What was settled is what was looked at, not what lies there by now; the same of a new file of its name."""
    path = here.folder / "a.csv"
    path.write_bytes(ROWS)
    here.look()
    assert here.whole(2.1) == ["a.csv"]
    path.unlink()
    path.write_bytes(ROWS.replace(b"120", b"121"))
    here.patience.settle(waiting_for(path))
    assert here.whole() == [] and here.whole(2.1) == ["a.csv"]


def test_a_file_that_could_not_be_read_is_left_in_peace(here: Looking) -> None:
    """Whatever happens to it meanwhile; else one that cannot be read would be tried without end."""
    path = here.folder / "a.csv"
    path.write_bytes(ROWS)
    here.look()
    assert here.whole(2.1) == ["a.csv"]
    here.patience.postpone(waiting_for(path), 5.0)
    assert here.whole(1.0, arrived=("a.csv",)) == []
    assert here.look(3.0).again_in == pytest.approx(1.0)
    assert here.whole(1.1) == ["a.csv"]


def test_files_that_vanish_while_they_are_looked_at(here: Looking, monkeypatch: pytest.MonkeyPatch) -> None:
    """Gone between listing and looking: no word, no fault."""
    (here.folder / "a.csv").write_bytes(ROWS)
    files = [waiting_for(here.folder / "a.csv"), waiting_for(here.folder / "gone.csv")]
    look = here.patience.look(files)
    assert look.waiting == ["a.csv"]
    assert has_its_end(here.folder / "gone.csv")  # taking it says why it cannot be opened


def test_what_an_interrupted_run_had_claimed_is_taken_at_once(here: Looking) -> None:
    """It was whole when it was claimed."""
    (here.folder / ".taking").mkdir()
    (here.folder / ".taking" / "a.csv").write_bytes(ROWS)
    assert here.whole() == ["a.csv"]


ENDS: dict[str, tuple[Callable[[], bytes], bool]] = {
    "line end": (lambda: ROWS, True),
    "CR LF": (lambda: ROWS.replace(b"\n", b"\r\n"), True),
    "old line ends": (lambda: ROWS.replace(b"\n", b"\r"), True),
    "UTF-16": (lambda: ROWS.decode().encode("utf-16"), True),
    "UTF-16 big end first": (lambda: b"\xfe\xff" + ROWS.decode().encode("utf-16-be"), True),
    "no line end": (lambda: ROWS.rstrip(), False),
    "empty": (lambda: b"", False),
    "zeros": (lambda: bytes(5000), False),
    "workbook": (lambda: kit.xlsx({"lab": kit.PLAIN}), True),
    "half a workbook": (lambda: kit.xlsx({"lab": kit.PLAIN})[:3000], False),
    "workbook without its last byte": (lambda: kit.xlsx({"lab": kit.PLAIN})[:-1], False),
}


@pytest.mark.parametrize("what", list(ENDS))
def test_the_end_of_a_file(tmp_path: Path, what: str) -> None:
    """A workbook's directory, a text's last line end: what a cut copy lacks."""
    make, expected = ENDS[what]
    (tmp_path / "f").write_bytes(make())
    assert has_its_end(tmp_path / "f") is expected


def test_an_end_is_looked_for_without_unpacking(tmp_path: Path) -> None:
    """A workbook of a gigabyte unpacked costs no more than a small one."""
    with zipfile.ZipFile(tmp_path / "f", "w", zipfile.ZIP_DEFLATED) as packed, packed.open("a", "w") as part:
        for _ in range(100):
            part.write(bytes(1_000_000))
    import tracemalloc

    tracemalloc.start()
    assert has_its_end(tmp_path / "f")
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 2_000_000 and whole.PEEK < 10_000


NAMES = {
    "~$book.xlsx": "book$.xlsx",
    ".~lock.book.xlsx#": "lock.book.xlsx",
    ".#lab.csv": "#lab.csv",
    "lab.csv~": "lab~1.csv",
    "lab.tmp": "tmp.csv",
    "~WRL0001.tmp": "WRL0001.csv",
    "lab.csv.part": "part.csv",
    "lab.csv.filepart": "filepart.xlsx",
    "lab.csv.crdownload": "crdownload.csv",
    "lab.download": "download.csv",
    "lab.csv.partial": "partial.csv",
    ".lab.csv.swp": "swp.csv",
    "._lab.csv": "_lab.csv",
    ".DS_Store": "DS_Store.csv",
    "Thumbs.db": "Thumbs.csv",
    "desktop.ini": "desktop.csv",
    "@eaDir": "eaDir.csv",
    ".stfolder": "stfolder.csv",
    "__MACOSX": "MACOSX.csv",
    "site.toml": "mysite.toml",
    "lab.lnk": "lnk.csv",
    "lab.bak": "bak.csv",
    "lab.lock": "lock.csv",
}


@pytest.mark.parametrize(("skipped", "taken"), NAMES.items())
def test_lock_and_temporary_names(skipped: str, taken: str) -> None:
    """Each pattern with a name that it is for and one that it must not swallow."""
    assert passed_over(skipped) and passed_over(skipped.upper())
    assert not passed_over(taken)


def test_lock_files_are_passed_over_before_they_are_touched(here: Looking, monkeypatch: pytest.MonkeyPatch) -> None:
    """An owner file may be locked so that even looking at it fails: nothing but its name is read to take files."""
    (here.folder / "~$book.xlsx").write_bytes(b"owner")
    os.symlink("nowhere", here.folder / ".#lab.csv")
    (here.folder / "book.csv").write_bytes(ROWS)
    touched: list[str] = []
    for name in ("open", "stat", "lstat", "is_file", "is_dir", "is_symlink"):
        plain = getattr(Path, name)

        def noted(self: Path, *args: object, plain: Callable[..., object] = plain, **more: object) -> object:
            touched.append(self.name)
            return plain(self, *args, **more)

        monkeypatch.setattr(Path, name, noted)
    from pipeline.inbox.folder import waiting

    assert [file.name for file in waiting(here.folder)[0]] == ["book.csv"]
    assert not {"~$book.xlsx", ".#lab.csv"} & set(touched)


def test_a_run_that_takes_long_looks_again_before_it_gives_up(room: kit.Room, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file without its end is taken after its patience, though taking the others took longer than that."""
    from pipeline.runs.session import Session

    clock, plain = [0.0], Session.take
    monkeypatch.setattr("pipeline.inbox.complete.time.monotonic", lambda: clock[0])

    def slow(self: Session, files: list[object], *rest: object) -> None:
        plain(self, files, *rest)  # type: ignore[arg-type]
        clock[0] += 60.0 * len(files)

    monkeypatch.setattr(Session, "take", slow)
    room.drop("a.csv", ROWS)
    room.drop("cut.csv", b"Cask,Date,Reading,Temp (\xc2\xb0C)\nC-9,2026-03-02,99,20")
    now = os.stat(room.inbox / "cut.csv").st_ctime
    monkeypatch.setattr("pipeline.inbox.complete.wall", lambda: now + 3.0)
    result = room.run()
    assert [fate.name for fate in result.fates] == ["a.csv", "cut.csv"] and result.unread == 0
