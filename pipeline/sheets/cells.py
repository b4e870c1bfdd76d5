"""One column of cells → typed values in canonical units, with a fault for each cell that is none.

Whole columns at a time: what is already a number stays an array; only text is looked at cell by
cell, and equal texts once.
"""

from __future__ import annotations

import csv
import re
import unicodedata
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from typing import Any

from pipeline.common.libraries import np
from pipeline.contract.kinds import SheetColumn, plain
from pipeline.contract.site import Site
from pipeline.contract.units import UnitWords
from pipeline.sheets.dates import SERIAL, NoDate, parse_moment, serial_day, serial_in_text
from pipeline.sheets.numbers import by_rule, to_number
from pipeline.sheets.units import UnitTable, convert

FAR_BEYOND = 1e12
HALF_SECOND = timedelta(milliseconds=500)
LAST_MOMENT = datetime.max - HALF_SECOND
MIDNIGHT = "T00:00:00"
TO_THE_SECOND = len("2026-03-14T09:30:00")
BEYOND_MONTHS = re.compile(r"(1[3-9]|2\d|3[01])[-/.]\d{1,2}[-/.]\d|\d{1,2}[-/.](1[3-9]|2\d|3[01])[-/.]\d")
BLANK = {"", "-", "–", "—", "n/a", "n.a.", "na", "nil", "none", "null"}
YES = {"yes", "y", "true", "1", "x", "✓", "ja", "oui", "si", "sí", "j", "t"}
NO = {"no", "n", "false", "0", "nein", "non", "f"}
NUMBER_START = re.compile(
    r"\s*([+\-−]?\s?(?:\d{1,3}(?: \d{3})+(?![\d/])(?:[.,]\d+)?|\d[\d.,'’]*|[.,]\d+)(?:[eE][+-]?\d+)?)\s*(.*)", re.DOTALL
)
ERROR_SHOWN = re.compile(r"#(N/A|REF!|VALUE!|DIV/0!|NAME\?|NUM!|NULL!|SPILL!|CALC!)", re.IGNORECASE)


@dataclass
class Typed:
    """A column's values (one per row, None or NaN where missing) and what is wrong with some.

    ``faults`` maps the row's position to a sentence's end (``is no number``); ``units`` holds for
    a measured column the unit as stated per row; ``notes`` are sentences about the whole column.
    """

    values: Any
    faults: dict[int, str] = field(default_factory=dict)
    units: list[str | None] | None = None
    notes: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class Context:
    """What typing needs to know of the site and the file."""

    site: Site
    units: UnitTable
    decimal: str
    latest_year: int
    epoch_1904: bool = False
    day: date | None = None  # on which the file was taken


def is_blank(cell: Any) -> bool:
    return cell is None or (isinstance(cell, str) and clean(cell).casefold() in BLANK)


def clean(text: str) -> str:
    """Text in NFC without what cannot be seen; every kind of space is a plain one, and none is outside."""
    if text.isascii() and text.isprintable():
        return text.strip()
    seen = (c for c in text if c.isspace() or unicodedata.category(c) not in ("Cc", "Cf"))
    text = unicodedata.normalize("NFC", "".join(seen))
    return "".join(c if c.isprintable() or c == "\n" else " " for c in text).strip()


def as_text(cell: Any) -> str:
    """A cell as a person sees it: 311.0 is 311, a date is ISO."""
    if isinstance(cell, float) and cell.is_integer() and abs(cell) < 1e15:
        return str(int(cell))
    if isinstance(cell, datetime) and cell.time() == time():
        return cell.date().isoformat()
    if isinstance(cell, datetime | date):
        return cell.isoformat()
    return clean(str(cell))


def _each(cells: Sequence[Any], read: Callable[[Any], Any]) -> tuple[list[Any], dict[int, str]]:
    """Apply ``read`` once per distinct cell; a ValueError becomes the fault of each row that holds it."""
    types = set(map(type, cells))
    # True, 1 and 1.0 are equal but not the same cell
    keys: Sequence[Any] = cells if types <= {str, float} else [(type(cell), cell) for cell in cells]
    values: dict[Any, Any] = {}
    wrong: dict[Any, str] = {}
    distinct = dict(zip(keys, cells, strict=True)) if types != {str} else {cell: cell for cell in set(cells)}
    for key, cell in distinct.items():
        try:
            values[key] = read(cell)
        except ValueError as error:
            values[key] = None
            wrong[key] = str(error)
    faults = {row: wrong[key] for row, key in enumerate(keys) if key in wrong} if wrong else {}
    return list(map(values.__getitem__, keys)), faults


