"""Judges a file: from its bytes to typed rows and findings, or why it is returned. Nothing is kept."""

from __future__ import annotations

import io
import logging
import zipfile
from datetime import date

from pipeline.book.rulings_taken import drop_blank_rulings
from pipeline.contract.findings import Finding, Place
from pipeline.contract.kinds import SheetKind
from pipeline.contract.signatures import is_signature, read_signature
from pipeline.contract.site import Site
from pipeline.sheets import unseen
from pipeline.sheets.judged import Judged
from pipeline.sheets.layouts import View, views
from pipeline.sheets.readers import read_tables
from pipeline.sheets.recognise import NotRecognised, OnlyExplains, recognise
from pipeline.sheets.rows import SheetRows, Taken, type_rows
from pipeline.sheets.rulings_sheet import RULINGS
from pipeline.sheets.tables import Table, Unreadable
from pipeline.sheets.units import UnitTable
from pipeline.site.house import House, limits_of, unit_table

log = logging.getLogger("vatting")


def ended_the_reader(tries: int) -> Judged:
    """What a file is judged to be that the reading program did not survive."""
    times = "once" if tries == 1 else f"{tries} times"
    return Judged(
        reason=f"Reading the file was begun {times} and never came to an end: the program was ended over it.",
        remedy="Save the sheet again as XLSX or CSV, in parts if it is large, and drop that. If it comes back, send it "
        "with log/vatting.log to whoever looks after vatting.",
    )


def judge(name: str, data: bytes, site: Site, house: House, day: date) -> Judged:
    """Read, recognise and type a file. Nothing is kept; nothing is raised for bad input."""
    megabytes = site["limits.file_megabytes"]
    if len(data) > megabytes * 1e6:
        return Judged(
            reason=f"The file has {len(data) / 1e6:.0f} MB; at most {megabytes:g} MB are taken.",
            remedy="Split it, or raise file_megabytes under [limits] in site.toml.",
        )
    if is_signature(data):
        return _signature(data)
    try:
        tables = read_tables(name, data, limits_of(site))
        return _recognise_all(name, tables, site, house, Taken(name, day, _epoch_1904(data)))
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
    from pipeline.sheets.workbook_parts import uses_1904_dates

    if data[:2] != b"PK":
        return False
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        return uses_1904_dates(packed)


def _recognise_all(name: str, tables: list[Table], site: Site, house: House, taken: Taken) -> Judged:
    units = house.units if site is house.site else unit_table(site, house.plugins)
    kinds = house.kinds_of(site)
    judged = Judged()
    unsure: list[tuple[Table, NotRecognised]] = []
    for table in tables:
        if not any(any(row) for row in table.rows):
            judged.findings.extend(_note(name, table.sheet, note) for note in table.notes)
            continue
        try:
            made = [_typed(view.of(table), site, kinds, units, taken) for view in _views(table, site, kinds, units)]
        except NotRecognised as error:
            error.reason = f"{error.reason.rstrip('.')}{unseen.unread(table, site)}."
            unsure.append((table, error))
            continue
        judged.sheets += [drop_blank_rulings(rows) if rows.kind.name == RULINGS.name else rows for rows in made]
    doubtful = [(table, error) for table, error in unsure if error.matched >= 3 or not judged.sheets]
    if doubtful:
        said = "; ".join(f"{_sheet(table)}{error.reason.rstrip('.')}" for table, error in doubtful)
        return Judged(reason=said[:1].upper() + said[1:] + ".", remedy=doubtful[0][1].remedy, unrecognised=True)
    for table in [table for table, error in unsure if not isinstance(error, OnlyExplains)]:
        judged.findings.append(_note(name, table.sheet, f"Sheet {table.sheet!r} is no known kind and was left aside."))
    if not judged.sheets:
        return Judged(reason="The file holds no cells.", remedy="Save the sheet again and drop the new file.")
    faulty = [finding for rows in judged.sheets for finding in _row_findings(rows)]
    rulings = any(rows.kind.name == RULINGS.name for rows in judged.sheets)
    if faulty and not rulings and not any(rows.rows for rows in judged.sheets):
        return _no_row_usable(judged, faulty)
    empty = all(not rows.rows and not _row_findings(rows) for rows in judged.sheets)
    if empty and not rulings:
        return Judged(
            reason=f"The file has the headers of {judged.sheets[0].kind.name} but no rows under them.",
            remedy="Fill in the rows and drop it again.",
        )
    return judged


def _views(table: Table, site: Site, kinds: list[SheetKind], units: UnitTable) -> list[View]:
    """The plain tables that a table is, by what of it a person sees."""
    ways = unseen.ways_taken(site)
    return views(unseen.in_sight(table, unseen.aside(table, None, [*ways, unseen.STRUCK])), kinds, units)


def _typed(table: Table, site: Site, kinds: list[SheetKind], units: UnitTable, taken: Taken) -> SheetRows:
    """The rows of a table that a person sees, with what is said of the others. Raises NotRecognised."""
    ways = unseen.ways_taken(site)
    # which cells are struck out of a row, and which out of the header, is known when the header is
    shown = unseen.in_sight(table, unseen.aside(table, None, [*ways, unseen.STRUCK]))
    found = recognise(shown, kinds, units)
    out = unseen.aside(table, found.header_row, ways)
    seen = unseen.in_sight(table, out)
    if out.columns.get(unseen.STRUCK):
        found = recognise(seen, kinds, units)
    rows = type_rows(seen, found, site, units, taken)
    rows.findings.extend(unseen.said(table, found, site, taken.name))
    return rows


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


def _note(name: str, sheet: str, message: str) -> Finding:
    return Finding("sheet.left-aside", "note", message, subject=name, place=Place(name, sheet))
