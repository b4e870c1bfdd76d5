"""What was worked out, kept on disk beside the book, so that the next process need not work it out again.

Anybody may delete the folder ``kept/``: all of it can be made from the book. It holds plain data alone, and what
another version of the tool, of a plugin or of a library made is put away. A store that cannot be read is put away
too, and everything is worked out anew.
"""

from __future__ import annotations

import hashlib
import json
import logging
import secrets
import shutil
import sqlite3
from collections.abc import Callable, Collection, Iterable
from pathlib import Path
from typing import Any, TypeVar

from pipeline.common.closed import Closed
from pipeline.common.files import sha256
from pipeline.kept.digests import Hasher, Vector
from pipeline.kept.packed_frames import NotReadable
from pipeline.kept.place import DATABASE

log = logging.getLogger("vatting")

VERSION = "3"
SEAL = 8  # bytes of a digest before all that is kept: damage that still reads as something is no figure
SCHEMA = """
CREATE TABLE meta (name TEXT PRIMARY KEY, value TEXT NOT NULL);
CREATE TABLE records (name TEXT PRIMARY KEY, data BLOB NOT NULL);
CREATE TABLE vectors (name TEXT PRIMARY KEY, data BLOB NOT NULL);
CREATE TABLE segments (frame TEXT NOT NULL, segment TEXT NOT NULL, data BLOB NOT NULL, PRIMARY KEY (frame, segment));
CREATE TABLE lying (path TEXT PRIMARY KEY, sha256 TEXT NOT NULL, size INTEGER NOT NULL, mtime INTEGER NOT NULL);
CREATE TABLE documents (name TEXT NOT NULL, subject TEXT NOT NULL, data BLOB NOT NULL, PRIMARY KEY (name, subject));
"""
Made = TypeVar("Made")
Mark = tuple[str, int, int]


DAMAGE = (NotReadable, sqlite3.DatabaseError, UnicodeDecodeError)  # SQLite's own words may be bytes of the damage


class Lying:
    """Which output files lie there as they were written: of the same size and time of change, else by their bytes."""

    def __init__(self, out: Path, known: dict[str, Mark]) -> None:
        self.out, self._known = out, known
        self._new: dict[str, Mark] = {}

    def digest(self, path: str) -> str | None:
        """The SHA-256 of a file that lies as it was written, "" for one that was not to be made; None: make it."""
        known = self._known.get(path)
        if known is None or not known[0]:
            return None if known is None else ""
        try:
            seen = (self.out / path).stat()
            if (seen.st_size, seen.st_mtime_ns) == known[1:]:
                return known[0]
            if sha256((self.out / path).read_bytes()) != known[0]:
                return None
        except OSError:
            return None
        self.note(path, known[0])
        return known[0]

    def note(self, path: str, digest: str) -> None:
        """Note that a file was written (``""``: that none was to be made)."""
        mark = (digest, 0, 0)
        if digest:
            seen = (self.out / path).stat()
            mark = (digest, seen.st_size, seen.st_mtime_ns)
        self._known[path] = self._new[path] = mark

    def new(self) -> dict[str, Mark]:
        """What was noted since the last call."""
        new, self._new = self._new, {}
        return new


