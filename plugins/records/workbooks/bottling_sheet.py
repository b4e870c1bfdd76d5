"""The sheet Bottling of batches/BATCH/record.xlsx: each run, added up."""

from __future__ import annotations

from typing import Any

from pipeline.writing.workbooks import Book, reckoned
from plugins.records.workbooks import cells
from plugins.records.workbooks.cells import Head

Row = dict[str, Any]
RUNS = (
    Head("Record", 12),
    Head("Day", 12, "date"),
    Head("Run", 8),
    Head("Lot", 14),
    Head("Litres a bottle", 9, "any"),
    Head("Filled", 10, "count"),
    Head("Litres", 11, "tenth"),
    Head("A case", 8, "count"),
    Head("Full cases", 9, "count"),
    Head("Part case", 9, "count"),
    Head("Case serials", 18),
    Head("Poured back", 9, "count"),
    Head("Broken", 9, "count"),
    Head("Kept back", 9, "count"),
)


def bottlings(made: Book, record: Row) -> None:
    """The bottling runs: litres of each by its bottles, and all of them added up."""
    found = record["bottlings"]
    if not found:
        return
    sheet = cells.sheet(made, "Bottling", "Bottling runs", ["Litres are bottles by their size; blank: not stated."])
    top = cells.header(sheet, RUNS)
    for place, run in enumerate(found, start=top + 1):
        held = run["bottles"] * run["bottle_size_L"]
        litres = reckoned(f"E{place}*F{place}", held, held)
        before = [run["serial"], cells.day(run["bottled_on"]), run["run"], run["lot_code"], run["bottle_size_L"]]
        after = ("bottles_per_case", "cases", "part_case", "case_serials", "dumped_back", "destroyed", "samples")
        values = [*before, run["bottles"], litres, *(run[name] for name in after)]
        cells.line(sheet, place, RUNS, values)
    sums: list[Any] = ["Sums", *[None] * (len(RUNS) - 1)]
    for column, total in (("F", sum(run["bottles"] for run in found)),
                          ("G", sum(run["bottles"] * run["bottle_size_L"] for run in found))):  # fmt: skip
        sums["ABCDEFG".index(column)] = reckoned(f"SUM({column}{top + 1}:{column}{top + len(found)})", total, total)
    cells.line(sheet, top + 1 + len(found), RUNS, sums, "sum")
    cells.for_print(sheet, RUNS, top, freeze=f"B{top + 1}")
