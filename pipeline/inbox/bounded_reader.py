"""Reads large files in a process of their own, where bounds on time and memory are real.

A small file is read where we are: its size bounds what it can cost, once every packed part is known
to unpack to what it says. A large one goes to a reader process that is started when it is first
needed, is ended when it takes too long, and may die of a file without taking the book with it.
"""

from __future__ import annotations

import io
import logging
import os
import pickle
import signal
import subprocess
import sys
import threading
import time
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import date
from importlib import import_module
from pathlib import Path
from typing import Any

from pipeline.book.packed import pack_sheet
from pipeline.common.collector import patient_collector
from pipeline.inbox.judging import Layouts, judge
from pipeline.sheets.judged import Judged
from pipeline.sheets.rulings_sheet import RULINGS
from pipeline.site.house import House, build_house
from pipeline.site.source import disabled_in, without
from pipeline.tables.readers import what_it_is
from pipeline.tables.tables import BROKEN

log = logging.getLogger("vatting")

SMALL_BYTES = 2_000_000
SMALL_UNPACKED = 20_000_000


class ReaderEnded(Exception):
    """The reader process ended over a file."""


class Reader:
    """Judges files under the text of a site.toml and the site's folder, if any. A context manager; or call ``close``.

    ``house`` is set once it is built; the process may be started before, so that both get ready at once.
    """

    house: House

    def __init__(self, text: str, folder: Path | None) -> None:
        self.text, self.folder = text, folder
        self._process: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> Reader:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def judge(self, name: str, data: bytes, day: date, layouts: Layouts | None = None) -> Judged:
        """Read, recognise and type a file; ``layouts``: header rows that people explained.

        Raises ReaderEnded when the reader process did not survive it.
        """
        if is_small(data) or len(data) > self.house.site["limits.file_megabytes"] * 1e6:
            try:
                return judge(name, data, self.house.site, self.house, day, layouts)
            except MemoryError:
                return _too_much(self.house.site["limits.memory_megabytes"])
        return self._apart(name, data, day, layouts or {})

    def start(self) -> None:
        """Start the reader process, if none is there; it gets ready while we go on."""
        if self._process is not None and self._process.poll() is None:
            return
        self.close()
        paths = [str(Path(__file__).resolve().parents[2]), os.environ.get("PYTHONPATH", "")]
        with _deaf_to_stops():
            self._process = subprocess.Popen(
                [sys.executable, "-m", "pipeline.inbox.bounded_reader"],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                env={**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, paths))},
            )
        with suppress(OSError):
            self._send((self.text, self.folder, disabled_in({})))

    def start_for(self, inbox: Path) -> None:
        """Start the reader process if a file in the inbox will need it."""
        with suppress(OSError), os.scandir(inbox) as entries:
            if any(entry.is_file() and entry.stat().st_size > SMALL_BYTES for entry in entries):
                self.start()

    def _send(self, message: Any) -> None:
        assert self._process is not None and self._process.stdin is not None
        pickle.dump(message, self._process.stdin, protocol=5)
        self._process.stdin.flush()

    def _apart(self, name: str, data: bytes, day: date, layouts: Layouts) -> Judged:
        seconds = self.house.site["limits.seconds"]
        answers: list[Any] = []
        exchange = threading.Thread(target=self._exchange, args=((name, data, day, layouts), answers), daemon=True)
        exchange.start()
        exchange.join(seconds)
        if exchange.is_alive():
            self.close()  # ends the exchange, too
            exchange.join()
            return _too_slow(seconds)
        if not answers:
            self.close()
            raise ReaderEnded("the program that reads large files ended over it")
        if isinstance(answers[0], MemoryError):
            self.close()  # what is left of it is no longer trusted
            return _too_much(self.house.site["limits.memory_megabytes"])
        assert isinstance(answers[0], Judged)
        return answers[0]

    def _exchange(self, asked: tuple[str, bytes, date, Layouts], answers: list[Any]) -> None:
        try:
            self.start()
            self._send(asked)
            assert self._process is not None and self._process.stdout is not None
            answers.append(pickle.load(self._process.stdout))
        except (EOFError, OSError, ValueError, pickle.UnpicklingError) as error:
            log.warning("%s: the reader process ended: %s", asked[0], error)

    def close(self) -> None:
        """End the reader process."""
        process, self._process = self._process, None
        if process is None:
            return
        process.kill()
        process.wait()
        for pipe in (process.stdin, process.stdout):
            if pipe is not None:
                with suppress(OSError):
                    pipe.close()


