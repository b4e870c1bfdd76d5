"""CSV, XLSX, XLS and ODS → tables that remember their cell addresses.

What a file claims by its name and what its bytes are must agree. Limits are held before a
workbook is unpacked. Nothing in a file is run: formulas are not computed, links not followed,
XML with a document type is refused.
"""

from __future__ import annotations

import csv
import io
import re
import zipfile
from pathlib import PurePath
from typing import Any

from pipeline.tables.tables import BROKEN, Limits, Table, Unreadable, too_large

TEXT_ENDINGS = (".csv", ".txt", ".tsv")
OLD_ENDING, OPEN_ENDING = ".xls", ".ods"
WORKBOOK_ENDINGS = (".xlsx", ".xlsm")
DELIMITERS = (",", ";", "\t", "|")


def read_tables(name: str, data: bytes, limits: Limits) -> list[Table]:
    """The tables of a file.

    Raises Unreadable for a file that is empty, is not what its name claims, is protected or
    broken, or goes beyond the limits.
    """
    ending = PurePath(name).suffix.lower()
    content = what_it_is(data)
    if not data.strip(b"\x00 \t\r\n"):
        raise Unreadable("The file is empty.", "Save the sheet again and drop the new file.")
    if ending in WORKBOOK_ENDINGS:
        _expect_workbook(content, ending)
        return _read_workbook(data, limits)
    if ending == OLD_ENDING and content in ("old", "protected"):
        from pipeline.tables.old_workbooks import read_old_workbook

        return read_old_workbook(data, limits)
    if ending == OPEN_ENDING and content == "zip":
        from pipeline.tables.open_workbooks import read_open_workbook

        return read_open_workbook(data, limits)
    if ending in TEXT_ENDINGS:
        if content != "text":
            raise Unreadable(
                f"The name ends in {ending}, but the file holds {NAMES[content]}.",
                "Save it under the ending that fits, or export it as CSV.",
            )
        return [_read_text(data, ending, limits)]
    if ending in (OLD_ENDING, OPEN_ENDING):
        raise Unreadable(
            f"The name ends in {ending}, but the file holds {NAMES[content]}.",
            "Open it in the spreadsheet program, save it as XLSX, and drop that.",
        )
    raise Unreadable(
        f"Files that end in {ending or 'nothing'} are not taken.",
        "Save the sheet as XLSX or CSV.",
    )


NAMES = {
    "zip": "a workbook or another packed file",
    "protected": "a password-protected workbook",
    "old": "an old workbook (.xls)",
    "text": "plain text",
    "other": "something that is neither text nor a workbook",
}


def what_it_is(data: bytes) -> str:
    """``zip``, ``protected``, ``old``, ``text`` or ``other``, told from the first bytes."""
    if data[:4] in (b"PK\x03\x04", b"PK\x05\x06"):
        return "zip"
    if data[:8] == b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1":
        return "protected" if "EncryptedPackage".encode("utf-16-le") in data else "old"
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return "text"
    return "other" if b"\x00" in data or data[:4] == b"%PDF" else "text"


def _expect_workbook(content: str, ending: str) -> None:
    if content == "zip":
        return
    remedies = {
        "protected": "Remove the password in the spreadsheet program, save, and drop it again.",
        "old": "Save it as XLSX in the spreadsheet program and drop that, or rename it to .xls.",
        "text": "Rename it to .csv, or save it as a workbook.",
        "other": "Save the sheet again as XLSX or CSV.",
    }
    raise Unreadable(f"The name ends in {ending}, but the file holds {NAMES[content]}.", remedies[content])


# --- workbooks ---------------------------------------------------------------------------------


def _read_workbook(data: bytes, limits: Limits) -> list[Table]:
    import python_calamine as calamine

    parts = _guard_parts(data, limits)
    try:
        with calamine.CalamineWorkbook.from_filelike(io.BytesIO(data)) as book:
            metadata = book.sheets_metadata
            return [_read_sheet(book, meta, data, parts, limits) for meta in metadata]
    except (calamine.CalamineError, *BROKEN) as error:
        raise _unopened(str(error)) from error
    except BaseException as error:
        if type(error).__name__ == "PanicException":  # how the reader's own language fails; no Exception
            raise _unopened(str(error)) from error
        raise


def _unopened(why: str) -> Unreadable:
    return Unreadable(
        f"The workbook cannot be opened: {why.rstrip('.')}.",
        "Open it in the spreadsheet program, save it again as XLSX, and drop that.",
    )


def _guard_parts(data: bytes, limits: Limits) -> dict[str, str]:
    """Hold the packed parts against the limits; gives sheet name → part for sheets to look into."""
    from pipeline.tables.workbook_parts import Refused, TooLarge, suspicious_sheets

    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            size = sum(info.file_size for info in packed.infolist())
            if size > limits.unpacked_bytes:
                raise Unreadable(
                    f"The workbook unpacks to {size / 1e6:.0f} MB; "
                    f"at most {limits.unpacked_bytes / 1e6:.0f} MB are taken.",
                    "Split it, delete unused sheets, or raise unpacked_megabytes under [limits] in site.toml.",
                )
            if "[Content_Types].xml" not in packed.namelist():
                raise Unreadable("The file is a packed archive, not a workbook.", "Unpack it and drop the sheets.")
            return suspicious_sheets(packed, limits.cells, limits.columns)
    except TooLarge as error:
        raise too_large(error.sheet, error.rows, error.columns, limits) from error
    except Refused as error:
        raise Unreadable(str(error), "Save the sheet again as XLSX and drop that.") from error
    except BROKEN as error:
        raise Unreadable(
            f"The workbook is damaged or was not copied whole: {error}.",
            "Copy it again; if it comes back once more, save it again in the spreadsheet program.",
        ) from error


