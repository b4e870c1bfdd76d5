"""vatting verify and doctor, as people run them."""

from __future__ import annotations

import json
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from pipeline.book.journal import Originals
from pipeline.commands.cli import main
from pipeline.common.errors import BookError, JournalBroken
from pipeline.doctor.evidence import agreement, reading
from pipeline.runs.verifying import verify_outputs
from tests.make_docs import ROOT
from tests.pipeline import kit
from tests.pipeline.kit import NOW, ROWS, Room, csv
from tests.pipeline.verify.damages import DAMAGES, flipped, original


@pytest.fixture
def lab(room: Room) -> Room:
    room.run(
        ("lab.csv", csv(*ROWS)), ("more.csv", csv("C-9,2026-03-02,99,20,")), ("last.csv", csv("C-8,2026-03-02,9,20,"))
    )
    return room


def test_the_command_says_what_agrees_and_ends_with_0(lab: Room) -> None:
    """With the head to be copied, which it takes back."""
    answer = CliRunner().invoke(main, ["verify", "--out", str(lab.out), "--full"])
    assert answer.exit_code == 0, answer.output
    assert answer.output.startswith("All agrees. Looked at: 5 journal lines, 5 originals (read whole)")
    head = answer.output.split("head is ")[1].split(" (outputs")[0]
    again = CliRunner().invoke(main, ["verify", "--out", str(lab.out), "--against", head, "--json"])
    assert again.exit_code == 0 and json.loads(again.output)["heads"] == 1
    assert reading(lab.out, None, NOW)[0].said.startswith("All originals were last read whole")


def test_the_command_names_five_changes_and_ends_with_1(lab: Room) -> None:
    """Each in one sentence with its place."""
    DAMAGES["time of a line"][0](lab.out)
    flipped(original(lab.out))
    flipped(lab.out / "index.html")
    (lab.out / "originals" / "notes.txt").write_text("hm", "utf-8")
    DAMAGES["book: a file removed"][0](lab.out)
    answer = CliRunner().invoke(main, ["verify", "--out", str(lab.out), "--full", "--json"])
    assert answer.exit_code == 1
    found = json.loads(answer.output)["disagreements"]
    assert {one["what"] for one in found} == {"journal", "original", "output", "book"} and len(found) == 5
    text = CliRunner().invoke(main, ["verify", "--out", str(lab.out), "--full"]).output
    assert "originals/journal.jsonl line 3 (number 2, from byte" in text and "5 things do not agree" in text


@pytest.mark.parametrize(
    "name", ["time of a line", "last line removed", "middle line removed", "two lines swapped", "an unknown outcome"]
)
def test_run_and_doctor_notice_what_they_once_passed_over(lab: Room, name: str) -> None:
    """E1 to E5 of the design's evidence: the run stops in words, doctor says bad, nothing is changed."""
    DAMAGES[name][0](lab.out)
    before = lab.bytes()
    with pytest.raises(JournalBroken, match="Restore originals/ from a"):
        lab.run()
    assert agreement(lab.out)[0].state == "bad" and lab.bytes() == before


def test_a_page_changed_by_hand_is_shown_by_doctor_without_alarm(lab: Room) -> None:
    """It can be made again: look, not bad."""
    flipped(lab.out / "index.html")
    (check,) = agreement(lab.out)
    assert check.state == "look" and "index.html is not as vatting last wrote it" in check.said


@pytest.mark.long
@pytest.mark.parametrize(
    "place",
    ["originals/journal.jsonl", "originals/new.sqlite", "returned/bad.csv.why.txt", "kept/kept.sqlite", "index.html"],
)
def test_a_book_is_never_a_file_that_is_none(lab: Room, place: str) -> None:
    """Refused in words before anything is opened to be written; the file stays as it was."""
    lab.run(("bad.csv", b"alpha,beta\n1,2\n"))
    before = (lab.out / place).read_bytes() if (lab.out / place).exists() else None
    assert before is not None or "new" in place or "kept" in place
    lab.set_site(f'timezone = "UTC"\nbook = "{place}"\n')
    if "kept" in place:
        place = next(path.relative_to(lab.out).as_posix() for path in (lab.out / "kept").glob("*.sqlite"))
        lab.set_site(f'timezone = "UTC"\nbook = "{place}"\n')
        before = (lab.out / place).read_bytes()
    with pytest.raises(BookError, match="no book, so nothing is written|where nothing else may lie"):
        lab.run()
    assert ((lab.out / place).read_bytes() if before is not None else None) == before


