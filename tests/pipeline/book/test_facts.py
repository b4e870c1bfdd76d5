"""Which facts count: corrections, withdrawals, repeats and disputes, over whole runs."""

from __future__ import annotations

import random
import unicodedata

import pandas as pd
import pytest

from pipeline.runs.run import rebuild
from tests.pipeline.kit import HEADER, ROWS, Room, by_vessel, csv, finding, have, xlsx

VOID = HEADER + ",Void"


def test_facts_come_as_a_declared_frame_with_provenance(room: Room) -> None:
    """Each row carries its own fact; columns are typed and in canonical units."""
    result = room.run(("lab.csv", csv(*ROWS)))
    frame = result.worked.frames["gauges"]
    assert frame["facts"].tolist() == [(1,), (2,), (3,)]
    assert str(frame["temperature_degC"].dtype) == "float64" and str(frame["vessel"].dtype) == "str"
    assert str(frame["taken_at"].dtype) == "datetime64[us]" and str(frame["taken_at_timed"].dtype) == "boolean"
    assert frame["taken_at_timed"].tolist() == [False] * 3 and frame["taken_at_utc"].isna().all()


def test_a_kind_of_which_nothing_came_is_an_empty_frame(room: Room) -> None:
    """Empty, with its columns and dtypes."""
    result = room.run(("lab.csv", csv(*ROWS)))
    stock = result.worked.frames["stock"]
    assert len(stock) == 0 and str(stock["as_of"].dtype) == "datetime64[us]" and "facts" in stock


def test_the_same_bytes_count_once_under_any_name(room: Room) -> None:
    """Dropped again under the same and under another name: known, and nothing is counted twice."""
    first = room.run(("lab.csv", csv(*ROWS)))
    again = room.run(("lab.csv", csv(*ROWS)), ("copy.csv", csv(*ROWS)))
    assert [(fate.name, fate.outcome) for fate in again.fates] == [("copy.csv", "known"), ("lab.csv", "known")]
    assert "as lab.csv (no. 2)" in again.fates[0].reason
    pd.testing.assert_frame_equal(first.worked.frames["gauges"], again.worked.frames["gauges"])
    assert again.worked.findings == [] and not (room.inbox / "copy.csv").exists()
    assert [line["outcome"] for line in room.journal()] == ["settings", "taken"]


def test_the_same_bytes_twice_in_one_run(room: Room) -> None:
    """Two names at once: one is taken, the other known."""
    result = room.run(("a.csv", csv(*ROWS)), ("b.csv", csv(*ROWS)))
    assert [fate.outcome for fate in result.fates] == ["taken", "known"]
    assert len(result.worked.frames["gauges"]) == 3


def test_a_later_file_corrects_in_the_columns_that_it_has(room: Room) -> None:
    """What its sheet has no column for holds as it was said before, and is walked back to the cell that said it."""
    room.run(("lab.csv", csv("C-1,2026-03-02,120,20,B-1,dusty", header=HEADER + ",Remark")))
    result = room.run(("lab 2.csv", csv(" C-1 ,2026-03-02,121.5,21", header="Cask,Date,Reading,Temp (°C)")))
    assert by_vessel(result) == {"C-1": 121.5} and by_vessel(result, "batch") == {"C-1": "B-1"}
    assert by_vessel(result, "remark") == {"C-1": "dusty"}
    fact = result.worked.frames["gauges"]["facts"].iloc[0][0]
    sources = result.worked.sources
    assert str(sources.place(fact, "reading")) == "lab 2.csv · C2"
    assert str(sources.place(fact, "remark")) == "lab.csv · F2" and sources.states(fact, "batch")
    assert [file["file"] for file in sources.files([fact])] == ["lab.csv", "lab 2.csv"]
    said = finding(result, "sheet.changed-by-another-file")
    assert said.severity == "review" and "reading 120 (lab.csv) → 121.5" in said.message
    assert (said.observed, said.expected, said.place.file) == ("121.5", "120", "lab 2.csv")
    assert have(result, "sheet.row-corrected") == []
    rebuilt = rebuild(room.out, now=room.now).worked.frames["gauges"]
    pd.testing.assert_frame_equal(rebuilt, result.worked.frames["gauges"])


