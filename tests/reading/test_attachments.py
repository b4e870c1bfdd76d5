"""A photo or PDF is kept beside what its name says, and is no exception for ever."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.book.book import Book
from pipeline.inbox.attachments import is_attachment, names_in
from pipeline.runs import checking
from pipeline.runs.run import rebuild
from tests.bad_input.kit import NOW, house, run_in

PDF, PHOTO = b"%PDF-1.7\n1 0 obj\n", b"\xff\xd8\xff\xe0 a head of a cask"
LAB = (
    "Cask,Date,Observed Proof,Temp (°F)\nC-0101,2026-03-02,121,68\n1234,2026-03-02,121,68\nVAT 1,2026-03-02,121,68\n"
    "A,2026-03-02,121,68\nC-0101-2,2026-03-02,121,68\n"
)


@pytest.fixture(scope="module")
def out(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("house")
    run_in(folder, {"lab.csv": LAB})
    return folder / "out"


@pytest.mark.long
@pytest.mark.parametrize(
    ("name", "named"),
    [
        ("C-0101 head.jpg", ["C-0101"]),
        ("c-0101_head (2).JPG", ["c-0101"]),
        ("IMG_1234.jpg", []),
        ("cask 1234.jpg", ["1234"]),
        ("Barrel_1234 bung.jpg", ["1234"]),
        ("vat_1 gauge.png", ["vat 1"]),
        ("A.pdf", []),
        ("C-0101-2.jpg", ["C-0101-2"]),
        ("C-0101-3.jpg", []),
        ("XC-0101.jpg", []),
        ("C-0101 and C-0101-2.pdf", ["C-0101", "C-0101-2"]),
    ],
)
def test_a_name_counts_only_where_it_stands_whole(name: str, named: list[str], out: Path) -> None:
    with Book(out / "book.sqlite", house().kinds, only_read=True) as book:
        assert names_in(name, book) == named


def test_what_only_calls_itself_a_photo_is_none() -> None:
    assert is_attachment("a.pdf", PDF) and is_attachment("a.JPG", PHOTO)
    assert not is_attachment("a.jpg", PDF) and not is_attachment("a.csv", PDF) and not is_attachment("a.pdf", b"MZ\x90")


@pytest.mark.long
def test_it_is_kept_beside_its_cask_and_no_line_is_open(tmp_path: Path) -> None:
    files = {"lab.csv": LAB}
    run_in(tmp_path, files)
    result = run_in(tmp_path, {"C-0101 head.jpg": PHOTO})
    (fate,) = result.fates
    assert (fate.outcome, fate.kinds) == ("taken", "an attachment to C-0101")
    kept = tmp_path / "out" / "attachments" / "C-0101" / "C-0101 head.jpg"
    assert kept.read_bytes() == PHOTO
    assert not [f for f in result.worked.findings if f.is_open and f.place.file == "C-0101 head.jpg"]
    other = PHOTO + b" from nearer"
    run_in(tmp_path, {"C-0101 head.jpg": other})
    assert kept.read_bytes() == other and len(list(kept.parent.iterdir())) == 2
    kept.unlink()
    again = rebuild(tmp_path / "out", now=NOW)
    assert kept.read_bytes() == other
    assert "an attachment to C-0101" in [fate.kinds for fate in again.run.files]


@pytest.mark.long
def test_one_that_names_nothing_goes_back_until_it_is_named(tmp_path: Path) -> None:
    """The same bytes under a name that says something settle the line of the first."""
    run_in(tmp_path, {"lab.csv": LAB})
    first = run_in(tmp_path, {"IMG_0001.jpg": PHOTO})
    assert first.fates[0].outcome == "returned" and "C-0101 head.jpg" in first.fates[0].remedy
    (tmp_path / "C-0101.jpg").write_bytes(PHOTO)
    checked, _ = checking.check_files([tmp_path / "C-0101.jpg"], tmp_path / "out")
    assert [item.attached_to for item in checked.values()] == [["C-0101"]]
    second = run_in(tmp_path, {"C-0101.jpg": PHOTO})
    assert not [f for f in second.worked.findings if f.code == "file.returned"]
