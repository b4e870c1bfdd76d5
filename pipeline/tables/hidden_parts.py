"""Rows and columns that a workbook's XML hides, and cells that it strikes out, which a quick reader does not tell."""

from __future__ import annotations

import re
import zipfile
from typing import Any

# each begins with fixed letters, which makes the search quick
HIDING = [
    re.compile(pattern)
    for pattern in (
        rb"""hidden=["'](?:1|true)""",
        rb"""zeroHeight=["'](?:1|true)""",
        rb"""ht=["']0(?:\.0*)?["']""",
        rb"""width=["']0(?:\.0*)?["']""",
        rb"strike\b",  # a text that stands in the sheet itself
    )
]
OVERLAP = 32


def hides(packed: zipfile.ZipFile, part: str) -> bool:
    """Whether a sheet's XML may hide rows or columns, or strike letters out."""
    tail = b""
    with packed.open(part) as stream:
        while block := stream.read(1 << 18):
            window = tail + block
            if any(pattern.search(window) for pattern in HIDING):
                return True
            tail = window[-OVERLAP:]
    return False


def out_of_sight(
    packed: zipfile.ZipFile, part: str, styles: set[str], texts: set[str]
) -> tuple[set[int], set[int], set[tuple[int, int]]]:
    """Hidden rows, hidden columns and struck-out cells (row, column) of a sheet, all from 0.

    ``styles``: cell styles whose letters are struck out; ``texts``: shared texts of which every letter is.
    """
    from defusedxml.ElementTree import iterparse

    rows: set[int] = set()
    columns: set[int] = set()
    struck: set[tuple[int, int]] = set()
    row = column = -1
    hidden_unless_said = False
    with packed.open(part) as stream:
        for event, element in iterparse(stream, ("start", "end"), forbid_dtd=True):
            kind = element.tag.rpartition("}")[2]
            if event == "start" and kind == "sheetFormatPr":
                hidden_unless_said = _on(element.get("zeroHeight"))
            elif event == "start" and kind == "col" and (_on(element.get("hidden")) or _none(element.get("width"))):
                last = min(int(element.get("max") or 0), 1 << 14)
                columns.update(range(int(element.get("min") or 1) - 1, last))
            elif event == "start" and kind == "row":
                row, column = int(element.get("r") or row + 2) - 1, -1
                high = element.get("ht")
                if _on(element.get("hidden")) or _none(high) or (hidden_unless_said and high is None):
                    rows.add(row)
            elif kind == "row":
                element.clear()
            elif event == "end" and kind == "c":
                stated = re.match(r"[A-Za-z]+", element.get("r", ""))
                column = _column(stated[0]) if stated else column + 1
                if element.get("s", "") in styles or _text_struck(element, texts):
                    struck.add((row, column))
    return rows, columns, struck


def _text_struck(cell: Any, texts: set[str]) -> bool:
    if cell.get("t") == "inlineStr":
        text = cell.find("{*}is")
        return text is not None and _all_struck(text)
    return cell.get("t") == "s" and _value(cell) in texts


def _all_struck(text: Any) -> bool:
    """Whether every run of letters of a text is struck out."""
    runs = [run for run in text if _is(run, "r")]
    return bool(runs) and all(any(_is(part, "rPr") and _struck(part) for part in run) for run in runs)


def _on(word: str | None) -> bool:
    return word in ("1", "true")


def _none(size: str | None) -> bool:
    return size is not None and re.fullmatch(r"0(\.0*)?", size) is not None


def _column(letters: str) -> int:
    number = 0
    for letter in letters.upper():
        number = number * 26 + ord(letter) - 64
    return number - 1


def _value(cell: Any) -> str:
    value = cell.find("{*}v")
    return (value.text or "").strip() if value is not None else ""


def struck_styles(packed: zipfile.ZipFile) -> set[str]:
    """The cell styles (as cells name them) whose font is struck out."""
    from defusedxml.ElementTree import fromstring

    data = _part(packed, "xl/styles.xml")
    if b"strike" not in data:
        return set()
    root = fromstring(data)
    fonts = next((entry for entry in root.iter() if _is(entry, "fonts")), ())
    lined = {str(place) for place, font in enumerate(fonts) if _struck(font)}
    formats = next((entry for entry in root.iter() if _is(entry, "cellXfs")), ())
    return {str(place) for place, entry in enumerate(formats) if entry.get("fontId") in lined}


def struck_texts(packed: zipfile.ZipFile) -> set[str]:
    """The shared texts (as cells name them) of which every letter is struck out, whatever the cell's style is."""
    from defusedxml.ElementTree import fromstring

    data = _part(packed, "xl/sharedStrings.xml")
    if b"strike" not in data:
        return set()
    texts = [entry for entry in fromstring(data) if _is(entry, "si")]
    return {str(place) for place, text in enumerate(texts) if _all_struck(text)}


def _struck(font: Any) -> bool:
    return any(_is(entry, "strike") and entry.get("val", "1") in ("1", "true") for entry in font)


def _is(element: Any, name: str) -> bool:
    return str(element.tag).rpartition("}")[2] == name


def _part(packed: zipfile.ZipFile, name: str) -> bytes:
    try:
        return packed.read(name)
    except KeyError:
        return b""
