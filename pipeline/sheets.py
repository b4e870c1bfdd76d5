"""Kinds of sheet: which kind a table is, where its header stands, and which column is which."""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass, field
from functools import cache
from typing import Any

from pipeline.cells import as_text, is_blank
from pipeline.kinds import SheetColumn, SheetKind, plain
from pipeline.readers import Table, address
from pipeline.units import UnitTable, UnitWords

HEADER_ROWS = 40
VOID = SheetColumn("void", "yes_no", words="withdraw; withdrawn; voided")


@dataclass(frozen=True)
class Matched:
    """A sheet column found in a table: where, under which words, and the unit stated there."""

    column: SheetColumn
    index: int
    header: str
    unit: UnitWords | None = None
    rank: int = 0
    unit_index: int | None = None


@dataclass
class Recognised:
    """What a table is: its kind, header row (from 0), columns, and header cells nobody knows."""

    kind: SheetKind
    header_row: int
    first_row: int
    columns: dict[str, Matched]
    unknown: list[str] = field(default_factory=list)
    doubts: list[str] = field(default_factory=list)

    @property
    def missing(self) -> list[str]:
        lacking = [name for name in self.kind.required if name not in self.columns]
        for group in self.kind.needs_one_of:
            if not any(name in self.columns for name in group):
                lacking.append(" or ".join(group))
        return lacking


class NotRecognised(Exception):
    """A table that is no kind for sure; ``nearest`` says what it looks like, if anything."""

    def __init__(self, reason: str, remedy: str, matched: int) -> None:
        super().__init__(reason)
        self.reason = reason
        self.remedy = remedy
        self.matched = matched


def recognise(table: Table, kinds: list[SheetKind], units: UnitTable) -> Recognised:
    """The kind of a table by its headers. Raises NotRecognised, with the nearest kind."""
    best: Recognised | None = None
    for row, cells in enumerate(table.rows[:HEADER_ROWS]):
        headers = [(index, as_text(cell)) for index, cell in enumerate(cells) if isinstance(cell, str) and cell.strip()]
        if len(headers) < 2:
            continue
        for kind in kinds:
            found = _match_row(kind, row, headers, units)
            if best is None or _better(found, best):
                best = found
    if best is None or len(best.columns) < 2:
        raise NotRecognised(*_nothing_known(table), 0)
    if best.missing:
        raise NotRecognised(*_nearly(best, table), len(best.columns))
    if best.doubts:
        raise NotRecognised(
            f"looks like {best.kind.looks_like or best.kind.name}; {'; '.join(best.doubts)}.",
            "Keep one column for each, name it by its words in the README, and drop the file again.",
            len(best.columns),
        )
    _read_unit_row(best, table, units)
    return best


def _better(found: Recognised, best: Recognised) -> bool:
    return _weight(found) > _weight(best)


def _weight(found: Recognised) -> tuple[int, int, int, int]:
    required = sum(1 for name in found.kind.required if name in found.columns)
    return len(found.columns), int(not found.missing), required, -len(found.kind.columns)


def _match_row(kind: SheetKind, row: int, headers: list[tuple[int, str]], units: UnitTable) -> Recognised:
    found = Recognised(kind, row, row + 1, {})
    unit_columns: list[tuple[int, str]] = []
    for index, header in headers:
        unit_like = re.fullmatch(r"units?( of .+)?|.+[ _-]units?", header.strip(), re.IGNORECASE)
        if unit_like and plain(header) not in _words(kind):
            unit_columns.append((index, header))
            continue
        match = _match_header(kind, header, units)
        if match is None:
            found.unknown.append(header)
            continue
        column, rank, unit, doubt = match
        _take(found, Matched(column, index, header, unit, rank))
        if doubt:
            found.doubts.append(f"column {header!r} states the unit {doubt!r}, which is not known for {column.name}")
    for index, header in unit_columns:
        _take_unit_column(found, index, header)
    return found


def _take(found: Recognised, matched: Matched) -> None:
    name = matched.column.name
    other = found.columns.get(name)
    if other is None:
        found.columns[name] = matched
        return
    if other.rank == matched.rank:
        found.doubts.append(f"columns {other.header!r} and {matched.header!r} both say {name}")
    kept, left = (other, matched) if other.rank <= matched.rank else (matched, other)
    found.columns[name] = kept
    found.unknown.append(left.header)


def _take_unit_column(found: Recognised, index: int, header: str) -> None:
    words = plain(re.sub(r"^units?( of)?|[ _-]units?$", "", header.strip(), flags=re.IGNORECASE))
    table = _words(found.kind)
    for name, matched in found.columns.items():
        beside = not words and matched.index == index - 1
        if matched.column.quantity and (beside or (words in table and table[words][0].name == name)):
            found.columns[name] = Matched(
                matched.column, matched.index, matched.header, matched.unit, matched.rank, index
            )
            return
    found.unknown.append(header)


