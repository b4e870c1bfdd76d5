"""Publishes what reports give: each file alone, whole or not at all, and only when it changed."""

from __future__ import annotations

import re
import time
from pathlib import Path

from pipeline.common.files import sha256, write_whole

RESERVED_NAMES = {"con", "prn", "aux", "nul", *(f"com{n}" for n in range(1, 10)), *(f"lpt{n}" for n in range(1, 10))}
TRIES = 5


class NotPublished(Exception):
    """A file could not be replaced, and its new content lies beside it."""

    def __init__(self, path: str, beside: str) -> None:
        super().__init__(f"{path} is held open by another program; the new content is in {beside}")
        self.path, self.beside = path, beside


def safe_name(text: str) -> str:
    """A value as a file or folder name on every system; cleaned names of unlike values stay unlike."""
    cleaned = re.sub(r'[<>:"/\\|?*\x00-\x1f]', "_", text).strip(" .") or "_"
    if cleaned.casefold().split(".")[0] in RESERVED_NAMES:
        cleaned = "_" + cleaned
    if cleaned != text or len(cleaned.encode("utf-8")) > 150:
        while len(cleaned.encode("utf-8")) > 140:
            cleaned = cleaned[:-1]
        cleaned = f"{cleaned}-{sha256(text.encode('utf-8'))[:8]}"
    return cleaned


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
