"""The whole path: files taken exactly once, returned with a reason, and nothing lost by a crash."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import pytest

from pipeline.book.journal import Originals
from pipeline.common.errors import JournalBroken
from pipeline.common.files import sha256
from pipeline.common.opening import read_plain
from pipeline.inbox import judging
from pipeline.runs.run import rebuild
from tests.pipeline.kit import HEADER, ROWS, Room, by_vessel, codes, csv, finding, have, same_frames, xlsx
from tests.support import lying_in


def original_files(room: Room) -> set[str]:
    return {path.name for path in (room.out / "originals").iterdir()} - {"journal.jsonl"}


# --- taking -------------------------------------------------------------------------------------------


def test_a_taken_file_leaves_the_inbox_and_is_kept_byte_for_byte(room: Room) -> None:
    """The original is in originals/, the journal says all that is promised, the inbox is empty."""
    data = csv(*ROWS, newline="\r\n")
    result = room.run(("Lab Été.csv", data))
    (fate,) = result.fates
    assert (fate.outcome, fate.kinds, fate.rows, fate.findings) == ("taken", "gauges", 3, 0)
    assert lying_in(room.inbox) == []
    assert Originals(room.out / "originals").read(sha256(data)) == data
    settings, taken = room.journal()
    assert settings["outcome"] == "settings" and settings["name"] == "site.toml"
    assert taken["number"] == 2 and taken["name"] == "Lab Été.csv" and taken["size"] == len(data)
    assert taken["sha256"] == sha256(data) and taken["taken_at"] == "2026-06-01T13:00:00Z"
    assert taken["settings"] == sha256((room.site / "site.toml").read_bytes())
    assert set(taken["versions"]) == {"vatting", "plugins"} and taken["versions"]["plugins"] == {"toy": "0"}


def test_settings_are_journaled_when_they_change(room: Room) -> None:
    """site.toml is archived like any file, once per content, and so is what is described of the house."""
    room.run(("lab.csv", csv(*ROWS)))
    room.run()
    room.set_site('timezone = "UTC"\nhouse = "Testing Mill"\n')
    room.run()
    assert [line["outcome"] for line in room.journal()] == ["settings", "taken", "settings", "effect"]
    assert len(original_files(room)) == 5


def test_a_second_run_changes_nothing(room: Room) -> None:
    """Nothing counted twice, outputs equal and not written again."""
    room.run(("lab.csv", csv(*ROWS)))
    before = room.bytes()
    result = room.run()
    assert result.fates == [] and result.changed == 0 and room.bytes() == before


def test_a_file_that_cannot_be_taken_is_returned_with_the_reason(room: Room) -> None:
    """returned/NAME as it was, NAME.why.txt in words, a finding, and the other files go on."""
    data = b"Cask,Date,Reading\nC-1,2026-03-02,120\n"
    result = room.run(("bad.csv", data), ("lab.csv", csv(*ROWS)))
    assert [(fate.name, fate.outcome) for fate in result.fates] == [("bad.csv", "returned"), ("lab.csv", "taken")]
    assert (room.out / "returned" / "bad.csv").read_bytes() == data
    why = (room.out / "returned" / "bad.csv.why.txt").read_text("utf-8")
    assert "no temperature column" in why and "What to do: Add the column temperature" in why
    said = finding(result, "file.returned")
    assert said.severity == "review" and said.subject == "bad.csv" and "no temperature column" in said.message
    assert room.journal()[1]["outcome"] == "returned" and not (room.inbox / "bad.csv").exists()
    assert len(result.worked.frames["gauges"]) == 3


def test_the_finding_on_a_returned_file_goes_when_the_mended_file_comes(room: Room) -> None:
    """The same name, mended: taken, and nobody is asked any more."""
    room.run(("lab.csv", b"Cask,Date,Reading\nC-1,2026-03-02,120\n"))
    result = room.run(("lab.csv", csv(*ROWS)))
    assert have(result, "file.returned") == [] and result.worked.findings == []


def test_the_finding_on_an_unusable_row_goes_when_the_mended_file_comes(room: Room) -> None:
    """Row by row too: rows already taken count once."""
    result = room.run(("lab.csv", csv(ROWS[0], "C-2,soon,118,21,")))
    assert codes(result.worked.findings) == ["sheet.unusable-row"]
    result = room.run(("lab.csv", csv(ROWS[0], "C-2,2026-03-02,118,21,")))
    assert result.worked.findings == [] and set(by_vessel(result)) == {"C-1", "C-2"}


def test_every_kind_of_bad_file_in_one_run(room: Room) -> None:
    """Each is returned with its own reason; the good file counts; nothing is raised."""
    ole = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(504)
    bad = {
        "empty.csv": b"",
        "empty.xlsx": b"",
        "header only.csv": csv(),
        "not a workbook.xlsx": b"Cask,Date\n",
        "workbook.csv": xlsx({"S": [["a"]]}),
        "locked.xlsx": ole + "EncryptedPackage".encode("utf-16-le"),
        "old.xlsx": ole,
        "photo.jpg": b"\xff\xd8\xff\xe0",
        "twice.csv": csv("C-1,2026-03-02,1,2,3", header="Cask,Date,Reading,Reading,Temp (°C)"),
        "other.csv": b"alpha,beta\n1,2\n",
        "noise.csv": bytes(range(1, 256)) * 50,
        "line.csv": b"x" * 300_000,
    }
    result = room.run(*bad.items(), ("lab.csv", csv(*ROWS)))
    outcome = {fate.name: fate for fate in result.fates}
    assert {name for name, fate in outcome.items() if fate.outcome == "returned"} == set(bad)
    assert outcome["lab.csv"].outcome == "taken"
    for name in bad:
        assert outcome[name].reason and outcome[name].remedy
        assert (room.out / "returned" / f"{name}.why.txt").is_file()
    assert len({fate.reason for fate in outcome.values()}) >= 10
    assert [line["name"] for line in room.journal() if line["outcome"] == "taken"] == ["lab.csv"]


def test_a_file_over_the_limit_is_returned(room: Room) -> None:
    """Size is held before reading; the setting is named."""
    room.set_site('timezone = "UTC"\n[limits]\nfile_megabytes = 0.001\n')
    result = room.run(("big.csv", csv(*ROWS) + b" " * 2000))
    assert result.fates[0].outcome == "returned" and "file_megabytes" in result.fates[0].remedy


def test_a_reader_that_fails_in_an_unforeseen_way_stops_no_other_file(
    room: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One poisonous file is returned; it does not come back at every run."""
    recognise = judging.recognise

    def poisoned(table: Any, *rest: Any) -> Any:
        if table.rows[1][0] == "POISON":
            raise IndexError("unforeseen")
        return recognise(table, *rest)

    monkeypatch.setattr(judging, "recognise", poisoned)
    result = room.run(("a.csv", csv("POISON,2026-03-02,120,20,")), ("lab.csv", csv(*ROWS)))
    assert [fate.outcome for fate in result.fates] == ["returned", "taken"]
    assert "unforeseen" in result.fates[0].reason and not (room.inbox / ".taking").exists()


