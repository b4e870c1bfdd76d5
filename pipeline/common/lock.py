"""One lock per book, held by the operating system, so that a killed process never leaves it behind."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

from pipeline.common.errors import BookHeld


@contextmanager
def hold(out: Path, what: str = "run") -> Iterator[None]:
    """Hold the outputs' lock for ``what``. Raises BookHeld that says who holds it."""
    from filelock import FileLock, Timeout

    out.mkdir(parents=True, exist_ok=True)
    lock = FileLock(out / ".vatting.lock")
    owner = out / ".vatting.holder"
    try:
        lock.acquire(timeout=0)
    except Timeout as error:
        try:
            who = owner.read_text("utf-8").strip()
        except OSError:
            who = "another process"
        raise BookHeld(f"Another vatting works on these outputs ({who}); wait until it ends, or stop it.") from error
    try:
        since = datetime.now().astimezone().strftime("%Y-%m-%d %H:%M")
        owner.write_text(f"vatting {what}, process {os.getpid()}, since {since}", "utf-8")
        yield
    finally:
        owner.unlink(missing_ok=True)
        lock.release()


def holder(out: Path) -> str | None:
    """Who holds the outputs' lock; None if nobody does. The lock itself is let go of at once."""
    from filelock import FileLock, Timeout

    path = out / ".vatting.lock"
    if not path.exists():
        return None
    try:
        with FileLock(path, timeout=0):
            return None
    except Timeout:
        try:
            return (out / ".vatting.holder").read_text("utf-8").strip() or "another process"
        except OSError:
            return "another process"
