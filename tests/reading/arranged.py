"""How people arrange one sheet: a header in two rows, the day said once above, tables side by side, days across."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

Cells = dict[str, object]


@dataclass
class Grid:
    """Cells as a sheet holds them, what is merged, and where each row of the writer's stands.

    ``spots``: (place of the row, its day, row of the sheet from 1, first and last column from 1).
    """

    cells: list[list[object]] = field(default_factory=list)
    merged: list[str] = field(default_factory=list)
    spots: list[tuple[int, date, int, int, int]] = field(default_factory=list)


def letter(column: int) -> str:
    return chr(64 + column)


def plain(heads: list[str], rows: Sequence[Cells], day: date) -> Grid:
    grid = Grid([list(heads)])
    for place, row in enumerate(rows):
        grid.cells.append([{**row, "Date": day}.get(head, "") for head in heads])
        grid.spots.append((place, day, len(grid.cells), 1, len(heads)))
    return grid


def two_rows(heads: list[str], rows: Sequence[Cells], day: date) -> Grid:
    """Vessel and day merged over both rows, the figures under a group."""
    grid = plain(heads, rows, day)
    upper: list[object] = ["Vessel", "Date", "Lab readings", *[""] * (len(heads) - 3)]
    grid.cells[0] = ["", "", *heads[2:]]
    grid.merged = ["A1:A2", "B1:B2", f"C1:{letter(len(heads))}1"]
    grid.cells.insert(0, upper)
    return _shifted(grid, 1)


def day_above(heads: list[str], rows: Sequence[Cells], day: date) -> Grid:
    """The day in a title, and no column for it."""
    grid = plain([head for head in heads if head != "Date"], rows, day)
    grid.cells[:0] = [["Daily sheet"], ["Date:", day], []]
    return _shifted(grid, 3)


def unit_above(heads: list[str], rows: Sequence[Cells], day: date) -> Grid:
    """The unit of the temperatures in a title, and none in their header."""
    grid = plain(heads, rows, day)
    temperature = next(head for head in heads if "emp" in head)
    grid.cells[0] = ["Temp" if head == temperature else head for head in heads]
    unit = "°F" if "°F" in temperature else "°C"
    grid.cells.insert(0, [f"Temperatures in {unit}"])
    return _shifted(grid, 1)


def side_by_side(heads: list[str], rows: Sequence[Cells], day: date) -> Grid:
    """Half of the rows beside the other half, with a blank column between."""
    half, width = (len(rows) + 1) // 2, len(heads)
    left, right = plain(heads, rows[:half], day), plain(heads, rows[half:], day)
    grid = Grid()
    for number, cells in enumerate(left.cells):
        more = right.cells[number] if number < len(right.cells) else [""] * width
        grid.cells.append([*cells, "", *more])
    grid.spots = left.spots + [(p + half, d, r, width + 2, 2 * width + 1) for p, d, r, _, _ in right.spots]
    return grid


def days_across(heads: list[str], rows: Sequence[Cells], day: date) -> Grid:
    """Two days over the figures of each, a row a vessel."""
    figures = [head for head in heads if head not in ("Vessel", "Date")]
    days = [day, day + timedelta(days=1)]
    gap = [""] * (len(figures) - 1)
    grid = Grid([["", days[0], *gap, days[1], *gap], ["Vessel", *figures, *figures]])
    grid.merged = ["A1:A2"]
    grid.cells[0][0], grid.cells[1][0] = "Vessel", ""
    for at in range(2):
        first = 2 + at * len(figures)
        grid.merged.append(f"{letter(first)}1:{letter(first + len(gap))}1")
    for place, row in enumerate(rows):
        of_day = [row.get(head, "") for head in figures]
        grid.cells.append([row["Vessel"], *of_day, *of_day])
        for at, each in enumerate(days):
            first = 2 + at * len(figures)
            grid.spots.append((place, each, len(grid.cells), first, first + len(gap)))
    return grid


def day_merged(heads: list[str], rows: Sequence[Cells], day: date) -> Grid:
    """The day once, in a cell merged over all rows."""
    grid = plain(heads, rows, day)
    for cells in grid.cells[2:]:
        cells[heads.index("Date")] = ""
    column = letter(heads.index("Date") + 1)
    grid.merged = [f"{column}2:{column}{len(grid.cells)}"]
    return grid


def _shifted(grid: Grid, rows: int) -> Grid:
    grid.spots = [(place, day, row + rows, first, last) for place, day, row, first, last in grid.spots]
    return grid


ARRANGEMENTS = (plain, two_rows, day_above, unit_above, side_by_side, days_across, day_merged)
ONLY_IN_WORKBOOKS = (day_merged,)
