"""How often reading a file was begun and never ended: a file that ends the reader is given back in the end."""

from __future__ import annotations

import json
import os
from pathlib import Path


class Tries:
    """Counts per SHA-256, in a small file that outlives a killed process.

    It is not flushed to the disk: a power cut forgets a try, which costs one more.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        try:
            kept = json.loads(path.read_text("utf-8"))
            self._counts = {str(name): int(count) for name, count in kept.items()}
        except (OSError, ValueError, AttributeError, TypeError):
            self._counts = {}

    def begin(self, digest: str) -> int:
        """Note that reading begins; gives how many times it has begun by now."""
        self._counts[digest] = self._counts.get(digest, 0) + 1
        self._write()
        return self._counts[digest]

    def done(self, digest: str) -> None:
        """Reading ended, with whatever answer."""
        if self._counts.pop(digest, None) is not None:
            self._write()

    def _write(self) -> None:
        if not self._counts:
            self.path.unlink(missing_ok=True)
            return
        beside = self.path.with_name(self.path.name + ".part")
        beside.write_text(json.dumps(self._counts), "utf-8")
        os.replace(beside, self.path)
