"""Looks into a workbook's XML for what a quick reader does not tell.

A formula that was never calculated and an error such as ``#DIV/0!`` both come out of a quick
reader as an empty cell; a person must hear of them.
"""

from __future__ import annotations

import posixpath
import re
import zipfile
from collections.abc import Iterator
from typing import Any

from pipeline.common.libraries import np

# a reference that reaches beyond column Z or row 99,999; fixed letters first make the search quick
FAR = re.compile(rb'r="(?:([A-Za-z]{2,})(\d+)|[A-Za-z]?(\d{6,}))')
UNUSUAL = re.compile(rb'<c(?! r="|[a-z])')  # a cell that does not begin with its reference, as nearly all do
ANY_OF_BOTH = re.compile(rb'<c(?! r="[A-Za-z]\d{1,5}"|[a-z])')  # a cell that is far off or written in an unusual way
LONGEST_TAG = 1 << 20
NEAR_ROWS, NEAR_COLUMNS = 99_999, 26


class Refused(Exception):
    """XML that declares a document type or entities, or that no reader here can look into."""


class TooLarge(Exception):
    """A sheet whose cells reach further than is taken."""

    def __init__(self, sheet: str, rows: int, columns: int) -> None:
        super().__init__(sheet)
        self.sheet, self.rows, self.columns = sheet, rows, columns


def suspicious_sheets(packed: zipfile.ZipFile, most_cells: int, most_columns: int) -> dict[str, str]:
    """Sheet name → part, for the sheets in which some cell may lack its value.

    Raises Refused when any XML part declares a document type, and TooLarge for a sheet that reaches
    too far: a quick reader would set aside memory for every cell up to a stray one.
    """
    found = {}
    for part in packed.namelist():
        if part.endswith((".xml", ".rels")):
            with packed.open(part) as stream:
                head = stream.read(4096)
                if re.search(rb"<!(DOCTYPE|ENTITY)", head, re.IGNORECASE):
                    raise Refused("The workbook's XML declares a document type, which no spreadsheet program writes.")
                if head[:2] in (b"\xff\xfe", b"\xfe\xff"):
                    raise Refused("The workbook's XML is not in UTF-8, which every spreadsheet program writes.")
    for name, part in sheet_parts(packed).items():
        if part in packed.NameToInfo:
            lacking, odd, rows, columns = _skim(packed, part)
            if odd or rows * columns > most_cells or columns > most_columns:
                rows, columns = _extent(packed, part)
                if rows * columns > most_cells or columns > most_columns:
                    raise TooLarge(name, rows, columns)
            if lacking or odd:
                found[name] = part
    return found


def _skim(packed: zipfile.ZipFile, part: str) -> tuple[bool, bool, int, int]:
    """Whether formulas or errors occur, whether cells are written in an unusual way that only an exact look can
    tell, and how many rows and columns there are at most."""
    tail, lacking, rows, columns = b"", False, NEAR_ROWS, NEAR_COLUMNS
    with packed.open(part) as stream:
        while block := stream.read(1 << 18):
            window = tail + block
            whole = window.rfind(b"<")
            tail, first, window = window[whole:], not tail, window[:whole]
            prefixed = first and b"<worksheet" not in window
            looked_for = ANY_OF_BOTH.search(window)
            if prefixed or (looked_for and UNUSUAL.search(window)) or len(tail) > LONGEST_TAG:
                return True, True, rows, columns
            lacking = lacking or _holds_pair(window, b"<f") or (_holds_pair(window, b'"e') and b't="e"' in window)
            for letters, row, lone_row in FAR.findall(window) if looked_for else ():
                columns = max(columns, _column(letters.decode()))
                rows = max(rows, int(row or lone_row))
    return lacking, False, rows, columns


