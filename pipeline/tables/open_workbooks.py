"""Workbooks of the open format (.ods) → tables, with what they hide, strike out, merge and show after a number."""

from __future__ import annotations

import io
import re
import zipfile
from datetime import date, datetime, time
from typing import Any

from pipeline.tables.tables import BROKEN, Limits, Table, Unreadable, too_large

SAVE_AGAIN = "Open it in the spreadsheet program, save it as XLSX, and drop that."
DURATION = re.compile(r"PT(\d{1,2})H(\d{1,2})M(\d{1,2})(?:[.,]\d+)?S")
SHOWN_AFTER = re.compile(r"[^\d]*[\d.,'\s\u00a0\u202f]*\d[\d.,]*\s*(\D*)", re.DOTALL)
MANIFEST = "META-INF/manifest.xml"
LOOKED_INTO = ("content.xml", "styles.xml")
PASSED_OVER = ("tracked-changes", "shapes", "dde-links", "annotation")


def read_open_workbook(data: bytes, limits: Limits) -> list[Table]:
    """The tables of an .ods workbook. Raises Unreadable, in words, for what is no such, or goes beyond the limits."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            _guard(packed, limits)
            reader = _Reader(limits, _struck_styles(packed))
            return reader.read(packed)
    except BROKEN as error:
        raise Unreadable(f"The workbook is damaged or was not copied whole: {error}.", SAVE_AGAIN) from error


def _guard(packed: zipfile.ZipFile, limits: Limits) -> None:
    size = sum(info.file_size for info in packed.infolist())
    if size > limits.unpacked_bytes:
        said = f"The workbook unpacks to {size / 1e6:.0f} MB; at most {limits.unpacked_bytes / 1e6:.0f} MB are taken."
        raise Unreadable(said, "Split it, or raise unpacked_megabytes under [limits] in site.toml.")
    if "content.xml" not in packed.namelist():
        raise Unreadable("The file is a packed archive, not a workbook.", "Unpack it and drop the sheets.")
    manifest = packed.read(MANIFEST) if MANIFEST in packed.namelist() else b""
    if b"encryption-data" in manifest:
        raise Unreadable("The workbook is protected by a password.", "Remove the password, save, and drop it again.")
    for part in LOOKED_INTO:
        if part in packed.namelist():
            with packed.open(part) as stream:
                if re.search(rb"<!(DOCTYPE|ENTITY)", stream.read(4096), re.IGNORECASE):
                    raise Unreadable("The workbook's XML declares a document type.", SAVE_AGAIN)


def _name(tag: Any) -> str:
    return str(tag).rpartition("}")[2]


def _said(element: Any, name: str, default: str = "") -> str:
    """An attribute by its name without a prefix."""
    return next((value for key, value in element.attrib.items() if _name(key) == name), default)


def _struck_styles(packed: zipfile.ZipFile) -> set[str]:
    """The styles of cells whose letters are struck out, also where the style that they are made from says so."""
    from defusedxml.ElementTree import iterparse

    struck: set[str] = set()
    parents: dict[str, str] = {}
    for part in [part for part in reversed(LOOKED_INTO) if part in packed.namelist()]:
        with packed.open(part) as stream:
            for _, element in iterparse(stream, ("end",), forbid_dtd=True):
                if _name(element.tag) == "style":
                    parents[_said(element, "name")] = _said(element, "parent-style-name")
                    if any(_said(each, "text-line-through-style", "none") != "none" for each in element):
                        struck.add(_said(element, "name"))
                elif _name(element.tag) == "body":
                    break
    return struck | {name for name, parent in parents.items() if parent in struck}


class _Reader:
    """Rows and cells as they come; what is repeated is written out only where it holds something."""

    def __init__(self, limits: Limits, struck: set[str]) -> None:
        self.limits, self.struck = limits, struck
        self.tables: list[Table] = []
        self.blank_rows = self.hidden_groups = self.column = 0
        self.hidden_tables: set[str] = set()

    def read(self, packed: zipfile.ZipFile) -> list[Table]:
        from defusedxml.ElementTree import iterparse

        depth = passed_over = 0
        with packed.open("content.xml") as stream:
            for event, element in iterparse(stream, ("start", "end"), forbid_dtd=True):
                kind = _name(element.tag)
                step = 1 if event == "start" else -1
                if kind in PASSED_OVER:
                    passed_over += step
                elif passed_over:
                    continue
                elif kind == "table":
                    depth += step
                    if depth == 2:
                        raise Unreadable("A cell of the workbook holds another table.", SAVE_AGAIN)
                    if event == "start":
                        self._begin(element)
                elif kind == "table-row-group" and _said(element, "display") == "false":
                    self.hidden_groups += step
                elif event == "end" and kind == "table-properties" and _said(element, "display") == "false":
                    self.hidden_tables.add("")
                elif event == "end" and kind == "style" and "" in self.hidden_tables:
                    self.hidden_tables = (self.hidden_tables - {""}) | {_said(element, "name")}
                elif event == "end" and kind == "table-column" and self.tables:
                    self._column(element)
                elif event == "end" and kind == "table-row" and self.tables:
                    self._row(element)
                    element.clear()
        return self.tables

    def _begin(self, element: Any) -> None:
        hidden = _said(element, "style-name") in self.hidden_tables
        name = _said(element, "name")
        self.tables.append(Table(name, [], notes=[f"Sheet {name!r} is hidden and was not taken."] if hidden else []))
        self.blank_rows = self.column = 0

    def _column(self, element: Any) -> None:
        many = min(int(_said(element, "number-columns-repeated", "1")), self.limits.columns + 1)
        if _said(element, "visibility", "visible") != "visible":
            self.tables[-1].hidden_columns.update(range(self.column, self.column + many))
        self.column += many

    def _row(self, element: Any) -> None:
        table, many = self.tables[-1], int(_said(element, "number-rows-repeated", "1"))
        if table.notes:
            return
        at = len(table.rows) + self.blank_rows
        cells = self._cells(element, at)
        if not cells:
            self.blank_rows += many
            return
        if len(cells) > self.limits.columns or (at + many) * len(cells) > self.limits.cells:
            raise too_large(table.sheet, at + many, len(cells), self.limits)
        table.rows += [[] for _ in range(self.blank_rows)] + [list(cells) for _ in range(many)]
        self.blank_rows = 0
        if self.hidden_groups or _said(element, "visibility", "visible") != "visible":
            table.hidden_rows.update(range(at, at + many))
        for spots in (table.faults, table.shown):
            for row, column in [spot for spot in spots if spot[0] == at]:
                spots.update({(row + more, column): spots[row, column] for more in range(1, many)})
        table.struck |= {(row + more, column) for row, column in table.struck if row == at for more in range(1, many)}

    def _cells(self, row: Any, at: int) -> list[Any]:
        """The cells of a row up to the last that holds something."""
        cells: list[Any] = []
        blanks = 0
        for element in row:
            if _name(element.tag) not in ("table-cell", "covered-table-cell"):
                continue
            many = int(_said(element, "number-columns-repeated", "1"))
            column = len(cells) + blanks
            value = self._value(element, at, column)
            if value == "" and (at, column) not in self.tables[-1].faults:
                blanks += many
            elif column + many > self.limits.columns:
                raise too_large(self.tables[-1].sheet, at + 1, column + many, self.limits)
            else:
                cells += [""] * blanks + [value] * many
                blanks = 0
        return cells

    def _value(self, element: Any, at: int, column: int) -> Any:
        """A cell's value; what else is to be known of the cell goes to the table."""
        table, kind = self.tables[-1], _said(element, "value-type")
        shown = "\n".join("".join(each.itertext()) for each in element if _name(each.tag) == "p")
        down, right = (int(_said(element, f"number-{way}-spanned", "1")) for way in ("rows", "columns"))
        if max(down, right) > 1:
            table.merged.append(((at, column), (at + down - 1, column + right - 1)))
        if re.match(r"(#|Err:)", shown) and (_said(element, "formula") or kind == "error"):
            table.faults[at, column] = f"the cell shows the error {shown}"
            return ""
        if _said(element, "formula") and not kind:
            table.faults[at, column] = "the formula was never calculated"
            return ""
        if shown and _said(element, "style-name") in self.struck:
            table.struck.add((at, column))
        return self._typed(element, kind, shown, (at, column))

    def _typed(self, element: Any, kind: str, shown: str, spot: tuple[int, int]) -> Any:
        if kind in ("float", "percentage", "currency"):
            after = SHOWN_AFTER.fullmatch(shown)
            words = "%" if kind == "percentage" else after[1].strip() if after else ""
            if words and (words != "%" or kind == "percentage"):
                self.tables[-1].shown[spot] = words
            return float(_said(element, "value"))
        if kind == "date":
            stated = _said(element, "date-value")
            return datetime.fromisoformat(stated) if "T" in stated else date.fromisoformat(stated)
        if kind == "time":
            match = DURATION.fullmatch(_said(element, "time-value"))
            return time(int(match[1]), int(match[2]), int(match[3])) if match and int(match[1]) < 24 else shown
        return _said(element, "boolean-value") == "true" if kind == "boolean" else shown
