"""The book against the journal: its files and rulings line by line, and whether SQLite finds it whole."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

from pipeline.common.closed import to_read
from pipeline.verify.of_journal import JOURNAL, Journal
from pipeline.verify.said import Report

REMEDY = "vatting rebuild makes it anew."
RETOLD = {"outcome", "reason", "remedy"}  # a rebuild may find that a file taken long ago is to be returned


class Rows:
    """What a book holds that the journal says too; ``trouble`` says why it cannot be read."""

    def __init__(self, path: Path) -> None:
        self.path, self.trouble = path, ""
        self.there = path.is_file()
        self.files: list[tuple[int, str, str, str]] = []
        self.ruled: list[tuple[int, str]] = []
        self.published: list[tuple[str, ...]] = []
        if self.there:
            try:
                self._read()
            except sqlite3.Error as error:
                self.trouble = str(error)

    def _read(self) -> None:
        with closing(to_read(self.path)) as sql:
            self.files = sql.execute("SELECT number, name, sha256, line FROM files ORDER BY number").fetchall()
            self.ruled = sql.execute("SELECT number, about FROM ruled ORDER BY number, rowid").fetchall()
            self.published = sql.execute("SELECT path, sha256, next FROM published ORDER BY path").fetchall()
            said = sql.execute("PRAGMA integrity_check(1)").fetchone()[0]
            self.trouble = "" if said == "ok" else said


def look(journal: Journal, rows: Rows, report: Report) -> None:
    """Add what the book says otherwise than the journal."""
    if not rows.there:
        report.remarks.append(f"There is no book {rows.path.name}; the next run makes it from the journal.")
        return
    if rows.trouble:
        report.say("book", str(rows.path.name), f"is damaged ({' '.join(rows.trouble.split())}). {REMEDY}")
    known = set()
    for number, name, digest, text in rows.files:
        known.add(number)
        _file(journal, rows.path.name, number, (name, digest, text), report)
    late = [number for number in journal.said if number and number > max(known, default=0)]
    lost = [number for number in journal.said if number and number not in known and number not in late]
    if late and not rows.trouble:
        report.remarks.append(f"The book is behind the journal by {len(late)} lines; the next run makes that good.")
    for number in lost:
        report.say("book", f"{rows.path.name}, file {number}", f"is missing; the journal has it. {REMEDY}")
    _rulings(journal, rows, report)


def _file(journal: Journal, book: str, number: int, row: tuple[str, str, str], report: Report) -> None:
    name, digest, text = row
    place = f"{book}, file {number} ({name})"
    line = journal.said.get(number)
    try:
        held = json.loads(text)
    except ValueError:
        held = {}
    if journal.unchained and held.get("head"):
        report.say("journal", place, f"is of a chained journal, but {JOURNAL} is not chained: it was put in its place.")
    elif number > max(journal.last, *journal.said, 0):
        said = f"is not in {JOURNAL}, which ends with number {journal.last}: its end was cut off."
        report.say("journal", place, said, journal.day(journal.last))
    elif number in journal.bad:
        pass  # it was named
    elif held.get("head") and held["head"] != journal.heads.get(number):
        since = journal.day(number - 1)
        report.say("journal", place, "was entered from another line than the one that stands in the journal.", since)
    elif line is not None and ((name, digest) != (line["name"], line["sha256"]) or not _same(held, line)):
        report.say("book", place, f"says something else than the journal does. {REMEDY}")


def _same(held: dict[str, Any], line: dict[str, Any]) -> bool:
    left_out = RETOLD if (held.get("outcome"), line["outcome"]) == ("returned", "taken") else set()
    left_out = left_out | {"head", "chain"}
    return {k: v for k, v in held.items() if k not in left_out} == {k: v for k, v in line.items() if k not in left_out}


def _rulings(journal: Journal, rows: Rows, report: Report) -> None:
    """The rulings of the history: each as the journal resolved it when it was taken."""
    held: dict[int, list[dict[str, Any]]] = {}
    for number, text in rows.ruled:
        held.setdefault(number, []).append(_read(text))
    for number, line in journal.said.items():
        known, resolved = held.get(number, []), line.get("resolved", [])
        if number > max((row[0] for row in rows.files), default=0):
            continue
        for place in range(max(len(known), len(resolved))):
            one = {k: v for k, v in known[place].items() if k not in ("facts", "made")} if place < len(known) else None
            if place >= len(resolved) or one != {
                k: v for k, v in resolved[place].items() if k not in ("facts", "made")
            }:
                of = resolved[place] if place < len(resolved) else one or {}
                where = f"{rows.path.name}, ruling {place + 1} of file {number} ({of.get('finding', '?')})"
                report.say("history row", where, f"is not as the journal has it. {REMEDY}")


def _read(text: str) -> dict[str, Any]:
    try:
        read = json.loads(text)
    except ValueError:
        return {}
    return read if isinstance(read, dict) else {}
