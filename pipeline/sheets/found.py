"""What a table was found to be: its kind, and which of its columns is which."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from pipeline.contract.kinds import SheetColumn, SheetKind
from pipeline.contract.units import UnitWords
from pipeline.sheets.cells import as_text, is_blank
from pipeline.sheets.explained import Layout
from pipeline.sheets.titles import Said
from pipeline.tables.tables import Table


@dataclass(frozen=True)
class Matched:
    """A sheet column found in a table: where, under which words, and the unit stated there."""

    column: SheetColumn
    index: int
    header: str
    unit: UnitWords | None = None
    rank: int = 0
    unit_index: int | None = None
    time_index: int | None = None
    asks_unit: bool = False
    says: tuple[str, str] | None = None
    said: Said | None = None  # for all rows, above the header or on the tab

    @property
    def in_rows(self) -> bool:
        return self.said is None


@dataclass
class Recognised:
    """What a table is: its kind, header row (from 0), columns, and header cells nobody knows.

    ``beside`` are columns that state what one of ``columns`` states too. ``repeated`` are rows that are none: the
    same header again, or an example of which every cell says so (``example: …``). At ``end``, if any, another
    table begins. ``layout``: what a person said of this header row, where somebody did.
    """

    kind: SheetKind
    header_row: int
    first_row: int
    columns: dict[str, Matched]
    unknown: list[str] = field(default_factory=list)
    doubts: list[str] = field(default_factory=list)
    beside: list[Matched] = field(default_factory=list)
    repeated: set[int] = field(default_factory=set)
    end: int | None = None
    layout: Layout | None = None

    @property
    def missing(self) -> list[str]:
        said = {*self.columns, *(matched.says[0] for matched in self.columns.values() if matched.says)}
        lacking = [
            name
            for name in self.kind.required
            if name not in self.columns and self.kind.column(name).unless not in said
        ]
        for group in self.kind.needs_one_of:
            if not any(name in self.columns for name in group):
                lacking.append(" or ".join(group))
        return lacking


class NotRecognised(Exception):
    """A table that is no kind for sure; ``nearest`` is what it looks like, where a person could make it one."""

    def __init__(self, reason: str, remedy: str, matched: int, nearest: Recognised | None = None) -> None:
        super().__init__(reason)
        self.reason, self.remedy = reason, remedy
        self.matched, self.nearest = matched, nearest


class Doubtful(NotRecognised):
    """A table that has all columns of a kind, and something in its header that is not understood."""


class OnlyExplains(NotRecognised):
    """The page of explanations of a blank sheet: it holds no rows, and nothing is said of it."""


def second_table(table: Table, row: int) -> str:
    """What is said of another table that begins at a row."""
    cells = ", ".join(as_text(cell) for cell in table.rows[row] if not is_blank(cell))
    below = sum(1 for cells in table.rows[row + 1 :] if not all(map(is_blank, cells)))
    return f"Row {row + 1} begins another table ({cells}); it and the {below} rows under it were not taken."


def nameless_columns(found: Recognised, table: Table, positions: list[int]) -> list[tuple[int, str]]:
    """Columns that hold something under no header, each with a sentence."""
    header = table.rows[found.header_row]
    used = {m.unit_index for m in found.columns.values()} | {m.time_index for m in found.columns.values()}
    width = len(header) if table.is_text else len(table.columns)  # a longer row of text is a finding
    said = []
    for index in range(width):
        if index in used or (index < len(header) and isinstance(header[index], str) and not is_blank(header[index])):
            continue
        cells = table.columns[index]
        held = next((cells[row] for row in positions if not is_blank(cells[row])), None)
        if held is not None:
            shown = as_text(held)[:40]
            said.append((index, f"A column without a name in the header row was left aside; it holds {shown!r}."))
    return said


def column_map(found: Recognised) -> dict[str, dict[str, Any]]:
    """What the book keeps of the header: column → index, header words, unit; also what another's header says.

    ``row``, from 1, where one cell says it of all rows; 0 is the tab.
    """
    said = {m.says[0]: {"index": m.index, "header": m.header, "unit": ""} for m in found.columns.values() if m.says}
    taken_from = {part: made for made, _, part, _ in found.kind.differences if made not in found.columns}
    said |= {
        taken_from[name]: {"index": m.index, "header": m.header, "unit": m.unit.unit if m.unit else ""}
        for name, m in found.columns.items()
        if name in taken_from
    }
    return said | {
        name: {"index": matched.index, "header": matched.header, "unit": matched.unit.unit if matched.unit else ""}
        | ({} if matched.said is None else {"row": matched.said.row + 1})
        for name, matched in found.columns.items()
    }


def rival_of(best: Recognised, whole: Iterable[Recognised]) -> tuple[str, str] | None:
    """What is wrong and what to do with a table that is whole as two kinds by the same headers, one of a site's plugin.

    It is taken as neither. None where no other kind fits as well.
    """
    headers = {matched.header for matched in best.columns.values()}
    for other in whole:
        plugin = other.kind.plugin or best.kind.plugin
        same = other.header_row == best.header_row and headers <= {m.header for m in other.columns.values()}
        if other.kind is not best.kind and plugin and same:
            one, two = best.kind.name, other.kind.name
            return (
                f"fits two kinds of sheet by its headers: {one} and {two} (plugin {plugin}).",
                f"Head it as a blank sheet of the one that it is: vatting sheet {one}, or vatting sheet {two}.",
            )
    return None
