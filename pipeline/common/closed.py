"""A database that was closed and is looked into once more: each look opens it to read, and closes it again."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from contextlib import closing
from pathlib import Path
from typing import Any


class Rows(list[tuple[Any, ...]]):
    """Rows that were fetched, as a cursor shows them."""

    def fetchall(self) -> list[tuple[Any, ...]]:
        return list(self)

    def fetchone(self) -> tuple[Any, ...] | None:
        return self[0] if self else None


class Closed:
    """Stands for the connection that was closed."""

    in_transaction = False

    def __init__(self, path: Path) -> None:
        self.path = path

    def execute(self, statement: str, values: Iterable[Any] = ()) -> Rows:
        """The rows of a question; nothing can be written."""
        with closing(sqlite3.connect(f"{self.path.resolve().as_uri()}?mode=ro", uri=True)) as sql:
            return Rows(sql.execute(statement, tuple(values)).fetchall())

    def close(self) -> None:
        """It is closed already."""
