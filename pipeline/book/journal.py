"""Originals and their journal: the only thing that cannot be made again.

``originals/`` holds every file taken or returned, byte for byte, under its SHA-256, and ``journal.jsonl``, append-only,
one chained line (``chain``) for each, flushed to disk before a file leaves the inbox.

What was not flushed does not count. An original that lies there already is believed only where a line of the journal
names it (bytes are flushed before the line that names them) and its bytes are the same; any other is written anew.
Lines that the book does not have yet may be those whose flush failed: they are written anew before they count
(``settle``).
"""

from __future__ import annotations

import errno
import json
import secrets
from collections.abc import Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any

from pipeline.book.chain import (
    BEGUN,
    FORMAT,
    NOTHING,
    OUTCOMES,
    UNREAD,
    Chain,
    Link,
    chained,
    digest_of_line,
    read_chain,
)
from pipeline.common.errors import JournalBroken
from pipeline.common.files import flush_file, flush_folder, fsync, naming, sha256, write_whole

FLUSHES = 8
FLUSHED_TOGETHER = 200  # more lines than are ever flushed together
EXCHANGED = (
    "{} is not as this process left it: the outputs were exchanged, emptied or unmounted, or another program wrote "
    "there. Nothing was added. Bring back the right outputs and start again."
)


def new_identity() -> str:
    """What tells this folder of outputs from any other."""
    return secrets.token_hex(16)


