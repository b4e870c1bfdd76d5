"""Real processes that are killed at a step or at a moment, and what is compared afterwards."""

from __future__ import annotations

import builtins
import os
import re
import shutil
import signal
import sqlite3
import stat
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from pipeline.book.book import Book
from pipeline.book.journal import Originals
from pipeline.inbox import folder as inbox
from pipeline.kept.store import Kept
from pipeline.runs import run
from tests.pipeline.kit import ROWS, csv, xlsx
from tests.support import lying_in, write_site

NOW = datetime(2026, 6, 1, 12, 0, tzinfo=UTC)
HEADS = re.compile(rb"[0-9]+: ?[0-9a-f]{4}( ?[0-9a-f]{4}){5,15}")  # each house has its own
SITE = 'timezone = "UTC"\n[watch]\nquiet_seconds = 0.0\npatience_seconds = 0.0\n'
DROPPED = {
    "a_lab.csv": csv(*ROWS),
    "b_lab.csv": csv("C-1,2026-03-02,121,20,B-1", "C-9,2026-03-02,99,20,B-2"),  # corrects a row of a_lab
    "c_twice.csv": csv(*ROWS),  # the same bytes again
    "d_bad.csv": b"nothing,that\nanybody,knows\n",
    "e_book.xlsx": xlsx({"lab": [["Cask", "Date", "Reading", "Temp (°C)"], ["C-5", datetime(2026, 3, 4), 101.5, 21]]}),
    "f_dispute.csv": csv("C-7,2026-03-02,90,20,B-2", "C-7,2026-03-02,95,20,B-2"),
    "g_rulings.csv": b"finding;ruling;corrected_value;reason;by;ruled_on\nF-ZZZZZZZZZZ;void;;not known;ab;2026-05-01\n",
}


def fill(folder: Path) -> None:
    """An inbox with a file of every fate."""
    (folder / "in").mkdir(parents=True)
    write_site(folder / "in", SITE)
    for name, data in DROPPED.items():
        (folder / "in" / name).write_bytes(data)


def once(folder: Path) -> None:
    run.run(folder / "in", folder / "out", now=NOW)


def in_a_process(work: Callable[[], Any], kill_after: float | None = None) -> int:
    """Do the work in a process of its own, killed after so many seconds; gives the signal that ended it, or 0."""
    child = os.fork()
    if child == 0:
        try:
            sys.stdout = sys.stderr = builtins.open(os.devnull, "w")
            work()
            os._exit(0)
        except BaseException:
            os._exit(1)
    if kill_after is not None:
        time.sleep(kill_after)
        os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    assert os.WIFSIGNALED(status) or os.WEXITSTATUS(status) == 0, "the process failed by itself"
    return os.WTERMSIG(status) if os.WIFSIGNALED(status) else 0


class Steps:
    """Every primitive step by which a run changes a disk, counted; the process is killed before the wanted one.

    Steps: files renamed, replaced, removed and opened for writing, flushes to the disk, statements that
    write the book or what is kept, and the second half of what is written whole and of journal lines.
    """

    def __init__(self, wanted: int | None) -> None:
        self.wanted, self.names = wanted, list[str]()

    def step(self, name: str) -> None:
        if len(self.names) == self.wanted:
            os.kill(os.getpid(), signal.SIGKILL)
        self.names.append(name)

    def install(self) -> None:
        for module, name in ((os, "rename"), (os, "replace"), (os, "unlink"), (os, "fsync"), (os, "rmdir")):
            self._wrap(module, name, lambda args, name=name: f"{name} {_short(args)}")
        for name in ("unlink", "rename", "replace", "rmdir", "mkdir"):
            self._wrap(Path, name, lambda args, name=name: f"{name} {_short(args)}")
        self._wrap(os, "open", lambda args: f"create {_short(args)}" if args[1] & os.O_CREAT else "")
        self._wrap(builtins, "open", self._opened)
        self._halve(builtins, "open", lambda args: self._opened(args) and Path(str(args[0])).name == "journal.jsonl")
        self._halve(os, "fdopen", lambda args: args[1] == "wb")
        self._count_statements(Book, "__init__")
        self._count_statements(Kept, "_open")

    def _count_statements(self, owner: Any, name: str) -> None:
        original, steps = getattr(owner, name), self

        def opened(store: Any, *args: Any, **kwargs: Any) -> None:
            original(store, *args, **kwargs)
            store.sql = _Connection(store.sql, steps)

        setattr(owner, name, opened)

    def _opened(self, args: tuple[Any, ...]) -> str:
        mode = args[1] if len(args) > 1 else "r"
        return f"open {_short(args)}" if any(letter in str(mode) for letter in "wa+x") else ""

    def _wrap(self, owner: Any, name: str, told: Callable[[tuple[Any, ...]], str]) -> None:
        original = getattr(owner, name)

        def stepped(*args: Any, **kwargs: Any) -> Any:
            words = told(args)
            if words:
                self.step(words)
            return original(*args, **kwargs)

        setattr(owner, name, stepped)

    def _halve(self, owner: Any, name: str, wanted: Callable[[tuple[Any, ...]], Any]) -> None:
        plain = getattr(owner, name)
        setattr(
            owner,
            name,
            lambda *args, **kwargs: _Halves(plain(*args, **kwargs), self) if wanted(args) else plain(*args, **kwargs),
        )


