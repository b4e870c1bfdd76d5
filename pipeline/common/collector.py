"""Python's collector walks every cell of a large sheet again and again in vain; here it comes less often."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager

SELDOM = (500_000, 20, 20)  # a sheet of 100,000 rows is a million objects, and no garbage


@contextmanager
def patient_collector() -> Iterator[None]:
    """Let the collector wait for half a million new objects while the block runs."""
    before = gc.get_threshold()
    gc.set_threshold(*SELDOM)
    try:
        yield
    finally:
        gc.set_threshold(*before)
