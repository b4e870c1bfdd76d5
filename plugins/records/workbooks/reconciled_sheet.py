"""The sheet Reconciled of batches/BATCH/record.xlsx: every figure of the account as measured and as reconciled."""

from __future__ import annotations

from typing import Any

from pipeline.writing.workbooks import Book
from plugins.records.record.reconciled_figures import moved, says, what
from plugins.records.workbooks import cells
from plugins.records.workbooks.cells import Head

Row = dict[str, Any]
HEADS = (
    Head("Component or step", 25),
    Head("Figure", 22),
    Head("Drawn on", 11, "date"),
    Head("Line", 7),
    Head("Unit", 8),
    Head("Measured", 12, "hundredth"),
    Head("± measured", 12, "hundredth"),
    Head("Reconciled", 12, "hundredth"),
    Head("± reconciled", 13, "hundredth"),
    Head("Moved by, in ±", 11, "hundredth"),
    Head("Test of an error of its own", 12, "hundredth"),
    Head("Beyond chance", 9),
    Head("Smallest error seen in half of cases", 14, "hundredth"),
)


def reconciled_sheet(made: Book, record: Row) -> None:
    """The sheet Reconciled of record.xlsx: all figures, unrounded. No sheet where nothing was reconciled."""
    found = record["balance"].get("reconciled")
    if not found or not found["figures"]:
        return
    asides = [
        says(found),
        "Reconciled: nearest to the measured figures, with mass and alcohol in balance; they replace no gauge.",
    ]
    sheet = cells.sheet(made, "Reconciled", "Figures as measured and as reconciled", asides)
    top = cells.header(sheet, HEADS)
    for row, figure in enumerate(found["figures"], start=top + 1):
        cells.line(sheet, row, HEADS, values(figure))
    cells.for_print(sheet, HEADS, top, freeze=f"B{top + 1}")


def values(figure: Row) -> list[Any]:
    kept = ("unit", "measured", "uncertainty", "reconciled", "reconciled_uncertainty")
    beyond = figure["beyond_chance"]
    return [
        figure["component"],
        what(figure),
        (figure["drawn_at"] or "")[:10] or None,
        figure["line"],
        *(figure[name] for name in kept),
        moved(figure),
        figure["score"],
        None if beyond is None else "yes" if beyond else "no",
        figure["smallest_visible"],
    ]
