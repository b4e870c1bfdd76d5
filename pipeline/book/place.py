"""Where a book lies: whether it may lie there at all, what an earlier one knew, and how one is set aside."""

from __future__ import annotations

import json
import os
import sqlite3
from collections.abc import Iterable, Mapping
from contextlib import closing
from pathlib import Path
from typing import Any

from pipeline.common.closed import to_read
from pipeline.common.errors import BookError, JournalBroken

APPLICATION = 0x56415454  # in the header of every book, so that it is known for one even where it is damaged
MAGIC = b"SQLite format 3\0"
USUAL = "book.sqlite"
BESIDE = ("-wal", "-shm", "")  # the log first: it is never left beside another book


def refuse_what_is_no_book(path: Path) -> None:
    """Raise BookError where something lies that is no book, before anything is written there."""
    if path.resolve().parent.name == "originals":
        raise BookError(
            f"The book would lie among the originals ({path}), where nothing else may lie. "
            f'Name another file in site.toml: book = "{USUAL}"'
        )
    if path.is_file() and path.name != USUAL and not _is_a_book(path):
        raise BookError(
            f"{path} is no book, so nothing is written to it. "
            f'Name a file of its own in site.toml: book = "{USUAL}". If it was the book and is damaged, move it away'
        )


def _is_a_book(path: Path) -> bool:
    with open(path, "rb") as stream:
        begins = stream.read(100)
    if not begins:
        return True  # SQLite makes an empty file first
    if not begins.startswith(MAGIC):
        return False
    if int.from_bytes(begins[68:72], "big") == APPLICATION:
        return True
    try:
        with closing(to_read(path)) as sql:
            tables = {name for (name,) in sql.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
            return not tables or {"meta", "files", "published"} <= tables  # one that an earlier version made
    except sqlite3.Error:
        return False


def set_aside(path: Path, why: str) -> Path:
    """Give a book, with what lies beside it, a name that says ``why`` it is used no more; nothing is removed."""
    number = 1
    while any(os.path.lexists(f"{path}.{why}-{number}{end}") for end in BESIDE):
        number += 1
    aside = path.with_name(f"{path.name}.{why}-{number}")
    for end in BESIDE:
        if os.path.lexists(f"{path}{end}"):
            os.rename(f"{path}{end}", f"{aside}{end}")
    return aside


def known_heads(path: Path) -> dict[int, str]:
    """Number → head of the journal lines that a book knows, whatever its version; nothing where it cannot be read."""
    return {number: json.loads(line).get("head", "") for number, line in _rows(path, "SELECT number, line FROM files")}


def known_published(path: Path) -> list[tuple[str, ...]]:
    """What a book says of the output files: path, SHA-256 as last written, and as it was about to be written."""
    return _rows(path, "SELECT path, sha256, next FROM published") or [
        (*row, "") for row in _rows(path, "SELECT path, sha256 FROM published")
    ]


def known_standings(path: Path) -> dict[str, dict[str, Any]]:
    """Batch → how it stood when a book was last published, whatever its version."""
    return {batch: json.loads(text) for batch, text in _rows(path, "SELECT batch, standing FROM standings")}


def known_open(path: Path) -> list[tuple[str, str, str, str]]:
    """What a book says was open, as ``Book.open_findings``; nothing where it cannot be read."""
    return _rows(path, "SELECT finding, severity, code, subject FROM open_findings ORDER BY finding")


def _rows(path: Path, question: str) -> list[Any]:
    try:
        with closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)) as sql:
            return sql.execute(question).fetchall()
    except (sqlite3.Error, ValueError):
        return []


def disagreement(heads: Mapping[int, str], lines: Iterable[Mapping[str, Any]]) -> str:
    """In what a journal is not the one that a book with these heads was made of; empty where it is."""
    there = {int(line["number"]): line for line in lines}
    last = max(there, default=0)
    if max(heads, default=0) > last:
        return f"The book knows {max(heads)} files, the journal only {last}: its end is missing."
    for number in sorted(heads):
        if heads[number] and heads[number] != there[number]["head"]:
            before = there.get(number - 1)
            since = f" The last line that agrees is number {number - 1}, of {before['taken_at']}." if before else ""
            return (
                f"Number {number} of the journal is not the line that the book was made of: "
                f"the journal was rewritten, or another one was put in its place.{since}"
            )
    return ""


def agree(heads: Mapping[int, str], lines: Iterable[Mapping[str, Any]]) -> None:
    """Raise JournalBroken where a journal is not the one that a book was made of."""
    said = disagreement(heads, lines)
    if said:
        raise JournalBroken(
            f"{said} Restore originals/ from a newer backup. Only where there is none: vatting rebuild goes by the "
            "journal as it lies, sets this book aside, and the journal says so from then on"
        )
