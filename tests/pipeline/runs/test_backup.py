"""Backup and restore: what cannot be made again comes back, and whatever is wrong with a backup is said."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from pipeline.commands.cli import main
from pipeline.doctor.folders import rehearsal
from pipeline.runs.backup import back_up, last_rehearsal
from pipeline.runs.verifying import verify_outputs
from tests.pipeline import toy_plugin
from tests.pipeline.kit import NOW, ROWS, Room, csv, use


@pytest.fixture
def taken(tmp_path: Path, monkeypatch: Any) -> Room:
    """A house with a file taken and one more since."""
    use(monkeypatch, toy_plugin)
    room = Room(tmp_path)
    room.run(("lab.csv", csv(*ROWS)))
    return room


def vatting(*words: object) -> Result:
    return CliRunner().invoke(main, [str(word) for word in words])


def backup(room: Room) -> Path:
    to = room.inbox.parent / "backup"
    done = vatting("backup", to, "--out", room.out)
    assert done.exit_code == 0, done.output
    return to


def records(out: Path) -> dict[str, bytes]:
    return {path.relative_to(out).as_posix(): path.read_bytes() for path in out.glob("batches/*/record.json")}


def test_a_backup_comes_back_byte_for_byte(taken: Room) -> None:
    """Originals, journal and records of the restored outputs are those that were lost."""
    to, new = backup(taken), taken.inbox.parent / "new"
    done = vatting("restore", to, "--out", new)
    assert done.exit_code == 0, done.output
    assert records(new) == records(taken.out) != {}
    for path in (taken.out / "originals").iterdir():
        assert (new / "originals" / path.name).read_bytes() == path.read_bytes()
    assert json.loads((to / "backup.json").read_bytes())["records"]


def test_a_second_backup_adds_what_is_new(taken: Room) -> None:
    to = backup(taken)
    before = {path.name: path.stat().st_mtime_ns for path in (to / "originals").iterdir()}
    taken.run(("more.csv", csv("C-9,2026-03-09,111,20,B-9")))
    said = json.loads(vatting("backup", to, "--out", taken.out, "--json").output)
    assert said["added"] == 1
    after = {path.name: path.stat().st_mtime_ns for path in (to / "originals").iterdir()}
    assert {name for name, at in before.items() if after[name] != at} == {"journal.jsonl"}
    assert (to / "originals" / "journal.jsonl").read_bytes() == (taken.out / "originals/journal.jsonl").read_bytes()


def test_a_backup_while_files_are_taken_is_whole(taken: Room) -> None:
    """A file taken between any two of its steps is in it whole, or in the next one."""
    to, new = taken.inbox.parent / "backup", taken.inbox.parent / "new"
    came = []

    def one_more(*_: object) -> None:
        came.append(f"more{len(came)}.csv")
        taken.run((came[-1], csv(f"D-{len(came)},2026-03-09,111,20,B-9")))

    back_up(taken.out, to, one_more)
    assert len(came) > 1 and vatting("restore", to, "--out", new).exit_code == 0
    report = verify_outputs(new, full=True, facts=True)
    assert report.disagreements == [] and report.facts and report.facts >= 3
    journal = (to / "originals" / "journal.jsonl").read_bytes()
    assert (taken.out / "originals" / "journal.jsonl").read_bytes().startswith(journal)


def test_a_backup_of_other_outputs_is_not_written_over(taken: Room) -> None:
    """A journal that was rewritten never takes the place of the one in the backup, which may be the last good one."""
    to, journal = backup(taken), taken.out / "originals" / "journal.jsonl"
    held = (to / "originals" / "journal.jsonl").read_bytes()
    journal.write_bytes(journal.read_bytes().replace(b"lab.csv", b"lob.csv"))
    done = vatting("backup", to, "--out", taken.out)
    assert done.exit_code == 1 and "not the beginning" in done.output
    assert (to / "originals" / "journal.jsonl").read_bytes() == held
    other = taken.inbox.parent / "full"
    other.mkdir()
    (other / "letter.txt").write_text("mine")
    done = vatting("backup", other, "--out", taken.out)
    assert done.exit_code == 1 and "holds something else" in done.output and [p.name for p in other.iterdir()] == [
        "letter.txt"
    ]  # fmt: skip


def test_a_damaged_original_is_not_backed_up_nor_restored(taken: Room) -> None:
    to = backup(taken)
    one = next(path for path in (to / "originals").iterdir() if path.name != "journal.jsonl" and path.stat().st_size)
    one.write_bytes(bytes([one.read_bytes()[0] ^ 1]) + one.read_bytes()[1:])
    new = taken.inbox.parent / "new"
    done = vatting("restore", to, "--out", new)
    assert done.exit_code == 1 and one.name in done.output and "was changed" in done.output
    lying = taken.out / "originals" / one.name
    lying.write_bytes(one.read_bytes())
    done = vatting("backup", taken.inbox.parent / "second", "--out", taken.out)
    assert done.exit_code == 1 and one.name in done.output
    assert not (taken.inbox.parent / "second" / "backup.json").exists()


def test_an_original_that_is_gone_is_told_by_backup_and_restore(taken: Room) -> None:
    """Neither says that all is there: what the journal names is in the backup, or there is none."""
    to = backup(taken)
    one = next(path.name for path in (to / "originals").iterdir() if path.name != "journal.jsonl")
    (taken.out / "originals" / one).unlink()
    done = vatting("backup", to, "--out", taken.out)
    assert done.exit_code == 1 and one in done.output and (to / "originals" / one).is_file()
    (to / "originals" / one).unlink()
    done = vatting("restore", to, "--out", taken.inbox.parent / "new")
    assert done.exit_code == 1 and one in done.output


def test_nothing_is_restored_over_something(taken: Room) -> None:
    to, before = backup(taken), records(taken.out)
    done = vatting("restore", to, "--out", taken.out)
    assert done.exit_code == 1 and "is not empty" in done.output and records(taken.out) == before
    done = vatting("restore", taken.inbox, "--out", taken.inbox.parent / "new")
    assert done.exit_code == 1 and "holds no backup" in done.output


def test_a_rehearsal_changes_nothing_and_is_told_by_the_doctor(taken: Room) -> None:
    (look,) = rehearsal(taken.out, NOW)
    assert look.state == "look" and "rehearsed" in look.said
    to, before = backup(taken), taken.bytes()
    done = vatting("restore", to, "--check", "--out", taken.out)
    assert done.exit_code == 0 and "can be restored" in done.output, done.output
    assert taken.bytes() == before
    (told,) = rehearsal(taken.out, NOW)
    assert told.state == "OK" and (to / "rehearsal.json").is_file()


def test_a_record_that_comes_back_otherwise_is_named(taken: Room) -> None:
    """A record that was edited by hand is not what the originals make."""
    record = next(iter(taken.out.glob("batches/*/record.json")))
    record.write_bytes(record.read_bytes() + b"\n")
    to = backup(taken)
    done = vatting("restore", to, "--check", "--out", taken.out)
    assert done.exit_code == 1 and f"batches/{record.parent.name}/record.json is not as it was" in done.output
    last = last_rehearsal(taken.out)
    assert last is not None and not last.good
    assert [check.state for check in rehearsal(taken.out, NOW)] == ["bad"]


def test_a_site_folder_that_is_gone_is_told_when_the_rest_is_safe(taken: Room) -> None:
    taken.set_site('timezone = "UTC"\nplugin_folders = ["our_stages"]\n')
    (taken.site / "our_stages" / "wood").mkdir(parents=True)
    (taken.site / "our_stages" / "wood" / "plugin.py").write_text("")
    taken.run(("more.csv", csv("C-9,2026-03-09,111,20,B-9")))
    to = backup(taken)
    assert (to / "site" / "our_stages" / "wood" / "plugin.py").is_file()
    taken.site.rename(taken.site.parent / "gone")
    done = vatting("backup", to, "--out", taken.out)
    assert done.exit_code == 1 and str(taken.site) in done.output
    assert (to / "site" / "our_stages" / "wood" / "plugin.py").is_file()  # the earlier copy stays