def test_an_empty_cell_takes_a_value_away_and_a_person_sees_it(room: Room) -> None:
    """An empty cell under a header that is there says nothing; a file that grows does not close the finding."""
    room.run(("lab.csv", csv("C-1,2026-03-02,120,20,B-1", ROWS[1])))
    result = room.run(("lab.csv", csv("C-1,2026-03-02,120,20,", ROWS[1])))
    assert pd.isna(by_vessel(result, "batch")["C-1"])
    said = finding(result, "sheet.value-taken-away")
    assert said.severity == "review" and "batch B-1 (lab.csv) → nothing" in said.message
    again = room.run(("lab.csv", csv("C-1,2026-03-02,120,20,", *ROWS[1:])))
    assert finding(again, "sheet.value-taken-away").id == said.id, "a file that grew settles nothing"
    filled = room.run(("lab.csv", csv("C-1,2026-03-02,120,20,B-7", *ROWS[1:])))
    assert by_vessel(filled, "batch")["C-1"] == "B-7" and have(filled, "sheet.value-taken-away") == []


def test_a_column_emptied_throughout_is_one_finding(room: Room) -> None:
    """Fifty rows that lose one column are one sentence, which names the first."""
    rows = [f"C-{n},2026-03-02,120,20" for n in range(50)]
    room.run(("lab.csv", csv(*(f"{row},B-1" for row in rows))))
    result = room.run(("lab.csv", csv(*(f"{row}," for row in rows))))
    said = finding(result, "sheet.value-taken-away")
    assert "likewise in 49 rows more" in said.message and len(said.facts) == 50


def test_a_person_who_mends_a_file_is_not_asked(room: Room) -> None:
    """The same name again with another figure is a correction: a note. Who said otherwise in another file is asked."""
    room.run(("lab.csv", csv(ROWS[0])))
    result = room.run(("lab.csv", csv("C-1,2026-03-02,121,20,B-1")))
    assert finding(result, "sheet.row-corrected").severity == "note"
    room.run(("other.csv", csv("C-1,2026-03-02,122,20,B-1")))
    result = room.run(("other.csv", csv("C-1,2026-03-02,122,20,B-1", ROWS[1])))
    said = finding(result, "sheet.changed-by-another-file")
    assert "reading 121 (lab.csv) → 122" in said.message, "stated again in the same file, and still asked"


def test_a_new_figure_under_an_old_word_is_asked_about(room: Room) -> None:
    """A mended file that lacks the column which says how to read its figure leaves that as it was, and says so."""
    room.run(("lab.csv", csv("C-1,2026-03-02,120,20,B-1,meter", header=HEADER + ",Method")))
    result = room.run(("lab.csv", csv("C-1,2026-03-02,121,20,B-1")))
    assert by_vessel(result, "method") == {"C-1": "meter"}
    said = finding(result, "sheet.row-corrected")
    assert said.severity == "review" and "lacks method (meter by lab.csv)" in said.message


@pytest.mark.parametrize("names", [("a.csv", "z.csv"), ("z.csv", "a.csv")])
def test_the_alphabet_is_no_order(room: Room, names: tuple[str, str]) -> None:
    """Two files dropped at one moment that differ on a row: none counts, whichever name comes first, until ruled on."""
    first, second = csv("C-1,2026-03-02,120,20,B-1", ROWS[1]), csv("C-1,2026-03-02,121,20,B-1")
    result = room.run((names[0], first), (names[1], second))
    assert by_vessel(result) == {"C-2": 118.0}
    said = finding(result, "sheet.key-disputed")
    assert said.severity == "stop" and "120" in said.message and "121" in said.message
    assert "a.csv and z.csv" in said.message and said.place.file == "a.csv"
    kept = {names[0]: 120.0, names[1]: 121.0}["a.csv"]
    ruled = room.rule(f"{said.id};accept;;it is the right one;mb;2026-05-30")
    assert by_vessel(ruled)["C-1"] == kept and [f for f in have(ruled, "sheet.key-disputed") if f.is_open] == []


