"""One header cell: which column of a kind it names, and which unit it states."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import NamedTuple

from pipeline.contract.kinds import SheetColumn, SheetKind, plain
from pipeline.contract.units import UnitWords
from pipeline.sheets.units import UnitTable, spelling

IN_BRACKETS = re.compile(r"[(\[](.+?)[)\]]", re.DOTALL)
BRACKETS = str.maketrans("（）［］【】，：／", "()[][],:/")  # as Japanese sheets have them


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


LONGEST = 200  # letters of a header


class Match(NamedTuple):
    """A header cell understood: column, rank among its words, unit, and unit words that are not known.

    ``says`` is what other words of the header mean: a column of choices and the choice (state, at 60 °F).
    """

    column: SheetColumn
    rank: int
    unit: UnitWords | None
    doubt: str = ""
    says: tuple[str, str] | None = None


def match_header(kind: SheetKind, header: str, units: UnitTable) -> Match | None:
    """What a header cell means for a kind, or None; longer texts than ``LONGEST`` are no headers."""
    if len(header) > LONGEST:
        return None
    header = header.translate(BRACKETS)
    whole = _match_words(kind, header, units)
    if whole is not None and not whole.doubt:
        return whole
    return _match_qualified(kind, header, units) or whole


def _match_qualified(kind: SheetKind, header: str, units: UnitTable) -> Match | None:
    """A header of which one part names a column and the other says a choice of the column that qualifies it."""
    for column in kind.columns:
        if not column.qualified_by:
            continue
        says = kind.column(column.qualified_by)
        words = {plain(word): kept for kept, spelt in says.choices for word in (kept, *spelt)}
        for rest, part in _parted(header):
            kept = words.get(plain(part.replace("@", " at ")))
            match = _match_words(kind, rest, units) if kept else None
            if kept and match is not None and match.column is column and not match.doubt:
                return match._replace(rank=_rank_of_qualified(column, says), says=(says.name, kept))
    return None


def _rank_of_qualified(column: SheetColumn, says: SheetColumn) -> int:
    """Behind the words that say themselves the first choice (observed proof), before those that say none."""
    first = tuple(map(plain, says.choices[0][1])) if says.choices else ()
    return max((rank for rank, words in enumerate(column.headers) if plain(words).startswith(first)), default=0)


@lru_cache(maxsize=20_000)
def _parted(header: str) -> list[tuple[str, str]]:
    """Ways to part a header in two: by its bracket, at an ``@``, or before and behind each space."""
    ways = []
    for match in re.finditer(r"[(\[](.+?)[)\]]", header):
        ways.append((header[: match.start()] + header[match.end() :], match[1]))
    bare = re.sub(r"[()\[\]]", " ", header)
    for cut in [at for at, letter in enumerate(bare) if letter in " @,_:-"]:
        before, behind = bare[:cut].strip(" ,_:-"), bare[cut:].strip(" ,_:-")
        if before and behind:
            ways += [(before, behind), (behind, before)]
    return ways


def _match_words(kind: SheetKind, header: str, units: UnitTable) -> Match | None:
    """As ``match_header``, of a header that says nothing but a column and its unit."""
    table = kind.header_words
    for words, unit_words in splits(header):
        hit = table.get(plain(words))
        if hit is None:
            continue
        column, rank, implied = hit
        if not unit_words:
            return Match(column, rank, _unit_of_words(column, words, implied, units))
        unit = units.find(column.quantity, unit_words) if column.quantity else None
        bracketed = any(unit_words == each.strip() for each in IN_BRACKETS.findall(header))
        if unit is not None or (bracketed and not column.quantity):
            return Match(column, rank, unit)
        if bracketed:
            fallback = units.find(column.quantity, implied) if implied else None
            understood = fallback is not None and _says_the_same(table, column, words, unit_words, implied)
            return Match(column, rank, fallback, "" if understood else unit_words)
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
    """Ways to read a header as words and a unit, the whole first; none for a text too long for one."""
    if len(header) > LONGEST:  # the ways grow with the square of its length
        return []
    ways = [(header, "")]
    if match := re.fullmatch(r"(.*?)[(\[](.+?)[)\]](.*)", header, re.DOTALL):
        ways.append((match[1] + match[3], match[2].strip()))
    for mark in (",", "_", " ", "/", ":"):
        for cut in [i for i, letter in enumerate(header) if letter == mark and 0 < i < len(header) - 1]:
            ways.append((header[:cut], re.sub(r"^\s*(in|deg)\s+", "", header[cut + 1 :]).strip(" ._:")))
    return ways
