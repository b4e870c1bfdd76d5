"""The book: append-only facts with their provenance, in SQLite behind a few functions.

The book can always be made again from the originals and their journal; it is never migrated.
A sheet's rows are kept as blocks: one value a column and sheet.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from pipeline.book.facts import Counting, Ruled, current
from pipeline.book.ledger import Loaded, SheetInfo, as_frame, joined, load
from pipeline.book.packed import as_json, pack_finding, pack_sheet, unpack_finding
from pipeline.book.place import APPLICATION, refuse_what_is_no_book
from pipeline.book.published import Published
from pipeline.book.schema import SCHEMA
from pipeline.common.closed import Closed
from pipeline.common.errors import BookDamaged, BookError, BookHeld, BookOutdated
from pipeline.common.files import text_digest
from pipeline.common.libraries import np, pd
from pipeline.contract.findings import Finding
from pipeline.contract.kinds import SheetColumn, SheetKind
from pipeline.sheets.rows import SheetRows

VERSION = 4


class Book(Published):
    """One open book. Use as a context manager.

    One that is ``only_read`` shows the book as it stood when it was opened, while another process may
    go on writing it.
    """

    def __init__(self, path: Path, kinds: Iterable[SheetKind], only_read: bool = False) -> None:
        self.kinds = {kind.name: kind for kind in kinds}
        self.path, self.only_read = path, only_read
        self._sheets: list[SheetInfo] = []
        self._sheets_of: dict[str, list[SheetInfo]] = {name: [] for name in self.kinds}
        self._identities: dict[str, tuple[int, str]] = {}
        self._entry_findings: list[tuple[int, Finding]] = []
        self._last_entry_finding = 0
        self._known_lines: list[dict[str, Any]] | None = None
        self.loaded: dict[str, Loaded] = {}
        self._states: dict[str, tuple[Any, ...]] = {}
        self._counted: dict[str, tuple[Any, Counting]] = {}
        self._made: dict[str, tuple[pd.DataFrame, Counting]] = {}
        self.grown: dict[str, tuple[pd.DataFrame, pd.DataFrame]] = {}
        """Of each kind the frame that was gone on with last, and what it became: the same rows, and more."""
        fresh = not path.exists()
        if only_read and fresh:
            raise BookError(f"There is no book {path.name} yet; vatting run makes it.")
        if not only_read:
            refuse_what_is_no_book(path)
        path.parent.mkdir(parents=True, exist_ok=True)
        try:
            self.sql: Any = sqlite3.connect(path, isolation_level=None)
        except sqlite3.Error as error:
            raise BookError(f"The book {path} cannot be opened: {error}.") from error
        try:
            self._begin()
            if fresh or not self._tables():
                self._create()
            self._check_version()
        except BookOutdated:
            self.sql.close()  # else the file cannot be removed on Windows
            raise
        except sqlite3.DatabaseError as error:
            self.sql.close()
            if getattr(error, "sqlite_errorcode", 0) & 0xFF in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
                # somebody looks into it: no reason to make it anew
                raise BookHeld(f"Another program holds {path.name} open; close it there and run again.") from error
            raise BookDamaged(f"{path.name} cannot be read as a book: {error}") from error

    def _begin(self) -> None:
        if self.only_read:
            self.sql.execute("PRAGMA query_only = ON")
            self.sql.execute("BEGIN")
            return
        self.sql.execute("PRAGMA journal_mode = WAL")
        self.sql.execute("PRAGMA synchronous = NORMAL")
        self.sql.execute("PRAGMA foreign_keys = ON")

    def __enter__(self) -> Book:
        return self

    def __exit__(self, *_: object) -> None:
        self.sql.close()
        self.sql = Closed(self.path)

    def _tables(self) -> set[str]:
        return {name for (name,) in self.sql.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}

    def _create(self) -> None:
        self.sql.executescript(f"PRAGMA application_id = {APPLICATION}; BEGIN;" + SCHEMA)
        self.sql.execute("INSERT INTO meta VALUES ('schema', ?), ('next_fact', '1')", (self._schema(),))
        self.sql.execute("COMMIT")

    def _schema(self) -> str:
        text = json.dumps([[k.name, k.key, k.frame().names] for k in sorted(self.kinds.values(), key=lambda k: k.name)])
        return f"{VERSION} {hashlib.sha256(text.encode()).hexdigest()[:16]}"

    def _check_version(self) -> None:
        found = self.sql.execute("SELECT value FROM meta WHERE name = 'schema'").fetchone()
        if not found or found[0] != self._schema():
            raise BookOutdated("the book was made by another version or with other kinds of sheets")

    # --- entering ------------------------------------------------------------------------------

    @property
    def last_number(self) -> int:
        """Journal number of the last file in the book."""
        return int(self.sql.execute("SELECT COALESCE(MAX(number), 0) FROM files").fetchone()[0])

    @property
    def last_line(self) -> dict[str, Any]:
        """The journal's last line in the book; empty where there is none."""
        found = self.sql.execute("SELECT line FROM files ORDER BY number DESC LIMIT 1").fetchone()
        return dict(json.loads(found[0])) if found else {}

    @property
    def head(self) -> str:
        """The head of the journal's last line in the book; empty where there is none."""
        return str(self.last_line.get("head", ""))

    def hold(self) -> None:
        """From now on files are entered together: all of them with ``commit``, or none."""
        self.sql.execute("BEGIN IMMEDIATE")

    def commit(self) -> None:
        """Enter what was held."""
        self.sql.execute("COMMIT")

    def roll_back(self) -> None:
        """Enter nothing of what was held. What this object remembers is not to be trusted then: open the book anew."""
        if self.sql.in_transaction:  # a full disk has ended it already
            self.sql.execute("ROLLBACK")

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        """What is written inside is written whole or not at all; part of what is held, if something is."""
        if self.sql.in_transaction:
            yield
            return
        self.hold()
        try:
            yield
            self.commit()
        except BaseException:
            self.roll_back()
            raise

    def enter(
        self,
        line: dict[str, Any],
        sheets: list[SheetRows],
        rulings: list[dict[str, Any]],
        findings: list[Finding],
    ) -> None:
        """Enter a file's journal line with its rows, findings and resolved rulings: whole or not at all."""
        with self._transaction():
            number = int(line["number"])
            self.sql.execute(
                "INSERT INTO files VALUES (?, ?, ?, ?)",
                (number, line["name"], line["sha256"], as_json(line)),
            )
            fact = int(self.sql.execute("SELECT value FROM meta WHERE name = 'next_fact'").fetchone()[0])
            for rows in sheets:
                fact = self._enter_sheet(number, rows, fact)
            for ruling in rulings:
                fact = self._enter_ruling(number, ruling, fact)
            said = [*findings, *(finding for rows in sheets for finding in rows.findings)]
            self.sql.executemany(
                "INSERT INTO entry_findings VALUES (?, ?)", [(number, pack_finding(finding)) for finding in said]
            )
            self.sql.execute("UPDATE meta SET value = ? WHERE name = 'next_fact'", (str(fact),))
        if self._known_lines is not None:
            self._known_lines.append(line)

    def _enter_sheet(self, number: int, rows: SheetRows, fact: int) -> int:
        count = len(rows.rows)
        cursor = self.sql.execute(
            "INSERT INTO sheets (number, name, kind, header_row, first_fact, count, columns) "
            "VALUES (?, ?, ?, ?, ?, ?, ?)",
            (number, rows.sheet, rows.kind.name, rows.header_row, fact, count, json.dumps(rows.columns)),
        )
        sheet = cursor.lastrowid
        blocks = rows.blocks or pack_sheet(rows)
        self.sql.executemany(
            "INSERT INTO blocks VALUES (?, ?, ?)", [(sheet, name, data) for name, data in blocks.items()]
        )
        return fact + count

    def _enter_ruling(self, number: int, ruling: dict[str, Any], fact: int) -> int:
        """Keep a resolved ruling; a correction also becomes a fact that copies the corrected one."""
        about = dict(ruling)
        about["facts"] = [self.fact_at(*spot) for spot in ruling.get("spots", [])]
        if "set" in ruling and about["facts"] and about["facts"][0] is not None:
            self.sql.execute(
                "INSERT INTO copies VALUES (?, ?, ?, ?, ?)",
                (fact, number, about["facts"][0], ruling["kind"], as_json(ruling["set"])),
            )
            about["made"] = fact
            fact += 1
        self.sql.execute("INSERT INTO ruled VALUES (?, ?)", (number, as_json(about)))
        return fact

    # --- reading -------------------------------------------------------------------------------

    def load(self, kind: SheetKind, undone: frozenset[int]) -> Loaded:
        """All facts of a kind; of those loaded before only what was entered since is loaded."""
        state = (*self.state_of(kind), undone)
        if self._states.get(kind.name) == state:
            return self.loaded[kind.name]
        infos = self.sheets_of(kind)
        before = self._states.get(kind.name)
        if before and before[2:] == state[2:]:
            later = load(self.sql, kind, infos[before[0] :], copies=False)
            self.loaded[kind.name] = joined(kind, self.loaded[kind.name], later)
        else:
            self.loaded[kind.name] = load(self.sql, kind, infos, undone)
            self._made.pop(kind.name, None)
        self._states[kind.name] = state
        return self.loaded[kind.name]

    def frame(self, kind: SheetKind, ruled: Ruled) -> tuple[pd.DataFrame, list[Finding]]:
        """The kind's facts that count, as its declared frame, and findings on the others."""
        counted = self.counted(kind, ruled)
        return self._as_frame(kind, counted), counted.findings

    def counted(self, kind: SheetKind, ruled: Ruled) -> Counting:
        """Which of the kind's facts count, column by column."""
        loaded = self.load(kind, ruled.undone)
        basis = (*self.state_of(kind), ruled)
        if kind.name not in self._counted or self._counted[kind.name][0] != basis:
            headers = {info.sheet: frozenset(info.columns) for info in self.sheets_of(kind)}
            self._counted[kind.name] = basis, current(loaded, kind, ruled, self._lines_by_number(), headers)
        return self._counted[kind.name][1]

    def _as_frame(self, kind: SheetKind, counted: Counting) -> pd.DataFrame:
        """The frame; where the facts that counted before still do, what was made of them is gone on with."""
        loaded, kept = self.loaded[kind.name], counted.kept
        before = self._made.get(kind.name)
        count = len(before[1].kept) if before else 0
        if before is None or not 0 < count <= len(kept) or not counted.goes_on(before[1]):
            made = as_frame(loaded, kind, kept, counted.origins)
        elif count == len(kept):
            made = before[0]
        else:
            made = pd.concat([before[0], as_frame(loaded, kind, kept[count:])], ignore_index=True)
            self.grown[kind.name] = (before[0], made)
        self._made[kind.name] = made, counted
        return made

    def sheets(self) -> list[SheetInfo]:
        """All entered sheets in order."""
        last = self._sheets[-1].sheet if self._sheets else 0
        rows = self.sql.execute(
            "SELECT sheet, number, name, kind, header_row, first_fact, count, columns FROM sheets "
            "WHERE sheet > ? ORDER BY sheet",
            (last,),
        )
        for sheet, number, name, kind, header_row, first_fact, count, columns in rows:
            info = SheetInfo(sheet, number, name, kind, header_row, first_fact, count, json.loads(columns))
            self._sheets.append(info)
            self._sheets_of.setdefault(kind, []).append(info)
        return self._sheets

    @property
    def _lines(self) -> list[dict[str, Any]]:
        if self._known_lines is None:
            rows = self.sql.execute("SELECT line FROM files ORDER BY number")
            self._known_lines = [json.loads(line) for (line,) in rows]
        return self._known_lines

    def files(self) -> list[dict[str, Any]]:
        """The journal lines in the book, in order."""
        return list(self._lines)

    def state_of(self, kind: SheetKind) -> tuple[int, int, int]:
        """What changes when facts of a kind come: its sheets, the last of them, and its corrections by ruling."""
        infos = self.sheets_of(kind)
        copies = self.sql.execute("SELECT COUNT(*) FROM copies WHERE kind = ?", (kind.name,)).fetchone()[0]
        return len(infos), infos[-1].sheet if infos else 0, int(copies)

    def identity_of(self, kind: SheetKind, ruled: Ruled) -> str:
        """What tells the facts of a kind that count from any others: its sheets, where they came from, and rulings."""
        infos = self.sheets_of(kind)
        count, digest = self._identities.get(kind.name, (0, ""))
        lines = self._lines_by_number() if count < len(infos) else {}
        for info in infos[count:]:
            line = lines[info.number]
            came = [line.get(name) for name in ("number", "name", "sha256", "settings", "taken_at", "beside")]
            digest = text_digest(digest, info.sheet, info.name, info.first_fact, info.count, info.columns, came)
        self._identities[kind.name] = len(infos), digest
        copies = self.sql.execute("SELECT * FROM copies WHERE kind = ? ORDER BY fact", (kind.name,)).fetchall()
        return text_digest(digest, copies, *(sorted(facts) for facts in (ruled.left_out, ruled.accepted, ruled.undone)))

    def digest_of_lines(self, count: int | None = None) -> tuple[int, str]:
        """How many journal lines the book has, and a digest of them all, or of the first ``count``."""
        lines = self._lines if count is None else self._lines[:count]
        return len(lines), text_digest(*(json.dumps(line, sort_keys=True) for line in lines))

    def sheets_of(self, kind: SheetKind) -> list[SheetInfo]:
        """The entered sheets of a kind in order."""
        self.sheets()
        return self._sheets_of[kind.name]

    def _lines_by_number(self) -> dict[int, dict[str, Any]]:
        return {int(line["number"]): line for line in self._lines}

    def lines_of(self, digest: str) -> list[dict[str, Any]]:
        """The journal lines of the same bytes, in order."""
        rows = self.sql.execute("SELECT line FROM files WHERE sha256 = ? ORDER BY number", (digest,))
        return [json.loads(line) for (line,) in rows]

    def rulings(self) -> list[tuple[int, dict[str, Any]]]:
        """(journal number, ruling) in order of entry."""
        rows = self.sql.execute("SELECT number, about FROM ruled ORDER BY number, rowid")
        return [(number, json.loads(about)) for number, about in rows]

    def entry_findings(self) -> list[tuple[int, Finding]]:
        """(journal number, finding) on rows that could not be used and the like."""
        rows = self.sql.execute(
            "SELECT rowid, number, finding FROM entry_findings WHERE rowid > ? ORDER BY number, rowid",
            (self._last_entry_finding,),
        )
        for place, number, text in rows:
            self._entry_findings.append((number, unpack_finding(text)))
            self._last_entry_finding = max(self._last_entry_finding, place)
        return list(self._entry_findings)

    def fact_at(self, number: int, sheet: str, row: int) -> int | None:
        """The fact of a row of a file (journal number, sheet name, row), as last corrected by a ruling."""
        found = self.stated_at(number, sheet, row)
        return None if found is None else self._last_copy(found[0])

    def stated_at(self, number: int, sheet: str, row: int) -> tuple[int, SheetInfo] | None:
        """The fact of a row of a file as the file stated it, with its sheet."""
        for info in self.sheets():
            if info.number == number and info.name == sheet:
                data = self.sql.execute("SELECT data FROM blocks WHERE sheet = ? AND name = '.rows'", (info.sheet,))
                at = np.flatnonzero(np.frombuffer(data.fetchone()[0], "<i8") == row)
                if len(at):
                    return info.first_fact + int(at[0]), info
        return None

    def _last_copy(self, fact: int) -> int:
        copy = self.sql.execute("SELECT MAX(fact) FROM copies WHERE copied_from = ?", (fact,)).fetchone()[0]
        return fact if copy is None else self._last_copy(int(copy))

    def unit_of(self, kind: SheetKind, fact: int, column: SheetColumn) -> str:
        """The unit in which a fact's column was stated; empty if none."""
        return (self.value_of(kind, fact, f"{column.name}_unit") or "") if column.quantity else ""

    def value_of(self, kind: SheetKind, fact: int, column: str) -> Any:
        """What holds for a fact in a column of its frame, whichever row stated it; None where it is missing."""
        ruled = self._counted[kind.name][0][-1] if kind.name in self._counted else Ruled()
        counted, loaded = self.counted(kind, ruled), self.loaded[kind.name]
        values, at = loaded.values.get(column), counted.origin(loaded, fact, column)
        if values is None or at is None:
            return None
        value = values[at]
        return None if pd.isna(value) else value.item() if isinstance(value, np.generic) else value

    def remember_findings(self, findings: dict[str, dict[str, Any]]) -> None:
        """Keep what rulings need to know of the findings that were published; nothing in a book that is only read."""
        if self.only_read:
            return
        known = dict(self.sql.execute("SELECT finding, about FROM known_findings"))
        texts = {name: as_json(about) for name, about in findings.items()}
        changed = [(name, text) for name, text in texts.items() if known.get(name) != text]
        if changed:
            with self._transaction():
                self.sql.executemany(
                    "INSERT INTO known_findings VALUES (?, ?) "
                    "ON CONFLICT (finding) DO UPDATE SET about = excluded.about",
                    changed,
                )

    def known_finding(self, name: str) -> dict[str, Any] | None:
        found = self.sql.execute(
            "SELECT about FROM known_findings WHERE finding = ? COLLATE NOCASE", (name,)
        ).fetchone()
        return json.loads(found[0]) if found else None
