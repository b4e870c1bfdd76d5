"""The watched inbox: how soon a sheet is a record, how many files a second, what crash safety costs, a burst.

Run: python -m tests.benchmarks.bench_watch [rename] [waiting] [safety] [burst]; all without a name.
Aims on two cores: from rename to the batch's record on disk a median under 1 s for 50 rows in a book of
100,000 facts, of sheets that come one after another; told beside it, of sheets that come at random moments
while the pages of all casks are being written; 10,000 small files waiting at start at least 40 a second; crash
safety at most 1.5 times the same run without flushing; a burst of 40,000 renames loses none.
"""

from __future__ import annotations

import os
import random
import statistics
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pandas as pd

from pipeline.book.book import Book
from pipeline.book.fates import Fate
from pipeline.runs.watch import Stop, Watcher
from tests.validation.generator import honest

SITE = 'timezone = "UTC"\n[watch]\nnotice = "events"\n'
WAITED_FOR = 2  # sheets after which the pages of all casks are waited for
FACTS, SHEETS, WAITING, SAFETY, BURST = 100_000, 30, 10_000, 1_000, 40_000
AT_WORK = 15  # of the sheets, those that come while pages are being written
SMALL = "Cask No.,Date,Observed Proof,Temp (°F),Purpose\nW-{0:05d},2026-03-02,{1},68,regauge\n"


class Bench:
    """A watcher at work in a thread, on folders of its own."""

    def __init__(self, folder: Path) -> None:
        self.inbox, self.out = folder / "inbox", folder / "outputs"
        self.inbox.mkdir()
        (self.inbox / "site.toml").write_text(SITE, "utf-8")
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


def texts(readings: int) -> tuple[str, str, list[str]]:
    """An honest stock as sheets: the inventory, all readings but a few, and those few, fifty a sheet."""
    stock = honest(readings + 50 * SHEETS, seed=1)
    casks, lab = stock.frames["casks"], stock.frames["readings"]
    shown = pd.DataFrame(
        {
            "Cask": casks["cask"],
            "As of": casks["as_of"].dt.strftime("%Y-%m-%d"),
            "Filled": casks["filled_on"].dt.strftime("%Y-%m-%d"),
            "Entry proof": casks["entry_proof"].where(casks["entry_proof_unit"] == "proof").round(1),
            "Entry volume (L)": casks["entry_volume_L"],
            "Capacity (L)": casks["capacity_L"],
        }
    )
    written = pd.DataFrame(
        {
            "Cask": lab["vessel"],
            "Taken at": lab["taken_at"].dt.strftime("%Y-%m-%d %H:%M"),
            "Reading": lab["reading"],
            "Scale": lab["scale"],
            "Temp (°C)": lab["temperature_degC"].round(2),
            "Instrument": lab["instrument"],
            "No": lab["reading_no"],
        }
    ).sample(frac=1.0, random_state=1)
    few = [written[at : at + 50] for at in range(0, 50 * SHEETS, 50)]
    parts = [shown, written[50 * SHEETS :], *few]
    inventory, most, *sheets = [part.to_csv(index=False) for part in parts]
    return inventory, most, sheets


INSTRUMENTS = """Instrument,Kind,Scale,Base temperature (°C),Glass expansion (per K)
H-2,hydrometer,proof,15.5556,0.000025
H-7,hydrometer,%vol,20,0.000025
D-1,density meter,kg/m3,,
"""


BRIEF = "Batch,Vessel,Market,Volume (L)\nB-1,V-1,EU,3000\n"
VAT = "V-1,2026-10-06 {:02d}:{:02d},{:.1f},%vol,20.00,H-7,\n"


def blend_sheet(sheet: str) -> str:
    """A batch of the casks that a sheet of readings names."""
    casks = dict.fromkeys(line.split(",")[0] for line in sheet.splitlines()[1:])
    lines = "".join(f"B-1,{cask},2026-10-05,120,metered\n" for cask in list(casks)[:20])
    return "Batch,Component,Drawn at,Drawn volume (L),Basis\n" + lines


