"""Judges a file: from its bytes to typed rows and findings, or why it is returned. Nothing is kept."""

from __future__ import annotations

import io
import logging
import zipfile
from collections.abc import Mapping
from dataclasses import replace
from datetime import date

from pipeline.book.rulings_taken import drop_blank_rulings
from pipeline.contract.findings import Finding, Place
from pipeline.contract.kinds import SheetKind
from pipeline.contract.signatures import is_signature, read_signature
from pipeline.contract.site import Site
from pipeline.inbox.attachments import is_attachment
from pipeline.sheets import unseen
from pipeline.sheets.columns_sheet import Told, ToMend, as_it_was, is_columns_page, layout_of, read_page, unlisted
from pipeline.sheets.explained import Layout, around, far_apart
from pipeline.sheets.found import NotRecognised, OnlyExplains, Recognised
from pipeline.sheets.judged import Judged
from pipeline.sheets.layouts import View, left_out, views
from pipeline.sheets.recognise import recognise
from pipeline.sheets.rows import SheetRows, Taken, type_rows
from pipeline.sheets.rulings_sheet import RULINGS
from pipeline.sheets.to_mend import small_enough, to_mend
from pipeline.sheets.units import UnitTable
from pipeline.site.house import House, limits_of, unit_table
from pipeline.site.people import people_of
from pipeline.tables.readers import read_tables
from pipeline.tables.tables import Table, Unreadable, address

log = logging.getLogger("vatting")

Layouts = Mapping[tuple[str, ...], Layout]


def ended_the_reader(tries: int) -> Judged:
    """What a file is judged to be that the reading program did not survive."""
    times = "once" if tries == 1 else f"{tries} times"
    return Judged(
        reason=f"Reading the file was begun {times} and never came to an end: the program was ended over it.",
        remedy="Save the sheet again as XLSX or CSV, in parts if it is large, and drop that. If it comes back, send it "
        "with log/vatting.log to whoever looks after vatting.",
    )


def judge(name: str, data: bytes, site: Site, house: House, day: date, layouts: Layouts | None = None) -> Judged:
    """Read, recognise and type a file. Nothing is kept; nothing is raised for bad input.

    ``layouts``: header rows that people explained before.
    """
    megabytes = site["limits.file_megabytes"]
    if len(data) > megabytes * 1e6:
        return Judged(
            reason=f"The file has {len(data) / 1e6:.0f} MB; at most {megabytes:g} MB are taken.",
            remedy="Split it, or raise file_megabytes under [limits] in site.toml.",
        )
    if is_signature(data):
        return _signature(data)
    if is_attachment(name, data):
        return Judged(attachment=True)
    try:
        tables = read_tables(name, data, limits_of(site))
        taken = Taken(name, day, _epoch_1904(data))
        page = next((table for table in tables if is_columns_page(table)), None)
        if page is None:
            return _recognise_all(name, tables, site, house, taken, layouts or {})
        return _judge_mended(page, tables, site, house, taken, layouts or {})
    except Unreadable as error:
        return Judged(reason=error.reason, remedy=error.remedy)
    except MemoryError:
        raise  # whoever bounds the memory says so in words
    except Exception as error:  # a file that nobody foresaw never stops the others
        log.exception("reading %s", name)
        return Judged(
            reason=f"The file could not be read ({type(error).__name__}: {error}).",
            remedy="Save the sheet again as XLSX or CSV and drop that; if it comes back, send it with log/vatting.log.",
        )


def _signature(data: bytes) -> Judged:
    try:
        return Judged(signature=read_signature(data))
    except ValueError as error:
        return Judged(
            reason=f"The file means to be a signature and is none: {error}.",
            remedy="Sign again with vatting sign, and drop what it writes as it is.",
        )


def _epoch_1904(data: bytes) -> bool:
    from pipeline.tables.workbook_parts import uses_1904_dates

    if data[:2] != b"PK":
        return False
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        return uses_1904_dates(packed)


def _judge_mended(page: Table, tables: list[Table], site: Site, house: House, taken: Taken, layouts: Layouts) -> Judged:
    """Judge a workbook that went back and comes again, by what its page says of its header rows."""
    told = read_page(page)
    tables = [as_it_was(table, told) for table in tables if table is not page]
    if lost := unlisted(tables, told):
        said = f"The page Columns speaks of the sheet {lost!r}, which is not there."
        raise Unreadable(said, "Give the sheet its name again and drop the workbook once more.")
    own = _layouts_of(tables, told, house, taken.name, layouts)
    judged = _recognise_all(taken.name, tables, site, house, taken, {**layouts, **own})
    judged.mends = told.mends
    new = {headers: one for headers, one in own.items() if headers not in layouts}
    if new and not judged.returned:
        _check_who(told.by, site, taken.day)
    judged.layouts = [] if judged.returned else [_with_amounts(one, judged.sheets) for one in new.values()]
    return judged


