"""The page ``Columns`` of a workbook that goes back to be mended: what is on it, and how it is read again.

It is never taken for rows. What it says counts only for the header cells as they were when it was written; one that
somebody changed since is asked about. It also keeps what a text file loses in a workbook: that its cells are text.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from typing import Any

from pipeline.contract.kinds import SheetKind
from pipeline.sheets.cells import as_text, clean, is_blank
from pipeline.sheets.explained import Layout, header_of
from pipeline.sheets.rulings_sheet import RULINGS
from pipeline.tables.tables import Table, Unreadable, address

MARK = "Columns: which header was taken for what. Nothing on this page is a row."
TITLE = "Columns"
TO_MEND = " (mend this)"  # what a cell ends with that could otherwise be taken for something it is not
CONFIRMED_BY, MENDS = "Confirmed by", "Mends"
SHEET_HEADS = ("Sheet", "Its rows are", "Header in row", "Read as", "What its rows are")
COLUMN_HEADS = ("Sheet", "Cell", "Header", "First values", "Taken for", "What it means")
MOST = 2_000  # rows of the page that are read
USE_AS_IT_CAME = "Use the page Columns as it came: change only the last columns and the name. Or delete that page."


@dataclass
class ToMend:
    """One table that goes back: its cells, what it was taken for, and what is wrong in it.

    ``columns``: each header with its index (from 0), what it was taken for (empty: not known), and the choices where
    that is doubtful; ``bad``: (row, column) from 0 → what is wrong there; ``chosen``: index → choice made before;
    ``lacking``: columns that no header says; ``kinds``: what else it could be, and ``open_kind``: a person must
    say which. A table that is like no kind has no ``kind``: it goes back as it came.
    """

    table: Table
    kind: SheetKind | None
    header_row: int
    columns: list[tuple[int, str, str, list[str]]] = field(default_factory=list)
    bad: dict[tuple[int, int], str] = field(default_factory=dict)
    chosen: dict[int, str] = field(default_factory=dict)
    lacking: str = ""
    kinds: list[str] = field(default_factory=list)
    open_kind: bool = False
    epoch_1904: bool = False


@dataclass
class Told:
    """What a page ``Columns`` says, not yet believed.

    By sheet its kind, header row (from 0) and delimiter of a text file (None: a workbook's own); by sheet and cell the
    header there with what it means. ``chosen``: sheets of which a person said what their rows are.
    """

    by: str = ""
    mends: str = ""
    sheets: dict[str, tuple[str, int, str | None]] = field(default_factory=dict)
    means: dict[str, dict[str, tuple[str, str]]] = field(default_factory=dict)
    chosen: set[str] = field(default_factory=set)


def is_columns_page(table: Table) -> bool:
    """Whether a table is such a page."""
    return any(isinstance(cell, str) and clean(cell) == MARK for cells in table.rows[:1] for cell in cells[:1])


def read_page(table: Table) -> Told:
    """What the page says. Raises Unreadable for one that is not as it was written."""
    told, part = Told(), ""
    for cells in table.rows[1:MOST]:
        texts = ["" if is_blank(cell) else as_text(cell) for cell in cells[: len(COLUMN_HEADS)]]
        texts += [""] * (len(COLUMN_HEADS) - len(texts))
        if tuple(texts[: len(SHEET_HEADS)]) == SHEET_HEADS:
            part = "sheets"
        elif tuple(texts) == COLUMN_HEADS:
            part = "columns"
        elif not part and texts[0] == CONFIRMED_BY:
            told.by = texts[1][:80]
        elif not part and texts[0] == MENDS:
            told.mends = texts[1] if re.fullmatch("[0-9a-f]{64}", texts[1]) else ""
        elif part == "sheets" and texts[0]:
            told.sheets[texts[0]] = texts[4] or texts[1], _row(texts[2]), _delimiter(texts[3])
            told.chosen |= {texts[0]} if texts[4] else set()
        elif part == "columns" and texts[5]:
            told.means.setdefault(texts[0], {})[texts[1]] = texts[2], texts[5]
    if not told.sheets:
        raise Unreadable("The page Columns of the workbook lists no sheet.", USE_AS_IT_CAME)
    return told


def _row(text: str) -> int:
    if not re.fullmatch(r"[1-9]\d{0,5}", text):
        raise Unreadable(f"The page Columns names the header row {text!r}, which is no row.", USE_AS_IT_CAME)
    return int(text) - 1


READ_AS_TEXT = {",": "text, comma", ";": "text, semicolon", "\t": "text, tab", "|": "text, bar"}


def read_as(table: Table) -> str:
    """How a table is read, in words: a workbook's cells, or those of a text with its delimiter."""
    return READ_AS_TEXT.get(table.delimiter, "text") if table.is_text else "workbook"


def _delimiter(words: str) -> str | None:
    if words == "workbook":
        return None
    found = [sign for sign, said in READ_AS_TEXT.items() if said == words]
    if not found:
        raise Unreadable(f"The page Columns says that a sheet is read as {words!r}, which is no way.", USE_AS_IT_CAME)
    return found[0]


def as_it_was(table: Table, told: Told) -> Table:
    """A table of a mended workbook, read as the file that went back: text stays text, what is to be mended is none."""
    if table.sheet not in told.sheets:
        return table
    delimiter = told.sheets[table.sheet][2]
    faults = dict(table.faults)
    for row, cells in enumerate(table.rows):
        for column, cell in enumerate(cells):
            if isinstance(cell, str) and cell.endswith(TO_MEND):
                faults[row, column] = f"it still says{TO_MEND}"
    if delimiter is None:
        return replace(table, faults=faults)
    return replace(
        table, rows=[_shortened(cells) for cells in table.rows], is_text=True, delimiter=delimiter, faults=faults
    )


def _shortened(cells: list[Any]) -> list[Any]:
    """A row without the blanks that a workbook adds at its end: a text's row has as many cells as it has."""
    end = len(cells)
    while end and cells[end - 1] == "":
        end -= 1
    return cells[:end]


def layout_of(table: Table, told: Told, kinds: list[SheetKind], name: str) -> Layout | None:
    """What a person said of a table's header row; None where nothing was. Raises Unreadable where that cannot be."""
    means = told.means.get(table.sheet, {})
    if not means and table.sheet not in told.chosen:
        return None
    if table.sheet not in told.sheets:
        raise Unreadable(f"The page Columns speaks of a sheet {table.sheet!r} that it does not list.", USE_AS_IT_CAME)
    kind, row, _ = told.sheets[table.sheet]
    if kind not in {one.name for one in kinds} or kind == RULINGS.name:
        raise Unreadable(f"The page Columns says that the rows are {kind!r}, which is no kind.", USE_AS_IT_CAME)
    headers = header_of(table.rows[row]) if row < len(table.rows) else ()
    places = {address(row, index): index for index in range(len(headers))}
    made = []
    for cell, (header, choice) in means.items():
        now = headers[places[cell]] if cell in places else ""
        if now != header:
            raise Unreadable(
                f"The page Columns says that {header!r} in {cell} is {choice!r}, but {cell} of the sheet "
                f"{table.sheet!r} holds {now!r}.",
                "Put the header row back as it was, or empty that line of the page Columns, and drop it again.",
            )
        made.append((places[cell], choice))
    return Layout(kind, headers, tuple(sorted(made)), by=told.by, file=name)


def unlisted(tables: list[Table], told: Told) -> str:
    """A sheet that the page speaks of and the workbook lacks; empty where there is none."""
    there = {table.sheet for table in tables}
    return next((sheet for sheet in told.means if sheet not in there), "")
