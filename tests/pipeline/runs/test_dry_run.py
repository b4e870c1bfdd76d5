"""rebuild --dry-run: what it says is what a rebuild does, and nothing on disk is another afterwards."""

from __future__ import annotations

import hashlib
import json
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from pipeline.commands.cli import main
from pipeline.common.lock import hold
from pipeline.runs.dry_run import Differences, would_change
from pipeline.runs.run import rebuild, silent
from tests.pipeline import toy_plugin
from tests.pipeline.kit import ROWS, Room, csv

RECORD = "batches/B-1/record.json"


def hashes(folder: Path) -> dict[str, tuple[str, int]]:
    """Every file and folder below with its SHA-256 and the time it was changed."""
    return {
        path.relative_to(folder).as_posix(): (
            hashlib.sha256(path.read_bytes()).hexdigest() if path.is_file() else "",
            path.stat().st_mtime_ns,
        )
        for path in sorted(folder.rglob("*"))
    }


def tried(room: Room) -> Differences:
    """A dry run, of which the room shows no trace."""
    before = hashes(room.inbox.parent)
    found = would_change(room.out, silent, now=room.now)
    assert hashes(room.inbox.parent) == before
    return found


def as_told(room: Room, found: Differences) -> None:
    """A rebuild does what was said, no less and no more."""
    before = room.bytes()
    rebuild(room.out, now=room.now)
    after = room.bytes()
    assert sorted(set(after) - set(before)) == sorted(found.appear)
    changed = {path for path in set(after) & set(before) if after[path] != before[path]}
    assert changed == {*found.change, *(record.path for record in found.records)}


@pytest.fixture
def worked(room: Room) -> Room:
    room.run(("lab.csv", csv(*ROWS)))
    return room


def call(room: Room, *more: str) -> Any:
    return CliRunner().invoke(main, ["rebuild", "--dry-run", "--out", str(room.out), *more])


def test_where_nothing_would_change_it_says_so(worked: Room) -> None:
    """After a run, and after a rebuild."""
    for _ in range(2):
        found = tried(worked)
        assert (found.records, found.appear, found.change, found.go, found.notes) == ([], [], [], [], [])
        assert found.files == len(worked.bytes()) - 1  # the door book is no report
        as_told(worked, found)
    result = call(worked)
    assert result.exit_code == 0 and "No figure and no file would change" in result.output


def test_figures_that_would_change_are_listed_old_and_new(worked: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    """A plugin of another version counts otherwise: each figure of each record, and what follows in other files."""
    add_up = toy_plugin.add_up.function

    def plus_one(warm: Any) -> Any:
        made = add_up(warm)
        return made.assign(total=made["total"] + 1.0)

    monkeypatch.setattr(toy_plugin, "add_up", replace(toy_plugin.add_up, function=plus_one))
    found = tried(worked)
    figures = {
        record.path: [(f.path, f.old, f.new) for f in record.figures if f.path != "signing.code"]
        for record in found.records
    }
    assert figures == {RECORD: [("total", 197.0, 198.0)], "batches/B-2/record.json": [("total", 91.0, 92.0)]}
    assert found.appear == ["batches/B-1/earlier/1.json", "batches/B-2/earlier/1.json"] and found.go == []
    result = call(worked)
    assert "total: 197 → 198" in result.output and f"{RECORD}: 2 figures would change" in result.output
    told = json.loads(call(worked, "--json").stdout)["records"][0]["figures"]
    assert {"path": "total", "old": 197.0, "new": 198.0} in told
    assert [(one["old"][:2], one["new"][:2]) for one in told if one["path"] == "signing.code"] == [("1:", "2:")]
    as_told(worked, found)


def test_files_that_would_appear_and_that_would_no_longer_be_made(
    worked: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A lost file appears; a report that is gone leaves its file over; what others put there is not spoken of."""
    (worked.out / "warm.csv").unlink()
    (worked.out / "notes of mine.txt").write_text("mine", "utf-8")
    reports = [made for made in toy_plugin.reports() if made is not toy_plugin.history_file]
    monkeypatch.setattr(toy_plugin, "reports", toy_plugin.hookimpl(lambda: reports))
    found = tried(worked)
    assert found.appear == ["warm.csv"] and found.go == ["history.json"] and found.records == found.change == []
    result = call(worked)
    assert "warm.csv would appear" in result.output and "history.json would no longer be made" in result.output


def test_a_spoilt_record_is_put_right(worked: Room) -> None:
    """What somebody wrote into a record would go; a record that is no JSON any more is another content."""
    path = worked.out / RECORD
    path.write_bytes(re.sub(rb'"total": [\d.]+', b'"total": 5.0', path.read_bytes()))
    (worked.out / "batches" / "B-2" / "record.json").write_bytes(b"spoilt")
    found = tried(worked)
    (record,) = found.records
    assert [(f.path, f.old, f.new) for f in record.figures] == [("total", 5.0, 197.0)]
    assert "batches/B-2/record.json" in found.change
    as_told(worked, found)


def test_a_lost_or_old_book_does_not_matter(worked: Room) -> None:
    """The originals are what counts; the book is neither needed nor made."""
    (worked.out / "book.sqlite").write_bytes(b"no book")
    found = tried(worked)
    assert (found.records, found.appear, found.change, found.go) == ([], [], [], [])
    (worked.out / "book.sqlite").unlink()
    assert tried(worked).records == [] and not (worked.out / "book.sqlite").exists()


def test_settings_that_changed_since_are_spoken_of(worked: Room) -> None:
    """A rebuild goes by the settings of the last run, and so does the trial; it says so."""
    worked.set_site('timezone = "UTC"\n[tolerances]\ntoy_hot = 1\n')
    found = tried(worked)
    assert found.records == [] and ["site.toml was changed" in note for note in found.notes] == [True]
    as_told(worked, found)


def test_it_runs_beside_one_who_holds_the_book(worked: Room) -> None:
    """No lock is wanted, so none is in the way."""
    with hold(worked.out):
        assert call(worked).exit_code == 0


def test_a_failing_report_leaves_its_file(worked: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    """It is a problem that is said, not a file that goes."""

    def fails(**_: Any) -> bytes:
        raise ValueError("a stone")

    reports = [replace(made, function=fails) if made is toy_plugin.warm_file else made for made in toy_plugin.reports()]
    monkeypatch.setattr(toy_plugin, "reports", toy_plugin.hookimpl(lambda: reports))
    found = tried(worked)
    assert found.go == [] and any("warm.csv could not be made" in note for note in found.notes)
    as_told(worked, found)


def test_what_is_wrong_is_said_in_words(room: Room) -> None:
    """Nothing taken yet; an original that is lost."""
    empty = call(room)
    assert empty.exit_code == 1 and "nothing was taken yet" in empty.stderr and not room.out.exists()
    room.run(("lab.csv", csv(*ROWS)))
    (line,) = [line for line in room.journal() if line["name"] == "lab.csv"]
    (room.out / "originals" / line["sha256"]).unlink()
    before = hashes(room.inbox.parent)
    lost = call(room)
    assert lost.exit_code == 1 and "restore originals/ from a backup" in lost.stderr and "Traceback" not in lost.output
    assert hashes(room.inbox.parent) == before
