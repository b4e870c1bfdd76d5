"""What a book says of output files and open findings, without opening it as one."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any


def published(path: Path) -> dict[str, str]:
    """What another book says was published, whatever its version; nothing where it cannot be read."""
    return dict(_rows(path, "SELECT path, sha256 FROM published"))


def open_findings(path: Path) -> list[tuple[str, str, str, str]]:
    """What another book says was open, as ``Book.open_findings``; nothing where it cannot be read."""
    return _rows(path, "SELECT finding, severity, code, subject FROM open_findings ORDER BY finding")


def _rows(path: Path, asked: str) -> list[Any]:
    try:
        with closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)) as sql:
            return sql.execute(asked).fetchall()
    except sqlite3.Error:
        return []