def test_books_that_are_replaced_stay_beside(lab: Room) -> None:
    """Damaged, older, replaced by a rebuild: each under a name that says so, and no byte less."""
    from pipeline.runs.run import rebuild

    book = lab.out / "book.sqlite"
    book.write_bytes(b"rubbish" * 999)
    lab.run()
    assert (lab.out / "book.sqlite.damaged-1").read_bytes() == b"rubbish" * 999

    with sqlite3.connect(book) as sql:
        sql.execute("UPDATE meta SET value = '3 old' WHERE name = 'schema'")
    sql.close()
    older = book.read_bytes()
    lab.run()
    assert (lab.out / "book.sqlite.older-1").read_bytes() == older
    for _ in range(2):
        rebuild(lab.out, now=kit.NOW)
    assert len(list(lab.out.glob("book.sqlite.replaced-?"))) == 2


def ten_lines() -> str:
    """The check of a journal that stands in the README of pipeline."""
    text = (ROOT / "pipeline" / "README.md").read_text("utf-8")
    code = text.split("<!-- check of the chain -->\n```python\n")[1].split("```")[0]
    assert len(code.strip().splitlines()) <= 10
    return code


def test_ten_lines_of_python_check_a_journal(lab: Room) -> None:
    """The same head, and the same line where one was changed."""
    code = ten_lines()
    ask = [sys.executable, "-c", code, str(lab.out / "originals" / "journal.jsonl")]
    assert subprocess.run(ask, capture_output=True, text=True).stdout.strip() == Originals(lab.out / "originals").head
    DAMAGES["time of a line"][0](lab.out)
    assert "line 3 was changed" in subprocess.run(ask, capture_output=True, text=True).stderr


def test_a_copy_may_withhold_lines(lab: Room, tmp_path: Path) -> None:
    """A6: of other batches' lines their beginnings alone; the head is the same, and what is shown cannot be changed."""
    head = Originals(lab.out / "originals").head
    lines = (lab.out / "originals" / "journal.jsonl").read_bytes().splitlines()
    copy = [line if b"more.csv" in line else line.split(b",", 1)[0] + b"}" for line in lines]
    shown = b"\n".join(copy) + b"\n"
    assert b"lab.csv" not in shown and shown.count(b"more.csv") == 1
    for data, told in (
        (shown, head),
        (shown.replace(b"more.csv", b"less.csv"), ""),
        (b"\n".join(copy[1:]) + b"\n", ""),
    ):
        (tmp_path / "copy.jsonl").write_bytes(data)
        ask = [sys.executable, "-c", ten_lines(), str(tmp_path / "copy.jsonl")]
        assert subprocess.run(ask, capture_output=True, text=True).stdout.strip() == told


def test_a_clock_that_was_set_back_stands_in_the_line(lab: Room) -> None:
    """The line says that time ran backward, and verify says it."""
    lab.now = lab.now.replace(year=2020)
    lab.run(("early.csv", csv("C-4,2026-03-02,99,20,")))
    assert lab.journal()[-1]["clock_behind"] == lab.journal()[-2]["taken_at"]
    answer = CliRunner().invoke(main, ["verify", "--out", str(lab.out)])
    assert answer.exit_code == 0 and "the clock said 2020-" in answer.output


