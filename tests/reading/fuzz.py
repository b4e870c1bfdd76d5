"""Many files with random damage, read and judged: none may raise, lose a row in silence or hold what is no figure.

``python -m tests.reading.fuzz 200000 --seed 1`` tries so many on all cores and prints what became of them; what was
seen stands in tests/README.md.
"""

from __future__ import annotations

import argparse
import io
import logging
import math
import random
import zipfile
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from functools import cache, partial
from pathlib import Path

from openpyxl import Workbook

from pipeline.inbox.judging import judge
from pipeline.sheets.judged import Judged
from pipeline.sheets.rows import SheetRows
from pipeline.tables.readers import Limits, read_tables
from tests.bad_input.kit import DAY, house
from tests.reading import corpus

EXAMPLES = Path("inbox_example")
LINES = 6  # of each seed: what a reader does wrong it does in few rows, and many more files are tried
Cells = list[list[object]]

CELLS: tuple[object, ...] = (
    *("", " ", "-", "n/a", "?", "0", "-1", "1e309", "NaN", "inf", "1,234.5", "1.234,5", "1 234,5", "1'234", "12 1/4"),
    *("1' 0 1/4\"", "62,4 %", "0.624", "124.6 pf", "68 °F", "20C", "١٢٤", "124.6", "=1+1", "@x", "#REF!", "#VALUE!"),
    *("2026-02-30", "30.2.2026", "3/4/26", "46083", "5.3.2026 14:30 Uhr", "2026-03-29 02:30", "1899-12-31", "mañana"),
    *("Total", "invalid", "check sample", "water", "yes", "TRUE", "\x00", "\u202eabc", "a" * 40_000, "C-0101\nC-0102"),
    *("Cask", "Date", "Observed Proof", "Temp (°F)", "Temp (°C)", "Volume (gal)", "Volume (L)", "ABV", "Fass", "Datum"),
    *("Notes", "Taster", "Batch", "Vessel", "Instrument", "Code", "Corrected proof", "ABV @ 20 °C", "Smoke", "樽番号"),
)


@cache
def seeds() -> tuple[tuple[Cells, ...], ...]:
    """Tables to damage: one file each of what the example inbox holds and of the corpus of lab sheets, cut short."""
    named = [(path.name, path.read_bytes()) for path in sorted(EXAMPLES.glob("*")) if path.suffix in (".csv", ".xlsx")]
    named += [(file.name, file.data) for file in corpus.files(corpus.LAYOUTS, everything=False)]
    read = ([table.rows[:LINES] for table in read_tables(name, data, Limits())][:2] for name, data in named)
    return tuple(tuple([list(row) for row in rows] for rows in tables) for tables in read)


def damaged(rng: random.Random) -> tuple[str, bytes]:
    """A file of one seed after one to four blows on its cells or lines, and in every fourth one on its bytes."""
    tables = [[list(row) for row in table] for table in rng.choice(seeds())]
    for _ in range(rng.randint(1, 4)):
        rng.choice(BLOWS)(rng.choice(tables), rng)
    workbook = rng.random() < 0.15
    data = _workbook(tables) if workbook else _text(rng.choice(tables), rng)
    if rng.random() < 0.25:
        data = _bytes_struck(data, rng)
    return ("x.xlsx" if workbook else rng.choice(("x.csv", "x.txt", "x.tsv"))), data


def _other_cell(table: Cells, rng: random.Random) -> None:
    row = rng.choice(table)
    if row:
        row[rng.randrange(len(row))] = rng.choice(CELLS)


def _two_cells_exchanged(table: Cells, rng: random.Random) -> None:
    one, other = rng.choice(table), rng.choice(table)
    if one and other:
        a, b = rng.randrange(len(one)), rng.randrange(len(other))
        one[a], other[b] = other[b], one[a]


def _row_gone(table: Cells, rng: random.Random) -> None:
    if len(table) > 1:
        del table[rng.randrange(len(table))]


def _row_twice(table: Cells, rng: random.Random) -> None:
    table.insert(rng.randrange(len(table) + 1), list(rng.choice(table)))


def _column_moved(table: Cells, rng: random.Random) -> None:
    width = max(map(len, table))
    if width:
        a, b = rng.randrange(width), rng.randrange(width)
        for row in table:
            if max(a, b) < len(row):
                row.insert(b, row.pop(a))


def _column_new(table: Cells, rng: random.Random) -> None:
    at = rng.randrange(max(map(len, table)) + 1)
    for row in table:
        row.insert(min(at, len(row)), rng.choice(CELLS))


def _letters_of_a_header(table: Cells, rng: random.Random) -> None:
    row = table[0]
    if row:
        at = rng.randrange(len(row))
        letters = list(str(row[at] or ""))
        rng.shuffle(letters)
        row[at] = "".join(letters[: rng.randint(0, 12)])


def _turned(table: Cells, rng: random.Random) -> None:
    width = max(map(len, table))
    table[:] = [[row[at] if at < len(row) else "" for row in table] for at in range(width)] or [[]]


Blow = Callable[[Cells, random.Random], None]
BLOWS: tuple[Blow, ...] = (
    *(_other_cell, _other_cell, _other_cell, _two_cells_exchanged, _row_gone, _row_twice),
    *(_column_moved, _column_new, _letters_of_a_header, _turned),
)


