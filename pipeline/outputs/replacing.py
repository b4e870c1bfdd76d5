"""Publishes what reports give: each file alone, whole or not at all, and only when it changed."""

from __future__ import annotations

import time
from pathlib import Path

from pipeline.common.files import write_whole

TRIES = 5


class NotPublished(Exception):
    """A file could not be replaced, and its new content lies beside it."""

    def __init__(self, path: str, beside: str) -> None:
        super().__init__(f"{path} is held open by another program; the new content is in {beside}")
        self.path, self.beside = path, beside


def replace_file(folder: Path, path: str, data: bytes) -> bool:
    """Replace one output; True if its bytes changed. Raises NotPublished when it is held open."""
    target = folder / path
    try:
        if target.read_bytes() == data:
            return False
    except OSError:
        pass
    for attempt in range(TRIES):
        try:
            write_whole(target, data, durable=False)
            return True
        except PermissionError:
            # a spreadsheet program or a virus scanner holds the file; it mostly lets go soon
            if attempt < TRIES - 1 and target.exists():
                time.sleep(0.05 * 2**attempt)
                continue
            if not target.exists():
                raise
    beside = f"{target.stem}.new{target.suffix}"
    write_whole(target.with_name(beside), data)
    raise NotPublished(path, beside)
