"""Backup and restore as the README says: originals/ and site.toml are enough."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from pipeline.commands.cli import main
from tests.made_once import INBOX, demo
from tests.pipeline.kit import ROWS, Room, codes, csv
from tests.support import write_site


def outputs(out: Path) -> dict[str, bytes]:
    """The bytes of every record, earlier version and table of the outputs."""
    made = [*out.glob("batches/*/record.json"), *out.glob("batches/*/earlier/*.json")]
    made += [
        *out.glob("casks/*.csv"),
        *out.glob("exceptions/*.csv"),
        *out.glob("exceptions/*.json"),
        *out.glob("*.json"),
    ]
    return {path.relative_to(out).as_posix(): path.read_bytes() for path in sorted(made)}


@pytest.mark.long
def test_a_copy_of_originals_and_site_toml_brings_everything_back(tmp_path: Path) -> None:
    """The example distillery, lost and restored to empty folders by the steps of the README: records byte for byte."""
    inbox, out, backup = tmp_path / "inbox", tmp_path / "out", tmp_path / "backup"
    shutil.copytree(INBOX, inbox)
    shutil.copytree(demo()[0], out)
    before = outputs(out)
    assert len([path for path in before if path.endswith("record.json")]) >= 3
    backup.mkdir()
    shutil.copytree(out / "originals", backup / "originals")
    shutil.copy(inbox / "site.toml", backup / "site.toml")
    shutil.rmtree(inbox)
    shutil.rmtree(out)

    new_inbox, new_out = tmp_path / "elsewhere" / "inbox", tmp_path / "elsewhere" / "outputs"
    new_inbox.mkdir(parents=True)
    new_out.mkdir()
    shutil.copytree(backup / "originals", new_out / "originals")
    write_site(new_inbox, (backup / "site.toml").read_text("utf-8"))
    result = CliRunner().invoke(main, ["run", str(new_inbox), "--out", str(new_out)])
    assert result.exit_code == 0, result.output
    assert outputs(new_out) == before
    assert (new_out / "index.html").is_file() and (new_out / "book.sqlite").is_file()
    journal = (new_out / "originals" / "journal.jsonl").read_bytes()
    assert journal == (backup / "originals" / "journal.jsonl").read_bytes()  # nothing was taken anew
    health = CliRunner().invoke(main, ["doctor", str(new_inbox), "--out", str(new_out)])
    assert health.exit_code == 0, health.output
    again = CliRunner().invoke(main, ["rebuild", "--dry-run", "--out", str(new_out)])
    told = [line for line in again.output.splitlines() if "would" in line]
    # a rebuild reads no inbox: the first page no longer says that the settings came from there
    assert told == ["Nothing was changed. A rebuild would do this:", "index.html would have other contents"]


def test_rulings_corrections_and_earlier_records_come_back_too(room: Room) -> None:
    """What was ruled, restated and returned, and each earlier version of a record."""
    room.run(("lab.csv", csv(*ROWS)), ("hot.csv", csv("C-7,2026-03-02,120,55,B-1")))
    hot = next(f for f in room.run().worked.findings if f.code == "toy.hot")
    room.rule(f"{hot.id};accept;;looked at;R. One;2026-06-01")
    room.rule("B-2;release;;looked at;R. One;2026-06-01", name="release.csv")
    room.run(("lab.csv", csv("C-1,2026-03-02,121,20,B-1", *ROWS[1:])), ("bad.csv", b"alpha,beta\n1,2\n"))
    before = outputs(room.out)
    assert [path for path in before if "/earlier/" in path]
    findings = codes(room.run().worked.findings)
    before = outputs(room.out)
    kept = room.inbox.parent / "kept"
    shutil.copytree(room.out / "originals", kept)
    shutil.rmtree(room.out)
    room.out.mkdir()
    shutil.copytree(kept, room.out / "originals")
    result = room.run()
    assert outputs(room.out) == before and codes(result.worked.findings) == findings