@cache
def _words(kind: SheetKind) -> dict[str, tuple[SheetColumn, int, str]]:
    """Plain header words → (column, rank, unit that the words state)."""
    table: dict[str, tuple[SheetColumn, int, str]] = {}
    for column in (*kind.columns, VOID):
        for rank, words in enumerate(column.headers):
            header, _, unit = words.partition("=")
            table.setdefault(plain(header), (column, rank, unit))
    return table


def doubled_words(kind: SheetKind) -> list[str]:
    """Header words that a kind gives to two columns: an error of whoever declared it."""
    seen: dict[str, str] = {}
    doubled = []
    for column in kind.columns:
        for words in column.headers:
            header = plain(words.partition("=")[0])
            if seen.setdefault(header, column.name) != column.name:
                doubled.append(f"{words!r} ({seen[header]}, {column.name})")
    return doubled


def _match_header(
    kind: SheetKind, header: str, units: UnitTable
) -> tuple[SheetColumn, int, UnitWords | None, str] | None:
    """(column, rank, unit, unit words that are not known) for a header cell, or None."""
    table = _words(kind)
    for words, unit_words in _splits(header):
        hit = table.get(plain(words))
        if hit is None:
            continue
        column, rank, implied = hit
        if not unit_words:
            return column, rank, units.find(column.quantity, implied) if implied else None, ""
        unit = units.find(column.quantity, unit_words) if column.quantity else None
        bracketed = "(" in header or "[" in header
        if unit is not None or (bracketed and not column.quantity):
            return column, rank, unit, ""
        if bracketed:
            fallback = units.find(column.quantity, implied) if implied else None
            return column, rank, fallback, "" if fallback else unit_words
    return None


def _splits(header: str) -> list[tuple[str, str]]:
    """Ways to read a header as words and a unit, the whole first."""
    ways = [(header, "")]
    if match := re.fullmatch(r"(.*?)[(\[](.+?)[)\]](.*)", header, re.DOTALL):
        ways.append((match[1] + match[3], match[2]))
    for mark in (",", "_", " ", "/", ":"):
        for cut in [i for i, letter in enumerate(header) if letter == mark and 0 < i < len(header) - 1]:
            ways.append((header[:cut], re.sub(r"^\s*(in|deg)\s+", "", header[cut + 1 :]).strip(" ._:")))
    return ways


def _read_unit_row(found: Recognised, table: Table, units: UnitTable) -> None:
    """A row of units under the header is taken as such when it holds nothing else."""
    if found.first_row >= len(table.rows):
        return
    cells = table.rows[found.first_row]
    by_index = {matched.index: matched for matched in found.columns.values()}
    stated: dict[str, UnitWords] = {}
    for index, cell in enumerate(cells):
        if is_blank(cell):
            continue
        matched = by_index.get(index)
        unit = (
            units.find(matched.column.quantity, str(cell).strip("()[] ")) if matched and isinstance(cell, str) else None
        )
        if matched is None or unit is None:
            return
        stated[matched.column.name] = unit
    for name, unit in stated.items():
        old = found.columns[name]
        found.columns[name] = Matched(old.column, old.index, old.header, unit, old.rank, old.unit_index)
    if stated:
        found.first_row += 1


def _nearly(best: Recognised, table: Table) -> tuple[str, str]:
    headers = [as_text(cell) for cell in table.rows[best.header_row] if not is_blank(cell)]
    lacking = " and no ".join(best.missing)
    asked = best.kind.column(best.missing[0]) if " or " not in best.missing[0] else None
    words = ", ".join(w.partition("=")[0] for w in asked.headers[1:5]) if asked else ""
    remedy = f"Add the column {' and the column '.join(best.missing)}" + (f" (also known as {words})" if words else "")
    near = difflib.get_close_matches(asked.name, best.unknown, 1, 0.5) if asked else []
    if near:
        remedy += f"; if {near[0]!r} is meant, rename it"
    return (
        f"looks like {best.kind.looks_like or best.kind.name}; no {lacking} column; "
        f"columns found: {', '.join(headers)} (row {best.header_row + 1}).",
        remedy + ".",
    )


def _nothing_known(table: Table) -> tuple[str, str]:
    first = next((row for row in table.rows if any(not is_blank(cell) for cell in row)), [])
    shown = ", ".join(as_text(cell) for cell in first[:12] if not is_blank(cell))
    return (
        f"has no row among its first {HEADER_ROWS} that looks like the header of a known kind of sheet; "
        f"first row: {shown or 'empty'}.",
        "Put the column names in one row; the README lists them for each kind of sheet.",
    )


def cell_of(matched: Matched, row: int) -> str:
    """Address of a matched column's cell in a row (from 0)."""
    return address(row, matched.index)


def column_map(found: Recognised) -> dict[str, dict[str, Any]]:
    """What the book keeps of the header: column → index, header words, unit."""
    return {
        name: {"index": matched.index, "header": matched.header, "unit": matched.unit.unit if matched.unit else ""}
        for name, matched in found.columns.items()
    }
