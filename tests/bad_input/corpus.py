"""Files that do harm by their size or their form, made at full size, and what shall become of each.

Run: python -m tests.bad_input.corpus. Prints the fate of each, the time and the peak memory of the
program and its reader process together.
"""

from __future__ import annotations

import io
import os
import subprocess
import sys
import tempfile
import time
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path

import openpyxl

from tests.support import write_site

HEAD = "Cask No.,Date,Observed Proof,Temp (°F)\n"
ROW = "C-{:04d},2026-03-02 09:{:02d},120.5,68\n"
SHEET = "xl/worksheets/sheet1.xml"


def workbook(edit: object = None) -> bytes:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["Cask No.", "Date", "Observed Proof", "Temp (°F)"])
    sheet.append(["C-0001", "2026-03-02", 120.5, 68])
    if callable(edit):
        edit(book, sheet)
    made = io.BytesIO()
    book.save(made)
    return made.getvalue()


def with_part(data: bytes, name: str, chunks: Iterator[bytes]) -> bytes:
    """The workbook with one part written anew, piece by piece."""
    made = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as source, zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as target:
        for info in source.infolist():
            if info.filename != name:
                target.writestr(info.filename, source.read(info))
        info = zipfile.ZipInfo(name)
        info.compress_type = zipfile.ZIP_DEFLATED
        with target.open(info, "w") as part:
            for chunk in chunks:
                part.write(chunk)
    return made.getvalue()


def bomb() -> bytes:
    """1.5 GB of spaces in the sheet, 1.5 MB packed."""

    def chunks() -> Iterator[bytes]:
        yield b"<worksheet xmlns='http://schemas.openxmlformats.org/spreadsheetml/2006/main'><sheetData>"
        for _ in range(1500):
            yield b" " * 1_000_000
        yield b"</sheetData></worksheet>"

    return with_part(workbook(), SHEET, chunks())


def lying_bomb() -> bytes:
    """The same of 300 MB, with a directory that says it holds 1,000 bytes."""
    data = bytearray(with_part(workbook(), "xl/sharedStrings.xml", iter([b" " * 1_000_000] * 300)))
    size = (300_000_000).to_bytes(4, "little")
    at = data.rfind(size)
    while at >= 0:
        data[at : at + 4] = (1000).to_bytes(4, "little")
        at = data.rfind(size, 0, at)
    return bytes(data)


def empty_rows() -> bytes:
    """A million formatted rows without a value under two with."""

    def chunks() -> Iterator[bytes]:
        yield b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
        yield b'<row r="1">' + b"".join(
            f'<c r="{cell}1" t="inlineStr"><is><t>{text}</t></is></c>'.encode()
            for cell, text in zip("ABCD", HEAD.strip().split(","), strict=True)
        )
        yield b'</row><row r="2"><c r="A2" t="inlineStr"><is><t>C-1</t></is></c><c r="B2" t="inlineStr"><is>'
        yield b'<t>2026-03-02</t></is></c><c r="C2"><v>120.5</v></c><c r="D2"><v>68</v></c></row>'
        for first in range(3, 1_000_003, 1000):
            yield b"".join(
                b'<row r="%d" s="1" customFormat="1"><c r="A%d" s="1"/></row>' % (row, row)
                for row in range(first, first + 1000)
            )
        yield b"</sheetData></worksheet>"

    return with_part(workbook(), SHEET, chunks())


def entities() -> bytes:
    text = b'<!DOCTYPE w [<!ENTITY a SYSTEM "file:///etc/passwd">]><worksheet><sheetData>&a;</sheetData></worksheet>'
    return with_part(workbook(), SHEET, iter([text]))


def rows(count: int) -> str:
    return HEAD + "".join(ROW.format(n % 9999, n % 60) for n in range(count))


WIDE = ",".join(f"c{n}" for n in range(20_000)) + "\n"
SMALL: dict[str, tuple[Callable[[], bytes], str]] = {
    "wide.csv": (lambda: (WIDE + WIDE).encode(), "returned"),
    "wide.xlsx": (lambda: workbook(lambda book, sheet: sheet.append(["x"] * 16_000)), "returned"),
    "far_cell.xlsx": (lambda: workbook(lambda book, sheet: sheet.cell(1_048_576, 16_384, "x")), "returned"),
    "entities.xlsx": (entities, "returned"),
    "quotes.csv": (lambda: (HEAD + '"' * 3_000_000).encode(), "returned"),
    "utf16.csv": (lambda: rows(5).encode("utf-16"), "taken"),
    "cp1252.csv": (lambda: rows(5).encode("cp1252"), "taken"),
    "control.csv": (lambda: rows(5).replace("C-0001", "C-\x01\x02").encode(), "taken"),
}
LARGE: dict[str, tuple[Callable[[], bytes], str]] = {
    "bomb.xlsx": (bomb, "returned"),
    "lying_bomb.xlsx": (lying_bomb, "returned"),
    "zeros.csv": (lambda: b"\0" * 200_000_000, "returned"),
    "zeros.xlsx": (lambda: b"\0" * 200_000_000, "returned"),
    "empty_rows.xlsx": (empty_rows, "taken"),
    "one_line.csv": (lambda: b"x" * 90_000_000, "returned"),
    "too_many_rows.csv": (lambda: rows(1_500_000).encode(), "returned"),
}
"""Name → what makes its bytes, and the fate that they shall have; the large ones take long to make and to read."""


def resident(group: int) -> int:
    """Bytes that all processes of a group hold in memory."""
    total = 0
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                stat = (entry / "stat").read_text("utf-8", "replace").rsplit(")", 1)[1].split()
                if int(stat[2]) == group:
                    total += int(stat[21]) * os.sysconf("SC_PAGE_SIZE")
            except (OSError, IndexError, ValueError):
                continue
    return total


def take(folder: Path, files: dict[str, bytes]) -> tuple[str, float, int]:
    """Run vatting on the files; gives what it printed, the seconds and the peak bytes in memory."""
    inbox = folder / "in"
    inbox.mkdir(parents=True)
    write_site(inbox, 'timezone = "UTC"\ndate_order = "iso"\n')
    for name, data in files.items():
        (inbox / name).write_bytes(data)
        os.utime(inbox / name, (1_700_000_000, 1_700_000_000))
    start, peak = time.monotonic(), 0
    with open(folder / "told.txt", "wb") as told:
        process = subprocess.Popen(
            [sys.executable, "-m", "pipeline", "run", str(inbox), "--out", str(folder / "out")],
            stdout=told,
            stderr=told,
            start_new_session=True,
        )
        while process.poll() is None:
            peak = max(peak, resident(process.pid))
            time.sleep(0.02)
    return (folder / "told.txt").read_text("utf-8"), time.monotonic() - start, peak


def main() -> None:
    for name, (make, fate) in {**SMALL, **LARGE}.items():
        data = make()
        with tempfile.TemporaryDirectory() as folder:
            told, seconds, peak = take(Path(folder), {name: data})
            why = Path(folder) / "out" / "returned" / f"{name}.why.txt"
            print(f"{name} ({len(data) / 1e6:.1f} MB, shall be {fate}): {seconds:.1f} s, {peak / 1e6:.0f} MB")
            print("   ", " ".join((why.read_text("utf-8") if why.exists() else told).split())[:300])


if __name__ == "__main__":
    main()
