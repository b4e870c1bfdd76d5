"""What a blank sheet of a kind says: headers with their units in words, an example, explanations.

Everything is derived from the declared SheetKind, so that a site plugin's kind has its sheet too.
``blank_workbook.py`` writes it as a workbook.
"""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from dataclasses import dataclass

from pipeline.common.errors import NotKnown
from pipeline.contract.kinds import EXAMPLE, SheetColumn, SheetKind
from pipeline.contract.units import UnitWords
from pipeline.sheets.headers import match_header
from pipeline.sheets.rulings_sheet import RULINGS, SHOWN
from pipeline.sheets.units import CUSTOMARY, UnitTable, convert, default_unit
from pipeline.site.house import House
from pipeline.site.people import people_of

NEEDED = "every row needs it"
KEEP = "keep this column; a cell may be empty"
OPTIONAL = "may be empty"
RULED = {
    **{"ruling": "empty: the row counts as none", "reason": "every ruling needs it", "by": "every ruling needs it"},
    **{"corrected_value": "only a ruling correct needs it"},
}

# how a unit is said in a header; each is a spelling that the reader knows
SPOKEN = {
    **{"degC": "degrees C", "degF": "degrees F", "L": "litres", "mL": "millilitres", "cL": "centilitres"},
    **{"hL": "hectolitres", "m3": "cubic metres", "gal": "US gallons", "impgal": "imperial gallons"},
    **{"kg": "kilograms", "g": "grams", "lb": "pounds", "cm": "centimetres", "mm": "millimetres", "m": "metres"},
    **{"ft": "feet", "in": "inches", "1/K": "per degC", "mg/100mL": "mg per 100 ml", "g/100mL": "g per 100 ml"},
    **{"g/L": "grams per litre", "%vol": "% vol", "%mass": "% mass"},
}
EXAMPLES = {"date": "2026-03-14", "moment": "2026-03-14 09:40", "yes_no": "yes"}
NEEDED_EXAMPLES = {"name": "A-101", "text": "a few words", "number": "10", "count": "12"}
HOW = {
    "text": "words",
    "name": "a name or number that stays as you write it: 007 stays 007",
    "number": "a number",
    "count": "a whole number",
    "yes_no": "yes or no",
    "choice": "one of the words listed",
    "date": "a date, as 2026-03-14",
    "moment": "a date, with the time where you know it: 2026-03-14 09:40",
}


@dataclass(frozen=True)
class BlankColumn:
    """One column of a blank sheet, in words.

    ``low`` and ``high`` are what is possible, in the unit that the header states.
    """

    column: SheetColumn
    header: str
    needed: str
    unit: str
    meaning: str
    how: str
    example: str
    words: tuple[str, ...]
    low: float | None
    high: float | None

    @property
    def also(self) -> str:
        """Other headers that are understood."""
        return ", ".join(word.partition("=")[0] for word in self.column.headers[1:])


@dataclass(frozen=True)
class Blank:
    """A blank sheet in words."""

    kind: SheetKind
    columns: tuple[BlankColumn, ...]
    notes: tuple[str, ...]


def kind_named(house: House, name: str) -> SheetKind:
    """The kind of that name. Raises NotKnown, in words, with the nearest."""
    by_name = {kind.name.casefold(): kind for kind in house.kinds}
    if name.strip().casefold() in by_name:
        return by_name[name.strip().casefold()]
    near = difflib.get_close_matches(name.casefold(), by_name, 1, 0.5)
    meant = f" Did you mean {near[0]}?" if near else ""
    left_out = "".join(f" {problem}" for problem in house.plugins.problems)
    raise NotKnown(f"There is no kind of sheet {name}.{meant} There are {', '.join(by_name)}.{left_out}")


def blank_of(kind: SheetKind, house: House) -> Blank:
    """The blank sheet of a kind under the settings of the house."""
    shown = SHOWN if kind is RULINGS else ()  # what the review workbook shows is not for filling in
    columns = tuple(_blank_column(kind, c, house) for c in kind.columns if c.name not in shown)
    return Blank(kind, columns, tuple(_notes(kind, house)))


def _blank_column(kind: SheetKind, column: SheetColumn, house: House) -> BlankColumn:
    units = house.units
    unit = default_unit(column, house.site, units) if column.quantity else None
    words = tuple(kept for kept, _ in column.choices)
    if column.type == "yes_no":
        words = ("yes", "no")
    if kind is RULINGS and column.name == "by":
        words = tuple(p.name for p in people_of(house.site).persons if p.roles & {"rule", "release"})
    return BlankColumn(
        column,
        header_for(kind, column, unit, units),
        _needed(kind, column),
        spoken(unit, units) if unit else "",
        column.meaning,
        _how(column, unit, units),
        _example(column, unit, units, words),
        words,
        _bound(column.low, column, unit, units),
        _bound(column.high, column, unit, units),
    )


