"""What the tests of bad input share: small hostile files, judged as a run would, and whole runs."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Callable, Mapping
from datetime import UTC, date, datetime
from functools import cache
from pathlib import Path
from typing import Any

from openpyxl import Workbook

from pipeline.contract.findings import Finding
from pipeline.inbox.judging import judge
from pipeline.runs.run import Result, run
from pipeline.sheets.judged import Judged
from pipeline.site.house import House, build_house
from tests.support import write_site

NOW = datetime(2026, 11, 25, 12, tzinfo=UTC)
DAY = date(2026, 11, 25)
HEADER = ["Cask", "Date", "Observed Proof", "Temp (°F)", "Volume (gal)"]
MARCH = datetime(2026, 3, 2)
ROWS = [["C-1", MARCH, 120.0, 68.0, 50.0], ["C-2", MARCH, 121.0, 68.0, 51.0]]
SHEET = "xl/worksheets/sheet1.xml"


@cache
def house(site: str = "") -> House:
    """The house with all built-in plugins under the given site.toml."""
    return build_house(site, Path("nowhere"))


def judged(name: str, data: bytes | str, site: str = "") -> Judged:
    """A file as a run would judge it, with the one promise that always holds: it never raises."""
    known = house(site)
    made = judge(name, data.encode() if isinstance(data, str) else data, known.site, known, DAY)
    assert "could not be read" not in made.reason, made.reason
    return made


def csv(*rows: str, header: str = "Cask,Date,Observed Proof,Temp (°F)") -> str:
    return "\n".join([header, *rows]) + "\n"


def said(made: Judged) -> list[Finding]:
    return [*made.findings, *(finding for rows in made.sheets for finding in rows.findings)]


def codes(made: Judged) -> list[str]:
    return sorted(finding.code for finding in said(made))


def column(made: Judged, name: str) -> list[Any]:
    """A frame column of the usable rows of all sheets."""
    return [value for rows in made.sheets for value in rows.values.get(name, [None] * len(rows.rows))]


def xlsx(rows: list[list[Any]], edit: Callable[[Any], None] | None = None, **sheets: list[list[Any]]) -> bytes:
    """A workbook of one sheet, or more by name; ``edit`` may change it before it is saved."""
    book = Workbook()
    book.worksheets[0].title = "Lab"
    for row in rows:
        book.worksheets[0].append(row)
    for name, cells in sheets.items():
        made = book.create_sheet(name)
        for row in cells:
            made.append(row)
    if edit is not None:
        edit(book)
    raw = io.BytesIO()
    book.save(raw)
    return raw.getvalue()


def readings(edit: Callable[[Any], None] | None = None) -> bytes:
    return xlsx([HEADER, *ROWS], edit)


def patched(data: bytes, part: str, change: Callable[[bytes], bytes]) -> bytes:
    """The same workbook with one part of its XML changed."""
    made = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as source, zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as target:
        for info in source.infolist():
            held = source.read(info)
            target.writestr(info.filename, change(held) if info.filename.endswith(part) else held)
    return made.getvalue()


def swap(old: bytes, new: bytes) -> Callable[[bytes], bytes]:
    """A change that replaces bytes which must be there."""

    def change(held: bytes) -> bytes:
        assert old in held
        return held.replace(old, new)

    return change


def swap_all(pattern: bytes, new: bytes) -> Callable[[bytes], bytes]:
    return lambda held: re.sub(pattern, new, held)


def run_in(folder: Path, files: Mapping[str, bytes | str], site: str = 'timezone = "UTC"\n') -> Result:
    """Drop files into folder/in and run once; outputs lie in folder/out."""
    inbox = folder / "in"
    inbox.mkdir(exist_ok=True)
    write_site(inbox, site)
    for name, data in files.items():
        (inbox / name).write_bytes(data.encode() if isinstance(data, str) else data)
    return run(inbox, folder / "out", now=NOW)


def found(result: Result) -> set[str]:
    return {finding.code for finding in result.worked.findings}
