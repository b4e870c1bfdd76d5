"""A 100,000-row, 10-column readings workbook end to end, against python-calamine reading it into lists.

Processor time of the program and its reader process, against that of the fast reader alone, medians in one process
(imports done before both); and the most memory that both have at once. Aim: ratio at most 3, peak under 500 MB.
"""

from __future__ import annotations

import datetime
import io
import os
import random
import shutil
import statistics
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import openpyxl
import python_calamine

from pipeline.common.collector import patient_collector
from pipeline.inbox import complete as whole
from pipeline.inbox.bounded_reader import SMALL_BYTES
from pipeline.runs.run import silent, take_until_quiet
from pipeline.runs.session import opened
from tests.benchmarks.processes import Figure, in_a_fresh_process
from tests.support import write_site

ROWS = 100_000
HEADERS = ["Vessel", "Taken at", "Reading", "Scale", "Temp (°F)", "Instrument", "No", "Purpose", "Analyst", "Remark"]
SITE = 'after_taking = "leave"\ntimezone = "UTC"\n'


def workbook(rows: int) -> bytes:
    """Honest readings of 5,000 casks over ten years, seeded."""
    draw = random.Random(20)
    book = openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet("lab")
    sheet.append(HEADERS)
    moment = datetime.datetime(2016, 1, 1, 8)
    strength = {cask: draw.uniform(100, 130) for cask in range(5000)}
    for _ in range(rows):
        moment += datetime.timedelta(minutes=draw.randint(20, 60))
        cask = draw.randrange(5000)
        temperature = round(draw.uniform(55, 85), 1)
        strength[cask] += draw.uniform(-0.3, 0.3)
        reading = round(strength[cask] + 0.38 * (temperature - 60), 1)
        who = draw.choice(["ab", "cd"])
        sheet.append(
            [f"C-{cask:04d}", moment, reading, "proof", temperature, f"H-{draw.randint(1, 3)}", 1, "regauge", who, "ok"]
        )
    made = io.BytesIO()
    book.save(made)
    return made.getvalue()


@dataclass(frozen=True)
class Spent:
    """Processor time of taking (here and in the reader process) and of publishing [s], and memory at its peak [MB]."""

    taking: float
    reading: float
    publishing: float
    megabytes: float

    @property
    def seconds(self) -> float:
        return self.taking + self.reading + self.publishing


def end_to_end(data: bytes) -> Spent:
    """From a file lying in the inbox to all outputs, in a session whose processes are up."""
    with tempfile.TemporaryDirectory() as folder:
        inbox, out = Path(folder) / "inbox", Path(folder) / "outputs"
        inbox.mkdir()
        write_site(inbox, SITE)
        (inbox / "lab.xlsx").write_bytes(data)
        with patient_collector(), opened(inbox, out, silent) as session:
            reader = session.intake.reader
            reader.start()
            reader.judge("warm.csv", b" " * SMALL_BYTES + b"Cask,Date\n", datetime.date.today())
            assert reader._process is not None
            pid = reader._process.pid
            _forget_peak()
            start, before = time.process_time(), _seconds_of(pid)
            take_until_quiet(session, silent)
            taken, reading = time.process_time(), _seconds_of(pid) - before
            taking_peak = _peak("self") + _peak(pid)
            result = session.publish()
            published = time.process_time()
            left = _peak(pid) if reader._process is not None else 0.0
        rows = len((out / "casks" / "gauges.csv").read_bytes().splitlines()) - 1
        assert [fate.outcome for fate in result.fates] == ["taken"], result.fates
        spent = Spent(taken - start, reading, published - taken, max(taking_peak, _peak("self") + left))
        print(f"  {spent}, {rows} gauges, {len(result.worked.findings)} findings")
        shutil.rmtree(out)
    return spent


def _seconds_of(pid: int) -> float:
    """Processor time of a running process, user and system."""
    fields = Path(f"/proc/{pid}/stat").read_text("ascii").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def _peak(pid: int | str) -> float:
    """The most memory that a process had since its start, or since it was forgotten [MB]."""
    lines = Path(f"/proc/{pid}/status").read_text("ascii").splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith("VmHWM")) / 1024


def _forget_peak() -> None:
    Path("/proc/self/clear_refs").write_text("5", "ascii")


def calamine_alone() -> float:
    """Processor time of the fast reader [s]: the median of three."""
    data, seconds = workbook(ROWS), []
    for _ in range(3):
        start = time.process_time()
        with python_calamine.CalamineWorkbook.from_filelike(io.BytesIO(data)) as book:
            rows = book.get_sheet_by_index(0).to_python()
        seconds.append(time.process_time() - start)
        assert len(rows) == ROWS + 1
    return statistics.median(seconds)


def figures() -> Iterator[Figure]:
    """Each side in a process that does nothing else."""
    base = in_a_fresh_process(calamine_alone)
    ours, empty, peak = in_a_fresh_process(measure)
    print(f"  fast reader {base:.2f} s, end to end {ours:.2f} s")
    yield Figure("100,000 x 10 workbook end to end, against the fast reader alone", ours / base, "times", 3)
    yield Figure("  of these for a workbook of 20 rows", empty / base, "times")
    yield Figure("  memory of the program and its reader process at once", peak, "MB", 500)


def measure() -> tuple[float, float, float]:
    """Processor time of the workbook and of a small one [s], and the peak memory of the first [MB]."""
    whole.wall = lambda: time.time() + 3600.0  # the file is not to be waited for
    small, data = workbook(20), workbook(ROWS)
    end_to_end(small)  # imports and first-use tables
    empty = end_to_end(small).seconds
    ours = [end_to_end(data) for _ in range(3)]
    return statistics.median(spent.seconds for spent in ours), empty, ours[0].megabytes