def type_column(column: SheetColumn, cells: Sequence[Any], context: Context, stated: Stated) -> Typed:
    """Type one column. ``stated`` says which units header, unit column or site gave."""
    if column.type in ("number", "count"):
        return _numbers(column, cells, context, stated)
    if column.type in ("date", "moment") and set(map(type, cells)) <= {datetime, date}:
        return _far_off(_datetimes(cells, column.type == "moment"))
    readers: dict[str, Callable[[Any], Any]] = {
        "text": _text,
        "name": lambda cell: _name(cell, column.required),
        "yes_no": _yes_no,
        "choice": lambda cell: _choice(column, cell),
        "date": lambda cell: _moment(column, cell, context),
        "moment": lambda cell: _moment(column, cell, context),
    }
    values, faults = _each(cells, readers[column.type])
    if column.of_data and any(values):
        known = _known_names(context.site, *column.of_data)
        values = [known.get(_spelt(value), value) if value else value for value in values]
    typed = Typed(values, faults)
    if column.type in ("date", "moment"):
        numbers = {cell for cell in set(cells) if type(cell) is float or (type(cell) is str and SERIAL.fullmatch(cell))}
        if numbers and any(cell in numbers and row not in faults for row, cell in enumerate(cells)):
            typed.notes.append("holds bare day numbers, read as spreadsheet dates")
        _maybe_swapped(cells, typed)
    return typed


def _spelt(name: str) -> str:
    return plain(re.sub(r"\band\b", " ", name.replace("_", " ").casefold()))


def _known_names(site: Site, data: str, column: str) -> dict[str, str]:
    """The names in a column of the site's data files, by their letters."""
    rows = (row for file in site.data.get(data, ()) for row in csv.DictReader(file.text.splitlines()))
    return {_spelt(row[column]): row[column] for row in rows if row.get(column)}


def _maybe_swapped(cells: Sequence[Any], typed: Typed) -> None:
    """Texts like 13/04/2026 beside dates of which none is after the 12th: the spreadsheet took day for month."""
    dates = [row for row, cell in enumerate(cells) if isinstance(cell, date)]
    texts = [cell for cell in cells if isinstance(cell, str) and BEYOND_MONTHS.match(clean(cell))]
    if texts and dates and all(cells[row].day <= 12 for row in dates):
        said = f"may have day and month swapped: {texts[0]!r} stayed text beside it; write all of them as 2026-03-14"
        for row in dates:
            typed.faults.setdefault(row, said)


def _text(cell: Any) -> str | None:
    text = as_text(cell)
    return text or None


def _name(cell: Any, required: bool = False) -> str | None:
    if isinstance(cell, bool):
        raise ValueError("is a yes/no value, not a name")
    if isinstance(cell, time | timedelta) or (required and isinstance(cell, date)):
        raise ValueError("is a date or time, into which spreadsheets turn names like 1-2; format the cell as text")
    text = re.sub(r"\s+", " ", as_text(cell))
    if text.startswith("="):
        raise ValueError("begins with = as a formula does; write the name itself")
    if ERROR_SHOWN.fullmatch(text):
        raise ValueError("is an error that the spreadsheet shows; mend the formula")
    return None if text.casefold() in ("", "-", "–", "—", "n/a", "n.a.") else text


def _yes_no(cell: Any) -> bool | None:
    if isinstance(cell, bool):
        return cell
    word = as_text(cell).casefold()
    if word in YES or word in NO:
        return word in YES
    if word in BLANK or word == "?":
        return None
    raise ValueError("is neither yes nor no")


def _choice(column: SheetColumn, cell: Any) -> str | None:
    word = as_text(cell)
    if word.casefold() in BLANK:
        return None
    for kept, words in column.choices:
        if plain(word) in {plain(kept), *map(plain, words)}:
            return kept
    known = ", ".join(kept for kept, _ in column.choices)
    raise ValueError(f"is none of the words known here: {known}")


def _moment(column: SheetColumn, cell: Any, context: Context) -> str | None:
    with_time = column.type == "moment"
    if isinstance(cell, str) and cell.strip().casefold() in BLANK:
        return None
    if isinstance(cell, bool | time | timedelta):
        raise NoDate("is no date; write it as 2026-03-14")
    if isinstance(cell, str):
        number = serial_in_text(clean(cell), context.day if column.past else None)
        cell = cell if number is None else serial_day(number, epoch_1904=False)
    if isinstance(cell, float | int):
        cell = serial_day(float(cell), context.epoch_1904)
    if isinstance(cell, date):  # a datetime is one too
        for fault in _far_off(_datetimes([cell], with_time)).faults.values():
            raise NoDate(fault)
        return _datetimes([cell], with_time)[0]
    text = parse_moment(clean(str(cell)), context.site.date_order, context.site.zone, context.latest_year)
    return text if with_time else text[:10]


