"""The journal's head told to a witness, and originals read again in turn."""

from __future__ import annotations

import json
import sys
from datetime import timedelta
from pathlib import Path

import pytest

from pipeline.book.journal import Originals
from pipeline.common.files import sha256
from pipeline.runs import rereading, witness
from pipeline.runs.rereading import Rereading, note_full, state_of
from pipeline.runs.verifying import verify_outputs
from pipeline.runs.witness import Witness, WitnessCommand
from tests.pipeline.kit import NOW, ROWS, Room, csv

HEADS = [f"{number}:{sha256(str(number).encode())}" for number in range(5)]


def test_a_witness_is_told_each_day_and_at_the_end(tmp_path: Path) -> None:
    """Once a day, and once more where a run ends with another head; the file only grows."""
    path = tmp_path / "witness.txt"
    told_by = Witness(str(path), tmp_path / "out")
    for head, day, at_end in (
        (HEADS[1], "2026-06-01", False),
        (HEADS[2], "2026-06-01", False),
        (HEADS[2], "2026-06-02", False),
        (HEADS[3], "2026-06-02", True),
    ):
        assert told_by.tell(head, day, at_end) == ""
    assert Witness(str(path), tmp_path / "out").tell(HEADS[3], "2026-06-02", True) == ""
    told = [f"2026-06-01 {HEADS[1]}", f"2026-06-02 {HEADS[2]}", f"2026-06-02 {HEADS[3]}"]
    assert path.read_text("utf-8").splitlines() == told


@pytest.mark.parametrize(
    ("where", "words"),
    [
        ("witness.txt", "whole path"),
        ("{}/out/witness.txt", "lies in the outputs"),
        ("{}/notes.txt", "holds something else than heads"),
        ("{}/link.txt", "was not told"),
        ("{}/away/witness.txt", "No such file"),
    ],
)
def test_a_witness_that_cannot_be_told_is_said(tmp_path: Path, where: str, words: str) -> None:
    """Nothing is added to a file that is no witness, and none is made where it would prove nothing."""
    (tmp_path / "notes.txt").write_text("shopping\n", "utf-8")
    (tmp_path / "link.txt").symlink_to(tmp_path / "target.txt")
    said = Witness(where.format(tmp_path), tmp_path / "out").tell(HEADS[1], "2026-06-01")
    assert words in said and "was not told the head of the journal" in said
    assert (tmp_path / "notes.txt").read_text("utf-8") == "shopping\n"
    assert not (tmp_path / "target.txt").exists() and not (tmp_path / "out").exists()


def test_a_run_tells_its_witness(room: Room) -> None:
    """The setting names it; where it cannot be told, the run says so and goes on."""
    path = room.inbox.parent / "witness.txt"
    room.set_site(f'timezone = "UTC"\nwitness = "{path.as_posix()}"\n')
    assert room.run(("lab.csv", csv(*ROWS))).problems == []
    assert path.read_text("utf-8") == f"2026-06-01 {Originals(room.out / 'originals').head}\n"
    path.unlink()
    path.mkdir()
    (problem,) = room.run(("late.csv", csv("C-9,2026-03-02,99,20,"))).problems
    assert problem.startswith(f"The witness {path} was not told the head of the journal")


def test_a_command_carries_the_head_away(room: Room) -> None:
    """It gets one line on its input; one that fails is said, and what it would have been told is told later."""
    told, program = room.inbox.parent / "told.txt", room.inbox.parent / "carry.py"
    program.write_text(f"import sys; open({str(told)!r}, 'a').write(sys.stdin.read())", "utf-8")
    asked = json.dumps([sys.executable, str(program)])
    room.set_site(f'timezone = "UTC"\nwitness_command = {asked}\n')
    assert room.run(("lab.csv", csv(*ROWS))).problems == []
    first = f"2026-06-01 {Originals(room.out / 'originals').head}\n"
    assert told.read_text("utf-8") == first
    program.write_text("raise SystemExit(3)", "utf-8")
    (problem,) = room.run(("late.csv", csv("C-9,2026-03-02,99,20,"))).problems
    assert problem.startswith("The command of witness_command was not told the head of the journal")
    assert "exit status 3" in problem and told.read_text("utf-8") == first