def header_for(kind: SheetKind, column: SheetColumn, unit: UnitWords | None, units: UnitTable) -> str:
    """A header that the reader takes for this column and, where it has a unit, for this unit."""
    bare = column.name.replace("_", " ")
    if unit is None:
        return bare
    said = spoken(unit, units)
    by_name = match_header(kind, bare, units)
    stated = by_name.unit if by_name else None
    if stated is unit:
        return bare
    implying = [word.partition("=") for word in column.headers[1:]]
    if stated is not None:  # the name itself states another unit: drawn proof, where % vol is wanted
        other = [f"{words.strip()} ({said})" for words, _, implied in implying if _is(column, implied, unit, units)]
        tries = [*other, f"{bare} ({said})"]
    else:
        tries = [f"{bare} ({said})"]
    for header in tries:
        match = match_header(kind, header, units)
        if match and match.column is column and match.unit is unit and not match.doubt:
            return header
    return bare


def _is(column: SheetColumn, words: str, unit: UnitWords, units: UnitTable) -> bool:
    return bool(words) and units.find(column.quantity, words) is unit


def spoken(unit: UnitWords, units: UnitTable) -> str:
    """A unit in words, as a header may state it."""
    words = SPOKEN.get(unit.unit, unit.unit)
    return words if units.find(unit.quantity, words) is unit else unit.unit


def _needed(kind: SheetKind, column: SheetColumn) -> str:
    if kind is RULINGS and column.name in RULED:
        return RULED[column.name]
    if column.required:
        return KEEP if column.may_be_blank else NEEDED
    for group in kind.needs_one_of:
        if column.name in group:
            return f"every row needs {' or '.join(name.replace('_', ' ') for name in group)}"
    if column.name in kind.day_of_taking:
        return "empty: the day the sheet is taken"
    sources = dict(kind.defaults).get(column.name)
    if sources:
        return f"empty: made of {' and '.join(name.replace('_', ' ') for name in sources)}"
    return OPTIONAL


def _how(column: SheetColumn, unit: UnitWords | None, units: UnitTable) -> str:
    how = HOW[column.type]
    if column.quantity and unit is None:
        known = ", ".join(units.spellings(column.quantity))
        return f"{how}; its unit stands behind it, or is said by another column: {known}"
    if unit is not None:
        others = [spoken(entry, units) for entry in units.quantities[unit.quantity] if entry is not unit]
        return how + (f"; or with another unit behind it ({', '.join(others[:4])})" if others else "")
    return how


def _example(column: SheetColumn, unit: UnitWords | None, units: UnitTable, words: Sequence[str]) -> str:
    """The example cell; empty where none can be given."""
    value = column.example.replace("T", " ") if column.type == "moment" else column.example
    if value and unit is not None:
        value = _in_unit(value, column, unit, units)
    if not value:
        value = words[0] if words else EXAMPLES.get(column.type, "")
    if not value and column.required:
        value = NEEDED_EXAMPLES[column.type]
    return EXAMPLE + value if value else ""


def _in_unit(value: str, column: SheetColumn, unit: UnitWords, units: UnitTable) -> str:
    """A declared example, which is in the customary unit, in the unit of this sheet; empty if it cannot be."""
    first = column.default_unit.partition("|")[0] or CUSTOMARY.get(column.quantity, "")
    stated = units.find(column.quantity, first)
    if stated is None or stated is unit:
        return value
    if not (stated.pint and unit.pint):
        return ""
    return f"{float(convert(float(value), stated, unit)):.4g}"


def _bound(bound: float | None, column: SheetColumn, unit: UnitWords | None, units: UnitTable) -> float | None:
    """A bound of the declaration (canonical unit) in the unit of the sheet."""
    canonical = units.find(column.quantity, column.unit) if column.unit else None
    if bound is None or canonical is None or unit is None:
        return bound
    return round(float(convert(bound, canonical, unit)), 6)


def _notes(kind: SheetKind, house: House) -> list[str]:
    key = [name.replace("_", " ") for name in kind.key]
    order = {"iso": "2026-03-14", "dmy": "14/03/2026 or 2026-03-14", "mdy": "03/14/2026 or 2026-03-14"}
    notes = [
        f"One row is {kind.meaning or 'one entry'}.",
        f"The row of which every cell begins with “{EXAMPLE.strip()}” is an example and is never taken, wherever it "
        "stands. You may leave it, delete it, or write over all of its cells.",
        f"Rows are told apart by {', '.join(key)}. A later sheet with the same {'one' if len(key) == 1 else 'ones'} "
        "corrects the earlier row, as a whole."
        if key
        else "",
        "Columns that you do not use may be deleted, and their order changed. Case, spaces and punctuation in headers "
        "do not matter.",
        f"Dates are written as {order[house.site.date_order]}, or as dates of the spreadsheet program.",
        "To withdraw a row that was taken, add a column void, repeat the row's "
        f"{', '.join(key)} and write yes under it."
        if key
        else "",
        "Save it under a name of your own, as a workbook (.xlsx) or as CSV, and drop that file into the inbox.",
    ]
    if kind is RULINGS:
        notes.append(
            "The open findings, with these columns beside them, are in exceptions/open.xlsx of the outputs: there it "
            "is easier to rule on them. A row without a ruling counts as none."
        )
    return [note for note in notes if note]
