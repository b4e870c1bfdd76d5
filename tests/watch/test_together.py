"""Files that are taken together: in the order that a power cut needs, and all or none of them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from pipeline.book import journal
from pipeline.book.book import Book
from pipeline.book.journal import Originals
from pipeline.inbox import folder as door
from pipeline.runs import session
from pipeline.runs.run import run
from tests.pipeline import kit
from tests.support import lying_in

TAKEN = b'"outcome":"taken"'


def row(number: int) -> bytes:
    return kit.csv(f"V-{number},2026-03-02,100,20,")


def drop(room: kit.Room, count: int) -> None:
    for number in range(count):
        room.drop(f"{number}.csv", row(number))


def test_bytes_then_lines_then_book_and_only_then_they_leave(room: kit.Room, monkeypatch: pytest.MonkeyPatch) -> None:
    """A power cut at any of these leaves no line without its bytes, no fact without its line, no file nowhere."""
    room.run()
    done: list[str] = []

    def noted(owner: Any, name: str, told: Any) -> None:
        plain = getattr(owner, name)
        monkeypatch.setattr(owner, name, lambda *args: (done.append(told(*args)), plain(*args))[1])

    noted(journal, "flush_file", lambda path: "bytes")
    noted(journal, "flush_folder", lambda path: "names")
    noted(Originals, "_write", lambda self, text: str(text.count(TAKEN)) + " lines")
    noted(Book, "commit", lambda self: "book")
    noted(door, "leave", lambda file: f"leave {file.name}")
    drop(room, 3)
    room.run()
    taken = done[: done.index("leave 2.csv") + 1]
    assert taken == ["bytes", "bytes", "bytes", "names", "3 lines", "book", "leave 0.csv", "leave 1.csv", "leave 2.csv"]


@pytest.mark.parametrize("at", ["keep", "_write", "flush"])
def test_a_full_disk_puts_all_of_them_back(room: kit.Room, monkeypatch: pytest.MonkeyPatch, at: str) -> None:
    """None is in the book or told of as taken; the next run takes them all, once."""
    room.run()
    drop(room, 4)
    plain, calls = getattr(Originals, at), list[int]()

    def full(self: Originals, *args: Any) -> Any:
        calls.append(1)
        if len(calls) > (2 if at == "keep" else 0):
            raise OSError(28, "No space left on device")
        return plain(self, *args)

    with monkeypatch.context() as patch:
        patch.setattr(Originals, at, full)
        with pytest.raises(OSError, match="No space"):
            run(room.inbox, room.out, now=room.now)
    assert lying_in(room.inbox) == ["0.csv", "1.csv", "2.csv", "3.csv"]
    assert "taken" not in [line["outcome"] for line in room.journal()]
    result = room.run()
    assert [fate.outcome for fate in result.fates] == ["taken"] * 4
    assert [line["number"] for line in room.journal()] == [1, 2, 3, 4, 5]


def test_not_too_many_and_not_too_long(room: kit.Room, monkeypatch: pytest.MonkeyPatch) -> None:
    """Fates are told after so many files or so long a time: who dropped one has an answer within a second."""
    sizes: list[int] = []
    plain = Originals._write
    monkeypatch.setattr(Originals, "_write", lambda self, text: (sizes.append(text.count(b"\n")), plain(self, text))[1])
    monkeypatch.setattr(session, "TOGETHER", 3)
    drop(room, 7)
    room.run()
    assert sizes == [2, 3, 3, 1]  # the outputs' and the settings' line first
    monkeypatch.setattr(session, "TOGETHER_SECONDS", -1.0)
    sizes.clear()
    for number in range(10, 13):
        room.drop(f"{number}.csv", row(number))
    room.run()
    assert sizes == [1, 1, 1]


def test_rulings_among_them_speak_of_those_before(room: kit.Room) -> None:
    """A ruling on a file of the same run: that file is taken for good first, and then worked out."""
    name = kit.finding(room.run(("hot.csv", kit.csv("C-1,2026-03-02,120,55,B-1"))), "toy.hot").id
    other = kit.Room(_folder(room))
    head = "finding;ruling;corrected_value;reason;by;ruled_on\n"
    result = other.run(
        ("a.csv", kit.csv("C-1,2026-03-02,120,55,B-1")), ("b.csv", f"{head}{name};void;;why;ab;2026-05-01\n".encode())
    )
    assert [fate.outcome for fate in result.fates] == ["taken", "taken"] and kit.by_vessel(result) == {}


def _folder(room: kit.Room) -> Path:
    made = room.out.parent / "other"
    made.mkdir()
    return made
