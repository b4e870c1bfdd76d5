"""What the book knows of what was last published: standings, open findings, and files as (about to be) written."""

from __future__ import annotations

import json
from abc import ABC, abstractmethod
from collections.abc import Iterable
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Any

from pipeline.book.packed import as_json
from pipeline.common.files import digest_of
from pipeline.contract.findings import Finding


class Published(ABC):
    """That part of a book."""

    sql: Any

    @abstractmethod
    def _transaction(self) -> AbstractContextManager[None]: ...

    def remember_open(self, findings: Iterable[Finding]) -> None:
        """Keep which stop and review findings were open when it was last published."""
        rows = sorted((f.id, f.severity, f.code, f.subject) for f in findings if f.is_open and f.severity != "note")
        if rows != self.open_findings():
            with self._transaction():
                self.sql.execute("DELETE FROM open_findings")
                self.sql.executemany("INSERT OR REPLACE INTO open_findings VALUES (?, ?, ?, ?)", rows)

    def open_findings(self) -> list[tuple[str, str, str, str]]:
        """Id, severity, code and subject of the findings that were open when it was last published, by id."""
        return list(self.sql.execute("SELECT * FROM open_findings ORDER BY finding"))

    def remember_standings(self, standings: dict[str, dict[str, Any]]) -> None:
        """Keep how each batch stood when it was last published: its status, and what a release is held against."""
        with self._transaction():
            self.sql.execute("DELETE FROM standings")
            rows = [(batch.casefold(), as_json(standings[batch])) for batch in sorted(standings)]
            self.sql.executemany("INSERT OR REPLACE INTO standings VALUES (?, ?)", rows)

    def standings(self) -> dict[str, dict[str, Any]]:
        """Batch (case-folded) → how it stood when it was last published."""
        rows = self.sql.execute("SELECT batch, standing FROM standings ORDER BY batch")
        return {batch: json.loads(text) for batch, text in rows}

    def published(self) -> dict[str, str]:
        """Path → SHA-256 of the output files as last written."""
        return dict(self.sql.execute("SELECT path, sha256 FROM published WHERE sha256 <> ''"))

    def ours(self) -> dict[str, frozenset[str]]:
        """Path → the SHA-256 that an output file may have: as last written, and as it was about to be written."""
        rows = self.sql.execute("SELECT path, sha256, next FROM published")
        return {path: frozenset(filter(None, digests)) for path, *digests in rows}

    def settle_published(self, out: Path) -> None:
        """Find out which of the files that a process died over were written; the others lie there as before."""
        rows = self.sql.execute("SELECT path, next FROM published WHERE next <> ''").fetchall()
        written = {path: digest for path, digest in rows if digest_of(out / path) == digest}
        if rows:
            with self._transaction():
                self.sql.execute("UPDATE published SET next = ''")
                self.sql.execute("DELETE FROM published WHERE sha256 = ''")
                rows = [(path, digest) for path, digest in written.items()]
                self.sql.executemany("INSERT OR REPLACE INTO published VALUES (?, ?, '')", rows)

    def about_to_publish(self, files: dict[str, str]) -> None:
        """Keep what is going to be written, so that a process that dies before it can say so leaves no riddle."""
        known = {path: digest for path, digest in self.ours().items() if path in files}
        new = [(path, digest) for path, digest in files.items() if digest not in known.get(path, ())]
        if new:
            with self._transaction():
                self.sql.executemany(
                    "INSERT INTO published VALUES (?, '', ?) ON CONFLICT (path) DO UPDATE SET next = excluded.next", new
                )

    def add_published(self, files: dict[str, str], gone: Iterable[str] = ()) -> None:
        """Keep which output files were written, and which are ``gone``."""
        before = self.published()
        changed = sorted(item for item in files.items() if before.get(item[0]) != item[1])
        removed = sorted(set(gone) - set(files))
        if changed or removed:
            with self._transaction():
                self.sql.executemany("DELETE FROM published WHERE path = ?", [(path,) for path in removed])
                self.sql.executemany("INSERT OR REPLACE INTO published VALUES (?, ?, '')", changed)

    def take_over_published(self, rows: Iterable[tuple[str, ...]]) -> None:
        """Keep what an earlier book of the same outputs said of their files."""
        with self._transaction():
            self.sql.executemany("INSERT OR REPLACE INTO published VALUES (?, ?, ?)", list(rows))
