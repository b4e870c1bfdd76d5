"""The watched inbox: how soon a sheet is a record, how much memory it holds, files a second, crash safety, a burst.

Aims on two cores: from rename to the batch's record on disk a median under 1 s for 50 rows in a book of 125,000
facts with 1, 300 or 2,000 batches, and under 1.5 s in one of 2,000,000 facts, of sheets that come one after another;
told beside it, of sheets that come at random moments while the pages of all casks are being written. At most 600 MB
after the pages of 25,000 casks; 10,000 small files waiting at start at least 40 a second; crash safety at most 1.5
times the same run without flushing; a burst of 40,000 renames loses none.
"""

from __future__ import annotations

import os
import random
import re
import signal
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from pipeline.book.book import Book
from pipeline.book.fates import Fate
from pipeline.runs.watch import Stop, Watcher
from tests.benchmarks.houses import SITE, VAT, House, Place, sheets
from tests.benchmarks.processes import Figure
from tests.make_docs import ROOT
from tests.support import write_site

WAITED_FOR = 2  # sheets after which the pages of all casks are waited for
SHEETS, WAITING, SAFETY, BURST = 30, 10_000, 1_000, 40_000
AT_WORK = 15  # of the sheets, those that come while pages are being written
SMALL = "Cask No.,Date,Observed Proof,Temp (°F),Purpose\nW-{0:05d},2026-03-02,{1},68,regauge\n"
BOOKS = [House(casks=25_000, batches=batches, new=SHEETS) for batches in (1, 300, 2_000)]
LARGEST = House(casks=25_000, gauges=79, batches=1, new=SHEETS)


class Bench:
    """A watcher at work in a thread, on folders of its own."""

    def __init__(self, folder: Path) -> None:
        self.inbox, self.out = folder / "inbox", folder / "outputs"
        self.inbox.mkdir()
        write_site(self.inbox, SITE)
        self.fates: list[Fate] = []
        self.said: list[str] = []
        self.stop = Stop()
        self._thread: threading.Thread | None = None

    def start(self) -> None:
        watcher = Watcher(self.inbox, self.out, self.stop, lambda *_: None, self.fates.append, self.said.append)
        self._thread = threading.Thread(target=watcher.watch)
        self._thread.start()

    def wait(self, found: Callable[[], object]) -> None:
        while not found():
            assert self._thread is not None and self._thread.is_alive()
            time.sleep(0.005)

    def end(self) -> None:
        self.stop()
        if self._thread is not None:
            self._thread.join()

    def rename_in(self, name: str, text: str) -> None:
        beside = self.inbox / f"{name}.part"
        beside.write_text(text, "utf-8")
        os.rename(beside, self.inbox / name)


@contextmanager
def bench() -> Iterator[Bench]:
    with tempfile.TemporaryDirectory() as folder:
        made = Bench(Path(folder))
        try:
            yield made
        finally:
            made.end()


def corrected(sheet: str) -> str:
    """Twenty rows of a sheet of readings, each read a tenth higher: real books have corrections."""
    header, *rows = sheet.splitlines()[:21]
    place = header.split(",").index("Reading")
    cells = [row.split(",") for row in rows]
    lines = [",".join([*row[:place], f"{float(row[place]) + 0.1:.1f}", *row[place + 1 :]]) for row in cells]
    return "\n".join([header, *lines]) + "\n"


def record() -> Iterator[Figure]:
    """From a rename to the record of a batch on disk, in books of more and more batches, and in a very large one."""
    for house in BOOKS:
        yield from rename(house, 1.0)
    yield from rename(LARGEST, 1.5)


def rename(house: House, aim: float) -> Iterator[Figure]:
    """Median time from a rename to the batch's record, to the first page, and to the last of what can wait."""
    first, new = sheets(house)
    first = first | {"lab_again.csv": corrected(first["lab_0.csv"])}
    with bench() as made:
        for name, text in first.items():
            made.rename_in(name, text)
        time.sleep(2.5)  # they are to have rested
        made.start()
        made.wait(lambda: any("Outputs written" in told for told in made.said))
        assert [fate.outcome for fate in made.fates] == ["taken"] * len(first), made.fates
        print(f"  {sum(fate.rows for fate in made.fates):,} facts; {made.said[-1]}", flush=True)
        made.wait(lambda: made.said[-1].startswith("Pages"))
        record, index = made.out / "batches/B-1/record.json", made.out / "index.html"
        to_record, to_index, to_rest = list[float](), list[float](), list[float]()
        chance = random.Random(1)
        for number, text in enumerate(new):
            if number >= SHEETS - AT_WORK:  # the pages of casks are begun after two quiet seconds
                time.sleep(2.5 + 8.0 * chance.random())
            before, told = (changed(record), changed(index)), len(made.said)
            beside = made.inbox / "sheet.part"
            beside.write_text(text + VAT.format(1, 9, number, 57.0 + number / 10), "utf-8")
            start = time.perf_counter()
            os.rename(beside, made.inbox / f"sheet_{number}.csv")
            made.wait(lambda before=before: changed(record) != before[0])
            to_record.append(time.perf_counter() - start)
            made.wait(lambda before=before: changed(index) != before[1])
            to_index.append(time.perf_counter() - start)
            if number < WAITED_FOR:
                made.wait(lambda told=told: any(words.startswith("Pages") for words in made.said[told:]))
                to_rest.append(time.perf_counter() - start)
            time.sleep(0.5)
        assert [fate.outcome for fate in made.fates] == ["taken"] * (len(first) + SHEETS)
    for what, seconds in (("", to_record[: SHEETS - AT_WORK]), (", pages being written", to_record[-AT_WORK:])):
        print("  " + " ".join(f"{second:.2f}" for second in seconds))
        yield Figure(f"watch, rename to record{what}, {house}", statistics.median(seconds), "s", None if what else aim)
    yield Figure("  to the first page", statistics.median(to_index), "s")
    yield Figure("  to the last page of all casks", max(to_rest), "s")


