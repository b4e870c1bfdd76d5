"""Which files lay in the inbox at one moment: none of them is the later one, however many runs it takes."""

from __future__ import annotations

import json
import math
import os
import time
from collections.abc import Iterable
from pathlib import Path

from pipeline.inbox.folder import Waiting

SECONDS = 0.25  # what one hand drops at once may come in one by one


class AtOnce:
    """Gives files seen together one number: that of the journal line of the first of them.

    A small file keeps it while they are taken, so that a run that is killed between two of them is gone on with. It is
    not flushed to the disk: after a power cut those that were left count as dropped later.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._began = (0, -math.inf)
        self._fresh: list[str] = []
        self._numbers: dict[str, int] = {}
        try:
            kept = json.loads(path.read_text("utf-8"))
            self._left = {str(name): int(number) for name, number in kept.items()}
        except (OSError, ValueError, AttributeError, TypeError):
            self._left = {}

    def begin(self, files: Iterable[Waiting]) -> None:
        """From now on these files are taken."""
        self._numbers = {}
        self._fresh = [file.name for file in files if not file.claimed and file.name not in self._left]

    def number(self, file: Waiting, following: int) -> int:
        """The number of a file's companions; 0 for one that stands alone. ``following``: the next line's number."""
        if file.name in self._left:
            return self._left[file.name]
        if file.claimed:
            return 0  # a run that ended had seen it before whatever lies there now
        if not self._numbers:
            if time.monotonic() - self._began[1] > SECONDS:
                self._began = following, time.monotonic()
            self._numbers = dict.fromkeys(self._fresh, self._began[0])
            if len(self._fresh) > 1:
                self._write({**self._left, **self._numbers})
        return self._began[0]

    def end(self) -> None:
        """All were taken, or stay where they lie."""
        self._left = {}
        self.path.unlink(missing_ok=True)

    def _write(self, numbers: dict[str, int]) -> None:
        part = self.path.with_name(self.path.name + ".part")
        part.write_text(json.dumps(numbers, ensure_ascii=False), "utf-8")
        os.replace(part, self.path)
