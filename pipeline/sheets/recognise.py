"""Kinds of sheet: which kind a table is, where its header stands, and which column is which."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping
from dataclasses import replace

from pipeline.contract.kinds import EXPLANATIONS, SheetColumn, SheetKind, marked_as_example, plain
from pipeline.contract.units import UnitWords
from pipeline.sheets.cells import as_text, is_blank
from pipeline.sheets.explained import Layout, header_of, meaning_of
from pipeline.sheets.found import Doubtful, Matched, NotRecognised, OnlyExplains, Recognised, rival_of
from pipeline.sheets.headers import match_header, splits
from pipeline.sheets.titles import STATES, Said, said_of, state_said, statements, unit_said
from pipeline.sheets.units import UnitTable
from pipeline.tables.tables import Table, address

HEADER_ROWS = 40
ASKS_UNIT = "?"  # words=density=?: the header is known, but says nothing without a unit
TIME_OF_DAY = re.compile(r"(time|timeofday|clock|hour|hrs|hhmm|timetaken|timeread|uhrzeit|heure|hora|時刻)")
UNIT_COLUMN = re.compile(r"units?( of .+)?|u\.?o\.?m\.?|.+[ _-](units?|uom|scale)|°?[cf] ?/ ?°?[cf]", re.IGNORECASE)
UNIT_WORDS = re.compile(
    r"^units?( of( measure(ment)?)?)?\b|^u\.?o\.?m\.?$|[ _-](units?|uom|scale)$|^°?[cf] ?/ ?°?[cf]$", re.IGNORECASE
)
SHORTEST_LABEL = 5  # letters of a label for what rows need not have: "No" above a table numbers the form
DOUBTFUL = 1000  # added to the rank of a column whose header says something that is not understood


def recognise(
    table: Table, kinds: list[SheetKind], units: UnitTable, layouts: Mapping[tuple[str, ...], Layout] | None = None
) -> Recognised:
    """The kind of a table by its headers. Raises NotRecognised, with the nearest kind.

    ``layouts``: header rows that a person explained; what was said of one counts before any likeness.
    """
    if any(str(cell).strip() == EXPLANATIONS for cells in table.rows[:1] for cell in cells[:1]):
        raise OnlyExplains("holds only the explanations of a blank sheet", "Drop the sheet that you filled in.", 0)
    best: Recognised | None = None
    others: list[Recognised] = []
    whole: list[Recognised] = []
    known = {word for kind in kinds for word in kind.header_words}
    above = [*map(Said._make, table.said), *statements(table.rows[:HEADER_ROWS], table.sheet)]
    for row, cells in enumerate(table.rows[:HEADER_ROWS]):
        headers = [(index, as_text(cell)) for index, cell in enumerate(cells) if isinstance(cell, str) and cell.strip()]
        if len(headers) < 2 or not _may_be_header(headers, known):
            continue
        layout = layouts.get(header_of(cells)) if layouts else None
        for kind in [kind for kind in kinds if layout and kind.name == layout.kind]:
            best = match_row(kind, row, headers, units, layout)
        if best is not None and best.layout:
            break
        for kind in kinds:
            found = match_row(kind, row, headers, units)
            if found.columns:
                _take_said(found, [each for each in above if each.row < row or not each.label], units)
            if len(found.columns) >= 3:
                others.append(found)
            if not found.missing:
                whole.append(found)
            if best is None or _better(found, best):
                best = found
    if best is None or len(best.columns) < 2:
        raise NotRecognised(*_nothing_known(table), 0)
    if best.missing and not (best.layout and best.doubts):  # what was said and cannot be comes first
        raise NotRecognised(*_nearly(best, table), len(best.columns), best)
    rival = rival_of(best, whole) if best.layout is None else None
    if rival is not None:
        raise NotRecognised(*rival, len(best.columns))
    for other in others:
        rows = table.rows[other.header_row + 1 : best.header_row]
        if sum(not all(map(is_blank, cells)) for cells in rows) >= (3 if other.missing else 1):
            said = f"{other.kind.name} from row {other.header_row + 1}, {best.kind.name} from row {best.header_row + 1}"
            remedy = "Put each table on a sheet or in a file of its own and drop that."
            raise NotRecognised(f"holds two tables: {said}.", remedy, len(best.columns))
    _set_aside_examples(best, table)
    _read_unit_row(best, table, units)
    _read_titles(best, table, units)
    if best.doubts:
        hints = dict.fromkeys(matched.column.hint for matched in best.columns.values() if matched.rank >= DOUBTFUL)
        mend = (
            f"Keep one column for each, as in a blank sheet (vatting sheet {best.kind.name}), and drop the file again."
        )
        raise Doubtful(
            f"looks like {best.kind.looks_like or best.kind.name}; {'; '.join(best.doubts)}.",
            " ".join([mend, *filter(None, hints)]),
            len(best.columns),
            best,
        )
    _find_units_beside(best, table, units)
    _find_further_headers(best, table, kinds, units)
    return best


def _may_be_header(headers: list[tuple[int, str]], words: set[str]) -> bool:
    """Whether two cells of a row are words of some kind: rows of data are not looked at kind by kind."""
    known = 0
    for _, header in headers:
        if any(letter.isalpha() or letter in "#№%" for letter in header):
            known += any(plain(way) in words for way, _ in splits(header))
            if known == 2:
                return True
    return False


def _better(found: Recognised, best: Recognised) -> bool:
    return _weight(found) > _weight(best)


def _weight(found: Recognised) -> tuple[int, int, int, int]:
    required = sum(1 for name in found.kind.required if name in found.columns)
    return (
        sum(matched.in_rows for matched in found.columns.values()),
        int(not found.missing),
        required,
        -len(found.kind.columns),
    )


def match_row(
    kind: SheetKind, row: int, headers: list[tuple[int, str]], units: UnitTable, layout: Layout | None = None
) -> Recognised:
    """What a row is if it is the header of a kind; ``layout``: what a person said of it."""
    found = Recognised(kind, row, row + 1, {}, layout=layout)
    told = dict(layout.means) if layout else {}
    unit_columns: list[tuple[int, str]] = []
    doubtful: dict[int, str] = {}
    times: list[tuple[int, str]] = []
    unknown: list[tuple[int, str]] = []
    for index, header in headers:
        if kind.printed and plain(header) in kind.printed_words:
            continue
        if index in told:
            if not _take_told(found, index, header, told[index], units):
                unknown.append((index, header))
            continue
        if UNIT_COLUMN.fullmatch(header.strip()) and plain(header) not in found.kind.header_words:
            unit_columns.append((index, header))
            continue
        match = match_header(kind, header, units)
        if match is None:
            (times if TIME_OF_DAY.fullmatch(plain(header)) else unknown).append((index, header))
            continue
        column = match.column
        if match.doubt:
            doubtful[index] = _unknown_unit(f"column {header!r}", match.doubt, column, units)
        asks = kind.header_words.get(plain(header), (None, 0, ""))[2] == ASKS_UNIT
        rank = match.rank + DOUBTFUL * bool(match.doubt)
        _take(found, Matched(column, index, header, match.unit, rank, asks_unit=asks, says=match.says))
    found.unknown.extend(header for _, header in unknown)
    for index, header in unit_columns:
        _take_unit_column(found, index, header)
    for index, header in times:
        _take_time_column(found, index, header)
    others = [header for _, header in unknown if plain(header) in map(plain, kind.of_another)]
    found.doubts.extend(
        f"column {header!r} belongs to another kind of sheet, so take it out or name all columns as that kind does"
        for header in others
    )
    why = {plain(word): said for word, said in kind.turned_away}
    for header in [header for _, header in unknown]:
        found.doubts += [f"column {header!r} {why[way]}" for way in map(plain, _words_of(header)) if way in why][:1]
    found.doubts.extend(doubtful[matched.index] for matched in found.columns.values() if matched.index in doubtful)
    return found


def _take_said(found: Recognised, above: list[Said], units: UnitTable) -> None:
    """A column that the header lacks and every row needs may be said once above it, or on the tab."""
    lacking = [name for name in found.missing if " or " not in name]
    if found.kind.measured:  # with what it was measured may be said once, too
        lacking += [name for name in found.kind.key if name not in found.columns and name not in lacking]
    wholes = [
        whole for _, whole, part, _ in found.kind.differences if part in found.columns and whole not in found.columns
    ]
    for name in [*lacking, *wholes] if above else ():
        column = found.kind.column(name)
        if column.type in STATES or name in wholes:
            known = [said for said in above if column.required or len(said.label) >= SHORTEST_LABEL]
            said = said_of(found.kind, column, known, units)
            if said is not None:
                found.columns[name] = Matched(column, said.column, said.label or name, said=said)


def _read_titles(found: Recognised, table: Table, units: UnitTable) -> None:
    """Units that a title states; one that says that readings were corrected, where the header does not, is a doubt."""
    titles = [
        as_text(cell) for cells in table.rows[: found.header_row] for cell in cells if isinstance(cell, str) and cell
    ]
    if not titles:
        return
    for name, matched in list(found.columns.items()):
        column = matched.column
        if column.quantity and matched.unit is None and matched.unit_index is None:
            unit = unit_said(found.kind, column, titles, units)
            found.columns[name] = replace(matched, unit=unit, asks_unit=matched.asks_unit and unit is None)
        if column.qualified_by and matched.says is None and column.qualified_by not in found.columns:
            words = state_said(found.kind.column(column.qualified_by), titles)
            if words:
                found.doubts.append(f"a title says {words!r}, but the header {matched.header!r} does not")
                found.columns[name] = replace(found.columns[name], rank=matched.rank + DOUBTFUL)


def _words_of(header: str) -> list[str]:
    return [words for words, _ in splits(header)]


def _take_told(found: Recognised, index: int, header: str, words: str, units: UnitTable) -> bool:
    """Take a header for what a person said it means; whether it means a column at all."""
    try:
        match = meaning_of(words, found.kind, header, units)
    except ValueError as error:
        found.doubts.append(str(error))
        return True
    if match is not None:
        _take(found, Matched(match.column, index, header, match.unit, match.rank, says=match.says))
    return match is not None


def _unknown_unit(where: str, words: str, column: SheetColumn, units: UnitTable) -> str:
    known = ", ".join(units.spellings(column.quantity))
    return f"{where} states {words!r}, which is no unit known for {column.name} ({known})"


def _take(found: Recognised, matched: Matched) -> None:
    name = matched.column.name
    other = found.columns.get(name)
    if other is None:
        found.columns[name] = matched
        return
    told_apart = other.unit is not None and matched.unit is not None and other.unit is not matched.unit
    if other.rank == matched.rank and not told_apart:
        found.doubts.append(f"columns {other.header!r} and {matched.header!r} both say {name}")
    kept, left = (other, matched) if other.rank <= matched.rank else (matched, other)
    if kept.says and not left.says and kept.unit is left.unit:
        kept, left = left, kept  # beside a corrected proof a bare one is the observed
    found.columns[name] = kept
    comparable = left.unit is not None and left.rank < DOUBTFUL and (left.column.agree or left.column.unit)
    if comparable:
        found.beside.append(left)
    else:
        found.unknown.append(left.header)


def _take_time_column(found: Recognised, index: int, header: str) -> None:
    """A time of day in a column of its own belongs to the moment that stands nearest before it, else to the first."""
    moments = [matched for matched in found.columns.values() if matched.column.type == "moment"]
    if not moments:
        found.unknown.append(header)
        return
    nearest = min(moments, key=lambda matched: (matched.index > index, abs(matched.index - index)))
    found.columns[nearest.column.name] = replace(nearest, time_index=index)


def _take_unit_column(found: Recognised, index: int, header: str) -> None:
    words = plain(UNIT_WORDS.sub("", header.strip()))
    table = found.kind.header_words
    bare = [name for name, m in found.columns.items() if m.column.quantity and m.unit is None and m.unit_index is None]
    for name, matched in found.columns.items():
        beside = not words and matched.index == index - 1
        if matched.column.quantity and (beside or (words in table and table[words][0].name == name)):
            found.columns[name] = replace(matched, unit_index=index)
            return
    if not words and bare:
        found.doubts.append(f"column {header!r} states units, but does not stand beside the column that it speaks of")
    found.unknown.append(header)


def _set_aside_examples(found: Recognised, table: Table) -> None:
    """A row of which every cell says that it is an example is no row, wherever it was copied to."""
    firsts = table.columns[0] if table.columns else []
    may_be = {cell for cell in set(firsts) if cell == "" or marked_as_example(cell)}
    for row in [row for row, cell in enumerate(firsts) if cell in may_be] if may_be else ():
        cells = table.rows[row]
        first = next((cell for cell in cells if cell != ""), "")
        if row >= found.first_row and marked_as_example(first):
            if all(marked_as_example(cell) for cell in cells if not is_blank(cell)):
                found.repeated.add(row)


def _read_unit_row(found: Recognised, table: Table, units: UnitTable) -> None:
    """A row of units under the header is taken as such; one that is half understood is a doubt."""
    row = next((r for r in range(found.first_row, len(table.rows)) if not all(map(is_blank, table.rows[r]))), None)
    if row is None or row in found.repeated or row > found.first_row + 1:
        return
    cells = {index: cell for index, cell in enumerate(table.rows[row]) if not is_blank(cell)}
    named = [matched.index for name, matched in found.columns.items() if name in found.kind.key and matched.in_rows]
    if not all(isinstance(cell, str) for cell in cells.values()) or any(map(_has_digit, map(cells.get, named))):
        return
    stated: dict[str, UnitWords] = {}
    unknown: list[str] = []
    for name, matched in found.columns.items():
        if matched.column.quantity and matched.index in cells:
            words = cells[matched.index].strip("()[] ")
            unit = units.find(matched.column.quantity, words)
            if unit is not None:
                stated[name] = unit
            elif _has_digit(words):
                return
            elif matched.column.unit and matched.unit is None:
                unknown.append(_unknown_unit(f"cell {address(row, matched.index)}", words, matched.column, units))
    if not stated and any(index in cells for index in named):
        return
    found.doubts.extend(unknown)
    for name, unit in stated.items():
        old = found.columns[name]
        found.columns[name] = replace(old, unit=unit)
    if stated:
        found.first_row = row + 1


def _find_units_beside(found: Recognised, table: Table, units: UnitTable) -> None:
    """A column of unknown name that holds nothing but units of the column before it says them."""
    taken = {m.index for m in found.columns.values()} | {m.unit_index for m in found.columns.values()}
    rows = table.rows[found.first_row : found.first_row + HEADER_ROWS]
    for name, matched in list(found.columns.items()):
        index, quantity = matched.index + 1, matched.column.quantity
        if quantity and matched.unit is None and matched.unit_index is None and index not in taken:
            cells = [row[index] for row in rows if index < len(row) and not is_blank(row[index])]
            if cells and all(isinstance(cell, str) and units.find(quantity, cell) for cell in cells):
                found.columns[name] = replace(matched, unit_index=index)
                header = table.rows[found.header_row]
                stated = as_text(header[index]) if index < len(header) else ""
                if stated in found.unknown:
                    found.unknown.remove(stated)


def _find_further_headers(found: Recognised, table: Table, kinds: list[SheetKind], units: UnitTable) -> None:
    """Mark rows that state the header again, and where a header of something else begins another table."""
    header = [as_text(cell) for cell in table.rows[found.header_row] if not is_blank(cell)]
    for row, doubtful in _rows_with_words(found, table):
        cells = table.rows[row]
        there = [cell for cell in cells if not is_blank(cell)]
        if row in found.repeated or not all(isinstance(cell, str) for cell in there) or any(map(_has_digit, there[:1])):
            continue
        if list(map(as_text, there)) == header:
            found.repeated.add(row)
            continue
        headers = [(index, as_text(cell)) for index, cell in enumerate(cells) if not is_blank(cell)]
        matches = [match_row(kind, row, headers, units).columns.values() for kind in kinds]
        known = {matched.index for matched in max(matches, key=len)}
        if len(known) >= 2 and len(known) * 2 >= len(headers) and known & doubtful:
            found.end = row
            return


def _rows_with_words(found: Recognised, table: Table) -> list[tuple[int, set[int]]]:
    """Rows under the header that hold words where figures or dates belong, and in which columns."""
    suspects: dict[int, set[int]] = {}
    for matched in found.columns.values():
        if matched.in_rows and matched.column.type in ("number", "count", "date", "moment"):
            index = matched.index
            cells = table.columns[index][found.first_row :]
            if str not in set(map(type, cells)):
                continue
            words = {cell for cell in set(cells) if type(cell) is str and cell[:1].isalpha()}
            for at in [at for at, cell in enumerate(cells) if cell in words] if words else ():
                suspects.setdefault(found.first_row + at, set()).add(index)
    return sorted(suspects.items())


def _has_digit(text: str | None) -> bool:
    return text is not None and any(letter.isdigit() for letter in text)


def _nearly(best: Recognised, table: Table) -> tuple[str, str]:
    headers = [as_text(cell) for cell in table.rows[best.header_row] if not is_blank(cell)]
    lacking = " and no ".join(best.missing)
    asked = best.kind.column(best.missing[0]) if " or " not in best.missing[0] else None
    words = ", ".join(w.partition("=")[0] for w in asked.headers[1:5]) if asked else ""
    remedy = f"Add the column {' and the column '.join(best.missing)}" + (f" (also known as {words})" if words else "")
    near = difflib.get_close_matches(asked.name, best.unknown, 1, 0.5) if asked else []
    if near:
        remedy += f"; if {near[0]!r} is meant, rename it"
    if asked and asked.hint:
        remedy += f". {asked.hint}"
    return (
        f"looks like {best.kind.looks_like or best.kind.name}; no {lacking} column; "
        f"columns found: {', '.join(headers)} (row {best.header_row + 1}).",
        remedy.rstrip(".") + ".",
    )


def _nothing_known(table: Table) -> tuple[str, str]:
    first = next((row for row in table.rows if any(not is_blank(cell) for cell in row)), [])
    shown = ", ".join(as_text(cell) for cell in first[:12] if not is_blank(cell))
    return (
        f"has no row among its first {HEADER_ROWS} that looks like the header of a known kind of sheet; "
        f"first row: {shown or 'empty'}.",
        "Put the column names in one row. vatting sheet lists the kinds; vatting sheet KIND writes a blank one.",
    )
