"""What is said once for a whole table, above its header or on its tab: the tank, the day, a unit."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from typing import Any, NamedTuple

from pipeline.contract.kinds import SheetColumn, SheetKind, plain
from pipeline.contract.units import UnitWords
from pipeline.sheets.cells import as_text, is_blank
from pipeline.sheets.headers import match_header
from pipeline.sheets.units import UnitTable

ON_THE_TAB = -1
STATES = ("name", "date", "moment", "choice")  # what one word above a table may say of all its rows
MOST_FILLED = 8  # cells of a row of titles; a longer one is a table's
LABELLED = re.compile(r"([^:：=]{2,40}?)\s*[:：=]\s*(.*)", re.DOTALL)
NAMED = re.compile(r"([^\W\d][^\d:]{1,24}?)\.?\s+(?:no\.?\s*|nr\.?\s*|n°\s*|#\s*)?([^\s,;:]*\d[^\s,;:]*)(\D*)")
OF_WHAT = re.compile(r"^[^\W\d][^\d:]{2,40}?\s(?:of|for|von|für|de la|du|del)\s(?:the\s)?(?=\S+\s)", re.IGNORECASE)
SEVERAL = re.compile(r"[,;&+:]|\b(and|to|or|und|bis|oder|et|à|ou|y|a|o)\b", re.IGNORECASE)
YEAR = re.compile(r"(19|20)\d\d([-/.]\d+)*")
AMOUNT = re.compile(
    r"\s*(m?l|hl|m3|gal|gals|us gal|gallons?|lit(re|er)s?|kg|lbs?|in|cm|mm|%|°|proof)\b|\s*[%°]", re.IGNORECASE
)
OF_LETTERS = {"from", "to", "von", "nach", "an", "desde", "hacia", "depuis", "vers", "source"}  # a letter's head
APART = re.compile(r"\s{2,}|\t|\||;")
CLAUSES = re.compile(r"[,;|·]|\band\b|\bund\b|\bet\b|\by\b", re.IGNORECASE)
NOT = re.compile(r"\b(not|un|non|nicht|no|before|to be)\b[\w\s-]*$", re.IGNORECASE)
# "corrected" in the languages of the headers, for titles; from memory
CORRECTED = [
    "korrigiert",
    "korrigierte",
    "corrigé",
    "corrigée",
    "corrigés",
    "corregido",
    "corregida",
    "corregidos",
    "補正",
]
SHORTEST_STATE = 9  # letters of "corrected": shorter words stand in titles for other things


class Said(NamedTuple):
    """A value that holds for all rows: under which words (none: of the day over some columns), and its cell, from 0."""

    label: str
    cell: Any
    row: int
    column: int


def statements(rows: Sequence[Sequence[Any]], sheet: str) -> list[Said]:
    """Whatever may be a label with its value in rows above a header, and on the tab. Which label is known is not
    looked at here."""
    found = [*_named(sheet, ON_THE_TAB, 0)]
    for row, cells in enumerate(rows):
        filled = [(column, cell) for column, cell in enumerate(cells) if not is_blank(cell)]
        if len(filled) > MOST_FILLED:
            continue
        for place, (column, cell) in enumerate(filled):
            beside = filled[place + 1] if place + 1 < len(filled) else None
            if isinstance(cell, str):
                for part in APART.split(as_text(cell)):
                    found += _labelled(part.strip(), row, column, beside)
    return found


def _labelled(text: str, row: int, column: int, beside: tuple[int, Any] | None) -> Iterator[Said]:
    match = LABELLED.fullmatch(text)
    if match and match[2]:
        yield Said(match[1], match[2], row, column)
    elif beside is not None and (match or beside[0] == column + 1):
        yield Said(match[1] if match else text, beside[1], row, beside[0])
    if not match:
        yield from _named(text, row, column)


def _named(text: str, row: int, column: int) -> Iterator[Said]:
    """``Tank VT-3``, also with words behind it that name nothing else, and behind ``Dip table of``."""
    match = NAMED.fullmatch(OF_WHAT.sub("", text.strip()))
    year_or_amount = match and (YEAR.fullmatch(match[2]) or AMOUNT.match(match[3]))
    if match and not year_or_amount and not SEVERAL.search(match[3]):
        yield Said(match[1], match[2], row, column)


def said_of(kind: SheetKind, column: SheetColumn, above: Iterable[Said], units: UnitTable) -> Said | None:
    """What titles say of a column that the header lacks; None where they say nothing, or two things."""
    values: dict[str, Said] = {}
    for said in above:
        if not said.label:
            if kind.measured and column.name == kind.dates:  # a day over columns is when they were measured
                return said
            continue
        match = match_header(kind, said.label, units)
        if plain(said.label) in OF_LETTERS or match is None or match.column is not column or match.doubt or match.says:
            continue
        text = as_text(said.cell)
        if column.type == "name" and (SEVERAL.search(text) or match_header(kind, text, units)):
            return None
        values.setdefault(text.casefold(), said)
    return next(iter(values.values())) if len(values) == 1 else None


def unit_said(kind: SheetKind, column: SheetColumn, titles: Iterable[str], units: UnitTable) -> UnitWords | None:
    """The unit of a column that titles state: ``Temperatures in °C``, ``Units: °C, L``; None for none or two."""
    found = {}
    for title in titles:
        of_units = LABELLED.fullmatch(title)
        if of_units and plain(of_units[1]) in ("unit", "units", "allunits", "einheit", "einheiten"):
            stated = [units.find(column.quantity, part) for part in CLAUSES.split(of_units[2])]
        else:
            stated = [_unit_of(kind, column, part, units) for part in (title, *CLAUSES.split(title))]
        found.update({unit.unit: unit for unit in stated if unit is not None})
    return next(iter(found.values())) if len(found) == 1 else None


def _unit_of(kind: SheetKind, column: SheetColumn, words: str, units: UnitTable) -> UnitWords | None:
    words = re.sub(r"^\s*(all|alle|toutes?( les)?|todas?( las)?)\s+", "", words.strip(), flags=re.IGNORECASE)
    for way in (words, re.sub(r"^(\w+?)s\b", r"\1", words), re.sub(r"^(\w+?)en\b", r"\1", words)):
        match = match_header(kind, way, units)
        if match is not None and match.column is column and not match.doubt and plain(words) not in kind.header_words:
            return match.unit
    return None


def state_said(says: SheetColumn, titles: Iterable[str]) -> str:
    """The words of a title by which readings may not stand as they were read; empty for none."""
    words = [
        word for kept, spelt in says.choices[1:] for word in (kept, *spelt) if len(word) >= SHORTEST_STATE
    ] + CORRECTED
    for title in titles:
        folded = title.casefold()
        for word in words:
            at = re.search(rf"(?<![a-z]){re.escape(word.casefold())}(?![a-z])", folded)
            if at and not NOT.search(folded[: at.start()]):
                return folded[at.start() : at.end()]
    return ""
