"""What the tests of files that go back share: the workbook to mend of a file, and a person who fills it in."""

from __future__ import annotations

import io
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import openpyxl

from pipeline.sheets.columns_sheet import COLUMN_HEADS, CONFIRMED_BY, TITLE


def workbook(out: Path, name: str) -> bytes:
    """The workbook to mend that lies in the outputs."""
    return (out / "returned" / name).read_bytes()


def filled(
    data: bytes,
    means: Mapping[str, str] | None = None,
    by: str = "",
    cells: Mapping[str, Mapping[str, Any]] | None = None,
    rows_are: str = "",
    edit: Callable[[Any], None] | None = None,
) -> bytes:
    """The workbook filled in: what headers mean, a name, and cells by sheet and address; ``edit`` may do more."""
    book = openpyxl.load_workbook(io.BytesIO(data))
    page = book[TITLE]
    for row in page.iter_rows():
        if row[0].value == CONFIRMED_BY and by:
            row[1].value = by
        if row[2].value in (means or {}) and row[1].value and row[5].value is None:
            row[5].value = (means or {})[str(row[2].value)]
        if rows_are and row[3].value in ("workbook", "text, comma", "text, semicolon"):
            row[4].value = rows_are
    for sheet, changed in (cells or {}).items():
        for place, value in changed.items():
            book[sheet][place].value = value
    if edit is not None:
        edit(book)
    made = io.BytesIO()
    book.save(made)
    return made.getvalue()


def page_of(data: bytes) -> list[list[Any]]:
    """The page Columns as rows of what its first six columns show."""
    page = openpyxl.load_workbook(io.BytesIO(data))[TITLE]
    return [[cell.value for cell in row[: len(COLUMN_HEADS)]] for row in page.iter_rows()]


def choices(data: bytes, header: str) -> list[str]:
    """What the dropdown beside a header offers; none where it has none."""
    page = openpyxl.load_workbook(io.BytesIO(data))[TITLE]
    for row in page.iter_rows():
        if row[2].value == header and row[5].coordinate:
            for check in page.data_validations.dataValidation:
                if row[5].coordinate in check.sqref:
                    first, last = check.formula1.replace("$", "").split(":")
                    return [str(cell[0].value) for cell in page[first:last]]
    return []
