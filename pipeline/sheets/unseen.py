"""What a workbook hides, filters out or strikes out: a person does not see it, or says that it does not hold.

It is not taken unless the site says so, and it is said either way. A struck-out cell takes its row along, one in the
header its column.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from pipeline.contract.findings import Finding, Place
from pipeline.contract.kinds import plain
from pipeline.contract.site import Site
from pipeline.sheets.cells import as_text, is_blank
from pipeline.sheets.found import Recognised
from pipeline.tables.tables import Table, address

NAMED = 6
HIDDEN, STRUCK = "hidden", "struck out"


@dataclass(frozen=True)
class Aside:
    """Rows and columns (from 0) of a sheet that are not taken, or would not be: by why, those that hold something."""

    rows: dict[str, list[int]] = field(default_factory=dict)
    columns: dict[str, list[int]] = field(default_factory=dict)


def aside(table: Table, header_row: int | None, taken: Iterable[str] = ()) -> Aside:
    """What of a table is out of sight, but for the ways in ``taken``; what is hidden and struck out is hidden.

    Without a header row every row that holds something is told of.
    """
    first = 0 if header_row is None else header_row + 1
    hidden_columns = {index for index in table.hidden_columns if _holds(table, index)}
    lined = {(row, column) for row, column in table.struck if not is_blank(_cell(table, row, column))}
    struck_columns = {column for row, column in lined if row == header_row} - hidden_columns
    hidden = [row for row in sorted(table.hidden_rows) if row >= first and _filled(table, row)]
    struck_rows = {row for row, column in lined if column not in struck_columns and row >= first}
    struck = sorted(struck_rows - set(hidden))
    rows = {HIDDEN: hidden, STRUCK: struck}
    columns = {HIDDEN: sorted(hidden_columns), STRUCK: sorted(struck_columns)}
    left = set(taken)
    return Aside(
        {why: found for why, found in rows.items() if found and why not in left},
        {why: found for why, found in columns.items() if found and why not in left},
    )


def _cell(table: Table, row: int, column: int) -> object:
    cells = table.rows[row] if row < len(table.rows) else []
    return cells[column] if column < len(cells) else ""


def _filled(table: Table, row: int) -> bool:
    return row < len(table.rows) and not all(map(is_blank, table.rows[row]))


def _holds(table: Table, index: int) -> bool:
    return index < len(table.columns) and not all(map(is_blank, table.columns[index]))


def ways_taken(site: Site) -> list[str]:
    """Which ways of being out of sight do not count on this site."""
    ways = {"sheets.take_hidden": HIDDEN, "sheets.take_struck_out": STRUCK}
    return [why for setting, why in ways.items() if site[setting]]


def in_sight(table: Table, out: Aside) -> Table:
    """The table with blanks where something is out of sight; every other cell keeps its address."""
    rows = {row for found in out.rows.values() for row in found}
    columns = {column for found in out.columns.values() for column in found}
    if not rows and not columns:
        return table
    kept = [
        [] if row in rows else ["" if index in columns else cell for index, cell in enumerate(cells)]
        for row, cells in enumerate(table.rows)
    ]
    seen = {spot: why for spot, why in table.faults.items() if spot[0] not in rows and spot[1] not in columns}
    return replace(table, rows=kept, faults=seen)


def said(table: Table, found: Recognised, site: Site, name: str) -> list[Finding]:
    """What is told of rows and columns out of sight under a header that was recognised."""
    taken = ways_taken(site)
    findings = []
    every = aside(table, found.header_row)
    for why, rows in every.rows.items():
        key = found.columns.get(found.kind.key[0])
        findings.append(_of_rows(table, why, rows, key.index if key else 0, why in taken, name))
    for why, columns in every.columns.items():
        headers = {index: _header(table, found.header_row, index) for index in columns}
        known = [index for index in columns if plain(headers[index]) in found.kind.header_words]
        shown = ", ".join(f"{address(0, index)[:-1]} ({headers[index] or 'no name'})" for index in columns[:NAMED])
        findings.append(
            Finding(
                "sheet.hidden-column",
                "review" if known and why not in taken else "note",
                f"{_counted('Column', len(columns))} {shown}{_more(columns)} {_are(columns)} {why} and "
                f"{_was(columns)} {'taken all the same, as site.toml says' if why in taken else 'not taken'}.",
                subject=name,
                place=Place(name, table.sheet, address(found.header_row, columns[0])),
                remedy=_remedy(why, why in taken),
            )
        )
    return findings


def _of_rows(table: Table, why: str, rows: list[int], key: int, taken: bool, name: str) -> Finding:
    named = [as_text(table.rows[row][key]) for row in rows if key < len(table.rows[row])]
    keys = ", ".join(dict.fromkeys(text for text in named if text))[:200]
    how = "hidden or filtered out" if why == HIDDEN else why
    return Finding(
        "sheet.hidden-row",
        "note" if taken else "review",
        f"{_counted('Row', len(rows))} {ranges(rows)} {_are(rows)} {how} and {_was(rows)} "
        f"{'taken all the same, as site.toml says' if taken else 'not taken'}{f': {keys}' if keys else ''}.",
        subject=name,
        place=Place(name, table.sheet, address(rows[0], key)),
        remedy=_remedy(why, taken),
    )


def unread(table: Table, site: Site) -> str:
    """What is added where no kind was recognised: the header may be what is out of sight."""
    out = aside(table, None, ways_taken(site))
    parts = [f"rows {ranges(rows)} are {why}" for why, rows in out.rows.items()]
    parts += [
        f"columns {', '.join(address(0, index)[:-1] for index in columns)} are {why}"
        for why, columns in out.columns.items()
    ]
    return f"; {' and '.join(parts)} and were not read" if parts else ""


def ranges(rows: list[int]) -> str:
    """Rows (from 0) as a person names them: 3, 5–9."""
    parts: list[list[int]] = []
    for row in rows:
        if parts and parts[-1][-1] == row - 1:
            parts[-1][1:] = [row]
        else:
            parts.append([row])
    return ", ".join("–".join(str(row + 1) for row in part) for part in parts)


def _header(table: Table, row: int, index: int) -> str:
    cell = _cell(table, row, index)
    return "" if is_blank(cell) else as_text(cell)


def _counted(word: str, count: int) -> str:
    return word if count == 1 else f"{word}s"


def _more(columns: list[int]) -> str:
    return f" and {len(columns) - NAMED} more" if len(columns) > NAMED else ""


def _are(things: list[int]) -> str:
    return "is" if len(things) == 1 else "are"


def _was(things: list[int]) -> str:
    return "was" if len(things) == 1 else "were"


def _remedy(why: str, taken: bool) -> str:
    setting = "take_hidden" if why == HIDDEN else "take_struck_out"
    if taken:
        return f"Set {setting} = false under [sheets] in site.toml if such rows do not count."
    undo = "Show what counts" if why == HIDDEN else "Take the line off what counts"
    return f"{undo} and drop the file again under the same name; or set {setting} = true under [sheets] in site.toml."
