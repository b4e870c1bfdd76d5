"""Long work that can wait gives way to what cannot: a page of a cask to a file that somebody dropped."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar


class BrokenOff(BaseException):
    """Work that can wait was left off. No error, and so nothing that ``except Exception`` in a plugin may keep."""


_wanted: ContextVar[Callable[[], bool] | None] = ContextVar("wanted", default=None)


@contextmanager
def broken_off_when(wanted: Callable[[], bool]) -> Iterator[None]:
    """Let ``give_way`` break the block off as soon as ``wanted`` says so."""
    token = _wanted.set(wanted)
    try:
        yield
    finally:
        _wanted.reset(token)


def give_way() -> None:
    """Say that the work may be broken off here; for the loops of long stages and reports.

    Where something waits that comes first, the stage or report is left, with nothing of it kept, and run again
    later. Elsewhere this does nothing. Frames, documents and CSVs that the engine makes say so by themselves.
    """
    wanted = _wanted.get()
    if wanted is not None and wanted():
        raise BrokenOff
