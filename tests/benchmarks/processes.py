"""Whole processes, measured: what a command costs somebody who types it, start and imports included."""

from __future__ import annotations

import multiprocessing
import os
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import cache
from typing import Any

from tests.make_docs import ROOT


@dataclass(frozen=True)
class Figure:
    """One measured value with its unit, and the most that it should be (None: nothing is asked of it)."""

    what: str
    value: float
    unit: str
    aim: float | None = None

    def __str__(self) -> str:
        aim = "" if self.aim is None else f"   aim {self.aim:g}{', MISSED' if self.value > self.aim else ''}"
        return f"{self.what:<76}{self.value:>10.2f} {self.unit:<6}{aim}"


@dataclass(frozen=True)
class Cost:
    """Processor time of a process and all its children, user and system [s]; peak memory of the largest [MB]."""

    seconds: float
    megabytes: float
    said: str

    @property
    def units(self) -> float:
        """In processor times of ``import pandas``, so that machines can be compared."""
        return self.seconds / unit()


def measured(*command: str) -> Cost:
    """Run a command to its end, in the repository's folder. Raises RuntimeError where it fails.

    Bytecode is kept as where somebody types it, whatever the environment here says of that.
    """
    as_typed = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    with tempfile.TemporaryFile("w+") as told:
        process = subprocess.Popen(command, stdout=told, stderr=subprocess.STDOUT, cwd=ROOT, env=as_typed)
        _, status, used = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
        told.seek(0)
        said = told.read()
    if process.returncode:
        raise RuntimeError(f"{' '.join(command)} ended with {process.returncode}:\n{said}")
    return Cost(used.ru_utime + used.ru_stime, used.ru_maxrss / 1024, said)


def vatting(*words: object) -> Cost:
    """A command of vatting as it is typed."""
    return measured(sys.executable, "-m", "pipeline", *map(str, words))


@cache
def unit() -> float:
    """Seconds of processor that ``import pandas`` takes a fresh process: the median of five."""
    return statistics.median(measured(sys.executable, "-c", "import pandas").seconds for _ in range(5))


def in_a_fresh_process(work: Callable[..., Any], *given: object) -> Any:
    """What a function of a module gives, called in a process that has done nothing else."""
    with ProcessPoolExecutor(1, mp_context=multiprocessing.get_context("spawn")) as pool:
        return pool.submit(work, *given).result()