def _holds_pair(window: bytes, pair: bytes) -> bool:
    """Whether two bytes stand side by side; quicker than ``in``, which stops at every ``<`` of a sheet."""
    numbers = (np.frombuffer(window, "<u2", (len(window) - at) // 2, at) for at in (0, 1) if len(window) > at + 1)
    return any(bool((several == int.from_bytes(pair, "little")).any()) for several in numbers)


def _extent(packed: zipfile.ZipFile, part: str) -> tuple[int, int]:
    """Rows and columns up to the last cells that hold something; a formatted blank holds nothing."""
    rows = columns = 0
    for row, column, cell in _cells(packed, part):
        if len(cell):
            rows, columns = max(rows, row + 1), max(columns, column + 1)
    return rows, columns


def sheet_parts(packed: zipfile.ZipFile) -> dict[str, str]:
    """Sheet name → its part."""
    try:
        workbook = _parse(packed, "xl/workbook.xml")
        links = {link.get("Id"): link.get("Target", "") for link in _parse(packed, "xl/_rels/workbook.xml.rels")}
    except KeyError:
        return {}
    parts = {}
    for sheet in _named(workbook, "sheet"):
        link = next((value for name, value in sheet.attrib.items() if name.endswith("}id")), "")
        target = links.get(link, "")
        parts[sheet.get("name", "")] = target.lstrip("/") if target.startswith("/") else posixpath.join("xl", target)
    return parts


def _parse(packed: zipfile.ZipFile, part: str) -> Any:
    from defusedxml.ElementTree import fromstring

    return fromstring(packed.read(part))


def _named(root: Any, name: str) -> Iterator[Any]:
    """Elements of a name in whichever of the format's two namespaces."""
    return (element for element in root.iter() if str(element.tag).rpartition("}")[2] == name)


def uses_1904_dates(packed: zipfile.ZipFile) -> bool:
    """Whether bare day numbers count from 1904 instead of 1900."""
    try:
        properties = next(_named(_parse(packed, "xl/workbook.xml"), "workbookPr"), None)
    except KeyError:
        return False
    return properties is not None and properties.get("date1904", "0") in ("1", "true")


def cells_without_value(packed: zipfile.ZipFile, part: str) -> dict[tuple[int, int], str]:
    """(row, column) from 0 → why the cell has no value."""
    faults: dict[tuple[int, int], str] = {}
    for row, column, cell in _cells(packed, part):
        value = cell.find("{*}v")
        empty = value is None or not (value.text or "").strip()
        if cell.get("t") == "e" and value is not None:
            faults[row, column] = f"the cell shows the error {value.text}"
        elif cell.find("{*}f") is not None and empty and cell.get("t") != "str":
            faults[row, column] = "the formula was never calculated"
    return faults


def sheets_with_shown_words(packed: zipfile.ZipFile) -> dict[str, tuple[str, dict[str, str]]]:
    """Sheet name → (part, style → what its number format shows after the number: ``%``, ``°C``).

    A cell that shows 62.3 % holds 0.623, and one that shows 22 °C may hold a bare 22.
    """
    try:
        styles = _parse(packed, "xl/styles.xml")
    except KeyError:
        return {}
    codes = {entry.get("numFmtId"): entry.get("formatCode", "") for entry in _named(styles, "numFmt")}
    codes.update({"9": "0%", "10": "0.00%"})
    formats = next(_named(styles, "cellXfs"), ())
    shown = {str(index): shown_after(codes.get(entry.get("numFmtId"), "")) for index, entry in enumerate(formats)}
    shown = {style: words for style, words in shown.items() if words}
    return {name: (part, shown) for name, part in sheet_parts(packed).items()} if shown else {}


def shown_after(code: str) -> str:
    """What a number format shows after the number: ``0.0" °C"`` → °C; a percent sign only where it multiplies."""
    positive = re.sub(r"\[[^\]]*\]", "", code).split(";")[0]
    if "%" in re.sub(r'"[^"]*"|\\.|_.', "", positive):
        return "%"
    ending = re.search(r'(?:[0#?.,]|General)((?:"[^"]*"|\\.|_.|[^0#?."])*)$', positive)
    words = re.sub(r'_.|["\\*]', "", ending[1]).strip() if ending else ""
    return "" if words == "%" else words


def shown_words(packed: zipfile.ZipFile, part: str, styles: dict[str, str]) -> dict[tuple[int, int], str]:
    """(row, column) from 0 → what is shown after the number in the cell."""
    with packed.open(part) as stream:
        text = stream.read()
    if not any(f's="{style}"'.encode() in text or f"s='{style}'".encode() in text for style in styles):
        return {}
    return {
        (row, column): styles[cell.get("s", "")]
        for row, column, cell in _cells(packed, part)
        if cell.get("s", "") in styles and cell.find("{*}v") is not None and cell.get("t", "n") == "n"
    }


def _cells(packed: zipfile.ZipFile, part: str) -> Iterator[tuple[int, int, Any]]:
    """Each cell with its row and column from 0; one that states no reference follows the one before."""
    from defusedxml.ElementTree import iterparse

    row, column = -1, -1
    with packed.open(part) as stream:
        for event, element in iterparse(stream, ("start", "end"), forbid_dtd=True):
            kind = element.tag.rpartition("}")[2]
            if kind == "row" and event == "start":
                row, column = int(element.get("r") or row + 2) - 1, -1
            elif kind == "row":
                element.clear()
            elif kind == "c" and event == "end":
                stated = re.match(r"([A-Za-z]+)(\d+)", element.get("r", ""))
                row, column = (int(stated[2]) - 1, _column(stated[1]) - 1) if stated else (row, column + 1)
                yield row, column, element


def _column(letters: str) -> int:
    """A column's number from 1: A is 1, AA is 27; letters that no sheet has count as beyond all."""
    number = 0
    for letter in letters.upper()[:9]:
        number = number * 26 + ord(letter) - 64
    return number