def test_files_dropped_together_that_say_the_same_or_nothing_are_no_dispute(room: Room) -> None:
    """Equal rows count once; what one sheet has no column for, the other fills in."""
    bare = csv("C-1,2026-03-02,120,20", header="Cask,Date,Reading,Temp (°C)")
    result = room.run(("a.csv", csv(ROWS[0])), ("b.csv", bare), ("c.csv", csv("C-1,2026-03-02,120.0,20,")))
    assert by_vessel(result) == {"C-1": 120.0} and have(result, "sheet.key-disputed") == []


def test_a_dispute_is_settled_by_dropping_again(room: Room) -> None:
    """The file that was wrong comes again without the row, or both come again with what tells the rows apart."""
    room.run(("a.csv", csv(ROWS[0], ROWS[1])), ("b.csv", csv("C-1,2026-03-02,121,20,B-1")))
    result = room.run(("a.csv", csv(ROWS[1])))
    assert by_vessel(result) == {"C-1": 121.0, "C-2": 118.0} and have(result, "sheet.key-disputed") == []
    result = room.run(("b.csv", csv("C-1,2026-03-02 15:10,121,20,B-1")))
    assert have(result, "sheet.key-disputed") == []


def test_two_readings_of_a_day_without_a_time_are_told_apart(room: Room) -> None:
    """Two files that say themselves that they speak of different readings: neither counts until a time is given."""
    header = HEADER + ",Method"
    room.run(("morning.csv", csv("V-3,2026-03-02,124,20,B-1,glass", header=header)))
    result = room.run(("evening.csv", csv("V-3,2026-03-02,92,20,B-1,meter", header=header)))
    assert by_vessel(result) == {}
    said = finding(result, "sheet.key-disputed")
    assert "124 against 92" in said.message and "time of day" in said.remedy
    room.run(("morning.csv", csv("V-3,2026-03-02 08:00,124,20,B-1,glass", header=header)))
    result = room.run(("evening.csv", csv("V-3,2026-03-02 17:00,92,20,B-1,meter", header=header)))
    assert sorted(result.worked.frames["gauges"]["reading"]) == [92.0, 124.0]
    assert have(result, "sheet.key-disputed") == []


def test_order_of_taking_decides_not_the_name(room: Room) -> None:
    """Journal order counts: a.csv dropped after z.csv corrects it."""
    room.run(("z.csv", csv("C-1,2026-03-02,120,20,")))
    result = room.run(("a.csv", csv("C-1,2026-03-02,121,20,")))
    assert by_vessel(result) == {"C-1": 121.0}


def test_a_later_file_that_says_the_same_is_no_finding(room: Room) -> None:
    """Restating a row is silent, also with a different column order and a remark of nothing."""
    room.run(("lab.csv", csv(*ROWS)))
    result = room.run(("lab 2.csv", csv("2026-03-02,C-1,20,120.0,B-1", header="Date,Cask,Temp (°C),Reading,Batch")))
    assert result.worked.findings == [] and len(result.worked.frames["gauges"]) == 3


def test_keys_with_a_time_and_without_are_two(room: Room) -> None:
    """A second reading on a day has a key of its own by its time or number."""
    rows = ["C-1,2026-03-02,120,20,,", "C-1,2026-03-02 09:40,119,20,,", "C-1,2026-03-02,118,20,,2"]
    result = room.run(("lab.csv", csv(*rows, header=HEADER + ",Rep")))
    assert result.worked.frames["gauges"]["reading"].tolist() == [120.0, 119.0, 118.0]
    assert result.worked.findings == []


def test_void_withdraws_a_fact(room: Room) -> None:
    """The key with void = yes: the fact is gone from the frames, said in a note, and stays in the book."""
    room.run(("lab.csv", csv(*ROWS)))
    result = room.run(("void.csv", csv("C-1,2026-03-02,,,,yes", header=VOID)))
    assert set(by_vessel(result)) == {"C-2", "C-3"}
    assert "is withdrawn" in finding(result, "sheet.row-corrected").message
    again = room.run(("lab 3.csv", csv("C-1,2026-03-02,125,20,B-1")))
    assert by_vessel(again)["C-1"] == 125.0, "a later row with the key brings it back"


