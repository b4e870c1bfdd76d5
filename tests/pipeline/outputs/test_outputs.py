"""Outputs are replaced whole, only when they changed, under names that every system takes."""

from __future__ import annotations

import io
import os
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.common.file_names import RESERVED_NAMES, safe_name
from pipeline.common.files import write_whole
from pipeline.outputs import replacing as outputs
from pipeline.outputs.replacing import NotPublished, replace_file
from pipeline.writing.workbooks import workbook_bytes


def test_a_file_is_written_once_and_left_alone_when_equal(tmp_path: Path) -> None:
    """Equal bytes are not written again: the file keeps its time."""
    assert replace_file(tmp_path, "a/b.csv", b"one")
    os.utime(tmp_path / "a" / "b.csv", (1_000_000_000, 1_000_000_000))
    assert not replace_file(tmp_path, "a/b.csv", b"one")
    assert (tmp_path / "a" / "b.csv").stat().st_mtime == 1_000_000_000
    assert replace_file(tmp_path, "a/b.csv", b"two")
    assert (tmp_path / "a" / "b.csv").read_bytes() == b"two"
    assert [path.name for path in (tmp_path / "a").iterdir()] == ["b.csv"]


def test_a_write_that_fails_leaves_the_old_file_and_no_rest(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whole or not at all."""
    write_whole(tmp_path / "a", b"old")

    def full(*_: Any) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space"):
        write_whole(tmp_path / "a", b"new")
    assert [path.read_bytes() for path in tmp_path.iterdir()] == [b"old"]


def test_a_file_held_open_is_tried_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Another program that lets go soon is waited for."""
    replace_file(tmp_path, "a.xlsx", b"old")
    tries = []

    def busy(path: Path, data: bytes, durable: bool = True) -> None:
        tries.append(path)
        if len(tries) < 3:
            raise PermissionError(13, "held")
        write_whole(path, data)

    monkeypatch.setattr(outputs, "write_whole", busy)
    monkeypatch.setattr(outputs.time, "sleep", lambda _: None)
    assert replace_file(tmp_path, "a.xlsx", b"new") and len(tries) == 3
    assert (tmp_path / "a.xlsx").read_bytes() == b"new"


def test_a_file_that_stays_held_is_written_beside(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The new content is not lost, the old is untouched, and the sentence names both."""
    replace_file(tmp_path, "a.xlsx", b"old")

    def held(path: Path, data: bytes, durable: bool = True) -> None:
        if path.name == "a.xlsx":
            raise PermissionError(13, "held")
        write_whole(path, data)

    monkeypatch.setattr(outputs, "write_whole", held)
    monkeypatch.setattr(outputs.time, "sleep", lambda _: None)
    with pytest.raises(NotPublished, match=r"a\.xlsx is held open.*a\.new\.xlsx"):
        replace_file(tmp_path, "a.xlsx", b"new")
    assert (tmp_path / "a.xlsx").read_bytes() == b"old" and (tmp_path / "a.new.xlsx").read_bytes() == b"new"


def test_a_folder_that_may_not_be_written_is_an_error(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No permission and no file there: nothing is held open, the disk says no."""

    def denied(path: Path, data: bytes, durable: bool = True) -> None:
        raise PermissionError(13, "denied")

    monkeypatch.setattr(outputs, "write_whole", denied)
    with pytest.raises(PermissionError):
        replace_file(tmp_path, "a.xlsx", b"new")


@pytest.mark.parametrize("name", ["B-26-01", "Batch 7", "Été", "a.b", "x" * 150])
def test_plain_names_stay(name: str) -> None:
    """A name that every system takes is the folder's name."""
    assert safe_name(name) == name


@pytest.mark.parametrize("name", ["a/b", "a\\b", "..", ".", "", " a", "a.", "con", "NUL.txt", "a:b", "a\nb", "é" * 200])
def test_other_names_are_cleaned_and_stay_apart(name: str) -> None:
    """No name leads out of the outputs or is reserved; a hash keeps cleaned names apart."""
    made = safe_name(name)
    assert made not in ("", ".", "..") and not set(made) & set('/\\:\n*?"<>|')
    assert made != safe_name(name + "!") and len(made.encode("utf-8")) <= 160
    assert made.casefold().split(".")[0] not in RESERVED_NAMES


@given(st.lists(st.text(max_size=12), unique=True, max_size=10))
def test_unlike_names_stay_unlike(names: list[str]) -> None:
    """Two values never share a folder."""
    assert len({safe_name(name) for name in names}) == len(names)


def test_a_workbook_is_the_same_bytes_whenever_it_is_made(monkeypatch: pytest.MonkeyPatch) -> None:
    """Bytes depend on the content, not on the clock."""
    made = []
    for _ in range(2):
        book = openpyxl.Workbook()
        book.active["A1"] = "lab"
        book.properties.creator = "vatting"
        made.append(workbook_bytes(book))
        monkeypatch.setattr("time.time", lambda: 2_000_000_000.0)
    assert made[0] == made[1]
    assert openpyxl.load_workbook(io.BytesIO(made[0])).active["A1"].value == "lab"
