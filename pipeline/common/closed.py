"""A database that was closed and is looked into once more: each look opens it to read, and closes it again."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from contextlib import closing
from pathlib import Path
from typing import Any


def to_read(path: Path) -> sqlite3.Connection:
    """A connection that only reads; it leaves nothing beside a database that nobody has open."""
    nobody = not path.with_name(path.name + "-wal").exists()
    return sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro{'&immutable=1' if nobody else ''}", uri=True)


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
        with closing(to_read(self.path)) as sql:
            return Rows(sql.execute(statement, tuple(values)).fetchall())

    def close(self) -> None:
        """It is closed already."""