def test_a_command_that_fails_is_not_tried_at_every_look(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A watch goes on with its files; it says what is wrong until the command works again."""
    tried: list[str] = []
    monkeypatch.setattr(
        witness, "run_command", lambda _, text: tried.append(text) or ("it hangs" if len(tried) < 2 else "")
    )
    command = WitnessCommand(["carry"])
    said = [command.tell(HEADS[1], "2026-06-01") for _ in range(3)]
    assert len(tried) == 1 and len(set(said)) == 1 and "it hangs" in said[0]
    monkeypatch.setattr(witness.time, "monotonic", lambda: float("inf"))
    assert command.tell(HEADS[1], "2026-06-01") == "" and command.tell(HEADS[2], "2026-06-01") == ""
    assert tried == [f"2026-06-01 {HEADS[1]}\n"] * 2


def test_every_original_is_read_again_within_the_days(room: Room) -> None:
    """Some at a time, all by the end; one that changed is said until it is well again."""
    room.run(("lab.csv", csv(*ROWS)), ("more.csv", csv("C-9,2026-03-02,99,20,")))
    changed = room.out / "originals" / sha256(csv(*ROWS))
    data = changed.read_bytes()
    changed.write_bytes(data[::-1])
    reading = Rereading(room.out, 10.0)
    assert reading.step(NOW) == ""
    said = [reading.step(NOW + timedelta(days=day)) for day in range(1, 10)]
    assert "were changed or gone" in said[-1] and changed.name in said[-1]
    state = state_of(room.out)
    assert state["full"] == (NOW + timedelta(days=9)).isoformat()
    changed.write_bytes(data)
    later = Rereading(room.out, 10.0)
    again = [later.step(NOW + timedelta(days=day)) for day in range(9, 19)]
    assert again[-1] == "" and state_of(room.out)["changed"] == {}


def test_a_reading_goes_on_where_another_process_ended(room: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    """No original is read twice in a round because a watch was started again."""
    room.run(*((f"{number}.csv", csv(f"V-{number},2026-03-02,99,20,")) for number in range(6)))
    read: list[str] = []
    plain = rereading.digest_of
    monkeypatch.setattr(rereading, "digest_of", lambda path: (read.append(path.name), plain(path))[1])
    for day in (0, 3, 6, 9):
        Rereading(room.out, 10.0).step(NOW + timedelta(days=day))
        Rereading(room.out, 10.0).step(NOW + timedelta(days=day))
    assert sorted(read) == sorted(set(read)) == sorted(p.name for p in (room.out / "originals").glob("[0-9a-f]*"))


def test_verifying_says_since_when_an_original_is_spoilt(room: Room) -> None:
    """Between the last reading that found it whole and the first that did not."""
    room.run(("lab.csv", csv(*ROWS)), ("more.csv", csv("C-9,2026-03-02,99,20,")))
    verify_outputs(room.out, full=True)
    whole = state_of(room.out)["full"][:16]
    spoilt = [path for path in (room.out / "originals").iterdir() if path.name in sha256(csv(*ROWS))]
    spoilt[0].write_bytes(b"x")
    assert any(f"in the round to {whole}" in said for said in verify_outputs(room.out).remarks)
    again = Rereading(room.out, 1.0)
    again.step(NOW)
    again.step(NOW + timedelta(days=1))
    said = verify_outputs(room.out).remarks
    first = "was first found changed or gone when it was read again on 2026-06-02T12:00"
    assert any(first in one for one in said), said


def test_a_full_verification_counts_as_a_reading(room: Room) -> None:
    """Doctor shows when all were last read."""
    note_full(room.out, NOW)
    assert state_of(room.out) == {"full": NOW.isoformat(), "begun": "", "after": ""}