class Originals:
    """The folder of originals. After a write or flush that failed, it keeps nothing more: open another."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.path = folder / "journal.jsonl"
        self._waiting: dict[str, Path] = {}  # kept and not flushed yet
        self._lines_held: list[bytes] | None = None
        self._flushed: set[str] = set()
        self._last: Link | None = None  # of the journal with what is held; None while it was not read
        self._tail, self._length = b"", 0  # the last line on the disk, and how far whole lines go there
        self._failed = ""

    def hold(self) -> None:
        """From now on what is kept and appended reaches the disk with ``flush``: together, which costs far less."""
        self._lines_held = []

    def flush(self) -> None:
        """Flush what was held: the bytes first, then the lines that speak of them."""
        self._may_go_on()
        with self._or_nothing_more():
            if self._waiting:
                with ThreadPoolExecutor(FLUSHES) as several:  # a disk flushes several files for the price of few
                    list(several.map(flush_file, self._waiting.values()))
                flush_folder(self.folder)
            lines = b"".join(self._lines_held or ())
            if lines:
                self._write(lines)
        self._flushed.update(self._waiting)
        self._waiting, self._lines_held = {}, None

    def keep(self, data: bytes) -> str:
        """Keep bytes under their SHA-256; the same bytes are kept once."""
        self._may_go_on()
        digest = sha256(data)
        path = self.folder / digest
        if digest in self._waiting or (digest in self._known_flushed() and _holds(path, data)):
            return digest
        with self._or_nothing_more():
            write_whole(path, data, durable=self._lines_held is None)
        if self._lines_held is None:
            self._flushed.add(digest)
        else:
            self._waiting[digest] = path
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

    # --- the journal, read -------------------------------------------------------------------------

    def lines(self) -> list[dict[str, Any]]:
        """All journal lines after the first, in order, each with its ``head``.

        A last line cut off by a crash counts as never written. Raises JournalBroken at the first line that does not
        agree with the chain. Lines of a journal that was never chained have no head.
        """
        data = self._bytes()
        if is_of_an_earlier_version(data):
            lines = list(_unchained(data))
        else:
            chain = read_chain(data)
            _stop_at_a_fault(chain)
            lines = [link.said for link in chain.links if link.said is not None]
            if self._last is None:
                self._go_on_from(data, chain)
        self._flushed.update(digest for line in lines for digest in named(line))
        return [line for line in lines if line["outcome"] != BEGUN]

    def begun(self) -> dict[str, Any] | None:
        """The first line, with the ``identity`` of these outputs; None where there is none yet."""
        found = read_chain(self._bytes().partition(b"\n")[0] + b"\n")
        return None if found.faults or not found.links else found.links[0].said

    @property
    def is_unchained(self) -> bool:
        """Whether the journal is one that an earlier version wrote."""
        return is_of_an_earlier_version(self._bytes())

    @property
    def head(self) -> str:
        """The head of the last line, held ones too; empty where there is none."""
        last = self._end()
        return "" if last.number == UNREAD else last.head

    def _bytes(self) -> bytes:
        try:
            return self.path.read_bytes()
        except FileNotFoundError:
            return b""

    def _end(self) -> Link:
        if self._last is None:
            self.lines()
        if self._last is None:
            raise JournalBroken(f"{self.path.name} is of an earlier version and was not taken over")
        return self._last

    def _known_flushed(self) -> set[str]:
        if self._last is None:
            self.lines()
        return self._flushed

    def _go_on_from(self, data: bytes, chain: Chain) -> None:
        self._last = chain.links[-1] if chain.links else Link(0, 0, UNREAD, NOTHING, b"")
        self._length, self._tail = chain.end, data[self._last.offset : chain.end]

    # --- the journal, written ----------------------------------------------------------------------

    def append(self, line: dict[str, Any]) -> None:
        """Append one line, which gets its ``head``, and flush it to disk, unless held."""
        self._may_go_on()
        text = b""
        if self._end().number == UNREAD:
            text = self._next({"number": 0, "outcome": BEGUN, **_identity(line)})
        text += self._next(line)
        if self._lines_held is not None:
            self._lines_held.append(text)
            return
        with self._or_nothing_more():
            self._write(text)

    def _next(self, line: dict[str, Any]) -> bytes:
        """The bytes of a line at the end of the chain; it gets its head."""
        last = self._end()
        if line["number"] != last.number + 1 or line["outcome"] not in OUTCOMES:
            raise JournalBroken(f"no line {line['number']} ({line['outcome']}) can follow number {last.number}")
        body = json.dumps(line, ensure_ascii=False, separators=(",", ":")).encode("utf-8")[1:]
        raw = chained(line["number"], last.digest, body)
        self._last = Link(last.line + 1, 0, line["number"], digest_of_line(raw), body)
        line["head"] = self._last.head
        return raw + b"\n"

    def _write(self, text: bytes) -> None:
        if not self._length:
            self.folder.mkdir(parents=True, exist_ok=True)
        try:
            with naming(self.path), open(self.path, "rb+" if self._length else "ab+") as stream:
                self._cut_off_half_a_line(stream)
                stream.write(text)
                fsync(stream)
        except FileNotFoundError as error:
            raise JournalBroken(EXCHANGED.format(self.path)) from error
        if not self._length:
            flush_folder(self.folder)
        self._length += len(text)
        self._tail = text[text.rfind(b"\n", 0, -1) + 1 :]

    def _cut_off_half_a_line(self, stream: IO[bytes]) -> None:
        """Leave the stream at the end of what was read; half a line that a crash left is cut off."""
        stream.seek(self._length - len(self._tail))
        tail = stream.read()
        if not tail.startswith(self._tail) or b"\n" in tail[len(self._tail) :]:
            raise JournalBroken(EXCHANGED.format(self.path))
        stream.truncate(self._length)
        stream.seek(self._length)

    @contextmanager
    def _or_nothing_more(self) -> Iterator[None]:
        try:
            yield
        except BaseException as error:
            self._failed = str(error)
            raise

    def _may_go_on(self) -> None:
        if self._failed:
            said = f"Nothing counts as kept since a write failed ({self._failed})"
            raise OSError(errno.EIO, said, str(self.folder))

    # --- what may not have been flushed, and journals of earlier versions ---------------------------

    def settle(self, lines: Iterable[dict[str, Any]]) -> None:
        """Write anew, and flush, lines that are not in the book yet, and what they name.

        Their flush may have failed, and a second flush of the same file would not say so.
        """
        late = list(lines)[-FLUSHED_TOGETHER:]
        for digest in {digest for line in late for digest in named(line)}:
            path = self.folder / digest
            if path.is_file() and sha256(data := path.read_bytes()) == digest:  # what is lost, its reader tells
                write_whole(path, data)
        if late:
            self._end()
            write_whole(self.path, self._bytes()[: self._length])

    def take_over(self) -> None:
        """Chain a journal that an earlier version wrote, once; its first line says so, and the old file is kept.

        The lines' own bytes stay as they are behind their new beginnings.
        """
        data = self._bytes()
        if not is_of_an_earlier_version(data):
            return
        lines = self.lines()
        if [line.get("number") for line in lines] != list(range(1, len(lines) + 1)):
            raise JournalBroken(
                "originals/journal.jsonl is of an earlier version, and its numbers have a gap; "
                "restore originals/ from a backup"
            )
        old = data[: data.rfind(b"\n") + 1]
        write_whole(self.folder / sha256(old), old)
        taken_over = {"sha256": sha256(old), "bytes": len(old), "lines": len(lines)}
        first = {"number": 0, "outcome": BEGUN, **_identity(lines[0]), "taken_over": taken_over}
        made = [chained(0, NOTHING, json.dumps(first, separators=(",", ":")).encode()[1:])]
        for number, line in enumerate(old.split(b"\n")[:-1], start=1):
            made.append(chained(number, digest_of_line(made[-1]), line[1:]))
        write_whole(self.path, b"\n".join(made) + b"\n")
        self._last = None


def named(line: dict[str, Any]) -> list[str]:
    """The SHA-256 of the originals that a line names.

    The bytes it speaks of, settings, what describes the house, and the files of records as they were signed.
    """
    if line["outcome"] == BEGUN:
        return [line["taken_over"]["sha256"]] if "taken_over" in line else []
    kept = line["outcome"] != "returned" or line.get("kept") is True
    found = [line[name] for name in (("sha256", "settings", "house") if kept else ("settings",)) if name in line]
    return found + [digest for one in line.get("resolved", []) for digest in one.get("files", {}).values()]


def is_of_an_earlier_version(data: bytes) -> bool:
    """Whether no line of a journal is chained, and each is one JSON object with a number."""
    if not data.startswith(b"{") or b'{"chain":' in data:
        return False
    try:
        lines = data.split(b"\n")[:-1]
        return bool(lines) and all(line.startswith(b"{") and isinstance(json.loads(line), dict) for line in lines)
    except ValueError:
        return False


def _identity(line: dict[str, Any]) -> dict[str, Any]:
    return {"taken_at": line.get("taken_at", ""), "identity": new_identity(), "format": FORMAT}


def _unchained(data: bytes) -> Iterator[dict[str, Any]]:
    for line in data.split(b"\n")[:-1]:
        yield {**json.loads(line), "head": ""}


def _stop_at_a_fault(chain: Chain) -> None:
    if not chain.faults:
        return
    first, more = chain.faults[0], len(chain.faults) - 1
    others = f" {more} more line{'s do' if more > 1 else ' does'} not agree." if more else ""
    raise JournalBroken(
        f"originals/journal.jsonl line {first.line} is damaged. {first.place[:1].upper()}{first.place[1:]} "
        f"{first.words}{others} Restore originals/ from a backup; vatting verify lists all that does not agree"
    )


def _holds(path: Path, data: bytes) -> bool:
    try:
        return path.read_bytes() == data
    except OSError:
        return False
