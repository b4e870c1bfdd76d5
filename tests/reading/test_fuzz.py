"""Damaged files by the thousand: none may raise, lose a row in silence or hold what is no figure."""

from __future__ import annotations

import os
from concurrent.futures import ProcessPoolExecutor
from functools import partial

import pytest

from tests.reading.fuzz import tried

PART = 500


@pytest.mark.parametrize("seed", [pytest.param(seed, marks=[pytest.mark.long] * (seed > 1)) for seed in range(1, 6)])
def test_some_hundred_damaged_files(seed: int) -> None:
    count, faults = tried(seed, 60)
    assert faults == [] and count.total() == 60 and len(count) == 2


@pytest.mark.by_hand
def test_two_hundred_thousand_damaged_files() -> None:
    """An hour and more; the seeds are those of ``python -m tests.reading.fuzz 200000``."""
    with ProcessPoolExecutor(os.cpu_count()) as pool:
        found = list(pool.map(partial(tried, number=PART), range(100_000, 100_400)))
    assert [fault for _, faults in found for fault in faults] == []
    assert sum(count.total() for count, _ in found) == 200_000