def _datetimes(cells: Sequence[Any], with_time: bool) -> list[str]:
    """ISO texts of date-times, to the second: spreadsheet times carry binary dust."""
    texts = [cell.isoformat() for cell in cells]
    if max(map(len, texts), default=0) > TO_THE_SECOND:
        texts = [_to_the_second(cell) if len(t) > TO_THE_SECOND else t for cell, t in zip(cells, texts, strict=True)]
    return [text if with_time and text[10:] != MIDNIGHT else text[:10] for text in texts]


def _to_the_second(moment: datetime) -> str:
    return (min(moment, LAST_MOMENT) + HALF_SECOND).isoformat(timespec="seconds")


def _far_off(texts: list[str]) -> Typed:
    """Days of a spreadsheet; one before 1940 or after 2100 is a small number or a slip shown as a date."""
    if not texts or (min(texts) >= "1940" and max(texts) < "2101"):
        return Typed(texts)
    wrong = [row for row, text in enumerate(texts) if not "1940" <= text < "2101"]
    return Typed(texts, dict.fromkeys(wrong, "is a date before 1940 or after 2100, which cannot be meant"))


def with_time_of_day(day: Any, clock: Any) -> Any:
    """A date cell and the cell with its time of day as one cell; a blank time leaves the date as it is."""
    if is_blank(day) or is_blank(clock):
        return day
    if isinstance(clock, datetime):
        clock = clock.time()
    if isinstance(clock, timedelta):
        clock = (datetime.min + clock).time() if timedelta() <= clock < timedelta(days=1) else clock
    if isinstance(day, date) and isinstance(clock, time):
        return datetime.combine(day, clock)
    return f"{as_text(day)} {as_text(clock)}"


@dataclass(frozen=True)
class Stated:
    """Units that a sheet states for one column: in the header, per row, or by the site's default."""

    header: UnitWords | None = None
    rows: list[Any] | None = None
    default: UnitWords | None = None


def as_shown(cells: Sequence[Any], shown: list[str], column: SheetColumn, context: Context) -> list[Any]:
    """Cells of a workbook as people see them where the number format adds a percent sign or a unit known here."""
    made = list(cells)
    for row, words in enumerate(shown):
        if type(cells[row]) is float and words:
            percent = words == "%"
            if percent or (column.quantity and context.units.find(column.quantity, words) is not None):
                number = f"{cells[row] * (100 if percent else 1):.15g}"
                made[row] = f"{number.replace('.', context.decimal or '.')} {words}"
    return made


def _numbers(column: SheetColumn, cells: Sequence[Any], context: Context, stated: Stated) -> Typed:
    values = np.full(len(cells), np.nan)
    typed = Typed(values)
    in_cell: dict[int, UnitWords] = {}
    if set(map(type, cells)) == {float}:
        values[:] = cells
        typed.faults = dict.fromkeys(np.flatnonzero(np.isnan(values)).tolist(), "is not a finite number")
    else:
        usual = stated.header or stated.default
        asked = None if stated.rows else usual
        read, typed.faults = _each(cells, lambda cell: _number(cell, column, context, asked))
        for row, result in enumerate(read):
            if result is not None:
                values[row] = result[0]
                if result[1] is not None:
                    in_cell[row] = result[1]
    if column.quantity:
        _to_canonical(column, typed, in_cell, context, stated)
        _next_to_nothing(column, typed, in_cell, context)
    for row in np.flatnonzero(np.abs(values) > FAR_BEYOND).tolist():
        beyond = "is no amount that can be meant" if np.isfinite(values[row]) else "is not a finite number"
        typed.faults.setdefault(row, beyond)
    if column.type == "count":
        for row in np.flatnonzero(typed.values != np.floor(typed.values)).tolist():
            if not np.isnan(typed.values[row]):
                typed.faults.setdefault(row, "is no whole number")
    _bounds(column, typed)
    return typed