class Kept:
    """One open store. Without a folder it lives in memory; one that is ``only_read`` keeps nothing new."""

    def __init__(
        self, folder: Path | None, environment: str, only_read: bool = False, key: bytes | None = None
    ) -> None:
        self._key = key or secrets.token_bytes(16)
        self.only_read = only_read and folder is not None
        self.folder, self.environment = folder, environment
        if only_read and folder is not None and not (folder / DATABASE).exists():
            self.only_read, self.folder = False, None
        try:
            self._open(environment)
        except DAMAGE as error:
            if self.folder is None:
                raise
            log.info("what was kept is not used (%s); everything is worked out anew", error)
            self.begin_anew()

    def begin_anew(self) -> None:
        """Put away what was kept; one that is only read goes on in memory."""
        self.close()
        if self.only_read:
            self.only_read, self.folder = False, None
        elif self.folder is not None:
            shutil.rmtree(self.folder, ignore_errors=True)
        self._open(self.environment)

    def is_damaged(self) -> bool:
        """Whether the store itself is what failed, and not the disk under the book."""
        try:
            return bool(self.sql.execute("PRAGMA quick_check").fetchone()[0] != "ok")
        except (sqlite3.DatabaseError, UnicodeDecodeError):
            return True

    def _open(self, environment: str) -> None:
        if self.folder is not None:
            self.folder.mkdir(parents=True, exist_ok=True)
        place = ":memory:" if self.folder is None else self.folder / DATABASE
        self.sql: Any = sqlite3.connect(place, isolation_level=None)
        if self.only_read:
            self.sql.execute("PRAGMA query_only = ON")
        else:
            self.sql.execute("PRAGMA journal_mode = WAL")
            self.sql.execute("PRAGMA synchronous = NORMAL")
        if not self.sql.execute("SELECT name FROM sqlite_master WHERE name = 'meta'").fetchone():
            made = [("version", VERSION), ("environment", environment), ("key", self._key.hex())]
            self.sql.executescript("BEGIN;" + SCHEMA)
            self.sql.executemany("INSERT INTO meta VALUES (?, ?)", made)
            self.sql.execute("COMMIT")
        meta = dict(self.sql.execute("SELECT name, value FROM meta"))
        if (meta.get("version"), meta.get("environment")) != (VERSION, environment):
            raise NotReadable("another version made it")
        self.hasher = Hasher(bytes.fromhex(meta["key"]))

    def close(self) -> None:
        self.sql.close()

    def __enter__(self) -> Kept:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()
        if self.folder is not None:
            self.sql = Closed(self.folder / DATABASE)

    def together(self, write: Callable[[], Made]) -> Made:
        """Do several writes as one: all of them are kept, or none."""
        if self.sql.in_transaction or self.only_read:
            return write()
        self.sql.execute("BEGIN IMMEDIATE")
        try:
            made = write()
        except BaseException:
            if self.sql.in_transaction:
                self.sql.execute("ROLLBACK")
            raise
        self.sql.execute("COMMIT")
        return made

    # --- records: small plain data by name ------------------------------------------------------

    def record(self, name: str) -> Any:
        """What was kept under a name, or None. Raises NotReadable."""
        return self._read(self._one("SELECT data FROM records WHERE name = ?", name))

    def keep_record(self, name: str, data: Any) -> None:
        self._write(
            "INSERT OR REPLACE INTO records VALUES (?, ?)", name, self._sealed(json.dumps(data, separators=(",", ":")))
        )

    def vector(self, name: str) -> Vector | None:
        data = self._one("SELECT data FROM vectors WHERE name = ?", name)
        return None if data is None else Vector.from_bytes(self._opened(data))

    def keep_vector(self, name: str, vector: Vector) -> None:
        self._write("INSERT OR REPLACE INTO vectors VALUES (?, ?)", name, self._sealed(vector.to_bytes()))

    # --- rows of frames ----------------------------------------------------------------------------

    def segments(self, frame: str, wanted: Iterable[str]) -> list[bytes]:
        """The segments of a frame in the order of their names. Raises NotReadable where one is gone."""
        held = {name: data for name, data in self._all("SELECT segment, data FROM segments WHERE frame = ?", frame)}
        try:
            return [self._opened(held[name]) for name in wanted]
        except KeyError as error:
            raise NotReadable(f"a segment of {frame} is gone") from error

    def keep_segments(self, frame: str, wanted: list[str], pack: Callable[[int], bytes]) -> None:
        """Keep the segments of these names, of which ``pack`` makes the bytes by place; drop the frame's others."""
        if self.only_read:
            return
        held = {name for (name,) in self._all("SELECT segment FROM segments WHERE frame = ?", frame)}
        for gone in held - set(wanted):
            self._write("DELETE FROM segments WHERE frame = ? AND segment = ?", frame, gone)
        for place, name in enumerate(wanted):
            if name not in held:
                self._write("INSERT OR REPLACE INTO segments VALUES (?, ?, ?)", frame, name, self._sealed(pack(place)))

    # --- output files ------------------------------------------------------------------------------

    def lying(self, out: Path) -> Lying:
        """The output files as they were last seen to be what was written."""
        rows = self._all("SELECT path, sha256, size, mtime FROM lying")
        return Lying(out, {path: (digest, size, mtime) for path, digest, size, mtime in rows})

    def keep_lying(self, files: dict[str, Mark]) -> None:
        def keep() -> None:
            for path, mark in files.items():
                self._write("INSERT OR REPLACE INTO lying VALUES (?, ?, ?, ?)", path, *mark)

        if files:
            self.together(keep)

    # --- documents that overviews show ---------------------------------------------------------------

    def documents(self, name: str) -> dict[str, Any]:
        """Subject → data of a document that was kept."""
        rows = self._all("SELECT subject, data FROM documents WHERE name = ? ORDER BY subject", name)
        return {subject: self._read(data) for subject, data in rows}

    def keep_document(self, name: str, subject: str, data: str) -> None:
        self._write("INSERT OR REPLACE INTO documents VALUES (?, ?, ?)", name, subject, self._sealed(data))

    def drop_documents(self, name: str, but: Collection[str]) -> None:
        """Drop a document of all subjects but some."""
        for (subject,) in self._all("SELECT subject FROM documents WHERE name = ?", name):
            if subject not in but:
                self._write("DELETE FROM documents WHERE name = ? AND subject = ?", name, subject)

    def _one(self, statement: str, *values: Any) -> Any:
        found = self._all(statement, *values)
        return found[0][0] if found else None

    def _all(self, statement: str, *values: Any) -> list[tuple[Any, ...]]:
        try:
            return self.sql.execute(statement, values).fetchall()
        except (sqlite3.DatabaseError, UnicodeDecodeError) as error:
            raise NotReadable(str(error)) from error

    def _write(self, statement: str, *values: Any) -> None:
        if self.only_read:
            return
        try:
            self.sql.execute(statement, values)
        except sqlite3.OperationalError:
            raise  # the disk is full or read-only
        except (sqlite3.DatabaseError, UnicodeDecodeError) as error:
            raise NotReadable(str(error)) from error

    def _sealed(self, data: bytes | str) -> bytes:
        """Data behind a digest of itself."""
        whole = data.encode("utf-8", "surrogatepass") if isinstance(data, str) else data
        return hashlib.blake2b(whole, digest_size=SEAL, key=self.hasher.key).digest() + whole

    def _opened(self, data: Any) -> bytes:
        """What was sealed. Raises NotReadable where it is not as it was."""
        if not isinstance(data, bytes) or self._sealed(data[SEAL:]) != data:
            raise NotReadable("something that was kept is not as it was")
        return data[SEAL:]

    def _read(self, data: Any) -> Any:
        return None if data is None else json.loads(self._opened(data).decode("utf-8", "surrogatepass"))
