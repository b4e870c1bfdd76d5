"""A sheet's cells as they were read, each knowing its address, and the limits of what is taken."""

from __future__ import annotations

import zipfile
import zlib
from dataclasses import dataclass, field
from functools import cached_property
from itertools import zip_longest
from typing import Any

ROWS_AT_ONCE = 1_000
# what unpacking and parsing raise on damaged bytes; broken XML is a SyntaxError, a refused entity a ValueError
BROKEN = (zipfile.BadZipFile, zlib.error, SyntaxError, ValueError, LookupError, RuntimeError, EOFError, OSError)


class Unreadable(Exception):
    """A file that cannot be taken: what is wrong, and how to mend it."""

    def __init__(self, reason: str, remedy: str) -> None:
        super().__init__(reason)
        self.reason = reason
        self.remedy = remedy


Merged = tuple[tuple[int, int], tuple[int, int]]


@dataclass
class Table:
    """One sheet's cells.

    ``rows[i][j]`` is the cell in row ``i + 1`` and column ``j + 1`` of the sheet: text, float,
    bool, date, datetime, time or ``""``. ``faults`` holds, by (row, column) from 0, why a cell
    has no value (an uncalculated formula, ``#DIV/0!``). ``is_text`` says that numbers come as
    text, whose decimal sign must be told. ``shown`` holds, by (row, column), what a number format
    shows after the number. ``hidden_rows``, ``hidden_columns`` (from 0) and ``struck`` cells (row, column) say what
    a person does not see, or sees a line through. ``merged``: first and last cell of what is one cell to a person.
    ``said``: what a layout says of all rows, as ``titles.Said``.
    """

    sheet: str
    rows: list[list[Any]]
    is_text: bool = False
    delimiter: str = ""
    faults: dict[tuple[int, int], str] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    shown: dict[tuple[int, int], str] = field(default_factory=dict)
    hidden_rows: set[int] = field(default_factory=set)
    hidden_columns: set[int] = field(default_factory=set)
    struck: set[tuple[int, int]] = field(default_factory=set)
    merged: list[Merged] = field(default_factory=list)
    said: tuple[tuple[str, Any, int, int], ...] = ()

    @cached_property
    def columns(self) -> list[list[Any]]:
        """The cells by column, short rows filled up with blanks."""
        return by_column(self.rows)


@dataclass(frozen=True)
class Limits:
    """What a file may hold."""

    unpacked_bytes: float = 600e6
    cells: int = 5_000_000
    columns: int = 500


def by_column(rows: list[list[Any]]) -> list[list[Any]]:
    """Cells by column, a few rows at a time: turning all at once goes through the memory in every direction."""
    made: list[list[Any]] = [[] for _ in range(max(map(len, rows), default=0))]
    for at in range(0, len(rows), ROWS_AT_ONCE):
        some = rows[at : at + ROWS_AT_ONCE]
        turned = list(zip_longest(*some, fillvalue="") if len(set(map(len, some))) > 1 else zip(*some, strict=True))
        turned += [("",) * len(some)] * (len(made) - len(turned))
        for column, cells in zip(made, turned, strict=True):
            column.extend(cells)
    return made


def address(row: int, column: int) -> str:
    """The spreadsheet address of a cell from 0-based row and column: (13, 2) → C14."""
    letters = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(65 + rest) + letters
    return f"{letters}{row + 1}"


def too_large(sheet: str, rows: int, columns: int, limits: Limits) -> Unreadable:
    return Unreadable(
        f"Sheet {sheet!r} reaches to cell {address(rows - 1, columns - 1)}: {rows} rows of {columns} columns; "
        f"at most {limits.cells} cells and {limits.columns} columns are taken.",
        "Delete empty rows and columns, split the sheet, or raise the numbers under [limits] in site.toml.",
    )