def _check_who(name: str, site: Site, day: date) -> None:
    """What holds for every later file is for those to say who may rule, where a site lists them. Raises Unreadable."""
    why = people_of(site).refuses(name, "rule", day) if people_of(site).listed else ""
    if why:
        raise Unreadable(
            f"What the page Columns says of the headers would hold for every later file, and {why}.",
            "Let somebody who may rule look at it and write their name there; then drop the workbook again.",
        )


def _with_amounts(layout: Layout, sheets: list[SheetRows]) -> Layout:
    """A layout with what lay in the columns that it explains."""
    found: dict[int, float] = {}
    for rows in sheets:
        stated = {(int(said["index"]), said["header"]) for said in rows.columns.values()}
        if stated & {(index, layout.headers[index]) for index, _ in layout.means}:
            found = around(rows.kind, rows.columns, rows.values) | found
    return replace(layout, around=tuple((index, found[index]) for index, _ in layout.means if index in found))


def _layouts_of(
    tables: list[Table], told: Told, house: House, name: str, layouts: Layouts
) -> dict[tuple[str, ...], Layout]:
    """By header row what the page says of it. Raises Unreadable where somebody confirmed something else before."""
    own: dict[tuple[str, ...], Layout] = {}
    for table in tables:
        made = layout_of(table, told, house.kinds, name)
        before = made and (own.get(made.headers) or layouts.get(made.headers))
        if made is not None and before and before.code != made.code:
            by = f"{before.who} confirmed on {before.on}" if before.on else "Another sheet of it says"
            raise Unreadable(
                f"The page Columns says that {made.in_words()}. {by} that {before.in_words()}.",
                "Ask each other which is right. What was confirmed before is taken back in site.toml: "
                f'not_confirmed = ["{before.code}"] under [sheets].',
            )
        if made is not None:
            own[made.headers] = made
    return own


def _recognise_all(name: str, tables: list[Table], site: Site, house: House, taken: Taken, layouts: Layouts) -> Judged:
    units = house.units if site is house.site else unit_table(site, house.plugins)
    kinds = house.kinds_of(site)
    judged = Judged()
    unsure: list[tuple[Table, NotRecognised]] = []
    known: list[tuple[Table, Recognised | None, SheetRows | None]] = []
    for table in tables:
        if not any(any(row) for row in table.rows):
            judged.findings.extend(_note(name, table.sheet, note) for note in table.notes)
            continue
        try:
            seen = _views(table, site, kinds, units, layouts)
            shown = [view.of(table) for view in seen]
            typed = [_typed(one, site, kinds, units, taken, layouts) for one in shown]
            judged.findings += [_unfilled(name, table, row) for row in left_out(table, seen, shown)]
            known.append((table, *typed[0]) if seen == [View()] else (table, None, None))
        except NotRecognised as error:
            known.append((table, error.nearest, None))
            error.reason = f"{error.reason.rstrip('.')}{unseen.unread(table, site)}."
            unsure.append((table, error))
            continue
        judged.sheets += [drop_blank_rulings(r) if r.kind.name == RULINGS.name else r for _, r in typed]
    doubtful = [(table, error) for table, error in unsure if error.matched >= 3 or not judged.sheets]
    if doubtful:
        said = "; ".join(f"{_sheet(table)}{error.reason.rstrip('.')}" for table, error in doubtful)
        made = Judged(reason=said[:1].upper() + said[1:] + ".", remedy=doubtful[0][1].remedy, unrecognised=True)
        made.to_mend = _to_mend(known, house.kinds, units, taken) if any(error.nearest for _, error in doubtful) else []
        return made
    for table in [table for table, error in unsure if not isinstance(error, OnlyExplains)]:
        judged.findings.append(_note(name, table.sheet, f"Sheet {table.sheet!r} is no known kind and was left aside."))
    if not judged.sheets:
        return Judged(reason="The file holds no cells.", remedy="Save the sheet again and drop the new file.")
    faulty = [finding for rows in judged.sheets for finding in _row_findings(rows)]
    rulings = any(rows.kind.name == RULINGS.name for rows in judged.sheets)
    if faulty and not rulings and not any(rows.rows for rows in judged.sheets):
        return replace(_no_row_usable(judged, faulty), to_mend=_to_mend(known, house.kinds, units, taken))
    empty = all(not rows.rows and not _row_findings(rows) for rows in judged.sheets)
    if empty and not rulings:
        return Judged(
            reason=f"The file has the headers of {judged.sheets[0].kind.name} but no rows under them.",
            remedy="Fill in the rows and drop it again.",
        )
    return judged


