"""The book: one transaction per file, columns packed and back, made anew where it is not this version's."""

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.book import book as book_module
from pipeline.book.blocks import as_series, join, missing, pack, unpack
from pipeline.book.book import Book
from pipeline.book.facts import Ruled
from pipeline.book.packed import pack_finding, unpack_finding
from pipeline.common.errors import BookError, BookHeld, BookOutdated
from pipeline.contract.findings import Finding, Place
from pipeline.contract.frames import Column
from pipeline.sheets.rulings_sheet import RULINGS
from pipeline.site.house import House
from tests.pipeline.kit import HEADER, ROWS, Room, by_vessel, csv, judged
from tests.pipeline.toy_plugin import FILLS, GAUGES, STOCK


def line(number: int, name: str = "lab.csv") -> dict[str, Any]:
    return {"number": number, "name": name, "sha256": f"{number:064d}", "outcome": "taken"}


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "book.sqlite"


def enter(book: Book, house: House, number: int, *rows: str, header: str = HEADER) -> None:
    item = judged(house, "lab.csv", csv(*rows, header=header))
    book.enter(line(number), item.sheets, [], item.findings)


def test_what_is_entered_comes_back(path: Path, house: House) -> None:
    """Values, units, moments and blanks are the same after the book was closed."""
    header = "Cask,Date,Reading,Temp (°F),Batch,Sealed,Tries,Notes,Volume (gal)"
    rows = ["Été-1,2026-03-02 09:40,120.1,68,B-1,yes,3,salt;“sea”,53", "C-2,2026-03-03,1e-3,0 °C,,,,,"]
    with Book(path, house.kinds) as book:
        enter(book, house, 1, *rows, header=header)
    with Book(path, house.kinds) as book:
        frame, findings = book.frame(GAUGES, Ruled())
    assert findings == []
    assert frame["vessel"].tolist() == ["Été-1", "C-2"] and frame["reading"].tolist() == [120.1, 0.001]
    assert frame["temperature_degC"].tolist() == pytest.approx([20.0, 0.0])
    assert frame["temperature_unit"].tolist() == ["degF", "degC"]
    assert frame["taken_at"].tolist() == [pd.Timestamp("2026-03-02 09:40"), pd.Timestamp("2026-03-03")]
    assert frame["taken_at_timed"].tolist() == [True, False]
    assert frame["sealed"].tolist() == [True, pd.NA] and frame["tries"].iloc[0] == 3.0
    assert frame["remark"].iloc[0] == "salt;“sea”" and pd.isna(frame["remark"].iloc[1])
    assert frame["volume_L"].iloc[0] == pytest.approx(200.626824552) and np.isnan(frame["volume_L"].iloc[1])
    GAUGES.frame().check(frame, "book", {1, 2})


