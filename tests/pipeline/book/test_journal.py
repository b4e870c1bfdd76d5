"""Originals and their journal: nothing is lost, nothing half-written counts, damage is told in words."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.book.journal import Originals
from pipeline.common.errors import JournalBroken
from pipeline.common.files import sha256


@pytest.fixture
def originals(tmp_path: Path) -> Originals:
    return Originals(tmp_path / "originals")


def test_bytes_are_kept_once_under_their_hash(originals: Originals) -> None:
    """The same bytes twice are one file, and come back byte for byte."""
    data = b"\x00\xff lab \r\n"
    assert originals.keep(data) == originals.keep(data) == sha256(data)
    assert originals.read(sha256(data)) == data
    assert [path.name for path in originals.folder.iterdir()] == [sha256(data)]


def test_lost_and_changed_originals_are_told_in_words(originals: Originals) -> None:
    """Each names the original and the remedy."""
    digest = originals.keep(b"lab")
    (originals.folder / digest).write_bytes(b"bal")
    with pytest.raises(JournalBroken, match=f"{digest} was changed.*backup"):
        originals.read(digest)
    (originals.folder / digest).unlink()
    with pytest.raises(JournalBroken, match=f"{digest} cannot be read.*backup"):
        originals.read(digest)


def test_lines_come_back_in_order(originals: Originals) -> None:
    """Append-only, one object a line, letters as they are."""
    assert originals.lines() == []
    written = [{"number": n, "name": f"Été {n}.csv"} for n in range(3)]
    for line in written:
        originals.append(line)
    assert originals.lines() == written
    assert "Été" in originals.path.read_text("utf-8")
    assert originals.path.read_bytes().count(b"\n") == 3


@pytest.mark.parametrize("cut", [1, 5, 20])
def test_a_half_line_counts_as_never_written_and_is_cut_off(originals: Originals, cut: int) -> None:
    """A crash in the middle of a line loses that line alone, and the next one is whole."""
    originals.append({"number": 1, "name": "a.csv"})
    whole = originals.path.read_bytes()
    originals.append({"number": 2, "name": "b.csv", "padding": "x" * 40})
    originals.path.write_bytes(originals.path.read_bytes()[: len(whole) + cut])
    assert originals.lines() == [{"number": 1, "name": "a.csv"}]
    originals.append({"number": 2, "name": "c.csv"})
    assert [line["name"] for line in originals.lines()] == ["a.csv", "c.csv"]


def test_a_journal_that_is_one_half_line(originals: Originals) -> None:
    """A crash in the very first line leaves an empty journal."""
    originals.append({"number": 1})
    originals.path.write_bytes(originals.path.read_bytes()[:5])
    assert originals.lines() == []
    originals.append({"number": 1, "name": "a"})
    assert originals.lines() == [{"number": 1, "name": "a"}]


@pytest.mark.parametrize("damage", [b"{broken", b"\xff\xfe", b"", b"5", b"[]"])
def test_a_damaged_line_is_told_with_its_number(originals: Originals, damage: bytes) -> None:
    """A line that is whole and makes no sense is never passed over."""
    for number in (1, 2, 3):
        originals.append({"number": number})
    lines = originals.path.read_bytes().split(b"\n")
    lines[1] = damage
    originals.path.write_bytes(b"\n".join(lines))
    with pytest.raises(JournalBroken, match="line 2 is damaged.*backup"):
        originals.lines()
