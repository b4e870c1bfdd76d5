"""A header of two rows: each column's words put together, where that means one thing for certain."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from pipeline.contract.kinds import SheetKind, plain
from pipeline.sheets.cells import as_text, is_blank
from pipeline.sheets.headers import Match, match_header
from pipeline.sheets.units import UnitTable
from pipeline.tables.tables import Table

# words over a group of columns that say nothing of what each holds; from memory
OF_NO_MEANING = set(
    "reading readings measurement measurements measured result results lab laboratory sample samples detail details "
    "data value values general identification id what when labresults labdata labreading labreadings gauge gauging "
    "quantity amount amounts messung messungen messwert messwerte labor probe daten mesure mesures resultats "
    "echantillon medicion mediciones resultados muestra 測定 測定値".split()
)


# words over a reading by which it is perhaps none, or another; from memory
MOST_WORDS = 2  # of a group; a longer text is a title
WEIGHTY = set(
    "final apparent adjusted calculated target reported nominal label expected estimated average mean previous last "
    "entry initial before after corrected true corr korrigiert scheinbar soll ziel mittelwert corrigé corregido".split()
)


@dataclass
class Stacked:
    """Two rows read as one header: text by column, how many are known, and what is not certain."""

    upper: int
    texts: dict[int, str]
    doubts: list[str] = field(default_factory=list)
    known: int = 0
    weighty: list[str] = field(default_factory=list)  # words over a column that are never of no meaning

    @property
    def header_row(self) -> int:
        return self.upper + 1


@dataclass(frozen=True)
class Over:
    """What stands over a column: its words, and whether it is certain that they are of this column."""

    words: str
    certain: bool = True


def header_like(cell: Any) -> bool:
    """Whether a cell may be part of a header: words or a unit, no figure and no day."""
    first = cell.lstrip()[:1] if isinstance(cell, str) else ""
    return first.isalpha() or (first != "" and first in "([°%#№")


def over_columns(table: Table, row: int, width: int) -> list[Over]:
    """What a row of a header says over each column: merged cells, else words that may go on to the right."""
    cells = [*table.rows[row], *[""] * width][:width]
    merged = {
        column: (first[1], last[1]) for first, last in table.merged if first[0] <= row <= last[0]
        for column in range(first[1], last[1] + 1)
    }  # fmt: skip
    made, before = [], ""
    for column, cell in enumerate(cells):
        if column in merged:
            anchor = next(
                first for first, last in table.merged if first[0] <= row <= last[0] and first[1] <= column <= last[1]
            )
            text = table.rows[anchor[0]][anchor[1]] if anchor[1] < len(table.rows[anchor[0]]) else ""
            made.append(Over("" if is_blank(text) else as_text(text)))
            before = ""
        elif not is_blank(cell):
            before = as_text(cell)
            made.append(Over(before))
        else:
            made.append(Over(before, certain=False) if before and not merged else Over(""))
    return made


def stacked(table: Table, upper: int, kind: SheetKind, units: UnitTable) -> Stacked | None:
    """Rows ``upper`` and the one below as the header of a kind; None where they cannot be one."""
    above, below = table.rows[upper], table.rows[upper + 1]
    if not all(header_like(cell) for cell in (*above, *below) if not is_blank(cell)):
        return None
    width = max(len(above), len(below))
    made = Stacked(upper, {})
    for column, over in enumerate(over_columns(table, upper, width)):
        cell = below[column] if column < len(below) else ""
        own = "" if is_blank(cell) else as_text(cell)
        if not own and not over.certain:
            continue
        text, doubt = _joined(kind, over.words, own, units)
        if not over.certain and not doubt and _means(kind, text, units) != _means(kind, own, units):
            doubt = f"whether {over.words!r} in row {upper + 1} also stands over {own!r} cannot be told"
        if text:
            made.texts[column] = own if not over.certain and not doubt else text
            group = over.words.casefold().split()
            if len(group) <= MOST_WORDS and set(group) & WEIGHTY and _is_qualified(kind, own, units):
                if _means(kind, text, units) in (None, _means(kind, own, units)):
                    made.weighty.append(f"{own!r} under {over.words!r} is not for certain any column known here")
            made.known += not doubt and _means(kind, text, units) is not None
        if doubt:
            made.doubts.append(doubt)
    return made if len(made.texts) > 1 else None


def _joined(kind: SheetKind, over: str, own: str, units: UnitTable) -> tuple[str, str]:
    """The words of a column of which some stand over others, and what of them is not certain."""
    if not over or not own or over == own:
        return over or own, ""
    alone, group = _means(kind, own, units), _means(kind, over, units)
    ways = [f"{over} {own}", f"{own} {over}", *[f"{over} ({own})"] * (alone is None)]
    known = [way for way in ways if _means(kind, way, units)]
    if known and (known[0] == f"{over} {own}" or len({_means(kind, way, units) for way in known}) == 1):
        return known[0], ""
    if not known and alone is not None and (plain(over) in OF_NO_MEANING or (group and group[0] == alone[0])):
        return own, ""
    if not known and group is not None and plain(own) in OF_NO_MEANING:
        return over, ""
    if known or alone is not None or group is not None:
        return f"{over} {own}", f"{own!r} under {over!r} is not for certain any column known here"
    return f"{over} {own}", ""


def _is_qualified(kind: SheetKind, header: str, units: UnitTable) -> bool:
    match = match_header(kind, header, units) if header else None
    return match is not None and bool(match.column.qualified_by) and match.says is None


def _means(kind: SheetKind, header: str, units: UnitTable) -> tuple[Any, ...] | None:
    """Column, unit and what else a header says for a kind; None where it is not known or in doubt."""
    match: Match | None = match_header(kind, header, units) if header else None
    return None if match is None or match.doubt else (match.column.name, match.unit, match.says)


def is_day(cell: Any) -> bool:
    """Whether a header cell is a day: a date of the workbook, or text with a year that reads as one."""
    return isinstance(cell, date) or (isinstance(cell, str) and _reads_as_day(as_text(cell)))


def _reads_as_day(text: str) -> bool:
    from zoneinfo import ZoneInfo

    from pipeline.sheets.dates import NoDate, parse_moment

    if not any(letter.isdigit() for letter in text) or len(text) < 6:
        return False
    try:
        return len(parse_moment(text, "dmy", ZoneInfo("UTC"), 2100)) >= 10
    except NoDate:
        return "can be read" in text


def days_across(cells: Sequence[Any]) -> list[int]:
    """The columns of a header row over which a day stands, from the first to the last; empty for fewer than two."""
    days = [column for column, cell in enumerate(cells) if is_day(cell)]
    return days if len(days) >= 2 else []
