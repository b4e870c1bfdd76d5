"""A table whose rows and columns add up: whole inches down, quarters across, and in each cell what a tank holds."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from pipeline.contract.kinds import SheetKind
from pipeline.sheets.cells import as_text, is_blank
from pipeline.sheets.headers import match_header
from pipeline.sheets.numbers import spelt_fractions
from pipeline.sheets.units import UnitTable
from pipeline.tables.tables import Table

FEWEST_ROWS = 2
FRACTION = re.compile(r"(\d+)\s*[/⁄]\s*(\d+)")


@dataclass(frozen=True)
class Grid:
    """Where a grid stands: its header row and corner (from 0), and by column what is added to the rows' heads."""

    kind: SheetKind
    row: int
    corner: int
    steps: tuple[tuple[int, Fraction], ...]

    @property
    def cells(self) -> str:
        """The header of what the cells hold."""
        return self.kind.grid[1]


def step(cell: Any) -> Fraction | None:
    """A head of a row or column as an exact number; None for anything else."""
    if isinstance(cell, bool) or is_blank(cell):
        return None
    if isinstance(cell, int | float):
        return Fraction(cell).limit_denominator(1000) if abs(cell) < 1e6 else None
    text = spelt_fractions(str(cell).strip()).strip('"″ ')
    match = FRACTION.fullmatch(text)
    if match:
        return Fraction(int(match[1]), int(match[2])) if int(match[2]) else None
    return Fraction(text) if re.fullmatch(r"\d{1,6}(\.\d{1,3})?", text) else None


def grid_of(table: Table, kinds: Sequence[SheetKind], rows: int, units: UnitTable) -> Grid | None:
    """The grid that a table is, for certain: the columns divide the step from row to row into equal parts from 0 on."""
    for row, cells in enumerate(table.rows[:rows]):
        corner = next((at for at, cell in enumerate(cells) if not is_blank(cell)), None)
        heads = [(at, step(cell)) for at, cell in enumerate(cells) if corner is not None and at > corner]
        if corner is None or len(heads) < 2 or heads[0][1] != 0:
            continue
        named = [(at, head) for at, head in heads if head is not None]
        for kind in (kind for kind in kinds if kind.grid):
            match = match_header(kind, as_text(cells[corner]), units)
            if match is None or match.doubt or match.column.name != kind.grid[0]:
                continue
            below = [step(r[corner]) for r in table.rows[row + 1 :] if corner < len(r) and not is_blank(r[corner])]
            if _divides([head for _, head in named], below):
                return Grid(kind, row, corner, tuple(named))
    return None


def _divides(steps: list[Fraction], rows: list[Fraction | None]) -> bool:
    """Whether the columns go on from each row to the next in equal steps, without a gap and without an overlap."""
    heads = [head for head in rows if head is not None]
    if len(heads) < max(FEWEST_ROWS, len(rows)) or steps != sorted(set(steps)):
        return False
    gap = heads[1] - heads[0]
    even = all(later - earlier == gap for earlier, later in zip(heads, heads[1:], strict=False))
    return even and gap > 0 and all(head == at * gap / len(steps) for at, head in enumerate(steps))


def added(cell: Any, more: Fraction) -> Any:
    """The head of a row and what its column adds, as a number; the cell as it is where it is no number."""
    head = step(cell)
    return cell if head is None else float(head + more)