def test_a_file_is_entered_whole_or_not_at_all(path: Path, house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    """A failure in the middle of a file leaves no row, no finding, no number."""
    item = judged(house, "lab.csv", csv(*ROWS))
    with Book(path, house.kinds) as book:
        enter(book, house, 1, "C-0,2026-01-01,1,20,")

        def fails(_: Finding) -> str:
            raise OSError(28, "No space left on device")

        monkeypatch.setattr(book_module, "pack_finding", fails)
        with pytest.raises(OSError):
            book.enter(line(2), item.sheets, [], [Finding("a.b", "note", "m")])
        monkeypatch.undo()
        assert book.last_number == 1 and len(book.sheets()) == 1
        assert book.frame(GAUGES, Ruled())[0]["vessel"].tolist() == ["C-0"]
        book.enter(line(2), item.sheets, [], [])
        assert book.frame(GAUGES, Ruled())[0]["facts"].tolist() == [(1,), (2,), (3,), (4,)]


def test_a_number_is_entered_once(path: Path, house: House) -> None:
    """The journal number is the file's key."""
    with Book(path, house.kinds) as book:
        enter(book, house, 1, *ROWS)
        with pytest.raises(sqlite3.IntegrityError):
            enter(book, house, 1, *ROWS)
        assert len(book.frame(GAUGES, Ruled())[0]) == 3


def test_a_book_of_other_kinds_is_told(path: Path, house: House) -> None:
    """A plugin that adds a column makes the book outdated; it is never migrated."""
    with Book(path, house.kinds):
        pass
    with pytest.raises(BookOutdated, match="other kinds"):
        Book(path, house.kinds[:-1])
    with Book(path, house.kinds):
        pass


def test_a_book_of_another_version_is_told(path: Path, house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    """The book has a version."""
    with Book(path, house.kinds):
        pass
    monkeypatch.setattr(book_module, "VERSION", book_module.VERSION + 1)
    with pytest.raises(BookOutdated, match="another version"):
        Book(path, house.kinds)


@pytest.mark.parametrize("data", [b"no database at all, but some text" * 40, b"SQLite format 3\x00" + bytes(200)])
def test_a_damaged_book_is_told(path: Path, house: House, data: bytes) -> None:
    """Bytes that are no book are outdated, in words."""
    path.write_bytes(data)
    with pytest.raises(BookOutdated):
        Book(path, house.kinds)


@pytest.mark.parametrize("damage", [b"rubbish" * 1000, None])
def test_an_outdated_book_is_not_held_open(
    path: Path, house: House, monkeypatch: pytest.MonkeyPatch, damage: bytes | None
) -> None:
    """The connection is closed, so that the file can be removed on every system."""
    opened = []
    connect = sqlite3.connect
    with Book(path, house.kinds):
        pass
    if damage:
        path.write_bytes(damage)
    monkeypatch.setattr(sqlite3, "connect", lambda *a, **k: opened.append(connect(*a, **k)) or opened[-1])
    with pytest.raises(BookOutdated):
        Book(path, house.kinds[:-1])
    with pytest.raises(sqlite3.ProgrammingError, match="closed"):
        opened[0].execute("SELECT 1")


def test_an_outdated_or_damaged_book_is_made_anew_by_a_run(room: Room) -> None:
    """A run goes on from originals and journal; nothing is lost and nothing asked."""
    before = room.run(("lab.csv", csv(*ROWS)))
    outputs = room.bytes()
    for damage in (b"rubbish" * 1000, None):
        path = room.out / "book.sqlite"
        if damage is None:
            with sqlite3.connect(path) as sql:
                sql.execute("UPDATE meta SET value = '0 old' WHERE name = 'schema'")
            sql.close()
        else:
            path.write_bytes(damage)
        result = room.run()
        pd.testing.assert_frame_equal(result.worked.frames["gauges"], before.worked.frames["gauges"])
        assert room.bytes() == outputs


def test_a_book_that_another_program_holds_is_not_made_anew(
    path: Path, house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A database program that locks the book is told of; nothing is removed."""
    with Book(path, house.kinds) as book:
        enter(book, house, 1, *ROWS)
    connect = sqlite3.connect
    other = connect(path, isolation_level=None)
    other.execute("PRAGMA locking_mode = EXCLUSIVE")
    other.execute("BEGIN EXCLUSIVE")
    monkeypatch.setattr(sqlite3, "connect", lambda *a, **k: connect(*a, **{**k, "timeout": 0}))
    with pytest.raises(BookHeld, match="Another program holds book.sqlite"):
        Book(path, house.kinds)
    other.close()
    with Book(path, house.kinds) as book:
        assert len(book.frame(GAUGES, Ruled())[0]) == 3


def test_a_book_that_cannot_be_opened_is_told(tmp_path: Path, house: House) -> None:
    """A folder in its place is named, and not removed."""
    (tmp_path / "book.sqlite").mkdir()
    with pytest.raises(BookError, match="cannot be opened"):
        Book(tmp_path / "book.sqlite", house.kinds)


def test_a_lost_book_is_made_anew(room: Room) -> None:
    """Backup is a copy of originals/: without the book everything comes back."""
    room.run(("lab.csv", csv(*ROWS)))
    outputs = room.bytes()
    (room.out / "book.sqlite").unlink()
    result = room.run()
    assert set(by_vessel(result)) == {"C-1", "C-2", "C-3"} and room.bytes() == outputs


def test_findings_of_entry_survive_as_text() -> None:
    """A finding goes through the book unchanged."""
    finding = Finding(
        "a.b",
        "review",
        "Row 3: «é»",
        "C-1",
        "",
        (),
        "temperature",
        "72",
        "20",
        "§ 5",
        "mend",
        place=Place("f", "s", "C3"),
    )
    assert unpack_finding(pack_finding(finding)) == finding
    assert unpack_finding(pack_finding(Finding("a.b", "note", "m"))) == Finding("a.b", "note", "m")


# --- columns as bytes -----------------------------------------------------------------------------------


@given(st.lists(st.one_of(st.none(), st.floats(allow_nan=False))))
def test_numbers_survive_packing(values: list[float | None]) -> None:
    """To the bit, missing ones as NaN."""
    column = Column("x")
    back = unpack(column, pack(column, values))
    assert [None if np.isnan(v) else v for v in back.tolist()] == values


@given(st.lists(st.one_of(st.none(), st.datetimes().map(lambda d: d.replace(microsecond=0).isoformat()))))
def test_moments_survive_packing(values: list[str | None]) -> None:
    """To the second, missing ones as NaT; a day is its midnight."""
    column = Column("x", "moment")
    back = as_series(column, unpack(column, pack(column, values)))
    assert [None if pd.isna(v) else v.isoformat() for v in back.dt.to_pydatetime()] == values


@given(st.lists(st.one_of(st.none(), st.text(st.characters(exclude_categories=("Cs",))))))
def test_texts_survive_packing(values: list[str | None]) -> None:
    """Every letter; missing is not the empty text."""
    column = Column("x", "text")
    assert unpack(column, pack(column, values)) == values


def test_columns_that_a_sheet_lacks_are_missing() -> None:
    """Sheets with and without a column are joined in order."""
    column = Column("x")
    joined = join(column, [unpack(column, pack(column, [1.0])), missing(column, 2)])
    assert joined[0] == 1.0 and np.isnan(joined[1:]).all()
    text = Column("x", "text")
    assert join(text, [["a"], missing(text, 1)]) == ["a", None]
    day = Column("x", "date")
    assert np.isnat(missing(day, 2)).all()


def test_kinds_are_kept_apart(path: Path, house: House) -> None:
    """Facts of one kind never show in another's frame; ids run through."""
    with Book(path, house.kinds) as book:
        enter(book, house, 1, *ROWS)
        item = judged(house, "stock.csv", csv("C-1,2020-01-05", header="Cask,Fill date"))
        book.enter(line(2, "stock.csv"), item.sheets, [], [])
        assert book.frame(STOCK, Ruled())[0]["facts"].tolist() == [(4,)]
        assert len(book.frame(GAUGES, Ruled())[0]) == 3


def test_a_killed_books_log_is_never_replayed_into_a_new_book(
    room: Room, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What SQLite left beside an outdated book goes with it."""
    room.run(("lab.csv", csv(*ROWS)))
    path = room.out / "book.sqlite"
    with Book(path, [GAUGES, STOCK, FILLS, RULINGS]) as book:
        book.remember_findings({"F-AAAAAAAAAA": {"message": "from the killed process"}})
        kept = {end: path.with_name(path.name + end).read_bytes() for end in ("", "-wal", "-shm")}
    assert kept["-wal"]
    for end, data in kept.items():
        path.with_name(path.name + end).write_bytes(data)
    monkeypatch.setattr(book_module, "VERSION", book_module.VERSION + 1)
    result = room.run()
    assert set(by_vessel(result)) == {"C-1", "C-2", "C-3"}
    with sqlite3.connect(path) as sql:
        assert sql.execute("SELECT COUNT(*) FROM known_findings").fetchone() == (0,)
        assert sql.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    sql.close()
