"""Publishing: only what changed is written, what is stale goes, earlier versions stay, failures are findings."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from pipeline.contract.frames import Frame
from pipeline.contract.stages import Report, report
from pipeline.outputs import publish
from pipeline.outputs.replacing import NotPublished
from pipeline.runs.run import rebuild
from tests.pipeline import toy_plugin
from tests.pipeline.kit import HEADER, ROWS, Room, csv, finding, have

VOID = HEADER + ",Void"


@pytest.fixture
def change(monkeypatch: pytest.MonkeyPatch) -> Callable[[str, Callable[..., Any]], None]:
    """Gives a report of the toy plugin another function."""

    def swap(name: str, function: Callable[..., Any]) -> None:
        old: Report = getattr(toy_plugin, name)
        made = report(path=old.path, per=old.per, last=old.last, earlier=old.earlier)(function)
        monkeypatch.setattr(toy_plugin, name, made)

    return swap


def times(room: Room) -> dict[str, float]:
    return {name: (room.out / name).stat().st_mtime for name in room.bytes()}


def earlier(room: Room, batch: str = "B-1") -> list[str]:
    folder = room.out / "batches" / batch / "earlier"
    return sorted(path.name for path in folder.iterdir()) if folder.exists() else []


def fails(**_: Any) -> bytes:
    raise ZeroDivisionError("a stone")


# --- what is written ------------------------------------------------------------------------------------


def test_unchanged_files_are_not_written_again(room: Room) -> None:
    """Only files whose bytes changed get a new time."""
    room.run(("lab.csv", csv(*ROWS)))
    for name in room.bytes():
        os.utime(room.out / name, (1_000_000_000, 1_000_000_000))
    result = room.run(("stock.csv", csv("C-1,2020-01-05", header="Cask,Fill date")))
    changed = {name for name, time in times(room).items() if time != 1_000_000_000}
    assert changed == {"index.html", "door.csv"} and result.changed == 1


def test_a_batch_that_is_gone_takes_its_files_along(room: Room) -> None:
    """A file whose value no frame has any more is removed; the others stay."""
    room.run(("lab.csv", csv(*ROWS)))
    assert "batches/B-2/record.json" in room.bytes()
    room.run(("void.csv", csv("C-3,2026-03-05,,,,yes", header=VOID)))
    assert "batches/B-2/record.json" not in room.bytes() and "batches/B-1/record.json" in room.bytes()


def test_a_stale_file_that_somebody_changed_is_left(room: Room) -> None:
    """What is not as it was written belongs to whoever changed it."""
    room.run(("lab.csv", csv(*ROWS)))
    (room.out / "batches" / "B-2" / "record.json").write_bytes(b"my own notes")
    room.run(("void.csv", csv("C-3,2026-03-05,,,,yes", header=VOID)))
    assert (room.out / "batches" / "B-2" / "record.json").read_bytes() == b"my own notes"


def test_files_of_others_in_the_outputs_are_left(room: Room) -> None:
    """Only what was published is ever removed."""
    room.out.mkdir()
    (room.out / "README.md").write_text("mine")
    room.run(("lab.csv", csv(*ROWS)))
    room.run()
    assert (room.out / "README.md").read_text() == "mine"


def test_a_deleted_output_is_written_again(room: Room) -> None:
    """Outputs are made whole at every run."""
    room.run(("lab.csv", csv(*ROWS)))
    before = room.bytes()
    for name in before:
        (room.out / name).unlink()
    room.run()
    assert room.bytes() == before


def test_a_report_that_gives_none_makes_no_file(room: Room, change: Callable[..., None]) -> None:
    """None is no file, and takes away the file that an earlier run made."""
    room.run(("lab.csv", csv(*ROWS)))
    assert "warm.csv" in room.bytes()
    change("warm_file", lambda warm: None)
    room.run()
    assert "warm.csv" not in room.bytes()


def test_the_index_is_replaced_after_all_others(room: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    """Who reads the index finds what it speaks of."""
    order: list[str] = []
    replace_file = publish.replace_file

    def noted(folder: Path, path: str, data: bytes) -> bool:
        order.append(path)
        return replace_file(folder, path, data)

    monkeypatch.setattr(publish, "replace_file", noted)
    room.run(("lab.csv", csv(*ROWS)))
    assert order[-1] == "index.html" and order[0].startswith(("batches/", "warm"))
    assert order.index("open.json") > order.index("batches/B-2/record.json")


def test_names_that_no_disk_takes_are_cleaned(room: Room) -> None:
    """A batch called a/b or CON is one folder in the outputs, never outside."""
    rows = ["C-1,2026-03-02,120,20,../../B", "C-2,2026-03-02,118,21,CON", "C-3,2026-03-02,118,21,a/b"]
    room.run(("lab.csv", csv(*rows)))
    made = [name for name in room.bytes() if name.endswith("record.json")]
    assert len(made) == 3 and all(name.count("/") == 2 for name in made)
    assert not any(name.split("/")[1].casefold() == "con" for name in made)


# --- failures -------------------------------------------------------------------------------------------


def test_a_report_that_raises_leaves_the_earlier_file(room: Room, change: Callable[..., None]) -> None:
    """The earlier file stays, a finding and the index say so, the other reports are made."""
    room.run(("lab.csv", csv(*ROWS)))
    before = room.bytes()["warm.csv"]
    change("warm_file", lambda warm: fails())
    result = room.run(("more.csv", csv("C-4,2026-03-09,119,20,B-2")))
    said = finding(result, "report.failed")
    assert said.severity == "review" and said.subject == "warm.csv"
    assert "ZeroDivisionError: a stone" in said.message and "earlier file was left" in said.message
    after = room.bytes()
    assert after["warm.csv"] == before and b"119" not in before
    assert b"warm.csv could not be made" in after["index.html"] and "report.failed" in after["open.json"].decode()
    assert "C-4" in after["batches/B-2/record.json"].decode()


def test_a_file_left_by_a_report_that_raised_is_still_known(room: Room, change: Callable[..., None]) -> None:
    """Later it is replaced or removed like any other."""
    room.run(("lab.csv", csv(*ROWS)))
    change("toy_record_file", lambda toy_record: fails())
    room.run()
    change("toy_record_file", lambda toy_record: b"{}")
    room.run(("void.csv", csv("C-3,2026-03-05,,,,yes", header=VOID)))
    assert "batches/B-2/record.json" not in room.bytes()


def test_a_report_of_one_batch_that_raises_spares_the_others(room: Room, change: Callable[..., None]) -> None:
    """Each file is made alone."""

    def only_two(toy_record: Any) -> bytes:
        if toy_record["batch"] == "B-1":
            raise ValueError("not this one")
        return b"{}"

    change("toy_record_file", only_two)
    result = room.run(("lab.csv", csv(*ROWS)))
    assert finding(result, "report.failed").subject == "batches/B-1/record.json"
    assert room.bytes()["batches/B-2/record.json"] == b"{}"


def test_a_stage_that_fails_leaves_the_files_that_it_would_have_made(
    room: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A frame that is missing says nothing of batches: their earlier files stay, with a stop finding."""
    room.run(("lab.csv", csv(*ROWS)))
    before = room.bytes()

    def broken(warm: Any) -> Any:
        raise ZeroDivisionError("a stone")

    monkeypatch.setattr(toy_plugin, "add_up", replace(toy_plugin.add_up, function=broken))
    result = room.run()
    assert finding(result, "stage.failed").severity == "stop"
    assert room.bytes()["batches/B-1/record.json"] == before["batches/B-1/record.json"]
    monkeypatch.undo()


