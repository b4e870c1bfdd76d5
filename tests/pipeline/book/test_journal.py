"""Originals and their journal: nothing is lost, nothing half-written counts, damage is told in words."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from pipeline.book.chain import read_chain
from pipeline.book.journal import Originals
from pipeline.common.errors import JournalBroken
from pipeline.common.files import sha256
from pipeline.common.heads import on_paper


@pytest.fixture
def originals(tmp_path: Path) -> Originals:
    return Originals(tmp_path / "originals")


def line(number: int, name: str = "a.csv", **more: Any) -> dict[str, Any]:
    return {"number": number, "taken_at": f"2026-03-0{number}T09:00:00Z", "name": name, "outcome": "taken", **more}


def said(originals: Originals) -> list[dict[str, Any]]:
    return [{name: value for name, value in read.items() if name != "head"} for read in originals.lines()]


def test_bytes_are_kept_once_under_their_hash(originals: Originals) -> None:
    """The same bytes twice are one file, and come back byte for byte."""
    data = b"\x00\xff lab \r\n"
    assert originals.keep(data) == originals.keep(data) == sha256(data)
    assert originals.read(sha256(data)) == data
    assert [path.name for path in originals.folder.iterdir()] == [sha256(data)]


@pytest.mark.parametrize("lies", [b"", b"la", b"lba"])
@pytest.mark.parametrize("proved", [True, False])
def test_what_lies_under_an_originals_name_is_never_trusted(originals: Originals, lies: bytes, proved: bool) -> None:
    """Empty, cut short or other bytes, named by the journal or not: the bytes in hand take their place."""
    if proved:
        originals.append(line(1, sha256=originals.keep(b"lab"), settings=originals.keep(b"")))
    originals.folder.mkdir(exist_ok=True)
    (originals.folder / sha256(b"lab")).write_bytes(lies)
    later = Originals(originals.folder)
    assert later.read(later.keep(b"lab")) == b"lab"


def test_an_original_counts_as_flushed_only_where_a_line_names_it(originals: Originals) -> None:
    """One that lies there is another file afterwards, unless the journal proves that its flush went well."""
    digest = originals.keep(b"lab")
    place = originals.folder / digest
    before = place.stat().st_ino
    Originals(originals.folder).keep(b"lab")
    assert place.stat().st_ino != before
    originals.append(line(1, sha256=digest, settings=originals.keep(b"")))
    before = place.stat().st_ino
    Originals(originals.folder).keep(b"lab")
    assert place.stat().st_ino == before


def test_lines_that_no_book_has_are_written_anew_with_what_they_name(originals: Originals) -> None:
    """Their flush may have failed: journal and original are new files, byte for byte."""
    originals.append(line(1, sha256=originals.keep(b"lab"), settings=originals.keep(b"set")))
    places = [originals.path, originals.folder / sha256(b"lab"), originals.folder / sha256(b"set")]
    before = [(place.read_bytes(), place.stat().st_ino) for place in places]
    later = Originals(originals.folder)
    later.settle(later.lines())
    after = [(place.read_bytes(), place.stat().st_ino) for place in places]
    assert all(old[0] == new[0] and old[1] != new[1] for old, new in zip(before, after, strict=True))
    later.append(line(2))
    assert [read["number"] for read in Originals(originals.folder).lines()] == [1, 2]


@pytest.mark.parametrize("held", [True, False])
def test_after_a_failed_flush_nothing_more_is_kept(
    originals: Originals, monkeypatch: pytest.MonkeyPatch, held: bool
) -> None:
    """The error names the file, and the same object keeps nothing more, whatever the disk says now."""

    def failing(_: int) -> None:
        raise OSError(5, "Input/output error")

    originals.append(line(1))
    if held:
        originals.hold()
    with monkeypatch.context() as patch, pytest.raises(OSError, match="Input/output error") as caught:
        patch.setattr("os.fsync", failing)
        originals.keep(b"lab")
        originals.flush()
    assert caught.value.filename == str(originals.folder / sha256(b"lab"))
    for again in (lambda: originals.keep(b"other"), lambda: originals.append(line(2)), originals.flush):
        with pytest.raises(OSError, match="Nothing counts as kept since a write failed"):
            again()


def test_lost_and_changed_originals_are_told_in_words(originals: Originals) -> None:
    """Each names the original and the remedy."""
    digest = originals.keep(b"lab")
    (originals.folder / digest).write_bytes(b"bal")
    with pytest.raises(JournalBroken, match=f"{digest} was changed.*backup"):
        originals.read(digest)
    (originals.folder / digest).unlink()
    with pytest.raises(JournalBroken, match=f"{digest} cannot be read.*backup"):
        originals.read(digest)


def test_lines_come_back_in_order_and_are_chained(originals: Originals) -> None:
    """One object a line, keys at the top, letters as they are; each names the digest of the line before."""
    assert originals.lines() == [] and originals.head == ""
    written = [line(n, f"Été {n}.csv") for n in range(1, 4)]
    for one in written:
        originals.append(dict(one))
    assert said(originals) == written
    raw = originals.path.read_bytes().splitlines()
    read = [json.loads(one) for one in raw]
    assert [one["number"] for one in read] == [0, 1, 2, 3] and read[0]["outcome"] == "begun"
    assert len(read[0]["identity"]) == 32 and "Été 2" in raw[2].decode()
    for place, one in enumerate(read):
        number, before, body = one["chain"].split(":")
        assert int(number) == place and before == (sha256(beginning(raw[place - 1])) if place else "0" * 64)
        assert body == sha256(raw[place].split(b",", 1)[1])
    assert originals.head == originals.lines()[-1]["head"] == f"3:{sha256(beginning(raw[3]))}"


def beginning(line: bytes) -> bytes:
    return line.split(b",", 1)[0] + b","


def test_a_head_on_paper_has_96_bits() -> None:
    """Six groups of four hex digits."""
    assert on_paper("14:" + "0123456789abcdef" * 4) == "14: 0123 4567 89ab cdef 0123 4567" and on_paper("") == ""


@pytest.mark.parametrize("cut", [1, 5, 20, 250])
def test_a_half_line_counts_as_never_written_and_is_cut_off(originals: Originals, cut: int) -> None:
    """A crash in the middle of a line loses that line alone, and the next one is whole."""
    originals.append(line(1))
    whole = originals.path.read_bytes()
    originals.append(line(2, padding="x" * 40))
    originals.path.write_bytes(originals.path.read_bytes()[: len(whole) + cut])
    later = Originals(originals.folder)
    assert said(later) == [line(1)]
    later.append(line(2, "c.csv"))
    assert [read["name"] for read in Originals(originals.folder).lines()] == ["a.csv", "c.csv"]


def test_a_journal_that_is_one_half_line(originals: Originals) -> None:
    """A crash in the very first line leaves an empty journal."""
    originals.append(line(1))
    originals.path.write_bytes(originals.path.read_bytes()[:5])
    later = Originals(originals.folder)
    assert later.lines() == []
    later.append(line(1))
    assert said(Originals(originals.folder)) == [line(1)]


@pytest.mark.parametrize("damage", [b"{broken", b"\xff\xfe", b"", b"5", b"[]"])
def test_a_damaged_line_is_told_with_its_number(originals: Originals, damage: bytes) -> None:
    """A line that is whole and makes no sense is never passed over."""
    for number in (1, 2, 3):
        originals.append(line(number))
    lines = originals.path.read_bytes().split(b"\n")
    lines[1] = damage
    originals.path.write_bytes(b"\n".join(lines))
    with pytest.raises(JournalBroken, match="line 2 is damaged.*backup"):
        Originals(originals.folder).lines()


@pytest.mark.parametrize("lies", [b"", b"gone", b"shorter", b"longer"])
def test_a_journal_that_was_exchanged_meanwhile_gets_no_line(originals: Originals, lies: bytes) -> None:
    """Outputs emptied, unmounted or written by another program under a process: told before anything is added."""
    originals.append(line(1))
    whole = originals.path.read_bytes()
    if lies == b"gone":
        originals.path.unlink()
    else:
        originals.path.write_bytes({b"": b"", b"shorter": whole[:-9], b"longer": whole * 2}[lies])
    before = originals.path.read_bytes() if originals.path.exists() else None
    with pytest.raises(JournalBroken, match="exchanged, emptied or unmounted"):
        originals.append(line(2))
    assert (originals.path.read_bytes() if originals.path.exists() else None) == before


def test_lines_without_a_next_number_or_a_known_outcome_are_refused(originals: Originals) -> None:
    """Nobody can add what no reader would know."""
    originals.append(line(1))
    for wrong in (line(1), line(3), line(2, outcome="blessed")):
        with pytest.raises(JournalBroken, match="can follow number 1"):
            originals.append(wrong)


# --- journals of earlier versions ------------------------------------------------------------------------


def unchained(folder: Path, count: int = 3) -> bytes:
    """A journal as it was written before there was a chain."""
    folder.mkdir(parents=True, exist_ok=True)
    data = b"".join(json.dumps(line(n), ensure_ascii=False).encode() + b"\n" for n in range(1, count + 1))
    (folder / "journal.jsonl").write_bytes(data)
    return data


def test_an_earlier_journal_is_taken_over_once_and_says_so(originals: Originals) -> None:
    """The old file is kept, its lines' bytes stand behind the new beginnings, the first line names its digest."""
    old = unchained(originals.folder)
    assert [read["head"] for read in originals.lines()] == ["", "", ""]
    originals.take_over()
    begun = originals.begun()
    assert begun is not None
    assert begun["taken_over"] == {"sha256": sha256(old), "bytes": len(old), "lines": 3}
    assert originals.read(sha256(old)) == old and said(originals) == [line(1), line(2), line(3)]
    bodies = [b"{" + link.body for link in read_chain(originals.path.read_bytes()).links[1:]]
    assert b"\n".join(bodies) + b"\n" == old
    before = originals.path.read_bytes()
    originals.take_over()
    assert originals.path.read_bytes() == before
    originals.append(line(4))
    assert len(Originals(originals.folder).lines()) == 4


def test_an_earlier_journal_with_a_gap_is_not_taken_over(originals: Originals) -> None:
    """What was lost before is not chained as if it were whole."""
    old = unchained(originals.folder)
    originals.path.write_bytes(b"".join(old.splitlines(keepends=True)[::2]))
    with pytest.raises(JournalBroken, match="gap"):
        originals.take_over()