def memory() -> Iterator[Figure]:
    """What a watch of 25,000 casks holds once all its pages are written, as Linux counts it."""
    place = Place()
    for name, text in sheets(BOOKS[0])[0].items():
        place.drop(name, text)
    told = place.inbox.parent / "told.txt"
    with open(told, "w", encoding="utf-8") as stream:
        command = [sys.executable, "-m", "pipeline", "watch", str(place.inbox), "--out", str(place.out)]
        process = subprocess.Popen(command, stdout=stream, stderr=stream, cwd=ROOT)
    while "Pages of casks" not in told.read_text("utf-8"):
        assert process.poll() is None, told.read_text("utf-8")
        time.sleep(0.5)
    status = Path(f"/proc/{process.pid}/status").read_text("utf-8")
    process.send_signal(signal.SIGTERM)
    assert process.wait() == 0
    for name, words, aim in (("VmRSS", "memory after all pages", 600.0), ("VmHWM", "the most that it held", None)):
        kilobytes = float(re.search(rf"{name}:\s+(\d+) kB", status)[1])  # type: ignore[index]
        yield Figure(f"watch of {BOOKS[0].casks:,} casks, {words}", kilobytes / 1024, "MB", aim)


def changed(path: Path) -> int:
    return path.stat().st_mtime_ns


def small(count: int) -> dict[str, str]:
    return {f"{number:05d}.csv": SMALL.format(number, 100 + number % 30) for number in range(count)}


def taking(count: int) -> float:
    """Seconds in which so many small files that wait at start are taken and published."""
    with bench() as made:
        for name, text in small(count).items():
            made.rename_in(name, text)
            os.utime(made.inbox / name, (1.7e9, 1.7e9))
        time.sleep(2.5)  # they are to have rested
        start = time.perf_counter()
        made.start()
        made.wait(lambda: any("Outputs written" in told for told in made.said))
        seconds = time.perf_counter() - start
        assert [fate.outcome for fate in made.fates] == ["taken"] * count
    return seconds


def waiting() -> Iterator[Figure]:
    """Small files that wait at start, until the outputs are written."""
    seconds = taking(WAITING)
    yield Figure(
        f"watch, {WAITING:,} small files waiting ({WAITING / seconds:.0f} a second)", seconds, "s", WAITING / 40
    )


@contextmanager
def not_flushed() -> Iterator[None]:
    """Nothing is flushed to the disk: the baseline."""
    fsync, begin = os.fsync, Book._begin

    def begun(book: Book) -> None:
        begin(book)
        book.sql.execute("PRAGMA synchronous = OFF")

    os.fsync, Book._begin = lambda handle: None, begun  # type: ignore[method-assign]
    try:
        yield
    finally:
        os.fsync, Book._begin = fsync, begin  # type: ignore[method-assign]


def safety() -> Iterator[Figure]:
    """The same run with and without flushing, by turns."""
    taking(20)
    safe, unsafe = list[float](), list[float]()
    for _ in range(3):
        safe.append(taking(SAFETY))
        with not_flushed():
            unsafe.append(taking(SAFETY))
    ours, base = statistics.median(safe), statistics.median(unsafe)
    yield Figure(f"watch, {SAFETY:,} files: {ours:.1f} s, without flushing {base:.1f} s", ours / base, "times", 1.5)


def burst() -> Iterator[Figure]:
    """Files renamed in as fast as it goes, while the watcher takes them."""
    with bench() as made, not_flushed():
        made.start()
        made.wait(lambda: any("Outputs written" in told for told in made.said))
        start = time.perf_counter()
        for number in range(BURST):
            made.rename_in(f"{number:05d}.csv", SMALL.format(number, 100 + number % 30))
        made.wait(lambda: len(made.fates) >= BURST or time.perf_counter() - start > 3600)
        seconds = time.perf_counter() - start
        lost = BURST - len({fate.name for fate in made.fates if fate.outcome == "taken"})
        twice = len(made.fates) - len({fate.name for fate in made.fates})
    yield Figure(
        f"watch, {BURST:,} renames, taken after {seconds:.0f} s: lost or taken twice", lost + twice, "files", 0
    )
