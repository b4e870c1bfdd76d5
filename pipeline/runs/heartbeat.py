"""The sign of life: when the inbox was last looked at, for doctor, for index.html and for a monitor.

``.vatting.heartbeat`` is JSON; ``looked.js`` says the same to index.html, whose own bytes do not
change with the hour.
"""

from __future__ import annotations

import json
import os
import shutil
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

HEARTBEAT = ".vatting.heartbeat"
LOOKED = "looked.js"
SCRIPT = Path(__file__).with_name("looked.js")
SECONDS = 20.0


class Heartbeat:
    """Writes the sign of life; a disk that is full or read-only never stops the work for it."""

    def __init__(self, out: Path, inbox: Path) -> None:
        self.out, self.inbox = out, inbox
        self.by, self.trouble = "", ""
        self._last = -SECONDS
        self._said: tuple[str, str] = ("", "")

    def beat(self, state: str, at_once: bool = False) -> None:
        """Write it if it is due, if work is over or if there is new trouble."""
        said = (state, self.trouble)
        due = time.monotonic() - self._last >= SECONDS
        over = state == "waiting" and self._said[0] != state
        if not (due or at_once or over or said[1] != self._said[1]):
            return
        self._last, self._said = time.monotonic(), said
        told: dict[str, Any] = {
            "at": datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"),
            "pid": os.getpid(),
            "state": state,
            "watching": state != "stopped",
            "by": self.by,
            "inbox": str(self.inbox.absolute()),
            "trouble": self.trouble,
            "free_bytes": _free(self.out),
            "every_seconds": SECONDS,
        }
        _write(self.out / HEARTBEAT, json.dumps(told, ensure_ascii=False, indent=1))
        seen = {name: told[name] for name in ("at", "watching", "trouble", "every_seconds")}
        _write(self.out / LOOKED, SCRIPT.read_text("utf-8").replace("/*LOOKED*/ null", json.dumps(seen)))


def _free(folder: Path) -> int | None:
    """Space that is left where the outputs lie; None where the system does not tell."""
    try:
        return shutil.disk_usage(folder).free
    except OSError:
        return None


def _write(path: Path, text: str) -> None:
    beside = path.with_name(path.name + ".part")
    try:
        beside.write_text(text, "utf-8")
        os.replace(beside, path)
    except OSError:
        pass  # what stops the work itself is said where it stops


def read(out: Path) -> dict[str, Any] | None:
    """The last sign of life; None where there is none."""
    try:
        told = json.loads((out / HEARTBEAT).read_text("utf-8"))
    except (OSError, ValueError):
        return None
    return told if isinstance(told, dict) else None
