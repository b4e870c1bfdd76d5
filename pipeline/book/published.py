"""What a book knows of what was last published: statuses, open findings, output files; also without opening it."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable
from contextlib import AbstractContextManager, closing
from pathlib import Path
from typing import Any

from pipeline.contract.findings import Finding


class LastPublished:
    """The part of a book that says what was last published."""

    sql: Any
    _transaction: Callable[[], AbstractContextManager[None]]

    def remember_open(self, findings: Iterable[Finding]) -> None:
        """Keep which stop and review findings were open when it was last published."""
        rows = sorted((f.id, f.severity, f.code, f.subject) for f in findings if f.is_open and f.severity != "note")
        if rows != self.open_findings():
            with self._transaction():
                self.sql.execute("DELETE FROM open_findings")
                self.sql.executemany("INSERT OR REPLACE INTO open_findings VALUES (?, ?, ?, ?)", rows)

    def open_findings(self) -> list[tuple[str, str, str, str]]:
        """Id, severity, code and subject of the findings that were open when it was last published, by id."""
        return self.sql.execute("SELECT * FROM open_findings ORDER BY finding").fetchall()

    def remember_statuses(self, statuses: dict[str, str]) -> None:
        """Keep how each batch stood when it was last published."""
        with self._transaction():
            self.sql.execute("DELETE FROM statuses")
            rows = [(batch.casefold(), status) for batch, status in sorted(statuses.items())]
            self.sql.executemany("INSERT OR REPLACE INTO statuses VALUES (?, ?)", rows)

    def status(self, batch: str) -> str | None:
        """How a batch stood when it was last published; None for one without a record."""
        found = self.sql.execute("SELECT status FROM statuses WHERE batch = ?", (batch.casefold(),)).fetchone()
        return str(found[0]) if found else None

    def published(self) -> dict[str, str]:
        """Path → SHA-256 of the output files as last written."""
        return dict(self.sql.execute("SELECT path, sha256 FROM published"))

    def add_published(self, files: dict[str, str], gone: Iterable[str] = ()) -> None:
        """Keep which output files were written, and which are ``gone``."""
        before = self.published()
        changed = sorted(item for item in files.items() if before.get(item[0]) != item[1])
        removed = sorted(set(gone) - set(files))
        if changed or removed:
            with self._transaction():
                self.sql.executemany("DELETE FROM published WHERE path = ?", [(path,) for path in removed])
                self.sql.executemany("INSERT OR REPLACE INTO published VALUES (?, ?)", changed)


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