def _views(table: Table, site: Site, kinds: list[SheetKind], units: UnitTable, layouts: Layouts) -> list[View]:
    """The plain tables that a table is, by what of it a person sees."""
    ways = unseen.ways_taken(site)
    return views(unseen.in_sight(table, unseen.aside(table, None, [*ways, unseen.STRUCK])), kinds, units, layouts)


def _to_mend(
    known: list[tuple[Table, Recognised | None, SheetRows | None]],
    kinds: list[SheetKind],
    units: UnitTable,
    taken: Taken,
) -> list[ToMend]:
    """The tables as they go back; none where they are too many cells to mend by hand."""
    if not small_enough([table for table, _, _ in known]) or all(found is None for _, found, _ in known):
        return []
    made = [to_mend(table, found, rows.bad if rows else {}, kinds, units) for table, found, rows in known]
    for one in made:
        one.epoch_1904 = taken.epoch_1904
    return made


def _typed(
    table: Table, site: Site, kinds: list[SheetKind], units: UnitTable, taken: Taken, layouts: Layouts
) -> tuple[Recognised, SheetRows]:
    """The rows of a table that a person sees, with what is said of the others. Raises NotRecognised."""
    ways = unseen.ways_taken(site)
    # which cells are struck out of a row, and which out of the header, is known when the header is
    shown = unseen.in_sight(table, unseen.aside(table, None, [*ways, unseen.STRUCK]))
    found = recognise(shown, kinds, units, layouts)
    out = unseen.aside(table, found.header_row, ways)
    seen = unseen.in_sight(table, out)
    if out.columns.get(unseen.STRUCK):
        found = recognise(seen, kinds, units, layouts)
    rows = type_rows(seen, found, site, units, taken)
    rows.findings.extend(unseen.said(table, found, site, taken.name))
    if found.layout is not None:
        place = Place(taken.name, table.sheet, address(found.header_row, 0))
        rows.findings.append(
            _explained(found.layout, place, far_apart(found.layout, around(found.kind, rows.columns, rows.values)))
        )
    return found, rows


def _explained(layout: Layout, place: Place, apart: str) -> Finding:
    """That a header row was read as a person said; for a person to see where the amounts lie elsewhere now."""
    when = f", as {layout.who} confirmed on {layout.on}" if layout.on else ", as the page Columns says"
    doubt = f" {apart}: is it the same unit?" if apart else ""
    remedy = f'Where that is wrong, write not_confirmed = ["{layout.code}"] under [sheets] in site.toml.'
    return Finding(
        "sheet.layout-explained",
        "review" if apart else "note",
        f"Of this header row a person said: {layout.in_words()}{when}.{doubt}",
        subject=place.file,
        place=place,
        remedy=f"Write the unit into the header, drop the file again, or accept. {remedy}" if apart else remedy,
    )


def _no_row_usable(judged: Judged, faulty: list[Finding]) -> Judged:
    """A file of which nothing counts goes back, so that it can be mended; its rows are findings all the same."""
    kinds = ", ".join(dict.fromkeys(rows.kind.looks_like or rows.kind.name for rows in judged.sheets))
    count = "Its only row" if len(faulty) == 1 else f"None of its {len(faulty)} rows"
    said = " ".join(finding.message for finding in faulty[:5])
    more = f" So it goes on for {len(faulty) - 5} rows more." if len(faulty) > 5 else ""
    could = "could not be taken" if len(faulty) == 1 else "could be taken"
    return Judged(
        findings=[*judged.findings, *(finding for rows in judged.sheets for finding in rows.findings)],
        reason=f"The file looks like {kinds}. {count} {could}. {said}{more}",
        remedy="Mend the cells named and drop it again.",
    )


def _row_findings(rows: SheetRows) -> list[Finding]:
    return [
        finding
        for finding in rows.findings
        if finding.code in ("sheet.unusable-row", "sheet.second-table", "sheet.hidden-row")
    ]


def _sheet(table: Table) -> str:
    return f"sheet {table.sheet!r} " if table.sheet else "the file "


def _unfilled(name: str, table: Table, row: int) -> Finding:
    said = f"Row {row + 1} has a name and nothing under any day: nothing was written on it."
    return Finding("sheet.unfilled-row", "note", said, subject=name, place=Place(name, table.sheet, address(row, 0)))


def _note(name: str, sheet: str, message: str) -> Finding:
    return Finding("sheet.left-aside", "note", message, subject=name, place=Place(name, sheet))
