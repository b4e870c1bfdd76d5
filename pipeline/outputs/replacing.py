"""Publishes what reports give: each file alone, whole or not at all, and only when it changed."""

from __future__ import annotations

import io
import re
import time
import zipfile
from pathlib import Path
from typing import Any

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


def workbook_bytes(workbook: Any) -> bytes:
    """An openpyxl workbook as bytes that depend on its content alone, never on the clock."""
    raw = io.BytesIO()
    workbook.save(raw)
    made = io.BytesIO()
    with zipfile.ZipFile(raw) as source, zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as target:
        for info in source.infolist():
            data = source.read(info)
            if info.filename == "docProps/core.xml":
                data = re.sub(rb"(<dcterms:(created|modified)[^>]*>)[^<]*", rb"\g<1>2000-01-01T00:00:00Z", data)
            fixed = zipfile.ZipInfo(info.filename, (2000, 1, 1, 0, 0, 0))
            fixed.compress_type = zipfile.ZIP_DEFLATED
            target.writestr(fixed, data)
    return made.getvalue()