def corrected(sheet: str) -> str:
    """Twenty rows of a sheet of readings, each read a tenth higher: real books have corrections."""
    header, *rows = sheet.splitlines()[:21]
    place = header.split(",").index("Reading")
    cells = [row.split(",") for row in rows]
    lines = [",".join([*row[:place], f"{float(row[place]) + 0.1:.1f}", *row[place + 1 :]]) for row in cells]
    return "\n".join([header, *lines]) + "\n"


def rename() -> None:
    """Median time from a rename to the batch's record, to the first page, and to the last of what can wait."""
    inventory, most, sheets = texts(FACTS)
    first = (
        *(("casks.csv", inventory), ("instruments.csv", INSTRUMENTS), ("lab.csv", most), ("brief.csv", BRIEF)),
        *(("blend.csv", blend_sheet(sheets[0])), ("lab_again.csv", corrected(most))),
    )
    with bench() as made:
        for name, text in first:
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
        for number, text in enumerate(sheets):
            if number >= SHEETS - AT_WORK:  # the pages of casks are begun after two quiet seconds
                time.sleep(2.5 + 8.0 * chance.random())
            before, told = (changed(record), changed(index)), len(made.said)
            beside = made.inbox / "sheet.part"
            beside.write_text(text + VAT.format(8, number, 57.0 + number / 10), "utf-8")
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
        pages = len(list(made.out.glob("casks/*/")))
    for what, seconds in (("", to_record[: SHEETS - AT_WORK]), (", pages being written", to_record[-AT_WORK:])):
        median = statistics.median(seconds)
        print(f"rename to the batch's record{what}: median {median:.2f} s of {len(seconds)} (aim 1)")
        print("  " + " ".join(f"{second:.2f}" for second in seconds))
    print(f"to the first page: median {statistics.median(to_index):.2f} s")
    print(f"to the last page of {pages:,} casks: {to_rest[0]:.0f} s, {to_rest[1]:.0f} s")


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


def waiting() -> None:
    seconds = taking(WAITING)
    print(f"{WAITING:,} small files waiting: {seconds:.1f} s with outputs, {WAITING / seconds:.0f} a second (aim 40)")


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


def safety() -> None:
    """The same run with and without flushing, by turns."""
    taking(20)
    safe, unsafe = list[float](), list[float]()
    for _ in range(3):
        safe.append(taking(SAFETY))
        with not_flushed():
            unsafe.append(taking(SAFETY))
    ours, base = statistics.median(safe), statistics.median(unsafe)
    print(f"{SAFETY:,} files: {ours:.1f} s, without flushing {base:.1f} s, ratio {ours / base:.2f} (aim 1.5)")


def burst() -> None:
    """Files renamed in as fast as it goes, while the watcher takes them."""
    with bench() as made, not_flushed():
        made.start()
        made.wait(lambda: any("Outputs written" in told for told in made.said))
        start = time.perf_counter()
        for number in range(BURST):
            made.rename_in(f"{number:05d}.csv", SMALL.format(number, 100 + number % 30))
        renamed = time.perf_counter() - start
        made.wait(lambda: len(made.fates) >= BURST or time.perf_counter() - start > 3600)
        seconds = time.perf_counter() - start
        lost = BURST - len({fate.name for fate in made.fates if fate.outcome == "taken"})
        twice = len(made.fates) - len({fate.name for fate in made.fates})
    print(f"{BURST:,} renames in {renamed:.1f} s, taken after {seconds:.0f} s, lost {lost}, twice {twice} (aim none)")


def main() -> None:
    for work in (rename, waiting, safety, burst):
        if len(sys.argv) < 2 or work.__name__ in sys.argv[1:]:
            work()


if __name__ == "__main__":
    main()
