"""Two columns that state one thing: the one that does not count is held against the other, row by row."""

from __future__ import annotations

from collections.abc import Container, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from pipeline.common.libraries import np
from pipeline.contract.kinds import Figures
from pipeline.sheets.cells import Context, Stated, Typed, as_text, type_column
from pipeline.sheets.found import Matched, Recognised
from pipeline.sheets.units import convert
from pipeline.tables.tables import address

# What two statements of one amount may lie apart, in the canonical unit and as a share (common practice, no source):
# each is rounded as people write it, and a volume in gallons is at 60 °F, one in litres at 20 °C.
LET_PASS = {"temperature": (0.6, 0.0), "volume": (0.3, 0.01), "mass": (0.3, 0.005), "length": (0.3, 0.005)}
MOST_ROWS = 5  # rows that are said one by one; more of one column are one question


class Beside(NamedTuple):
    """What is said of a column or a cell of it: row and column (``at``) from 0."""

    code: str
    severity: str
    message: str
    row: int
    at: int
    more: dict[str, str]


def held_against(
    found: Recognised,
    typed: Mapping[str, Typed],
    cells: Mapping[str, Sequence[Any]],
    beside: Mapping[int, Sequence[Any]],
    positions: Sequence[int],
    left_out: Container[int],
    context: Context,
) -> Iterator[Beside]:
    """A note for each column that states what another states too, and a review for each row where they differ.

    Parameters: what the table is; its columns as typed and as written, by name; the cells of the columns beside them,
    by index; the rows' places in the table, and which of these rows are left out.
    """
    rows = {name: each.values for name, each in typed.items()}
    for second in found.beside:
        first = found.columns[second.column.name]
        own = type_column(second.column, beside[second.index], context, Stated(second.unit))
        words = _apart((first, typed[first.column.name]), (second, own), rows, context)
        apart = [row for row, said in enumerate(words) if said and row not in left_out]
        yield Beside(
            "sheet.column-held-against",
            "note",
            f"Column {second.header!r} states what {first.header!r} states, which counts; it was held against that in "
            f"each row, and {len(apart) or 'none'} of {len(positions)} differ.",
            found.header_row,
            second.index,
            {},
        )
        further = len(apart) - MOST_ROWS
        for row in apart[:MOST_ROWS]:
            more = f" So do {further} further rows." if further > 0 and row == apart[MOST_ROWS - 1] else ""
            one, other = as_text(cells[first.column.name][row]), as_text(beside[second.index][row])
            at = positions[row]
            yield Beside(
                "sheet.columns-differ",
                "review",
                f"Row {at + 1}: {second.header!r} ({address(at, second.index)}) holds {other!r}, but {first.header!r} "
                f"({address(at, first.index)}) holds {one!r}: {words[row]}. {first.header!r} counts.{more}",
                at,
                second.index,
                {
                    "subject": as_text(cells[found.kind.key[0]][row]) if found.kind.key[0] in cells else "",
                    "column": first.column.name,
                    "observed": other[:80],
                    "expected": one[:80],
                    "remedy": "Correct the figure that is wrong and drop the file again, or accept.",
                },
            )


def _apart(
    first: tuple[Matched, Typed], second: tuple[Matched, Typed], rows: Mapping[str, Sequence[Any]], context: Context
) -> Sequence[str]:
    """For each row how two columns differ, in words; empty where they agree within what is let pass."""
    column = first[0].column
    one, other = (_figures(*each) for each in (first, second))
    if column.agree is not None:
        return column.agree(one, other, rows, context.site)
    absolute, share = LET_PASS.get(column.quantity, (0.0, 0.01))
    with np.errstate(invalid="ignore"):
        wrong = np.abs(one.values - other.values) > absolute + share * np.abs(one.values)
    let_pass = " and ".join([f"{absolute:g} {column.unit}"] * bool(absolute) + [f"{100 * share:g} %"] * bool(share))
    said = [""] * len(wrong)
    for row in np.flatnonzero(wrong).tolist():
        said[row] = f"that is {_in(first, other.values[row], row, context)}, apart by more than {let_pass}"
    return said


def _figures(matched: Matched, typed: Typed) -> Figures:
    says = matched.says[1] if matched.says else ""
    return Figures(matched.header, typed.values, typed.units or [], says)


def _in(first: tuple[Matched, Typed], value: float, row: int, context: Context) -> str:
    """An amount in the canonical unit, said in the unit in which the first column states its own."""
    column = first[0].column
    stated = context.units.find(column.quantity, first[1].units[row] or "" if first[1].units else "")
    canonical = context.units.find(column.quantity, column.unit)
    if stated is None or canonical is None:
        return f"{value:.6g} {column.unit}"
    return f"{float(convert(np.array([value]), canonical, stated)[0]):.5g} {stated.unit}"