def test_void_of_a_key_that_nobody_stated_is_nothing(room: Room) -> None:
    """Withdrawing what is not there adds no row."""
    result = room.run(("void.csv", csv("C-9,2026-03-02,120,20,,yes", ROWS[0] + ",", header=VOID)))
    assert set(by_vessel(result)) == {"C-1"}


def test_rows_gone_from_a_file_of_the_same_name_are_listed(room: Room) -> None:
    """A file with the same name as an earlier one lists the rows that are gone, and deletes nothing."""
    room.run(("lab.csv", csv(*ROWS)))
    result = room.run(("LAB.csv", csv(ROWS[0], "C-4,2026-03-09,119,20,B-2")))
    assert set(by_vessel(result)) == {"C-1", "C-2", "C-3", "C-4"}
    said = finding(result, "sheet.rows-gone")
    assert said.severity == "note" and "C-2" in said.message and "C-3" in said.message and "C-1" not in said.message
    assert "still count" in said.message and "void" in said.remedy
    other = room.run(("other.csv", csv("C-5,2026-03-09,119,20,B-2")))
    assert len(have(other, "sheet.rows-gone")) == 1, "a file of another name lists nothing of its own"


def test_names_of_files_compare_in_nfc(room: Room) -> None:
    """A name written with a combining accent is the same file's name."""
    name = "été.csv"
    room.run((unicodedata.normalize("NFC", name), csv(*ROWS)))
    result = room.run((unicodedata.normalize("NFD", name), csv(*ROWS[:2])))
    assert "C-3" in finding(result, "sheet.rows-gone").message


def test_equal_rows_of_one_file_count_once_with_a_note(room: Room) -> None:
    """One counts; the note names both rows."""
    result = room.run(("lab.csv", csv(ROWS[0], ROWS[1], "c-1,2026-03-02,120.0,20,B-1")))
    assert by_vessel(result) == {"C-1": 120.0, "C-2": 118.0}
    said = finding(result, "sheet.row-repeated")
    assert said.severity == "note" and "Rows 2, 4" in said.message


def test_unequal_rows_of_one_file_neither_count(room: Room) -> None:
    """A stop finding with both values; the rest of the file counts."""
    result = room.run(("lab.csv", csv(ROWS[0], ROWS[1], "C-1,2026-03-02,125,20,B-1")))
    assert by_vessel(result) == {"C-2": 118.0}
    said = finding(result, "sheet.key-disputed")
    assert said.severity == "stop" and said.subject == "C-1" and "120 against 125" in said.message
    assert said.place.cell == "C2" and "None counts until it is ruled on" in said.message


def test_rows_disputed_across_the_sheets_of_one_workbook(room: Room) -> None:
    """Two sheets of one file are one file."""
    head = ["Cask", "Date", "Reading", "Temp (°C)"]
    book = xlsx({"A": [head, ["C-1", "2026-03-02", 120, 20]], "B": [head, ["C-1", "2026-03-02", 121, 20]]})
    result = room.run(("lab.xlsx", book))
    assert len(result.worked.frames["gauges"]) == 0 and have(result, "sheet.key-disputed")


def test_a_void_row_beside_its_fact_in_one_file_is_a_dispute(room: Room) -> None:
    """One file that states a row and withdraws it says two things."""
    rows = [ROWS[0] + ",", ROWS[1] + ",", ROWS[0] + ",yes"]
    result = room.run(("lab.csv", csv(*rows, header=VOID)))
    assert set(by_vessel(result)) == {"C-2"} and have(result, "sheet.key-disputed")


