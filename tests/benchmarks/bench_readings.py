"""A 100,000-row, 10-column readings workbook end to end, against python-calamine reading it into lists.

The ratio of medians in one process (imports done before both) and the peak memory. Aim: ratio at most 3, peak
under 500 MB.
"""

from __future__ import annotations

import datetime
import io
import random
import resource
import shutil
import statistics
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import openpyxl
import python_calamine

from pipeline.common.collector import patient_collector
from pipeline.inbox import complete as whole
from pipeline.runs.run import silent, take_until_quiet
from pipeline.runs.session import opened
from tests.benchmarks.processes import Figure, in_a_fresh_process

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


def end_to_end(data: bytes) -> float:
    """Seconds from a file lying in the inbox to all outputs, in a session whose processes are up."""
    with tempfile.TemporaryDirectory() as folder:
        inbox, out = Path(folder) / "inbox", Path(folder) / "outputs"
        inbox.mkdir()
        (inbox / "site.toml").write_text(SITE, "utf-8")
        (inbox / "lab.xlsx").write_bytes(data)
        with patient_collector(), opened(inbox, out, silent) as session:
            session.intake.reader.start()
            session.intake.reader.judge("warm.xlsx", workbook(60_000), datetime.date.today())
            start = time.perf_counter()
            take_until_quiet(session, silent)
            result = session.publish()
            elapsed = time.perf_counter() - start
        rows = len((out / "casks" / "gauges.csv").read_bytes().splitlines()) - 1
        assert [fate.outcome for fate in result.fates] == ["taken"], result.fates
        print(f"  {elapsed:.2f} s, {rows} gauges, {len(result.worked.findings)} findings")
        shutil.rmtree(out)
    return elapsed


def calamine_alone(data: bytes) -> float:
    start = time.perf_counter()
    with python_calamine.CalamineWorkbook.from_filelike(io.BytesIO(data)) as book:
        rows = book.get_sheet_by_index(0).to_python()
    elapsed = time.perf_counter() - start
    assert len(rows) > 1
    return elapsed


def figures() -> Iterator[Figure]:
    """In a process that does nothing else."""
    ratio, peak = in_a_fresh_process(measure)
    yield Figure("100,000 x 10 workbook end to end, against the fast reader alone", ratio, "times", 3)
    yield Figure("  its memory, with its reader process", peak, "MB", 500)


def measure() -> tuple[float, float]:
    """The ratio, and the peak memory of this process and the largest of its children together [MB]."""
    whole.wall = lambda: time.time() + 3600.0  # the file is not to be waited for
    small, data = workbook(20), workbook(ROWS)
    end_to_end(small)  # imports and first-use tables
    pairs = [(calamine_alone(data), end_to_end(data)) for _ in range(3)]
    base, ours = (statistics.median(column) for column in zip(*pairs, strict=True))
    peak = sum(resource.getrusage(who).ru_maxrss for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)) / 1024
    print(f"  fast reader {base:.2f} s, end to end {ours:.2f} s")
    return ours / base, peak
