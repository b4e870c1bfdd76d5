"""Crashes at every step, full disks, damaged journals: nothing is lost and nothing counts twice."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from pipeline.book.book import Book
from pipeline.book.journal import Originals
from pipeline.common.errors import BookHeld, JournalBroken, SettingsError
from pipeline.common.files import sha256
from pipeline.common.lock import hold
from pipeline.inbox import intake
from tests.pipeline.kit import ROWS, Room, by_vessel, csv
from tests.support import lying_in


class Killed(BaseException):
    """Stands for the process that ends at once."""


def test_a_kill_between_journal_and_book_is_made_good_by_the_next_run(
    room: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The journal has the file, the book does not: the next run replays it, once."""
    commit = Book.commit

    def killed(self: Book) -> None:
        if self.last_number > 1:
            raise Killed
        commit(self)

    room.drop("lab.csv", csv(*ROWS))
    with monkeypatch.context() as patch:
        patch.setattr(Book, "commit", killed)
        with pytest.raises(Killed):
            room.run()
    assert [line["outcome"] for line in room.journal()] == ["settings", "taken"]
    assert (room.inbox / ".taking" / "lab.csv").exists()
    result = room.run()
    assert [fate.outcome for fate in result.fates] == ["known"]
    assert len(result.worked.frames["gauges"]) == 3 and result.worked.findings == []
    assert len(room.journal()) == 2 and not (room.inbox / ".taking").exists()


@pytest.mark.parametrize("where", ["claim", "keep", "append", "leave"])
def test_a_kill_at_any_step_loses_nothing_and_counts_nothing_twice(
    room: Room, monkeypatch: pytest.MonkeyPatch, where: str
) -> None:
    """Killed after the claim, before the original, before the journal, before the file leaves: all comes right."""

    def killed(*_: Any, **__: Any) -> None:
        raise Killed

    room.run()
    room.drop("lab.csv", csv(*ROWS))
    with monkeypatch.context() as patch:
        if where == "claim":
            patch.setattr("pipeline.inbox.bounded_reader.judge", killed)
        elif where == "leave":
            patch.setattr(intake.door, "leave", killed)
        else:
            patch.setattr(Originals, where, killed)
        with pytest.raises(Killed):
            room.run(("other.csv", csv("C-9,2026-03-02,99,20,")))
    result = room.run()
    assert set(by_vessel(result)) == {"C-1", "C-2", "C-3", "C-9"} and result.worked.findings == []
    assert [line["name"] for line in room.journal() if line["outcome"] == "taken"] == ["lab.csv", "other.csv"]
    assert lying_in(room.inbox) == []


def test_a_file_left_in_taking_is_taken_first(room: Room) -> None:
    """What an interrupted run had claimed comes before what lies in the inbox."""
    (room.inbox / ".taking").mkdir()
    (room.inbox / ".taking" / "z.csv").write_bytes(csv("C-1,2026-03-02,1,20,"))
    result = room.run(("a.csv", csv("C-1,2026-03-02,2,20,")))
    assert [fate.name for fate in result.fates] == ["z.csv", "a.csv"] and by_vessel(result) == {"C-1": 2.0}


def test_a_kill_in_the_middle_of_a_journal_line(room: Room) -> None:
    """Half a line counts as never written; the file is still in .taking and is taken."""
    room.run(("lab.csv", csv(*ROWS)))
    path = room.out / "originals" / "journal.jsonl"
    with path.open("ab") as stream:
        stream.write(b'{"number": 3, "name": "oth')
    (room.inbox / ".taking").mkdir()
    (room.inbox / ".taking" / "other.csv").write_bytes(csv("C-9,2026-03-02,99,20,"))
    result = room.run()
    assert "C-9" in by_vessel(result)
    assert [line["number"] for line in room.journal()] == [1, 2, 3]


def test_a_full_disk_leaves_the_file_in_the_inbox(room: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is half-entered, and the file lies where it lay."""
    room.run(("lab.csv", csv(*ROWS)))

    def full(*_: Any) -> str:
        raise OSError(28, "No space left on device")

    room.drop("other.csv", csv("C-9,2026-03-02,99,20,"))
    with monkeypatch.context() as patch:
        patch.setattr(Originals, "keep", full)
        with pytest.raises(OSError, match="No space"):
            room.run()
    assert (room.inbox / "other.csv").exists() and len(room.journal()) == 2
    assert "C-9" in by_vessel(room.run())


def test_a_file_replaced_while_it_is_taken_is_not_lost(room: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    """A newer version saved over the file between reading and claiming is kept for this run or the next."""
    claim = intake.door.claim
    newer = csv(*ROWS, "C-4,2026-03-09,1,20,")

    def late(file: Any, inbox: Path) -> Any:
        if not file.claimed:
            (inbox / file.name).write_bytes(newer)
        return claim(file, inbox)

    room.drop("lab.csv", csv(*ROWS))
    with monkeypatch.context() as patch:
        patch.setattr(intake.door, "claim", late)
        room.run()
    assert "C-4" in by_vessel(room.run())


def test_a_book_ahead_of_its_journal_is_told(room: Room) -> None:
    """A restored, older journal is never written over; the words say what to do."""
    room.run(("lab.csv", csv(*ROWS)))
    path = room.out / "originals" / "journal.jsonl"
    path.write_bytes(b"".join(path.read_bytes().splitlines(keepends=True)[:2]))
    with pytest.raises(JournalBroken, match="book knows 2 files, the journal only 1.*backup.*rebuild"):
        room.run()
    path.unlink()
    with pytest.raises(JournalBroken, match="book knows 2 files, the journal only 0"):
        room.run()


def test_damage_to_journal_and_originals_is_told(room: Room) -> None:
    """A damaged line, and a changed original when it is needed, stop the run in words."""
    room.run(("lab.csv", csv(*ROWS)))
    original = room.out / "originals" / sha256(csv(*ROWS))
    original.write_bytes(b"changed")
    (room.out / "book.sqlite").unlink()
    with pytest.raises(JournalBroken, match="changed since it was taken"):
        room.run()
    path = room.out / "originals" / "journal.jsonl"
    path.write_bytes(b"{}}\n" + path.read_bytes())
    with pytest.raises(JournalBroken, match="line 1 is damaged"):
        room.run()


def test_one_run_at_a_time(room: Room) -> None:
    """A second process is told to wait; nothing is touched."""
    room.drop("lab.csv", csv(*ROWS))
    with hold(room.out), pytest.raises(BookHeld):
        room.run()
    assert (room.inbox / "lab.csv").exists()


def test_a_mistake_in_site_toml_touches_nothing(room: Room) -> None:
    """Nothing is taken under settings that cannot be read."""
    room.set_site("timezon = 'UTC'\n")
    with pytest.raises(SettingsError):
        room.run(("lab.csv", csv(*ROWS)))
    assert (room.inbox / "lab.csv").exists() and not (room.out / "originals").exists()
