"""An explanation as it is printed: what is said once is not said again in the rows under it.

A cask has hundreds of rows in some frames, most of them alike. A row that rests on the same columns of the same sheets
as the row above it is told in one line: figures and cells that are others. Any other row names the figures that differ,
with their cells, and cells of one column as a range.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from pipeline.runs.explain import Line, Part
from pipeline.runs.explain_cells import Behind, Cell

NOTE = (
    "Of a row that is like the one above it only the figures and cells are named that are others; "
    "--json has every line."
)
SENTENCE = 160  # characters from which figures are sentences: a verdict is told in full, with its own cells


@dataclass
class Group:
    """Figures that rest on the same cells."""

    figures: Line
    cells: list[Line] = field(default_factory=list)

    @property
    def behind(self) -> list[Behind]:
        return [line.cells for line in self.cells if line.cells]

    @property
    def columns(self) -> list[tuple[str, set[tuple[str, str]]]]:
        """Of which columns of which sheets the cells are."""
        return [(behind.where, {(cell.column, cell.header) for cell in behind.cells}) for behind in self.behind]


@dataclass
class Row:
    """A row: its key, if it has one, and its figures."""

    key: Line | None
    groups: list[Group] = field(default_factory=list)

    def names(self) -> list[str]:
        """The columns that say something."""
        return sorted(name for group in self.groups for name in group.figures.names)

    def speaks(self) -> bool:
        """Whether it says something in sentences."""
        return any(len(group.figures.text) > SENTENCE for group in self.groups)

    def is_like(self, other: Row) -> bool:
        """Whether the same figures rest on the same columns."""
        return [(group.figures.names, group.columns) for group in self.groups] == [
            (group.figures.names, group.columns) for group in other.groups
        ]

    def cells(self) -> set[tuple[str, Cell]]:
        return {(behind.where, cell) for group in self.groups for behind in group.behind for cell in behind.cells}


def folded(part: Part) -> list[Line]:
    """A part's lines for people."""
    if not any(line.names for line in part.lines):
        return part.lines  # findings and the like
    made: list[Line] = []
    above: Row | None = None
    for row in _rows(part.lines):
        if row.speaks():
            made.extend(_in_full(row.key, row.groups))
            above = None
            continue
        known = above.groups if above and above.names() == row.names() else []
        others = [group for group in row.groups if group not in known]
        if above and row.is_like(above):
            made.append(_in_one_line(row.key, others, above.cells()))
        else:
            made.extend(_in_full(row.key, others))
        above = row
    return made


def _rows(lines: Iterable[Line]) -> list[Row]:
    rows: list[Row] = []
    for line in lines:
        if line.first:
            rows.append(Row(line if line.depth == 0 else None))
        if line.depth == 1:
            rows[-1].groups.append(Group(line))
        elif line.depth > 1:
            rows[-1].groups[-1].cells.append(line)
    return rows


def _in_full(key: Line | None, groups: list[Group]) -> list[Line]:
    made = [key] if key else []
    for group in groups:
        made.append(group.figures)
        made.extend(Line(f"← {_ranges(line.cells)}", 2) if line.cells else line for line in group.cells)
    return made


def _in_one_line(key: Line | None, groups: list[Group], above: set[tuple[str, Cell]]) -> Line:
    """A row's own figures, and its cells without their headers, which stand above."""
    figures = ", ".join(group.figures.text for group in groups)
    text = ": ".join(filter(None, [key.text if key else "", figures])) or "the same"
    by_sheet: dict[str, dict[str, None]] = {}
    for group in groups:
        for behind in group.behind:
            own = [cell for cell in behind.cells if (behind.where, cell) not in above]
            cells = by_sheet.setdefault(behind.where, {})
            cells.update({f"{cell.column}{cell.row} {cell.words or f'({cell.said})'}": None for cell in own})
            if own and behind.more:
                cells[behind.more.strip()] = None
    told = [f"{where}: {', '.join(cells)}" for where, cells in by_sheet.items() if cells]
    return Line(f"{text} ← {'; '.join(told)}" if told else text, 0 if key else 1)


def _ranges(behind: Behind) -> str:
    """Cells of one sheet, those of one column together."""
    columns: dict[tuple[str, str, str], list[Cell]] = {}
    for cell in behind.cells:
        columns.setdefault((cell.column, cell.header, cell.words), []).append(cell)
    return f"{behind.where}: {', '.join(map(_column, columns.values()))}{behind.more}"


def _column(cells: list[Cell]) -> str:
    """Cells of one column: ``B3:B5, B9 (Score: 7; 7.5; 6; 7)``, and what all of them say once."""
    if len(cells) == 1:
        return cells[0].text
    spans: list[list[int]] = []
    for cell in cells:
        if spans and cell.row == spans[-1][-1] + 1:
            spans[-1].append(cell.row)
        else:
            spans.append([cell.row])
    letters = cells[0].column
    where = [f"{letters}{span[0]}" + (f":{letters}{span[-1]}" if len(span) > 1 else "") for span in spans]
    said = [cell.said for cell in cells]
    words = said[:1] if len(set(said)) == 1 else said
    told = cells[0].words or f"({cells[0].header}: {'; '.join(words)})"
    return f"{', '.join(where)} {told}"
