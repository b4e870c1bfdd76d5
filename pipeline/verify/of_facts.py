"""The facts of a book against a second one that was made anew from the same originals, value by value."""

from __future__ import annotations

import json
import sqlite3
from collections import Counter
from contextlib import closing
from pathlib import Path
from typing import Any

from pipeline.book.blocks import unpack
from pipeline.common.closed import to_read
from pipeline.contract.kinds import SheetKind
from pipeline.verify.said import Report

REMEDY = "Somebody changed the book, or another version read the file; vatting rebuild makes it anew."
ROWS_NAMED = 5
OWN = {".keys": "the keys of the rows", ".rows": "the numbers of the rows", ".void": "which rows are withdrawn"}
Sheet = tuple[int, str, str, int]  # number of the file, sheet, kind, and which of several in one sheet


class Held:
    """What a book holds of its files: sheets by (number, name, kind), what rulings made, findings of entry."""

    def __init__(self, path: Path) -> None:
        with closing(to_read(path)) as sql:
            self.names = dict(sql.execute("SELECT number, name FROM files"))
            self.sheets = self._sheets(sql)
            self.rulings = Counter(sql.execute("SELECT number, fact, copied_from, kind, changed FROM copies"))
            self.findings = Counter(sql.execute("SELECT number, finding FROM entry_findings"))

    @staticmethod
    def _sheets(sql: sqlite3.Connection) -> dict[Sheet, tuple[tuple[Any, ...], dict[str, bytes]]]:
        made: dict[int, tuple[Sheet, tuple[Any, ...], dict[str, bytes]]] = {}
        seen: Counter[tuple[int, str, str]] = Counter()
        for sheet, number, name, kind, *more in sql.execute(
            "SELECT sheet, number, name, kind, header_row, first_fact, count, columns FROM sheets ORDER BY sheet"
        ):
            made[sheet] = (number, name, kind, seen[number, name, kind]), tuple(more), {}
            seen[number, name, kind] += 1
        for sheet, name, data in sql.execute("SELECT sheet, name, data FROM blocks"):
            if sheet in made:
                made[sheet][2][name] = data
        return {key: (about, blocks) for key, about, blocks in made.values()}


def look(book: Path, anew: Path, kinds: dict[str, SheetKind], report: Report) -> None:
    """Add what the book holds otherwise than the one that was made anew. Raises sqlite3.Error for a damaged book."""
    held, wanted = Held(book), Held(anew)
    report.facts = sum(about[2] for about, _ in wanted.sheets.values())
    for sheet in sorted(held.sheets.keys() | wanted.sheets.keys()):
        number, name, kind, _ = sheet
        place = f"{book.name}, file {number} ({wanted.names.get(number, '?')}{f', sheet {name}' if name else ''})"
        one, other = held.sheets.get(sheet), wanted.sheets.get(sheet)
        if one is None or other is None:
            said = "lacks" if one is None else "holds"
            report.say("book", place, f"{said} rows of {kind} against what its original gives. {REMEDY}")
        else:
            _blocks(place, one, other, kinds.get(kind), report)
    _counted("a correction by ruling", held.rulings, wanted.rulings, held.names | wanted.names, book.name, report)
    _counted("a finding", held.findings, wanted.findings, held.names | wanted.names, book.name, report)


def _blocks(
    place: str,
    held: tuple[tuple[Any, ...], dict[str, bytes]],
    wanted: tuple[tuple[Any, ...], dict[str, bytes]],
    kind: SheetKind | None,
    report: Report,
) -> None:
    if held[0] != wanted[0]:
        report.say("book", place, f"is described otherwise than its original gives. {REMEDY}")
    for name in sorted(held[1].keys() | wanted[1].keys()):
        one, other = held[1].get(name), wanted[1].get(name)
        if one != other:
            where = f"{OWN.get(name, name)}{_rows(kind, name, one, other, wanted[1])}"
            report.say("book", place, f"holds something else in {where} than its original gives. {REMEDY}")


def _rows(kind: SheetKind | None, name: str, held: bytes | None, wanted: bytes | None, blocks: dict[str, bytes]) -> str:
    """Which rows of a column differ, with both values of the first one; empty where that cannot be told."""
    if kind is None or name in OWN or held is None or wanted is None:
        return ""
    try:
        column = kind.frame().column(name)
        pairs = list(zip(map(str, unpack(column, held)), map(str, unpack(column, wanted)), strict=True))
    except (ValueError, KeyError, IndexError):
        return ""
    rows = [int.from_bytes(blocks[".rows"][at : at + 8], "little") for at in range(0, len(blocks[".rows"]), 8)]
    unlike = [place for place, (one, other) in enumerate(pairs) if one != other]
    if not unlike:
        return ""
    told = ", ".join(str(rows[place]) for place in unlike[:ROWS_NAMED])
    more = f" and {len(unlike) - ROWS_NAMED} more" if len(unlike) > ROWS_NAMED else ""
    one, other = pairs[unlike[0]]
    return f", row {told}{more} ({one[:40]} where the original has {other[:40]})"


def _counted(
    what: str, held: Counter[Any], wanted: Counter[Any], names: dict[int, str], book: str, report: Report
) -> None:
    """Rows of a table that only one of the books has, told once for each file."""
    for number in sorted({row[0] for row in (held - wanted) + (wanted - held)}):
        more, fewer = ([row for row in few if row[0] == number] for few in (held - wanted, wanted - held))
        said = f"holds {what} that its original does not give" if more else f"lacks {what} that its original gives"
        last = json.dumps((more or fewer)[0][1:], ensure_ascii=False)[:160]
        report.say("book", f"{book}, file {number} ({names.get(number, '?')})", f"{said}: {last}. {REMEDY}")
