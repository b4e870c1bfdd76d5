"""Damage of every kind is named, with line, byte, file, record or row; what is whole is not accused."""

from __future__ import annotations

import re
import shutil
from itertools import permutations
from pathlib import Path

import pytest

from pipeline.book.chain import read_chain
from pipeline.book.journal import Originals
from pipeline.common.errors import JournalBroken, NotKnown
from pipeline.common.heads import on_paper
from pipeline.verify.said import Report
from pipeline.verify.verify import verify
from tests.pipeline import kit, toy_plugin
from tests.pipeline.verify.damages import DAMAGES, journal, lines, rechained


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> kit.Room:
    """A room whose journal has every outcome but issues: settings, taken, returned, a record, rulings."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("pipeline.inbox.complete.wall", lambda: 4e9)
        kit.use(patch, toy_plugin)
        room = kit.Room(tmp_path_factory.mktemp("whole"))
        room.run(("lab.csv", kit.csv(*kit.ROWS, "C-7,2026-03-02,120,55,B-2")))
        hot = kit.finding(room.run(("bad.csv", b"alpha,beta\n1,2\n")), "toy.hot").id
        room.run(("more.csv", kit.csv("C-1,2026-03-02,121,20,B-1")))
        room.rule(f"{hot};accept;;looked at;R. One;2026-06-01")
        assert [line["outcome"] for line in room.journal()][:6] == [
            "settings", "taken", "returned", "taken", "record", "taken",
        ]  # fmt: skip
    return room


@pytest.fixture
def out(whole: kit.Room, tmp_path: Path) -> Path:
    return Path(shutil.copytree(whole.out, tmp_path / "out"))


def told(out: Path, *against: str, full: bool = True) -> Report:
    return verify(out, out / "book.sqlite", against, full)


def test_what_is_whole_agrees(out: Path) -> None:
    """Nothing is accused, all is counted, nothing is changed."""
    before = {path: path.read_bytes() for path in out.rglob("*") if path.is_file()}
    report = told(out)
    assert report.disagreements == [] and report.remarks == []
    assert report.lines == 1 + len(Originals(out / "originals").lines()) and report.outputs >= 5
    assert report.head == Originals(out / "originals").head and len(report.identity) == 32
    assert {path: path.read_bytes() for path in out.rglob("*") if path.is_file()} == before


@pytest.mark.long
@pytest.mark.parametrize("name", DAMAGES)
def test_damage_is_named(out: Path, name: str) -> None:
    """Each kind by itself, in the words that it must have."""
    damage, words = DAMAGES[name]
    damage(out)
    said = [str(one) for one in told(out).disagreements]
    wanted = ".*".join(re.escape(part) for part in words.split(".*"))
    assert any(re.search(wanted, one) for one in said), said


def test_there_are_sixty_kinds_or_nearly() -> None:
    """At least forty are asked for."""
    assert len(DAMAGES) >= 55


@pytest.mark.parametrize("name", [name for name, (_, words) in DAMAGES.items() if words.startswith("line ")])
def test_a_run_stops_at_a_line_that_does_not_agree(out: Path, name: str) -> None:
    """Whoever opens the outputs reads the whole chain."""
    DAMAGES[name][0](out)
    with pytest.raises(JournalBroken, match="is damaged"):
        Originals(out / "originals").lines()


def test_every_byte_of_a_journal_counts(whole: kit.Room) -> None:
    """Each byte of a short journal in turn, changed in its lowest bit: the line is named."""
    data = journal(whole.out).read_bytes()
    starts = [link.offset for link in read_chain(data).links]
    for at in range(len(data)):
        chain = read_chain(data[:at] + bytes((data[at] ^ 1,)) + data[at + 1 :])
        line = sum(start <= at for start in starts)
        faults = [*chain.faults, *([chain.unfinished] if chain.unfinished else [])]
        assert faults and faults[0].line in (line, line + 1), at


def test_every_swap_removal_and_repetition_counts(tmp_path: Path) -> None:
    """Of twenty lines each pair swapped, each run removed, each line repeated anywhere; but for the end cut off."""
    originals = Originals(tmp_path)
    for number in range(1, 20):
        originals.append({"number": number, "outcome": "taken", "name": "n"})
    all_ = originals.path.read_bytes().splitlines(keepends=True)
    for one, other in permutations(range(20), 2):
        swapped = list(all_)
        swapped[one], swapped[other] = all_[other], all_[one]
        repeated = [*all_[:one], all_[other], *all_[one:]]
        removed = [line for place, line in enumerate(all_) if not one <= place < other]
        assert read_chain(b"".join(swapped)).faults and read_chain(b"".join(repeated)).faults
        assert one > other or read_chain(b"".join(removed)).faults or other == 20
    assert read_chain(b"".join(all_[:-5])).faults == []  # a chain cannot see that; a head can


def test_digests_are_of_bytes_as_they_stand(tmp_path: Path) -> None:
    """Numbers and letters that would be written otherwise if they were written again are no disagreement."""
    path = tmp_path / "journal.jsonl"
    from pipeline.book.chain import NOTHING, chained, digest_of_line

    first = chained(0, NOTHING, b'"number":0,"outcome":"begun","format":1}')
    for body in ('"x":1e-7', '"x":1E400', '"x":"ä"', '"x":"a\u0308"', '"x":"\\u00e4"', '"x":1,"x":2', '"x" :  1.0'):
        second = chained(1, digest_of_line(first), f'"number":1,"outcome":"taken",{body}}}'.encode())
        path.write_bytes(first + b"\n" + second + b"\n")
        assert read_chain(path.read_bytes()).faults == []


# --- heads kept elsewhere --------------------------------------------------------------------------------


@pytest.mark.parametrize("short", [True, False])
def test_a_cut_end_is_seen_against_a_head(out: Path, short: bool) -> None:
    """Even where book and outputs are gone and the rest is consistent; from paper too."""
    head = Originals(out / "originals").head
    shown = on_paper(head).upper() if short else head
    assert told(out, shown).disagreements == []
    journal(out).write_bytes(b"".join(lines(out)[:-2]))
    (out / "book.sqlite").unlink()
    (said,) = [str(one) for one in told(out, shown).disagreements if one.what == "head"]
    assert "ends with number" in said and "its end was cut off" in said


def test_a_journal_rewritten_whole_is_seen_by_a_witness(out: Path, tmp_path: Path) -> None:
    """Heads of each day: the days that still agree are told from those that do not."""
    witness = tmp_path / "witness.txt"
    heads = [line["head"] for line in Originals(out / "originals").lines()]
    witness.write_text("".join(f"2026-06-0{day} {head}\n" for day, head in enumerate(heads, start=1)), "utf-8")
    assert told(out, str(witness)).disagreements == []
    rechained(out, 4, b"more.csv", b"mine.csv", to_the_end=True)
    (out / "book.sqlite").unlink()
    said = [one for one in told(out, str(witness)).disagreements if one.what == "head"]
    assert [re.findall(r"line (\d+)", one.place) for one in said] == [[str(n)] for n in range(4, len(heads) + 1)]
    assert all(one.since == Originals(out / "originals").lines()[2]["taken_at"] for one in said)


@pytest.mark.parametrize("wrong", ["14", "14:abcd", "x:" + "0" * 24, "14:" + "g" * 24, "no such file"])
def test_what_is_no_head_is_refused(out: Path, wrong: str) -> None:
    """Nothing is said to agree with it."""
    with pytest.raises(NotKnown, match="24 hex digits at least"):
        told(out, wrong)


def test_what_a_journal_says_of_its_past_is_said_for_ever(out: Path) -> None:
    """A rebuild that went by a cut journal stands in every report from then on."""
    from pipeline.runs.run import rebuild

    with pytest.MonkeyPatch.context() as patch:
        kit.use(patch, toy_plugin)
        journal(out).write_bytes(b"".join(lines(out)[:4]))
        rebuild(out, now=kit.NOW)
    report = told(out)
    assert [one for one in report.disagreements if one.what in ("journal", "book")] == []
    assert any("The book knows" in said and "A rebuild went by the journal" in said for said in report.remarks)
