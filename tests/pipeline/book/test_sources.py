"""From a fact back to its row: told by where sheets begin, the same as a search through everything."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.book.book import Book
from pipeline.book.rulings import standing
from pipeline.book.sources import Sources, Spot
from pipeline.contract.findings import Finding, Place, finding_id
from pipeline.site.house import House
from tests.pipeline.kit import ROWS, Room, csv, finding, xlsx

HEAD = ["Cask", "Date", "Reading", "Temp (°C)", "Batch"]
STOCK = b"Cask,As of,Volume (L)\nC-1,2026-03-01,200\nC-2,2026-03-01,190\n"


@pytest.fixture
def ruled(room: Room) -> Room:
    """Two kinds, a workbook of two sheets, an empty sheet, rulings that correct and one that is withdrawn."""
    first = [HEAD, ["C-1", "2026-03-02", 120, 55, "B-1"], ["C-2", "2026-03-02", 118, 21, "B-1"]]
    second = [HEAD, ["C-7", "2026-03-03", 119, 56, "B-2"]]
    result = room.run(("lab.xlsx", xlsx({"Lab": first, "Later": second, "None": [HEAD]})), ("stock.csv", STOCK))
    hot = sorted((f for f in result.worked.findings if f.code == "toy.hot"), key=lambda f: f.subject)
    room.rule(*(f"{f.id};correct;20;r;mb;2026-05-30" for f in hot))
    room.run(("more.csv", csv(*ROWS[1:])))
    room.rule(f"{hot[1].id};accept;;it was hot;mb;2026-05-31", name="again.csv")
    return room


def opened(room: Room, house: House) -> tuple[Book, Sources]:
    book = Book(room.out / "book.sqlite", house.kinds, only_read=True)
    rulings = standing(book, house.site)
    for kind in house.kinds:
        book.frame(kind, rulings.ruled)
    return book, Sources(book, rulings.ruled)


def searched(book: Book, fact: int) -> Spot | None:
    """Where a fact stands, by looking through everything that is loaded."""
    sheets = {info.sheet: info for info in book.sheets()}
    for kind, loaded in book.loaded.items():
        for at in np.flatnonzero(loaded.fact == fact).tolist():
            return Spot(kind, loaded.key[at], sheets[loaded.sheet[at]], loaded.row[at], loaded.number[at])
    return None


def test_every_fact_is_found_where_a_search_finds_it(ruled: Room, house: House) -> None:
    """Facts of sheets and those that rulings made; an id that nothing has is a KeyError."""
    book, sources = opened(ruled, house)
    with book:
        last = max(int(loaded.fact.max()) for loaded in book.loaded.values() if len(loaded.fact))
        found = {fact: searched(book, fact) for fact in range(last + 2)}
        made = [fact for loaded in book.loaded.values() for fact in loaded.fact[loaded.copied >= 0].tolist()]
        assert len(made) == 2 and sum(spot is not None for spot in found.values()) == last
        for fact, spot in found.items():
            if spot is None:
                with pytest.raises(KeyError):
                    sources.spot(fact)
            else:
                assert sources.spot(fact) == spot
                assert sources.natural_key(fact) == f"{spot.kind}:{spot.key}"
                assert sources.newest([fact, 1]) == max(spot.number, 1)


def test_what_a_ruling_set_is_told_and_what_was_taken_back_is_not(ruled: Room, house: House) -> None:
    """The cell of the ruling in force; where the last ruling let the figure stand, the cell of the sheet."""
    book, sources = opened(ruled, house)
    with book:
        (loaded,) = [loaded for loaded in book.loaded.values() if (loaded.copied >= 0).any()]
        one, other = loaded.fact[loaded.copied >= 0].tolist()
        assert str(sources.place(one, "temperature_degC")) == "rulings.csv · C2"
        assert str(sources.place(other, "temperature_degC")) == "lab.xlsx · Later · D2"
        assert sources.places([(1,), (one,), (2,)], "temperature") == ["lab.xlsx · Lab · D2", "rulings.csv · C2",
                                                                     "lab.xlsx · Lab · D3"]  # fmt: skip


def test_a_key_is_restated_by_a_later_file_alone(ruled: Room, house: House) -> None:
    """more.csv, the fourth line of the journal, states C-2 again; what rulings made states nothing."""
    book, sources = opened(ruled, house)
    with book:
        by_name = {line["name"]: line["number"] for line in book.files()}
        second, first = 2, 1
        assert sources.spot(second).key.startswith("c-2")
        assert sources.restated(second, by_name["more.csv"] - 1)
        assert not sources.restated(second, by_name["more.csv"])
        assert not sources.restated(first, by_name["lab.xlsx"])


def test_a_completed_finding_is_the_finding_with_id_and_place() -> None:
    """All else stays, and the id is the pinned one."""
    said = Finding("toy.hot", "stop", "Too hot.", "C-1", "B-1", (3, 4), "temperature", "55", "40", "rule", "cool it")
    name = finding_id(said.code, "c-1", ["gauges:c-1"], said.column)
    assert name == "F-NYRYBLXKOZ"
    made = said.completed(name, Place("lab.csv", "", "D2"))
    assert made == Finding(
        *("toy.hot", "stop", "Too hot.", "C-1", "B-1", (3, 4), "temperature", "55", "40", "rule", "cool it"),
        id=name,
        place=Place("lab.csv", "", "D2"),
    )
    assert said.id == "" and said.place == Place()


def test_findings_of_entry_come_once_however_often_they_are_asked_for(room: Room, house: House) -> None:
    """What is entered later is added, in order of the journal."""
    room.run(("lab.csv", csv("C-1,soon,120,20,B-1", ROWS[1])))
    path = room.out / "book.sqlite"
    with Book(path, house.kinds, only_read=True) as before:
        numbers = [number for number, _ in before.entry_findings()]
        assert before.entry_findings() == before.entry_findings() and len(numbers) == 1
    with Book(path, house.kinds) as book:
        assert len(book.entry_findings()) == 1
        line = {**book.files()[-1], "number": book.last_number + 1, "name": "more.csv", "sha256": "0" * 64}
        book.enter(line, [], [], [Finding("sheet.read-note", "note", "A note.")])
        assert [said.code for _, said in book.entry_findings()] == ["sheet.unusable-row", "sheet.read-note"]
        assert [number for number, _ in book.entry_findings()] == [*numbers, line["number"]]


def test_known_findings_are_written_where_they_changed(room: Room, house: House) -> None:
    """What stands as it did is not written again; what changed is, and what is gone stays known."""
    result = room.run(("lab.csv", csv("C-1,2026-03-02,120,55,B-1", ROWS[1])))
    hot = finding(result, "toy.hot")
    with Book(room.out / "book.sqlite", house.kinds) as book:
        about = book.known_finding(hot.id)
        assert about is not None
        before = book.sql.total_changes
        book.remember_findings({hot.id: about})
        assert book.sql.total_changes == before
        book.remember_findings({hot.id: {**about, "message": "Cooler now."}, "F-NEW": about})
        assert book.sql.total_changes == before + 2
        book.remember_findings({})
        changed = book.known_finding(hot.id)
        assert changed is not None and changed["message"] == "Cooler now."
