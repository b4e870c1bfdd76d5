"""What a book says of the output files, without opening it as one."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any


def published(path: Path) -> dict[str, str]:
    """Path → SHA-256 of what another book says was published, whatever its version."""
    return _pairs(path, "SELECT path, sha256 FROM published")


def standings(path: Path) -> dict[str, dict[str, Any]]:
    """Batch → how it stood when another book was last published, whatever its version."""
    return {batch: json.loads(text) for batch, text in _pairs(path, "SELECT batch, standing FROM standings").items()}


def _pairs(path: Path, asked: str) -> dict[str, str]:
    """What a book answers; nothing where it cannot be read."""
    try:
        with closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)) as sql:
            return dict(sql.execute(asked))
    except sqlite3.Error:
        return {}