class Faults(Steps):
    """The same steps, of which the wanted one fails once, as a disk does: a failed flush loses what it was to keep."""

    def step(self, name: str) -> None:
        self.names.append(name)
        if len(self.names) - 1 != self.wanted:
            return
        if name.isupper() or name.split()[0].isupper():
            raise sqlite3.OperationalError("disk I/O error")
        raise OSError(5, "Input/output error")

    def _wrap(self, owner: Any, name: str, told: Callable[[tuple[Any, ...]], str]) -> None:
        if (owner, name) != (os, "fsync"):
            super()._wrap(owner, name, told)
            return
        plain = os.fsync

        def flushed(handle: int) -> None:
            try:
                self.step(told((handle,)))
            except OSError:
                if (
                    stat.S_ISREG(os.fstat(handle).st_mode)
                    and os.fstat(handle).st_nlink
                    and not self._is_journal(handle)
                ):
                    os.ftruncate(handle, 0)
                raise
            plain(handle)

        os.fsync = flushed

    def _is_journal(self, handle: int) -> bool:
        with open(os.dup(handle), "rb") as stream:
            stream.seek(0)
            return stream.read(9) == b'{"chain":'


class _Halves:
    """A stream that is written half, then a step, then the rest."""

    def __init__(self, stream: Any, steps: Steps) -> None:
        self.stream, self.steps = stream, steps

    def write(self, data: bytes) -> None:
        self.stream.write(data[: len(data) // 2])
        self.stream.flush()
        self.steps.step("write the second half")
        self.stream.write(data[len(data) // 2 :])

    def __enter__(self) -> _Halves:
        return self

    def __exit__(self, *_: object) -> None:
        self.stream.close()

    def __getattr__(self, name: str) -> Any:
        return getattr(self.stream, name)


class _Connection:
    """A connection that counts the statements that write."""

    def __init__(self, sql: sqlite3.Connection, steps: Steps) -> None:
        self.sql, self.steps = sql, steps

    def execute(self, text: str, *rest: Any) -> Any:
        if not text.startswith(("SELECT", "PRAGMA")):
            self.steps.step(text.split("(")[0][:40])
        return self.sql.execute(text, *rest)

    def executemany(self, text: str, *rest: Any) -> Any:
        self.steps.step(text.split("(")[0][:40])
        return self.sql.executemany(text, *rest)

    def __getattr__(self, name: str) -> Any:
        return getattr(self.sql, name)


def _short(args: tuple[Any, ...]) -> str:
    return re.sub(r"[0-9a-f]{64}", "SHA", Path(str(args[0])).name) if args else ""


def state(folder: Path) -> dict[str, Any]:
    """All that must be as without a fault: journal, book, outputs, returned files and what is left in the inbox."""
    out = folder / "out"
    journal = Originals(out / "originals").lines()  # whole and in order, or it says so
    return {
        "journal": [{**line, "site_folder": "", "head": ""} for line in journal],
        "originals": sorted(path.name for path in (out / "originals").iterdir()),
        "book": _book(out / "book.sqlite", str(folder)),
        "outputs": {
            path.relative_to(out).as_posix(): HEADS.sub(b"HEAD", path.read_bytes())
            for path in sorted(out.rglob("*"))
            if path.is_file()
            and path.relative_to(out).parts[0] not in ("originals", "log", "kept")
            and not path.name.startswith((".vatting", "book.sqlite", ".part-"))
        },
        "inbox": lying_in(folder / "in"),
    }


def _book(path: Path, folder: str) -> dict[str, Any]:
    sql = sqlite3.connect(path)
    names = [name for (name,) in sql.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name")]
    made = {name: [tuple(map(str, row)) for row in sql.execute(f"SELECT * FROM {name}")] for name in names}
    sql.close()
    for table in ("files", "published"):  # heads and the digests of pages that show them are each house's own
        made[table] = sorted(row[:2] if table == "files" else row[:1] for row in made[table])
    return {name: [tuple(cell.replace(folder, "") for cell in row) for row in rows] for name, rows in made.items()}


def fresh(folder: Path) -> Path:
    """A new inbox in place of the last one."""
    shutil.rmtree(folder, ignore_errors=True)
    fill(folder)
    return folder


def leftovers(folder: Path) -> list[str]:
    """Claimed files that nobody took up again."""
    claimed = folder / "in" / inbox.TAKING
    return sorted(path.name for path in claimed.iterdir()) if claimed.exists() else []
