"""Tells the journal's head to a witness: a file outside the outputs, on another share or machine, that only grows.

Or to a command of the site's own that carries it out of the house: it gets the line on its input.

Whoever can rewrite the outputs can rewrite the whole journal; then the heads that others keep no longer fit.
"""

from __future__ import annotations

import os
import time
from collections.abc import Sequence
from pathlib import Path

from pipeline.common.files import fsync, naming
from pipeline.common.heads import from_paper
from pipeline.common.site_commands import run_command
from pipeline.contract.site import Site

PAUSE = 600.0  # seconds until a command that failed is tried again: it may take long each time
NO_LINKS = getattr(os, "O_NOFOLLOW", 0)


class Witnesses:
    """All that a site tells its heads to."""

    def __init__(self, site: Site, out: Path) -> None:
        self.file, self.command = Witness(site["witness"], out), WitnessCommand(site["witness_command"])

    def tell(self, head: str, day: str, at_end: bool = False) -> str:
        """Tell the head where it is due; gives what kept it from being told, in words."""
        return " ".join(filter(None, (each.tell(head, day, at_end) for each in (self.file, self.command))))


class WitnessCommand:
    """Runs ``command`` with a line ``DAY NUMBER:DIGEST`` on its input; one that fails is tried again later."""

    def __init__(self, command: Sequence[str]) -> None:
        self.command = list(command)
        self._told: tuple[str, str] | None = None
        self._wrong, self._again = "", 0.0

    def tell(self, head: str, day: str, at_end: bool = False) -> str:
        """Tell the head if it is due; gives what kept it from being told, in words."""
        if not self.command or not head or (self._told and not _due(self._told, (day, head), at_end)):
            return ""
        if not self._wrong or at_end or time.monotonic() >= self._again:
            said = run_command(self.command, f"{day} {head}\n")
            self._again = time.monotonic() + PAUSE
            self._wrong = (
                f"The command of witness_command was not told the head of the journal: {said}." if said else ""
            )
        if not self._wrong:
            self._told = day, head
        return self._wrong


class Witness:
    """Appends ``DAY NUMBER:DIGEST`` lines: one each day, and one more where a run ends with another head."""

    def __init__(self, path: str, out: Path) -> None:
        self.path, self.out = Path(path) if path else None, out
        self._told: tuple[str, str] | None = None

    def tell(self, head: str, day: str, at_end: bool = False) -> str:
        """Tell the head if it is due; gives what kept it from being told, in words."""
        if self.path is None or not head or (self._told and not _due(self._told, (day, head), at_end)):
            return ""
        try:
            with naming(self.path):
                self._append(self.path, head, day, at_end)
        except (OSError, ValueError) as error:
            why = getattr(error, "strerror", None) or str(error)
            return f"The witness {self.path} was not told the head of the journal: {why}."
        return ""

    def _append(self, path: Path, head: str, day: str, at_end: bool) -> None:
        if not path.is_absolute():
            raise ValueError("it must be named by its whole path, from the root of the disk on")
        if self.out.resolve() in path.resolve().parents:
            raise ValueError("it lies in the outputs, where whoever changes the journal can change it too")
        lines = path.read_text("utf-8").splitlines() if path.exists() else []
        if any(from_paper(line.split()[-1] if line.split() else "") is None for line in lines):
            raise ValueError("it holds something else than heads, so nothing is added to it")
        last = tuple(lines[-1].split()) if lines else ("", "")
        if _due((last[0], last[-1]), (day, head), at_end):
            handle = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT | NO_LINKS, 0o644)
            with os.fdopen(handle, "ab") as stream:
                stream.write(f"{day} {head}\n".encode())
                fsync(stream)
        self._told = day, head


def _due(told: tuple[str, str], now: tuple[str, str], at_end: bool) -> bool:
    return told[0] != now[0] or (at_end and told[1] != now[1])