def _workbook(tables: list[Cells]) -> bytes:
    book = Workbook()
    book.remove(book.worksheets[0])
    for number, table in enumerate(tables):
        sheet = book.create_sheet(f"Sheet {number}")
        for at, row in enumerate(table, start=1):
            for column, cell in enumerate(row, start=1):
                text = "".join(c for c in cell if c >= " " or c == "\n")[:32_000] if isinstance(cell, str) else cell
                if text not in (None, ""):
                    sheet.cell(at, column, text)  # type: ignore[arg-type]
    raw = io.BytesIO()
    book.save(raw)
    return raw.getvalue()


def _text(table: Cells, rng: random.Random) -> bytes:
    mark = rng.choice((",", ",", ",", ";", "\t", "|", " "))
    quoted = rng.random() < 0.8
    lines = (mark.join(_field(cell, mark, quoted) for cell in row) for row in table)
    code = rng.choice(("utf-8", "utf-8", "utf-8-sig", "utf-16", "cp1252", "latin-1"))
    return rng.choice(("\n", "\r\n", "\r")).join(lines).encode(code, errors="replace")


def _field(cell: object, mark: str, quoted: bool) -> str:
    text = "" if cell is None else str(cell)
    return '"' + text.replace('"', '""') + '"' if quoted and any(c in text for c in (mark, '"', "\n")) else text


def _bytes_struck(data: bytes, rng: random.Random) -> bytes:
    """Bytes changed, cut off or doubled; of a workbook those of one part, packed again, so that more than zip fails."""
    if data[:2] == b"PK" and rng.random() < 0.7:
        raw = io.BytesIO()
        with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(raw, "w") as new:
            struck = rng.choice(old.namelist())
            for name in old.namelist():
                part = old.read(name)
                new.writestr(name, _bytes_struck(part, rng) if name == struck and part[:2] != b"PK" else part)
        return raw.getvalue()
    raw_bytes = bytearray(data)
    for _ in range(rng.randint(1, 5)):
        if raw_bytes:
            at = rng.randrange(len(raw_bytes))
            how = rng.randrange(4)
            if how == 0:
                raw_bytes[at] = rng.randrange(256)
            elif how == 1:
                del raw_bytes[at : at + rng.randint(1, 20)]
            elif how == 2:
                raw_bytes[at:at] = raw_bytes[at : at + rng.randint(1, 20)]
            else:
                del raw_bytes[at + 1 + rng.randrange(len(raw_bytes)) :]
    return bytes(raw_bytes)


def faults(name: str, data: bytes, made: Judged) -> Iterator[str]:
    """What a judgement promises and this one does not keep."""
    if made.returned:
        if "could not be read (" in made.reason:
            yield f"nobody foresaw it: {made.reason}"
        if not made.remedy:
            yield f"returned without a remedy: {made.reason}"
        return
    for sheet in made.sheets:
        yield from _faults_of(sheet)
    said = [*made.findings, *(finding for sheet in made.sheets for finding in sheet.findings)]
    if not said and not made.attachment and made.signature is None:
        yield from _lost(name, data, made)


def _faults_of(sheet: SheetRows) -> Iterator[str]:
    if len(set(sheet.rows)) != len(sheet.rows) and sheet.kind.name != "readings":
        yield f"a row stands twice in {sheet.kind.name}: {sheet.rows}"
    for column, values in sheet.values.items():
        if len(values) != len(sheet.rows):
            yield f"{column} has {len(values)} values for {len(sheet.rows)} rows"
        if any(isinstance(value, float) and math.isinf(value) for value in values):
            yield f"{column} holds what is no figure: {values}"


def _lost(name: str, data: bytes, made: Judged) -> Iterator[str]:
    """Rows of the file that are in no sheet, where nothing at all is said of it."""
    for table in read_tables(name, data, Limits()):
        first = min((sheet.header_row for sheet in made.sheets if sheet.sheet == table.sheet), default=None)
        if first is None:
            continue
        taken = {row for sheet in made.sheets if sheet.sheet == table.sheet for row in sheet.rows}
        header = table.rows[first - 1]  # the same once more is no row
        below = {at + 1 for at, row in enumerate(table.rows) if at >= first and _filled(row) and row != header}
        if lost := below - taken:
            yield f"rows {sorted(lost)} are in no sheet, and nothing is said"


def _filled(row: list[object]) -> bool:
    return any(str(cell or "").strip() for cell in row)


def tried(seed: int, number: int) -> tuple[Counter[str], list[str]]:
    """So many damaged files from one seed: what became of them, and every fault with the file's own seed."""
    logging.disable(logging.CRITICAL)
    known, count, found = house(), Counter[str](), []
    for at in range(number):
        name, data = damaged(random.Random(f"{seed}-{at}"))
        try:
            made = judge(name, data, known.site, known, DAY)
            of_it = list(faults(name, data, made))
            count["returned" if made.returned else "taken in part or whole"] += 1
        except Exception as error:
            of_it = [f"raised {type(error).__name__}: {error}"]
        found += [f"{seed}-{at}: {fault}" for fault in of_it]
    return count, found


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("number", type=int)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--processes", type=int, default=2)
    asked = parser.parse_args()
    part = 500
    turns = range(asked.seed * 100_000, asked.seed * 100_000 + -(-asked.number // part))
    count, found = Counter[str](), []
    with ProcessPoolExecutor(asked.processes) as pool:
        for more, faulty in pool.map(partial(tried, number=part), turns):
            count += more
            found += faulty
            print(f"{count.total()} files: {dict(count)}", *faulty, sep="\n", flush=True)
    print(f"seed {asked.seed}: {len(found)} faults")
    return 1 if found else 0


if __name__ == "__main__":
    raise SystemExit(main())