def test_a_journal_of_an_earlier_version_is_taken_over_by_a_run(lab: Room) -> None:
    """Where no book knows a chain; where one does, the chain was taken off, and nothing is touched."""
    DAMAGES["chain taken off"][0](lab.out)
    (lab.inbox / ".vatting.outputs").unlink()  # no earlier version marked an inbox
    path = lab.out / "originals" / "journal.jsonl"
    old = path.read_bytes()
    with pytest.raises(JournalBroken, match="Number 1 of the journal is not the line that the book was made of"):
        lab.run()
    assert path.read_bytes() == old
    (lab.out / "book.sqlite").unlink()
    lab.run()
    answer = CliRunner().invoke(main, ["verify", "--out", str(lab.out), "--full"])
    assert answer.exit_code == 0 and "4 lines were taken over from a journal that was not chained" in answer.output


def in_book(lab: Room, statement: str, *values: object) -> None:
    with closing(sqlite3.connect(lab.out / "book.sqlite")) as sql, sql:
        assert sql.execute(statement, values).rowcount == 1


def facts_told(lab: Room) -> list[str]:
    """What verify --facts says; that nothing was changed by asking is looked at, too."""
    before = {path: path.read_bytes() for path in lab.out.rglob("*") if path.is_file()}
    report = verify_outputs(lab.out, facts=True)
    assert {path: path.read_bytes() for path in lab.out.rglob("*") if path.is_file()} == before
    return [str(one) for one in report.disagreements]


def test_facts_are_held_against_their_originals(lab: Room) -> None:
    """A figure changed in the book with a tool for databases is named with its file, column, row and both values."""
    assert facts_told(lab) == [] and verify_outputs(lab.out, facts=True).facts == 5
    with closing(sqlite3.connect(lab.out / "book.sqlite")) as sql:
        ((sheet, data),) = sql.execute(
            "SELECT b.sheet, b.data FROM blocks b JOIN sheets s USING (sheet) WHERE s.number = 2 AND b.name = 'reading'"
        ).fetchall()
    readings = np.frombuffer(data, "<f8").copy()
    readings[1] = 108.0
    in_book(lab, "UPDATE blocks SET data = ? WHERE sheet = ? AND name = 'reading'", readings.tobytes(), sheet)
    assert verify_outputs(lab.out).disagreements == []
    (said,) = facts_told(lab)
    assert said.startswith(
        "book.sqlite, file 2 (lab.csv) holds something else in reading, row 3 (108.0 where the origi"
    )
    answer = CliRunner().invoke(main, ["verify", "--out", str(lab.out), "--facts"])
    assert answer.exit_code == 1 and "5 rows read anew" in answer.output


@pytest.mark.long
@pytest.mark.parametrize(
    ("statement", "said"),
    [
        ("DELETE FROM sheets WHERE number = 3", "lacks rows of"),
        ("DELETE FROM blocks WHERE sheet = 1 AND name = 'reading'", "holds something else in reading than"),
        ("UPDATE blocks SET data = X'00' WHERE sheet = 1 AND name = '.rows'", "the numbers of the rows"),
        ("UPDATE sheets SET number = 2 WHERE number = 4", "against what its original gives"),
        ("UPDATE sheets SET header_row = 7 WHERE number = 3", "is described otherwise"),
        ("INSERT INTO copies VALUES (999, 2, 1, 'toy_readings', '{\"reading\": 1}')", "holds a correction by ruling"),
        ('INSERT INTO entry_findings VALUES (2, \'{"code": "toy.hot"}\')', "holds a finding that its original does"),
    ],
)
def test_what_else_is_not_as_the_originals_give_it(lab: Room, statement: str, said: str) -> None:
    in_book(lab, statement)
    told = facts_told(lab)
    assert told and any(said in one for one in told), told


def test_a_book_that_cannot_be_compared_is_said(lab: Room) -> None:
    """A lost original, or a book that is none: never an All agrees."""
    original(lab.out).unlink()
    assert any("could not be held against the originals" in one for one in facts_told(lab))
    (lab.out / "book.sqlite").unlink()
    assert any("could not be held against the originals" in one for one in facts_told(lab))