def _number(
    cell: Any, column: SheetColumn, context: Context, usual: UnitWords | None = None
) -> tuple[float, UnitWords | None] | None:
    if isinstance(cell, bool) or isinstance(cell, datetime | date | time | timedelta):
        raise ValueError("is no number")
    if cell != cell:
        raise ValueError("is not a finite number")
    if isinstance(cell, float | int):
        return float(cell), None
    text = clean(str(cell))
    if text.casefold() in BLANK:
        return None
    if text.casefold().lstrip("+-") in ("nan", "inf", "infinity"):
        raise ValueError("is not a finite number")
    if column.quantity == "length":
        measured = by_rule(text, context.units, usual)
        if measured is not None:
            return measured
    match = NUMBER_START.fullmatch(text)
    if not match:
        raise ValueError("is no number")
    unit = None
    if match[2]:
        unit = context.units.find(column.quantity, match[2]) if column.quantity else None
        bare_sign = match[2] in ("%", "°") if column.type == "number" and not column.quantity else False
        if unit is None and not bare_sign and not (usual and "%" in usual.unit and match[2] == "%"):
            known = ", ".join(context.units.spellings(column.quantity))
            raise ValueError(f"is no number with a unit known here ({known})" if known else "is no plain number")
    return to_number(match[1], context.decimal), unit


def _to_canonical(
    column: SheetColumn, typed: Typed, in_cell: dict[int, UnitWords], context: Context, stated: Stated
) -> None:
    if not stated.rows and not in_cell:
        _to_canonical_at_once(column, typed, context, stated.header or stated.default)
        return
    count = len(typed.values)
    canonical = context.units.find(column.quantity, column.unit) if column.unit else None
    usual = stated.header or stated.default
    chosen: list[UnitWords | None] = [usual] * count
    for row, words in enumerate(stated.rows or ()):
        if not is_blank(words):
            chosen[row] = context.units.find(column.quantity, as_text(words))
            if chosen[row] is None:
                known = ", ".join(context.units.spellings(column.quantity))
                typed.faults.setdefault(row, f"has the unit {as_text(words)!r}; known here are {known}")
    for row, unit in in_cell.items():
        chosen[row] = unit
    present = ~np.isnan(typed.values)
    typed.units = [unit.unit if unit and here else None for unit, here in zip(chosen, present.tolist(), strict=True)]
    if canonical is None:
        return
    for unit in {unit for unit in chosen if unit is not None}:
        rows = np.fromiter((other is unit for other in chosen), bool, count) & present
        with np.errstate(over="ignore"):
            typed.values[rows] = convert(typed.values[rows], unit, canonical)
    unknown = np.fromiter((unit is None for unit in chosen), bool, count) & present
    for row in np.flatnonzero(unknown).tolist():
        typed.faults.setdefault(row, "has no unit, and the site states none for this column")


def _to_canonical_at_once(column: SheetColumn, typed: Typed, context: Context, unit: UnitWords | None) -> None:
    """As ``_to_canonical``, where all of a column is in one unit."""
    present = ~np.isnan(typed.values)
    words = unit.unit if unit else None
    typed.units = [words if here else None for here in present.tolist()]
    canonical = context.units.find(column.quantity, column.unit) if column.unit else None
    if canonical is None:
        return
    if unit is not None:
        with np.errstate(over="ignore"):
            typed.values[present] = convert(typed.values[present], unit, canonical)
        return
    for row in np.flatnonzero(present).tolist():
        typed.faults.setdefault(row, "has no unit, and the site states none for this column")


def _next_to_nothing(column: SheetColumn, typed: Typed, in_cell: dict[int, UnitWords], context: Context) -> None:
    """Figures so small for their unit that a slip is likelier, where the cell does not state the unit itself."""
    for unit in context.units.quantities.get(column.quantity, ()):
        if unit.least:
            small = (typed.values >= unit.least / 5.0) & (typed.values <= unit.least)
            for row in np.flatnonzero(small).tolist():
                if typed.units is not None and typed.units[row] == unit.unit and row not in in_cell:
                    value = float(typed.values[row])
                    typed.faults.setdefault(row, unit.asks.format(value=value, hundredfold=100.0 * value))


def _bounds(column: SheetColumn, typed: Typed) -> None:
    for bound, beyond, word in (
        (column.low, np.less, "below"),
        (column.high, np.greater, "above"),
    ):
        if bound is None:
            continue
        dust = 1e-9 * max(1.0, abs(bound))  # 140 °F is 60 °C and a little in floating point
        with np.errstate(invalid="ignore"):
            wrong = beyond(typed.values, bound - dust if beyond is np.less else bound + dust)
        for row in np.flatnonzero(wrong).tolist():
            unit = f" {column.unit}" if column.unit else ""
            typed.faults.setdefault(row, f"is {word} {bound:g}{unit}, which is not possible")
