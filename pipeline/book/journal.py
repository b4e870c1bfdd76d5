"""Originals and their journal: the only thing that cannot be made again.

``originals/`` holds every file taken, byte for byte, under its SHA-256, and ``journal.jsonl``,
append-only, one JSON object a line, flushed to disk before a file leaves the inbox.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

from pipeline.common.errors import JournalBroken
from pipeline.common.files import flush_file, flush_folder, sha256, write_whole

FLUSHES = 8


class Originals:
    """The folder of originals."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.path = folder / "journal.jsonl"
        self._kept: list[Path] = []
        self._lines_held: list[bytes] | None = None

    def hold(self) -> None:
        """From now on what is kept and appended reaches the disk with ``flush``: together, which costs far less."""
        self._lines_held = []

    def flush(self) -> None:
        """Flush what was held: the bytes first, then the lines that speak of them."""
        if self._kept:
            with ThreadPoolExecutor(FLUSHES) as several:  # a disk flushes several files for the price of few
                list(several.map(flush_file, self._kept))
            flush_folder(self.folder)
        lines = b"".join(self._lines_held or ())
        self._kept, self._lines_held = [], None
        if lines:
            self._write(lines)

    def keep(self, data: bytes) -> str:
        """Keep bytes under their SHA-256; the same bytes are kept once."""
        digest = sha256(data)
        path = self.folder / digest
        if not path.exists():
            write_whole(path, data, durable=self._lines_held is None)
            if self._lines_held is not None:
                self._kept.append(path)
        return digest

    def read(self, digest: str) -> bytes:
        """The bytes kept under a SHA-256. Raises JournalBroken when lost or changed."""
        path = self.folder / digest
        try:
            data = path.read_bytes()
        except OSError as error:
            raise JournalBroken(
                f"originals/{digest} cannot be read ({error}); restore originals/ from a backup"
            ) from error
        if sha256(data) != digest:
            raise JournalBroken(f"originals/{digest} was changed since it was taken; restore it from a backup")
        return data

    def has(self, digest: str) -> bool:
        """Whether something lies under a SHA-256; whether it is what it should be, ``read`` tells."""
        return (self.folder / digest).is_file()

    def lines(self) -> list[dict[str, Any]]:
        """All journal lines in order. A last line cut off by a crash counts as never written."""
        return list(self._lines())

    def _lines(self) -> Iterator[dict[str, Any]]:
        if not self.path.exists():
            return
        whole = self.path.read_bytes().split(b"\n")
        for number, line in enumerate(whole[:-1], start=1):
            try:
                read = json.loads(line)
                if not isinstance(read, dict):
                    raise ValueError("it is no journal line")
            except ValueError as error:
                raise JournalBroken(
                    f"originals/journal.jsonl line {number} is damaged ({error}); restore originals/ from a backup"
                ) from error
            yield read

    def append(self, line: dict[str, Any]) -> None:
        """Append one line and flush it to disk, unless held; a half line left by a crash is cut off first."""
        text = json.dumps(line, ensure_ascii=False, separators=(",", ":")).encode("utf-8") + b"\n"
        if self._lines_held is None:
            self._write(text)
        else:
            self._lines_held.append(text)

    def _write(self, text: bytes) -> None:
        self.folder.mkdir(parents=True, exist_ok=True)
        fresh = not self.path.exists()
        with open(self.path, "ab+") as stream:
            end = stream.seek(0, os.SEEK_END)
            if end:
                stream.seek(end - 1)
                if stream.read(1) != b"\n":
                    stream.seek(0)
                    stream.truncate(stream.read().rfind(b"\n") + 1)
            stream.write(text)
            stream.flush()
            os.fsync(stream.fileno())
        if fresh:
            flush_folder(self.folder)