def test_a_report_that_asks_for_what_nobody_gives_is_a_finding(room: Room, change: Callable[..., None]) -> None:
    """A misspelt parameter is named."""
    change("warm_file", lambda worm: b"")
    assert "nothing gives worm" in finding(room.run(("lab.csv", csv(*ROWS))), "report.failed").message


def test_an_output_held_open_is_written_beside_with_a_finding(room: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    """The run goes on; the finding says what to do."""
    replace_file = publish.replace_file

    def held(folder: Path, path: str, data: bytes) -> bool:
        if path == "warm.csv":
            raise NotPublished(path, "warm.new.csv")
        return replace_file(folder, path, data)

    monkeypatch.setattr(publish, "replace_file", held)
    said = finding(room.run(("lab.csv", csv(*ROWS))), "outputs.held-open")
    assert said.severity == "review" and "warm.new.csv" in said.message and "run again" in said.remedy


# --- what reports get -----------------------------------------------------------------------------------


def test_a_report_per_batch_gets_the_rows_of_its_batch(room: Room, change: Callable[..., None]) -> None:
    """Frames with the column are cut, others come whole, the value is a parameter."""

    def shown(batch: str, warm: Any, gauges: Any, stock: Any, site: Any, run: Any, toy_record: Any) -> bytes:
        rows = [batch, len(warm), len(gauges), len(stock), toy_record["batch"], str(run.book_date), site.timezone]
        return json.dumps(rows).encode()

    change("toy_record_file", shown)
    room.run(("lab.csv", csv(*ROWS)), ("stock.csv", csv("C-1,2020-01-05", header="Cask,Fill date")))
    assert json.loads(room.bytes()["batches/B-1/record.json"]) == ["B-1", 2, 2, 1, "B-1", "2026-06-01", "UTC"]
    assert json.loads(room.bytes()["batches/B-2/record.json"])[:3] == ["B-2", 1, 1]


def test_documents_of_single_values_come_to_overviews_as_a_mapping(room: Room) -> None:
    """The index shows what each record says."""
    room.run(("lab.csv", csv(*ROWS)))
    assert b"B-1: reconciled\nB-2: reconciled" in room.bytes()["index.html"]


def test_a_frame_declared_by_a_built_in_is_not_published_as_a_sites(
    room: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    """published holds only the frames of the site's own plugins."""
    sums = Frame("sums", ("batch",), toy_plugin.SUMS.columns, publish=True)
    monkeypatch.setattr(toy_plugin, "add_up", replace(toy_plugin.add_up, frame=sums))
    seen = []
    monkeypatch.setattr(
        toy_plugin, "warm_file", report(path="warm.csv")(lambda published: seen.append(published) or b"x")
    )
    room.run(("lab.csv", csv(*ROWS)))
    assert seen == [{}]


def test_places_of_many_rows_are_those_of_each(room: Room) -> None:
    """The quick way to places gives what the slow one gives."""
    result = room.run(("lab.csv", csv(*ROWS)), ("more.csv", csv("C-4,2026-03-09,119,20,B-2")))
    warm, sources = result.worked.frames["warm"], result.worked.sources
    for column in ("reading", "temperature", "temperature_degC", "volume", ""):
        quick = sources.places(warm["facts"], column)
        assert quick == [str(sources.place(facts[0], column)) for facts in warm["facts"]]
    assert sources.files([1, 2, 4]) == [
        {"file": "lab.csv", "sha256": room.journal()[1]["sha256"], "sheet": "", "rows": [2, 3]},
        {"file": "more.csv", "sha256": room.journal()[2]["sha256"], "sheet": "", "rows": [2]},
    ]


def test_the_place_of_a_corrected_figure_is_the_ruling_in_lists_too(room: Room) -> None:
    """Quick places know rulings."""
    hot = finding(room.run(("lab.csv", csv("C-1,2026-03-02,120,55,B-1", ROWS[1]))), "toy.hot")
    result = room.rule(f"{hot.id};correct;20;r;mb;2026-05-30")
    facts = result.worked.frames["gauges"]["facts"]
    places = result.worked.sources.places(facts, "temperature")
    assert sorted(places) == ["lab.csv · D3", "rulings.csv · C2"]


# --- earlier versions -----------------------------------------------------------------------------------


def test_a_record_that_changes_keeps_the_earlier_and_says_what_changed(room: Room) -> None:
    """earlier/1.json is the version before; the finding lists figure, old, new and cause."""
    room.run(("lab.csv", csv(*ROWS)))
    before = room.bytes()["batches/B-1/record.json"]
    assert earlier(room) == []
    result = room.run(("more.csv", csv("C-1,2026-03-02,121,20,B-1")))
    assert earlier(room) == ["1.json"] and earlier(room, "B-2") == []
    assert (room.out / "batches/B-1/earlier/1.json").read_bytes() == before
    said = finding(result, "record.changed")
    assert said.subject == "B-1" and said.severity == "note" and "(reconciled)" in said.message
    assert "total 197 → 198" in said.message and "more.csv came" in said.message
    line = room.journal()[-1]
    assert line["outcome"] == "record" and line["name"] == "batches/B-1/record.json"


def test_a_record_that_changes_again_keeps_both(room: Room) -> None:
    """N counts up; the finding compares with the version before."""
    for reading in (120, 121, 122):
        result = room.run((f"lab {reading}.csv", csv(f"C-1,2026-03-02,{reading},20,B-1")))
    assert earlier(room) == ["1.json", "2.json"]
    assert "total 101 → 102" in finding(result, "record.changed").message
    assert room.run().changed == 0 and earlier(room) == ["1.json", "2.json"]


def test_other_versions_alone_are_no_change(room: Room, change: Callable[..., None]) -> None:
    """made_by is left out when records are compared."""
    room.run(("lab.csv", csv(*ROWS)))

    def newer(toy_record: Any) -> bytes:
        return json.dumps({**toy_record, "made_by": "toy 2"}, indent=1).encode() + b"\n"

    change("toy_record_file", newer)
    result = room.run(anew=True)
    assert result.changed == 2 and earlier(room) == [] and have(result, "record.changed") == []


def test_earlier_versions_come_back_from_the_originals(room: Room) -> None:
    """Deleted, or on another machine: a rebuild restores them, byte for byte."""
    room.run(("lab.csv", csv(*ROWS)))
    room.run(("more.csv", csv("C-1,2026-03-02,121,20,B-1")))
    before = room.bytes()
    (room.out / "batches/B-1/earlier/1.json").unlink()
    result = rebuild(room.out, now=room.now)
    assert room.bytes() == before and finding(result, "record.changed")


def test_the_change_can_be_accepted(room: Room) -> None:
    """A reviewer may rule on it like on any finding."""
    room.run(("lab.csv", csv(*ROWS)))
    said = finding(room.run(("more.csv", csv("C-1,2026-03-02,121,20,B-1"))), "record.changed")
    result = room.rule(f"{said.id};accept;;the late reading is right;mb;2026-05-30")
    assert not finding(result, "record.changed").is_open


def test_a_record_that_somebody_spoilt_is_made_anew(room: Room) -> None:
    """A file that is no JSON any more stops nothing; it is named once, and what lay there is kept apart."""
    room.run(("lab.csv", csv(*ROWS)))
    before = room.bytes()
    (room.out / "batches/B-1/record.json").write_bytes(b'{"batch": "B-')
    result = room.run()
    assert any("batches/B-1/record.json was not as vatting last wrote it" in said for said in result.problems)
    assert [path.read_bytes() for path in (room.out / "edited").iterdir()] == [b'{"batch": "B-']
    shutil.rmtree(room.out / "edited")
    assert room.run().problems == [] and room.bytes() == before and have(result, "record.changed") == []


def test_a_record_changed_by_hand_is_never_archived_as_ours(room: Room) -> None:
    """Even where the figures change in the same run: the journal keeps no version that vatting did not write."""
    room.run(("lab.csv", csv(*ROWS)))
    path = room.out / "batches/B-1/record.json"
    ours = path.read_bytes()
    path.write_bytes(ours.replace(b"197.0", b"999.0"))
    assert path.read_bytes() != ours
    room.run(("more.csv", csv("C-1,2026-03-02,121,20,B-1")))
    assert [line for line in room.journal() if line["outcome"] == "record"] == []
    assert not (path.parent / "earlier").exists() and b"999.0" not in path.read_bytes()


def test_a_process_that_died_while_writing_is_no_hand(room: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    """What it wrote and could not note is known to be ours, whatever comes with the next run."""
    room.run(("lab.csv", csv(*ROWS)))
    room.drop("more.csv", csv("C-1,2026-03-02,121,20,B-1"))
    with monkeypatch.context() as patch:
        patch.setattr("pipeline.book.book.Book.add_published", lambda *_: (_ for _ in ()).throw(KeyboardInterrupt))
        with pytest.raises(KeyboardInterrupt):
            room.run()
    result = room.run(("late.csv", csv("C-1,2026-03-02,122,20,B-1")))
    assert result.problems == [] and not (room.out / "edited").exists()


@pytest.mark.parametrize(
    "error",
    [sqlite3.OperationalError("no such table: prices"), sqlite3.DatabaseError("not a database")],
    ids=["no-table", "no-database"],
)
def test_a_database_of_a_plugins_own_that_fails_is_its_own_fault(
    room: Room, change: Callable[..., None], monkeypatch: pytest.MonkeyPatch, error: Exception
) -> None:
    """The run goes on with a finding; what was kept stays, for it was not what failed."""

    def broken(**_: Any) -> Any:
        raise error

    room.run(("lab.csv", csv(*ROWS)))
    kept = (room.out / "kept" / "kept.sqlite").stat().st_ino
    change("warm_file", lambda warm: broken())
    assert "warm.csv" in finding(room.run(), "report.failed").message
    monkeypatch.setattr(toy_plugin, "add_up", replace(toy_plugin.add_up, function=broken))
    assert str(error) in finding(room.run(("more.csv", csv("C-9,2026-03-05,61,20,B-2"))), "stage.failed").message
    assert (room.out / "kept" / "kept.sqlite").stat().st_ino == kept
