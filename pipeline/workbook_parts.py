"""Looks into a workbook's XML for what a quick reader does not tell.

A formula that was never calculated and an error such as ``#DIV/0!`` both come out of a quick
reader as an empty cell; a person must hear of them.
"""

from __future__ import annotations

import posixpath
import re
import zipfile
from typing import Any

MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
LINK = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"


class Refused(Exception):
    """XML that declares a document type or entities."""


def suspicious_sheets(packed: zipfile.ZipFile) -> dict[str, str]:
    """Sheet name → part, for the sheets in which some cell may lack its value.

    Raises Refused when any XML part declares a document type.
    """
    found = {}
    for part in packed.namelist():
        if part.endswith((".xml", ".rels")):
            with packed.open(part) as stream:
                if re.search(rb"<!(DOCTYPE|ENTITY)", stream.read(4096), re.IGNORECASE):
                    raise Refused("The workbook's XML declares a document type, which no spreadsheet program writes.")
    for name, part in _sheet_parts(packed).items():
        if part in packed.NameToInfo and _mentions_formula_or_error(packed, part):
            found[name] = part
    return found


def _mentions_formula_or_error(packed: zipfile.ZipFile, part: str) -> bool:
    tail = b""
    with packed.open(part) as stream:
        while block := stream.read(1 << 20):
            window = tail + block
            if b"<f" in window or b't="e"' in window:
                return True
            tail = window[-8:]
    return False


def _sheet_parts(packed: zipfile.ZipFile) -> dict[str, str]:
    try:
        workbook = _parse(packed, "xl/workbook.xml")
        links = {link.get("Id"): link.get("Target", "") for link in _parse(packed, "xl/_rels/workbook.xml.rels")}
    except KeyError:
        return {}
    parts = {}
    for sheet in workbook.iter(MAIN + "sheet"):
        target = links.get(sheet.get(LINK), "")
        parts[sheet.get("name", "")] = target.lstrip("/") if target.startswith("/") else posixpath.join("xl", target)
    return parts


def _parse(packed: zipfile.ZipFile, part: str) -> Any:
    from defusedxml.ElementTree import fromstring

    return fromstring(packed.read(part))


def uses_1904_dates(packed: zipfile.ZipFile) -> bool:
    """Whether bare day numbers count from 1904 instead of 1900."""
    try:
        properties = next(_parse(packed, "xl/workbook.xml").iter(MAIN + "workbookPr"), None)
    except KeyError:
        return False
    return properties is not None and properties.get("date1904", "0") in ("1", "true")


def cells_without_value(packed: zipfile.ZipFile, part: str) -> dict[tuple[int, int], str]:
    """(row, column) from 0 → why the cell has no value."""
    from defusedxml.ElementTree import iterparse

    faults: dict[tuple[int, int], str] = {}
    with packed.open(part) as stream:
        for _, cell in iterparse(stream, forbid_dtd=True):
            if cell.tag != MAIN + "c":
                if cell.tag == MAIN + "row":
                    cell.clear()
                continue
            value = cell.find(MAIN + "v")
            empty = value is None or not (value.text or "").strip()
            if cell.get("t") == "e" and value is not None:
                faults[_position(cell.get("r", "A1"))] = f"the cell shows the error {value.text}"
            elif cell.find(MAIN + "f") is not None and empty and cell.get("t") != "str":
                faults[_position(cell.get("r", "A1"))] = "the formula was never calculated"
    return faults


def _position(reference: str) -> tuple[int, int]:
    letters, digits = re.match(r"([A-Z]+)(\d+)", reference).groups()  # type: ignore[union-attr]
    column = 0
    for letter in letters:
        column = column * 26 + ord(letter) - 64
    return int(digits) - 1, column - 1
