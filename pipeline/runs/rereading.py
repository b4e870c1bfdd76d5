"""Reads every original again within a stated number of days, a few at a time, and remembers when all were read.

``.vatting.reread`` is JSON: when this round began and how far it came, when the last one ended, what was found changed.
"""

from __future__ import annotations

import json
import os
import re
import time
from collections.abc import Collection
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import Any

from pipeline.common.files import digest_of, write_whole

STATE = ".vatting.reread"
SECONDS = 0.2  # at most so long at a time: who drops a file does not wait for it
MARGIN = 0.9  # of the days, in which a round is to end


class Rereading:
    """Goes round the originals again and again."""

    def __init__(self, out: Path, days: float) -> None:
        self.out, self.days = out, days
        self.state = state_of(out)
        self._left: list[str] | None = None
        self._count = 0

    def step(self, now: datetime) -> str:
        """Read what is due by now; gives in words which originals were ever found changed."""
        if self._left is None:
            self._begin(now)
        left = self._left or []
        age = (now - datetime.fromisoformat(self.state["begun"])).total_seconds()
        due = self._count * min(1.0, age / (MARGIN * self.days * 86400.0))
        end, read = time.monotonic() + SECONDS, False
        while left and self._count - len(left) < due and time.monotonic() < end:
            self._read(left.pop(0), now)
            read = True
        if not left and age >= MARGIN * self.days * 86400.0:
            note_full(self.out, now, self.state)
            self._left = None
        elif read:
            _write(self.out, self.state)
        return in_words(self.state)

    def _begin(self, now: datetime) -> None:
        names = sorted(name for name in _names(self.out) if re.fullmatch("[0-9a-f]{64}", name))
        if not self.state.get("begun"):
            self.state.update(begun=now.isoformat(), after="")
            _write(self.out, self.state)
        self._count = len(names)
        self._left = [name for name in names if name > self.state.get("after", "")]

    def _read(self, name: str, now: datetime) -> None:
        changed = digest_of(self.out / "originals" / name) != name
        spoilt = self.state.setdefault("changed", {})
        if changed:
            spoilt.setdefault(name, now.isoformat())
        else:
            spoilt.pop(name, None)
        self.state["after"] = name


def note_full(out: Path, now: datetime, state: dict[str, Any] | None = None) -> None:
    """Remember that all originals were read by now; the next round begins."""
    state = state_of(out) if state is None else state
    state.update(full=now.isoformat(), begun="", after="")
    _write(out, state)


def state_of(out: Path) -> dict[str, Any]:
    """What is remembered; nothing where that cannot be read."""
    try:
        read = json.loads((out / STATE).read_text("utf-8"))
    except (OSError, ValueError):
        return {}
    return read if isinstance(read, dict) else {}


def in_words(state: dict[str, Any]) -> str:
    """Which originals were found changed or gone; empty where none was."""
    changed = sorted(state.get("changed", {}))
    if not changed:
        return ""
    more = f" and {len(changed) - 3} more" if len(changed) > 3 else ""
    return (
        f"Read again, these originals were changed or gone: {', '.join(changed[:3])}{more}. "
        "Restore originals/ from the backup; vatting verify --full lists all."
    )


def since_when(state: dict[str, Any], places: Collection[str]) -> list[str]:
    """Between which two readings originals were changed or lost, in words, as far as readings can tell."""
    told, seen = [], state.get("changed", {})
    for place in places:
        digest = place.removeprefix("originals/").split(" ")[0]
        if digest in seen:
            told.append(f"{place} was first found changed or gone when it was read again on {seen[digest][:16]}.")
    if state.get("full") and len(told) < len(places):
        told.append(f"All other originals were as taken at their last reading, in the round to {state['full'][:16]}.")
    return told


def _names(out: Path) -> list[str]:
    try:
        return os.listdir(out / "originals")
    except OSError:
        return []


def _write(out: Path, state: dict[str, Any]) -> None:
    with suppress(OSError):  # a full disk is told where files are taken
        write_whole(out / STATE, json.dumps(state).encode("utf-8"), durable=False)
