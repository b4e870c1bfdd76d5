"""Old workbooks (.xls) → tables, with what they hide, strike out, merge and show after a number.

Every record is skimmed before the reader sets memory aside. Formulas are not run: one that shows 0 or nothing may never
have been calculated, since programs that only write such files leave that there, and a person is asked.
"""

from __future__ import annotations

import io
import struct
from collections.abc import Iterator
from datetime import datetime
from typing import Any

from pipeline.tables.tables import Limits, Table, Unreadable, too_large
from pipeline.tables.workbook_parts import shown_after

BEGIN, END, FORMULA, MANY, MANY_BLANK = 0x0809, 0x000A, 0x0006, 0x00BD, 0x00BE
CELLS = (0x0203, FORMULA, 0x00FD, 0x027E, MANY, 0x0201, MANY_BLANK, 0x0205, 0x0204, 0x00D6)
NOTHING = (bytes(8), b"\x03\x00\x00\x00\x00\x00\xff\xff")
SAVE_AGAIN = "Save it as XLSX in the spreadsheet program and drop that."
PROTECTED = "Remove the password in the spreadsheet program, save it as XLSX, and drop that."
UNCERTAIN = "the formula shows 0 or nothing and may never have been calculated"


def read_old_workbook(data: bytes, limits: Limits) -> list[Table]:
    """The tables of an old workbook. Raises Unreadable, in words, for what cannot be read for certain."""
    import xlrd

    try:
        zeros = _skimmed(data, limits)
        book = xlrd.open_workbook(
            file_contents=data, formatting_info=True, ragged_rows=True, logfile=io.StringIO(), use_mmap=False
        )
        if book.datemode:
            raise Unreadable("The old workbook counts its days from 1904.", SAVE_AGAIN)
        return [_table(book, sheet, zeros.get(place, set())) for place, sheet in enumerate(book.sheets())]
    except (Unreadable, MemoryError):
        raise
    except Exception as error:  # the reader raises whatever its own steps raise on damaged bytes
        remedy = PROTECTED if "encrypted" in str(error) else SAVE_AGAIN
        raise Unreadable(f"The old workbook cannot be opened: {str(error).rstrip('.')}.", remedy) from error


def _skimmed(data: bytes, limits: Limits) -> dict[int, set[tuple[int, int]]]:
    """By place of the sheet the formulas that show 0 or nothing. Raises Unreadable for a sheet that reaches too far."""
    from xlrd.compdoc import CompDoc

    packed = CompDoc(data, logfile=io.StringIO())
    memory, base, length = next(
        found for name in ("Workbook", "Book") if (found := packed.locate_named_stream(name))[0] is not None
    )
    zeros: dict[int, set[tuple[int, int]]] = {}
    sheet, depth, rows, columns = -2, 0, 0, 0
    for kind, body in _records(bytes(memory[base : base + length])):
        if kind == BEGIN:
            depth += 1
            if depth == 1:
                sheet, rows, columns = sheet + 1, 0, 0
        elif kind == END:
            depth -= 1
        elif kind in CELLS and depth == 1 and len(body) >= 4:
            row, column = struct.unpack_from("<HH", body)
            last = struct.unpack_from("<H", body, len(body) - 2)[0] if kind in (MANY, MANY_BLANK) else column
            rows, columns = max(rows, row + 1), max(columns, last + 1)
            if rows * columns > limits.cells or columns > limits.columns:
                raise too_large(f"number {sheet + 1}", rows, columns, limits)
            if kind == FORMULA and body[6:14] in NOTHING:
                zeros.setdefault(sheet, set()).add((row, column))
    return zeros


def _records(stream: bytes) -> Iterator[tuple[int, bytes]]:
    at = 0
    while at + 4 <= len(stream):
        kind, length = struct.unpack_from("<HH", stream, at)
        yield kind, stream[at + 4 : at + 4 + length]
        at += 4 + length


def _table(book: Any, sheet: Any, zeros: set[tuple[int, int]]) -> Table:
    if sheet.visibility:
        return Table(sheet.name, [], notes=[f"Sheet {sheet.name!r} is hidden and was not taken."])
    table = Table(sheet.name, [])
    for row in range(sheet.nrows):
        table.rows.append([_value(book, cell) for cell in sheet.row(row)])
        for column, cell in enumerate(sheet.row(row)):
            _looks(book, table, (row, column), cell)
    for row, column in zeros:
        cells = table.rows[row] = [*table.rows[row], *[""] * (column + 1 - len(table.rows[row]))]
        cells[column] = ""
    filled = {row for row, cells in enumerate(table.rows) if any(cell != "" for cell in cells)}
    table.faults |= {spot: UNCERTAIN for spot in zeros if spot[0] in filled}
    table.hidden_rows = {row for row, info in sheet.rowinfo_map.items() if info.hidden or info.height == 0}
    table.hidden_columns = {at for at, info in sheet.colinfo_map.items() if info.hidden or info.width == 0}
    table.merged = [((first, left), (last - 1, right - 1)) for first, last, left, right in sheet.merged_cells]
    return table


def _value(book: Any, cell: Any) -> Any:
    import xlrd

    if cell.ctype == xlrd.XL_CELL_DATE:
        if not 0 <= cell.value < 2_958_466:
            return float(cell.value)
        moment: datetime = xlrd.xldate_as_datetime(cell.value, book.datemode)
        return moment.time() if cell.value < 1 else moment
    if cell.ctype == xlrd.XL_CELL_BOOLEAN:
        return bool(cell.value)
    return cell.value if cell.ctype in (xlrd.XL_CELL_TEXT, xlrd.XL_CELL_NUMBER) else ""


def _looks(book: Any, table: Table, spot: tuple[int, int], cell: Any) -> None:
    """An error that a cell shows, a line through it, and what its format shows after the number."""
    import xlrd

    if cell.ctype == xlrd.XL_CELL_ERROR:
        shown = xlrd.error_text_from_code.get(cell.value, "#ERROR")
        table.faults[spot] = f"the cell shows the error {shown}"
    if cell.ctype in (xlrd.XL_CELL_EMPTY, xlrd.XL_CELL_BLANK):
        return
    style = book.xf_list[cell.xf_index]
    if book.font_list[style.font_index].struck_out:
        table.struck.add(spot)
    if cell.ctype == xlrd.XL_CELL_NUMBER:
        words = shown_after(book.format_map[style.format_key].format_str)
        if words:
            table.shown[spot] = words