def _read_sheet(book: Any, meta: Any, data: bytes, parts: dict[str, str], limits: Limits) -> Table:
    import python_calamine as calamine

    from pipeline.tables.hidden_parts import hides, out_of_sight, struck_styles, struck_texts
    from pipeline.tables.workbook_parts import cells_without_value, sheet_parts, sheets_with_shown_words, shown_words

    if meta.visible != calamine.SheetVisibleEnum.Visible:
        return Table(meta.name, [], notes=[f"Sheet {meta.name!r} is hidden and was not taken."])
    if meta.typ != calamine.SheetTypeEnum.WorkSheet:
        return Table(meta.name, [])
    sheet = book.get_sheet_by_name(meta.name)
    last_row, last_column = sheet.end or (-1, -1)
    if (last_row + 1) * (last_column + 1) > limits.cells or last_column + 1 > limits.columns:
        raise too_large(meta.name, last_row + 1, last_column + 1, limits)
    table = Table(meta.name, sheet.to_python(skip_empty_area=False), merged=sheet.merged_cell_ranges or [])
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        if meta.name in parts:
            table.faults = cells_without_value(packed, parts[meta.name])
        formatted = sheets_with_shown_words(packed)
        if meta.name in formatted:
            table.shown = shown_words(packed, *formatted[meta.name])
        part, styles, texts = sheet_parts(packed).get(meta.name, ""), struck_styles(packed), struck_texts(packed)
        if part in packed.NameToInfo and (styles or texts or hides(packed, part)):
            table.hidden_rows, table.hidden_columns, table.struck = out_of_sight(packed, part, styles, texts)
    return table


# --- text --------------------------------------------------------------------------------------


def _read_text(data: bytes, ending: str, limits: Limits) -> Table:
    text, note = _decode(data)
    notes = [note] if note else []
    delimiter = "\t" if ending == ".tsv" else _delimiter(text)
    try:
        rows: list[list[Any]] = list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True))
    except csv.Error:
        try:
            rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter))
        except csv.Error as error:
            raise Unreadable(
                f"The text cannot be read as a table: {error}.", "Export the sheet again as CSV."
            ) from error
        notes.append("A quotation mark stands where none belongs; the text was read as it stands.")
    _refuse_swallowed_rows(rows, delimiter, sure=len(notes) == bool(note))
    width = max(map(len, rows), default=0)
    if width > limits.columns or width * len(rows) > limits.cells:
        raise Unreadable(
            f"The table has {len(rows)} rows of up to {width} columns; "
            f"at most {limits.cells} cells and {limits.columns} columns are taken.",
            "Split the file, or raise the numbers under [limits] in site.toml.",
        )
    return Table("", rows, is_text=True, delimiter=delimiter, notes=notes)


def _refuse_swallowed_rows(rows: list[list[Any]], delimiter: str, sure: bool) -> None:
    """Refuse text in which a quotation mark that is never closed has made one cell of several rows.

    ``sure``: every quotation mark is in its place; then only whole rows inside a cell speak against it.
    """
    for number, row in enumerate(rows, start=1):
        for cell in row:
            if "\n" in cell or "\r" in cell:
                lines = re.split(r"\r\n|\n|\r", cell)
                inside = lines[1:-1] if sure else lines[1:]
                marks = [line.count(delimiter) for line in inside]
                if any(count == len(row) - 1 >= 3 if sure else count > 0 for count in marks):
                    shown = ", ".join(row).splitlines()[0][:60]
                    raise Unreadable(
                        f"A quotation mark in row {number} ({shown!r} …) swallows the rows under it.",
                        "Close that quotation mark or delete it, and drop the file again.",
                    )


def _decode(data: bytes) -> tuple[str, str]:
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        encodings = [("utf-16", "")]
    else:
        assumed = "The text is not UTF-8 and was read as Windows-1252; look at accented letters and degree signs."
        encodings = [("utf-8-sig", ""), ("cp1252", assumed)]
    for encoding, note in encodings:
        try:
            return data.decode(encoding), note
        except UnicodeDecodeError:
            continue
    raise Unreadable("The letters of the text are in no known encoding.", "Save the file as CSV in UTF-8.")


def _delimiter(text: str) -> str:
    """The sign that cuts most lines into the same number of cells, at least two."""
    sample = [line for line in re.split(r"\r\n|\n|\r", text[:200_000]) if line.strip()][:60]
    best, best_score, best_cut = ",", (0, 0), 0
    for delimiter in DELIMITERS:
        try:
            widths = [len(row) for row in csv.reader(sample, delimiter=delimiter)]
        except csv.Error:
            continue  # a cell longer than csv takes; reading the table says so
        wide = [width for width in widths if width > 1]
        if not wide:
            continue
        usual = max(set(wide), key=lambda width: (wide.count(width), width))
        score = (wide.count(usual), usual)
        # a decimal comma cuts as evenly as a delimiter, but not the header; semicolons within the cells of one
        # column do not cut the header either
        even, wider = score[0] >= best_score[0] * 0.8, usual > best_score[1]
        meant = len(wide) > best_cut or (len(wide) == best_cut and (even or wider)) or (even and wider)
        if score > best_score or (delimiter in ";\t" and best == "," and meant):
            best, best_score, best_cut = delimiter, score, len(wide)
    return best