def test_a_disputed_row_is_settled_by_a_later_file(room: Room) -> None:
    """A mended file states the key once; that counts and the dispute is gone."""
    room.run(("lab.csv", csv(ROWS[0], "C-1,2026-03-02,125,20,B-1")))
    result = room.run(("lab.csv", csv("C-1,2026-03-02,123,20,B-1")))
    assert by_vessel(result) == {"C-1": 123.0}
    assert have(result, "sheet.key-disputed") == []


def test_names_that_differ_only_in_case_become_one(room: Room) -> None:
    """All frames get the spelling that came first, across files and kinds."""
    room.run(("lab.csv", csv("c-1,2026-03-02,120,20,b-1", "C-1,2026-03-05,121,20,B-1")))
    result = room.run(("stock.csv", csv("C-1,2020-01-05", header="Cask,Fill date")))
    assert result.worked.frames["gauges"]["vessel"].tolist() == ["c-1", "c-1"]
    assert result.worked.frames["gauges"]["batch"].tolist() == ["b-1", "b-1"]
    assert result.worked.frames["stock"]["cask"].tolist() == ["c-1"]
    assert result.worked.frames["sums"]["rows"].tolist() == [2]


def test_moments_sort_with_a_bare_day_before_that_days_timed_rows(room: Room) -> None:
    """A date without time is that day, before its timed rows."""
    rows = ["C-1,2026-03-02 00:30,3,20,", "C-1,2026-03-02,2,20,", "C-1,2026-03-01 23:59,1,20,"]
    frame = room.run(("lab.csv", csv(*rows))).worked.frames["gauges"]
    order = frame.sort_values(["taken_at", "taken_at_timed"])
    assert order["reading"].tolist() == [1.0, 2.0, 3.0]


def test_a_blank_day_of_stock_is_the_day_of_taking_in_the_sites_zone(room: Room) -> None:
    """as_of of a file taken at 01:00 UTC in New York is the day before."""
    room.set_site('timezone = "America/New_York"\n')
    room.now = room.now.replace(hour=0)  # the run is an hour later
    result = room.run(("stock.csv", csv("C-1,2020-01-05", header="Cask,Fill date")))
    assert str(result.worked.frames["stock"]["as_of"].iloc[0].date()) == "2026-05-31"


def test_the_book_date_is_the_latest_day_of_the_facts_that_count(room: Room) -> None:
    """Latest measuring or stock day, by the facts that are in force; None for an empty book."""
    assert room.run().worked.site.book_date is None
    result = room.run(("lab.csv", csv(*ROWS, "C-9,2026-05-31,1,20,")))
    assert str(result.worked.site.book_date) == "2026-05-31"
    result = room.run(("void.csv", csv("C-9,2026-05-31,,,,yes", header=VOID)))
    assert str(result.worked.site.book_date) == "2026-03-05"


@pytest.mark.long
@pytest.mark.parametrize("seed", range(6))
def test_the_order_of_rows_never_changes_what_frames_hold(room: Room, seed: int) -> None:
    """Facts and stages give the same rows and findings, in whatever order a file states them."""
    chance = random.Random(seed)
    rows = [
        f"C-{n},2026-03-{n % 28 + 1:02d},{chance.uniform(5, 150):.1f},{chance.uniform(5, 50):.1f},B-{n % 4}"
        for n in range(40)
    ]
    rows += [rows[3], rows[4].replace("B-0", "B-3")]
    shuffled = list(rows)
    chance.shuffle(shuffled)
    room.run(("lab.csv", csv(*rows)))
    one = room.run()
    folder = room.inbox.parent / "again"
    folder.mkdir()
    other_room = Room(folder)
    other = other_room.run(("lab.csv", csv(*shuffled)))
    for name, frame in one.worked.frames.items():
        keys = [column for column in ("vessel", "batch", "taken_at") if column in frame.columns]
        left = frame.drop(columns="facts").sort_values(keys, ignore_index=True) if keys else frame
        right = other.worked.frames[name].drop(columns="facts")
        right = right.sort_values(keys, ignore_index=True) if keys else other.worked.frames[name]
        pd.testing.assert_frame_equal(left, right)
    assert sorted((f.id, f.code) for f in one.worked.findings) == sorted((f.id, f.code) for f in other.worked.findings)
