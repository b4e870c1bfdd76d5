"""All benchmarks, measured beside what is aimed at: ``python -m tests.benchmarks [NAME …]``, names as in ROWS.

A *unit* is the processor time of ``import pandas`` in a fresh process, so that machines can be compared; commands are
measured as whole processes, user and system. Houses lie in temporary folders that are removed. Linux only.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from functools import partial

from tests.benchmarks import bench_labels, bench_readings, bench_watch, commands
from tests.benchmarks.processes import Figure, measured, unit

Row = Callable[[], Iterator[Figure]]


def script(name: str) -> Iterator[Figure]:
    """A benchmark that prints its own figures."""
    cost = measured(sys.executable, "-m", f"tests.benchmarks.bench_{name}")
    print("  " + cost.said.strip().replace("\n", "\n  "))
    yield Figure(f"bench_{name}, the whole of it", cost.seconds, "s")


ROWS: dict[str, Row] = {
    "demo": commands.from_nothing,
    "run-again": commands.run_again,
    "one-sheet": commands.one_sheet,
    "one-sheet-large": commands.one_sheet_large,
    "check": commands.check,
    "explain": commands.explain,
    "calc": commands.calc,
    "workbook": bench_readings.figures,
    "labels": bench_labels.figures,
    "house": commands.house,
    "curve": commands.curve,
    "watch-record": bench_watch.record,
    "watch-memory": bench_watch.memory,
    "watch-waiting": bench_watch.waiting,
    "watch-safety": bench_watch.safety,
    "watch-burst": bench_watch.burst,
} | {
    name: partial(script, name)
    for name in ("bench", "card", "cellar", "proof", "proposals", "reconcile", "tasting", "trade")
}


def main() -> None:
    asked = sys.argv[1:]
    unknown = [name for name in asked if name not in ROWS]
    if unknown:
        sys.exit(f"There is no {unknown[0]}; there are {', '.join(ROWS)}")
    print(f"One unit, import pandas: {unit():.2f} s of processor")
    for name in asked or ROWS:
        print(f"{name}:", flush=True)
        for figure in ROWS[name]():
            print(f"  {figure}", flush=True)


if __name__ == "__main__":
    main()
