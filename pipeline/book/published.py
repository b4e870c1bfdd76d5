"""What a book says of the output files, without opening it as one."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path


def published(path: Path) -> dict[str, str]:
    """What another book says was published, whatever its version; nothing where it cannot be read."""
    try:
        with closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)) as sql:
            return dict(sql.execute("SELECT path, sha256 FROM published"))
    except sqlite3.Error:
        return {}