@contextmanager
def _deaf_to_stops() -> Iterator[None]:
    """A process that is started here hears no Ctrl-C and no SIGTERM, which are sent to a whole group.

    Its parent ends after the file in hand, and ends it then.
    """
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT, signal.SIGTERM})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def is_small(data: bytes) -> bool:
    """Whether reading a file cannot cost much: few bytes, and parts that unpack to few bytes.

    What a packed file says of its size is believed only after every part was unpacked, piece by
    piece, and found to be as it says.
    """
    if len(data) > SMALL_BYTES:
        return False
    if what_it_is(data) != "zip":
        return True
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            if sum(info.file_size for info in packed.infolist()) > SMALL_UNPACKED:
                return False
            packed.testzip()
    except BROKEN:
        return True  # it is returned before anything is unpacked
    return True


def serve() -> None:
    """The reader process: judges what comes through its standard input until that is closed."""
    threading.Thread(target=_end_with, args=(os.getppid(),), daemon=True).start()
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # what a plugin prints must not get among the answers
    questions = sys.stdin.buffer
    text, folder, left_out = pickle.load(questions)
    with without(left_out):
        house = build_house(text, folder, whole=False)
    warm_up(house)
    bound_memory(house.site["limits.memory_megabytes"])
    with patient_collector():
        while True:
            try:
                name, data, day, layouts = pickle.load(questions)
            except EOFError:
                return
            answer = _answer(house, name, data, day, layouts)
            del data
            pickle.dump(answer, answers, protocol=5)
            answers.flush()
            del answer


def _answer(house: House, name: str, data: bytes, day: date, layouts: Layouts | None = None) -> Judged | MemoryError:
    """What a file was judged to be, its rows packed for the book."""
    try:
        answer = judge(name, data, house.site, house, day, layouts)
        for rows in answer.sheets:
            if rows.kind.name != RULINGS.name:
                rows.blocks, rows.values = pack_sheet(rows), {}
    except MemoryError:
        return MemoryError()
    return answer


def _end_with(parent: int) -> None:
    """End when the parent was killed: nobody waits for the answer, however long the file in hand would take."""
    while os.getppid() == parent:
        time.sleep(1.0)
    os._exit(1)


def warm_up(house: House) -> None:
    """Have what reading needs imported before memory is bounded."""
    judge("warm.csv", b"Cask;Date\nC-1;2026-01-01\n", house.site, house, date(2026, 1, 1))
    for library in ("numpy", *(("pandas",) if house.site.timezone != "UTC" else ())):
        import_module(library)
    import_module("python_calamine")
    import_module("pipeline.tables.workbook_parts")
    import_module("defusedxml.ElementTree")


def bound_memory(megabytes: float) -> None:
    """Let this process have so much more memory than it has now, where the system can say so."""
    if sys.platform != "linux":
        return
    import resource

    pages = int(Path("/proc/self/statm").read_text("ascii").split()[0])
    most = pages * resource.getpagesize() + int(megabytes * 1e6)
    resource.setrlimit(resource.RLIMIT_AS, (most, most))


def _too_slow(seconds: float) -> Judged:
    return Judged(
        reason=f"Reading the file took longer than {seconds:g} s and was given up.",
        remedy="Split it, delete unused sheets and formats, or raise seconds under [limits] in site.toml.",
    )


def _too_much(megabytes: float) -> Judged:
    return Judged(
        reason=f"Reading the file needs more than {megabytes:g} MB of memory.",
        remedy="Split it, delete unused sheets and formats, or raise memory_megabytes under [limits] in site.toml.",
    )


if __name__ == "__main__":
    serve()