def test_a_file_held_by_another_program_stays_and_the_others_are_taken(
    room: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Permission denied on one file is said of that file; the run goes on."""

    def denied(path: Path, *rest: Any, **more: Any) -> Any:
        if path.name == "held.csv":
            raise PermissionError(13, "Permission denied", str(path))
        return read_plain(path, *rest, **more)

    room.drop("held.csv", csv("C-9,2026-03-02,99,20,"))
    with monkeypatch.context() as patch:
        patch.setattr("pipeline.inbox.folder.read_plain", denied)
        result = room.run(("lab.csv", csv(*ROWS)))
    assert [(fate.name, fate.outcome) for fate in result.fates] == [("lab.csv", "taken")]
    assert "held.csv" in result.staying and (room.inbox / "held.csv").exists()
    assert set(by_vessel(room.run())) == {"C-1", "C-2", "C-3", "C-9"}


def test_folders_and_links_stay_with_a_note(room: Room) -> None:
    """They are named, with a why.txt, and stay where they are."""
    (room.inbox / "March").mkdir()
    os.symlink("/nowhere/else.csv", room.inbox / "link.csv")
    result = room.run(("lab.csv", csv(*ROWS)))
    assert set(result.staying) == {"March", "link.csv"}
    for name in result.staying:
        assert "stays in the inbox" in (room.out / "returned" / f"{name}.why.txt").read_text("utf-8")
    assert (room.inbox / "March").is_dir() and (room.inbox / "link.csv").is_symlink()


def test_site_toml_lock_files_and_parts_are_never_taken(room: Room) -> None:
    """Passed over without a word."""
    result = room.run(("~$lab.xlsx", b"x"), (".~lock.lab.xlsx#", b"x"), ("lab.csv.part", csv(*ROWS)))
    assert result.fates == [] and result.staying == {}


def test_a_name_with_bytes_that_are_no_text(room: Room) -> None:
    """Such a file is taken under a readable name; journal and outputs stay readable."""
    room.drop(os.fsdecode(b"lab\xff.csv"), csv(*ROWS))
    result = room.run()
    assert result.fates[0].outcome == "taken" and result.fates[0].name.encode("utf-8")
    assert len(result.worked.frames["gauges"]) == 3


# --- leave --------------------------------------------------------------------------------------------


LEAVE = 'timezone = "UTC"\nafter_taking = "leave"\n'


def test_with_leave_files_stay_and_are_known_by_content(room: Room) -> None:
    """Nothing is moved; a second run knows them; a changed file is taken anew."""
    room.set_site(LEAVE)
    first = room.run(("lab.csv", csv(*ROWS)), ("bad.csv", b"alpha,beta\n1,2\n"))
    assert sorted(fate.outcome for fate in first.fates) == ["returned", "taken"]
    assert (room.inbox / "lab.csv").exists() and (room.inbox / "bad.csv").exists()
    assert (room.out / "returned" / "bad.csv").exists()
    second = room.run()
    assert [(fate.name, fate.outcome) for fate in second.fates] == [("lab.csv", "known")]
    assert [line["outcome"] for line in room.journal()] == ["settings", "returned", "taken"]
    third = room.run(("lab.csv", csv(*ROWS, "C-4,2026-03-09,1,20,")))
    assert [fate.outcome for fate in third.fates] == ["taken"] and len(third.worked.frames["gauges"]) == 4


def test_with_leave_a_returned_file_is_tried_again_when_settings_change(room: Room) -> None:
    """Other settings: tried again; the same: not even mentioned."""
    room.set_site(LEAVE)
    row = "C-1;2026-03-02;1,234;20;B"
    bad = csv(header="Cask;Date;Reading;Temp (°C)")
    room.run(("bad.csv", bad), ("lab.csv", csv(row, header=HEADER.replace(",", ";"))))
    assert all(fate.name != "bad.csv" for fate in room.run().fates)
    room.set_site(LEAVE + 'decimal = ","\n')
    again = [fate for fate in room.run().fates if fate.name == "bad.csv"]
    assert [fate.outcome for fate in again] == ["returned"]


def test_a_returned_file_dropped_again_is_judged_again(room: Room) -> None:
    """With move, a file that comes a second time is told again why."""
    for _ in range(2):
        result = room.run(("bad.csv", b"alpha,beta\n1,2\n"))
        assert [fate.outcome for fate in result.fates] == ["returned"]
    assert len(have(result, "file.returned")) == 1


# --- rebuild ------------------------------------------------------------------------------------------


def busy(room: Room) -> None:
    """A room with corrections, disputes, returns, notes, settings that changed, and workbooks."""
    room.run(("lab.csv", csv(*ROWS, "C-5,soon,1,2,", "C-6,2026-03-02,5,55,B-1")))
    room.set_site('timezone = "America/New_York"\ndate_order = "dmy"\n')
    room.run(("stock.csv", csv("C-1,05/01/2020", header="Cask,Fill date")), ("bad.csv", b"alpha,beta\n"))
    room.set_site('timezone = "America/New_York"\ndate_order = "mdy"\n')
    room.run(("lab.csv", csv("C-1,03/02/2026,121,20,B-1", "C-7,03/02/2026,99,20,B-2")))
    head = ["Cask", "Date", "Reading", "Temp"]
    room.run(("b.xlsx", xlsx({"A": [head, ["C-8", "2026-03-02", 120, 68]], "B": [head, ["C-8", "2026-03-02", 1, 2]]})))


def test_a_rebuild_gives_the_same_frames_findings_and_bytes(room: Room) -> None:
    """Each file under the settings it was taken with; outputs byte for byte."""
    busy(room)
    last = room.run()
    before = room.bytes()
    again = rebuild(room.out, now=room.now)
    same_frames(last.worked.frames, again.worked.frames)
    assert last.worked.findings == again.worked.findings
    assert again.changed == 0 and room.bytes() == before
    assert not list(room.out.glob("book.sqlite.new*"))


def test_a_rebuild_from_originals_alone(room: Room) -> None:
    """Backup is a copy of originals/: book and outputs come back from nothing else, years later."""
    busy(room)
    room.run()
    before = room.bytes()
    for path in sorted(room.out.rglob("*"), reverse=True):
        if "originals" not in path.relative_to(room.out).parts:
            path.unlink() if path.is_file() else path.rmdir()
    rebuild(room.out, now=room.now.replace(year=2031))
    assert room.bytes() == before


def test_a_rebuild_that_fails_leaves_the_old_book(room: Room) -> None:
    """The new book takes the old one's place only when it is whole."""
    room.run(("lab.csv", csv(*ROWS)))
    book = (room.out / "book.sqlite").read_bytes()
    (room.out / "originals" / sha256(csv(*ROWS))).write_bytes(b"changed")
    with pytest.raises(JournalBroken):
        rebuild(room.out, now=room.now)
    assert (room.out / "book.sqlite").read_bytes() == book


def test_a_rebuild_after_a_book_ahead_of_its_journal(room: Room) -> None:
    """The remedy that the words name works; the book that knew more stays beside, and the journal says so for good."""
    room.run(("lab.csv", csv(*ROWS)))
    room.run(("other.csv", csv("C-9,2026-03-02,99,20,")))
    path, book = room.out / "originals" / "journal.jsonl", room.out / "book.sqlite"
    knew = book.read_bytes()
    path.write_bytes(b"".join(path.read_bytes().splitlines(keepends=True)[:3]))
    assert set(by_vessel(rebuild(room.out, now=room.now))) == {"C-1", "C-2", "C-3"}
    assert (room.out / "book.sqlite.replaced-1").read_bytes() == knew
    line = room.journal()[-1]
    assert line["outcome"] == "rebuilt" and "The book knows 3 files, the journal only 2" in line["why"]
    room.run()
    rebuild(room.out, now=room.now)
    assert [one["outcome"] for one in room.journal()].count("rebuilt") == 1


def test_a_rebuild_of_nothing_is_told(tmp_path: Path) -> None:
    """No journal: in words."""
    with pytest.raises(Exception, match="nothing was taken yet"):
        rebuild(tmp_path / "out")


def test_the_run_knows_its_files(room: Room) -> None:
    """Reports get every file with its outcome, kinds and rows, and the versions."""
    result = room.run(("lab.csv", csv(*ROWS)), ("bad.csv", b"alpha,beta\n"))
    files = {file.name: file for file in result.run.files}
    assert (files["lab.csv"].kinds, files["lab.csv"].rows, files["lab.csv"].outcome) == ("gauges", 3, "taken")
    assert files["bad.csv"].outcome == "returned" and files["bad.csv"].findings == 1
    assert json.dumps(result.run.versions)


def test_what_was_returned_is_settled_and_never_lost(room: Room) -> None:
    """A second bad file of a name moves the first aside; a good one of that name settles the note beside it."""
    first, second = b"a,b\n1,2\n", b"a,b\n3,4\n"
    room.run(("lab.csv", first))
    room.run(("lab.csv", second))
    returned = room.out / "returned"
    assert (returned / "lab.csv").read_bytes() == second
    (earlier,) = (returned / "earlier").iterdir()
    assert earlier.read_bytes() == first
    assert not (returned / "lab.csv.why.txt").read_text("utf-8").startswith("Settled")
    room.run(("lab.csv", csv("C-1,2026-03-02,120,20,B-1")))
    told = (returned / "lab.csv.why.txt").read_text("utf-8")
    assert told.startswith("Settled: a file of this name was taken since") and "Why:" in told
