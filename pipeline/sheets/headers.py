"""One header cell: which column of a kind it names, and which unit it states."""

from __future__ import annotations

import re
from functools import lru_cache

from pipeline.contract.kinds import SheetColumn, SheetKind, plain
from pipeline.contract.units import UnitWords
from pipeline.sheets.units import UnitTable, spelling


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


def match_header(
    kind: SheetKind, header: str, units: UnitTable
) -> tuple[SheetColumn, int, UnitWords | None, str] | None:
    """(column, rank, unit, unit words that are not known) for a header cell, or None."""
    table = kind.header_words
    for words, unit_words in splits(header):
        hit = table.get(plain(words))
        if hit is None:
            continue
        column, rank, implied = hit
        if not unit_words:
            return column, rank, _unit_of_words(column, words, implied, units), ""
        unit = units.find(column.quantity, unit_words) if column.quantity else None
        bracketed = "(" in header or "[" in header
        if unit is not None or (bracketed and not column.quantity):
            return column, rank, unit, ""
        if bracketed:
            fallback = units.find(column.quantity, implied) if implied else None
            understood = fallback is not None and _says_the_same(table, column, words, unit_words, implied)
            return column, rank, fallback, "" if understood else unit_words
    return None


def _unit_of_words(column: SheetColumn, words: str, implied: str, units: UnitTable) -> UnitWords | None:
    """The unit that header words state by themselves: ``wg``, or ``drawn_proof`` by its ending."""
    if implied:
        return units.find(column.quantity, implied)
    last = re.split(r"[\s_]+", words.strip())[-1]
    return units.find(column.quantity, last) if column.default_unit and column.quantity else None


def _says_the_same(
    table: dict[str, tuple[SheetColumn, int, str]], column: SheetColumn, words: str, bracket: str, implied: str
) -> bool:
    """Whether a bracket adds nothing: Proof (obs.), ABV (%); not so Proof (60 °F) or Proof (gal)."""
    if spelling(bracket) in spelling(implied):
        return True
    hits = [table.get(plain(each)) for each in (bracket, bracket + words, words + bracket)]
    return any(hit is not None and hit[0] is column for hit in hits)


@lru_cache(maxsize=20_000)
def splits(header: str) -> list[tuple[str, str]]:
    """Ways to read a header as words and a unit, the whole first."""
    ways = [(header, "")]
    if match := re.fullmatch(r"(.*?)[(\[](.+?)[)\]](.*)", header, re.DOTALL):
        ways.append((match[1] + match[3], match[2]))
    for mark in (",", "_", " ", "/", ":"):
        for cut in [i for i, letter in enumerate(header) if letter == mark and 0 < i < len(header) - 1]:
            ways.append((header[:cut], re.sub(r"^\s*(in|deg)\s+", "", header[cut + 1 :]).strip(" ._:")))
    return ways
