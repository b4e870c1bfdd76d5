"""The door: what is taken, what is passed over, what stays, and how a file leaves."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.common.file_names import short_name
from pipeline.inbox.folder import claim, leave, passed_over, read, unclaim, waiting

SKIPPED = [
    "~$book.xlsx", ".~lock.book.xlsx#", ".#book.csv", "._book.csv", ".DS_Store", ".stfolder", ".hidden.csv",
    "~wrl0003.tmp", "lab.tmp", "lab.csv.part", "lab.csv.filepart", "lab.xlsx.crdownload", "lab.download", "lab.partial",
    "lab.csv~", "lab.swp", "lab.lock", "lab.bak", "lab.lnk", "Thumbs.db", "THUMBS.DB", "desktop.ini", "@eaDir",
    "__MACOSX", "site.toml", "SITE.TOML",
]  # fmt: skip
TAKEN = [
    "lab.csv", "book.xlsx", "~lab.csv", "$lab.csv", "partial.csv", "lab.part.csv", "tmp.csv", "lock.xlsx",
    "download.csv", "thumbs.csv", "site.csv", "my site.toml.csv", "lab", "bak.csv", "été.csv", "_MACOSX.csv",
]  # fmt: skip


@pytest.mark.parametrize("name", SKIPPED)
def test_lock_temporary_and_hidden_files_are_passed_over(name: str) -> None:
    """By name alone, before anything is opened."""
    assert passed_over(name)


@pytest.mark.parametrize("name", TAKEN)
def test_names_like_them_are_taken(name: str) -> None:
    """Each pattern has its counterpart that is taken."""
    assert not passed_over(name)


def test_what_waits_is_listed_by_name_with_interrupted_files_first(tmp_path: Path) -> None:
    """Files an interrupted run had claimed come first; case and form of letters do not order."""
    for name in ("b.csv", "A.csv", "~$b.xlsx", "site.toml"):
        (tmp_path / name).write_text("x")
    (tmp_path / ".taking").mkdir()
    (tmp_path / ".taking" / "z.csv").write_text("x")
    files, staying = waiting(tmp_path)
    assert [(file.name, file.claimed) for file in files] == [("z.csv", True), ("A.csv", False), ("b.csv", False)]
    assert staying == {}


def test_folders_and_links_that_lead_outside_stay_with_a_reason(tmp_path: Path) -> None:
    """Only files directly in the inbox are taken."""
    inbox, outside = tmp_path / "inbox", tmp_path / "outside.csv"
    inbox.mkdir()
    outside.write_text("x")
    (inbox / "folder").mkdir()
    (inbox / "inside.csv").write_text("x")
    for name, target in {
        "out.csv": outside,
        "gone.csv": tmp_path / "nowhere.csv",
        "up": tmp_path,
        "alias.csv": inbox / "inside.csv",
        "loop.csv": inbox / "loop.csv",
    }.items():
        os.symlink(target, inbox / name)
    files, staying = waiting(inbox)
    assert [file.name for file in files] == ["alias.csv", "inside.csv"]
    assert set(staying) >= {"folder", "out.csv", "gone.csv", "up"}
    assert "folder" in staying["folder"] and "link" in staying["out.csv"] and "link" in staying["gone.csv"]


def test_a_name_that_is_no_text_is_shown_readable(tmp_path: Path) -> None:
    """Bytes that are no UTF-8 in a name never reach journal, page or screen as they are."""
    (tmp_path / os.fsdecode(b"lab\xff.csv")).write_text("x")
    (tmp_path / os.fsdecode(b"dir\xff")).mkdir()
    files, staying = waiting(tmp_path)
    for name in (files[0].name, *staying):
        assert name.encode("utf-8").decode("utf-8") == name
    assert claim(files[0], tmp_path).path.read_text() == "x"


def test_a_claimed_file_leaves_the_inbox_and_can_go_back(tmp_path: Path) -> None:
    """Claim by rename; unclaim puts it back where it lay; leave removes it and the empty folder."""
    (tmp_path / "a.csv").write_text("x")
    (file,), _ = waiting(tmp_path)
    claimed = claim(file, tmp_path)
    assert not (tmp_path / "a.csv").exists() and claimed.path.read_text() == "x" and claimed.name == "a.csv"
    assert claim(claimed, tmp_path) is claimed
    unclaim(claimed, tmp_path)
    assert (tmp_path / "a.csv").read_text() == "x"
    (file,), _ = waiting(tmp_path)
    claimed = claim(file, tmp_path)
    leave(replace(claimed, seen=read(claimed, 10).seen))
    assert list(tmp_path.iterdir()) == []


def test_claiming_never_overwrites_an_interrupted_file(tmp_path: Path) -> None:
    """A second file of the name gets a number in .taking, and is still called by its name."""
    (tmp_path / ".taking").mkdir()
    (tmp_path / ".taking" / "a.csv").write_text("first")
    (tmp_path / "a.csv").write_text("second")
    file = next(file for file in waiting(tmp_path)[0] if not file.claimed)
    claimed = claim(file, tmp_path)
    assert claimed.name == "a.csv" and claimed.path.read_text() == "second"
    assert (tmp_path / ".taking" / "a.csv").read_text() == "first"
    leave(claimed)
    assert (tmp_path / ".taking" / "a.csv").exists()


@given(st.text(min_size=1, max_size=300))
def test_names_of_returned_files_fit_every_disk(name: str) -> None:
    """At most 200 bytes, no separators, and unlike long names stay unlike."""
    made = short_name(name)
    assert 0 < len(made.encode("utf-8", "surrogateescape")) <= 200 and not set(made) & set('/\\:*?"<>|\0')


def test_long_names_are_shortened_with_eight_digits_of_the_hash() -> None:
    """Over 200 bytes: shortened, the ending kept."""
    one, other = "a" * 250 + "1.xlsx", "a" * 250 + "2.xlsx"
    assert short_name(one) != short_name(other)
    assert short_name(one).endswith(".xlsx") and len(short_name(one)) <= 200
    assert short_name("lab.csv") == "lab.csv"
