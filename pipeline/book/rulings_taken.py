"""A sheet of rulings as it is taken: which rows count, and which findings and cells each speaks of."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

from pipeline.book.book import Book
from pipeline.contract.findings import Finding, Place
from pipeline.contract.site import Site
from pipeline.sheets.cells import Context, Stated, type_column
from pipeline.sheets.dates import wall_clock_as_utc
from pipeline.sheets.keys import natural_keys
from pipeline.sheets.readers import address
from pipeline.sheets.rows import SheetRows
from pipeline.site.people import people_of


class _Refused(Exception):
    """A ruling that cannot be applied: the code of its finding, and why in words."""

    def __init__(self, code: str, message: str) -> None:
        super().__init__(message)
        self.code, self.message = code, message


def drop_blank_rulings(rows: SheetRows) -> SheetRows:
    """A row whose ruling is empty is no row: reviewers send whole workbooks back."""
    stated = rows.values.get("ruling", [None] * len(rows.rows))
    filled = [value is not None or withdrawn for value, withdrawn in zip(stated, rows.void, strict=True)]
    values = {name: [v for v, keep in zip(listed, filled, strict=True) if keep] for name, listed in rows.values.items()}
    kept = [row for row, keep in zip(rows.rows, filled, strict=True) if keep]
    void = [mark for mark, keep in zip(rows.void, filled, strict=True) if keep]
    return replace(rows, values=values, rows=kept, void=void)


def resolve(
    rows: SheetRows, book: Book, site: Site, context: Context, file: str, day: date
) -> tuple[list[dict[str, Any]], list[Finding]]:
    """What each ruling of a sheet taken on a day speaks of, for the journal; findings on those that do not apply."""
    made: list[dict[str, Any]] = []
    findings: list[Finding] = []
    passed_over = _repeated(rows)
    for position, row in enumerate(rows.rows):
        if position in passed_over:
            continue
        ruling = {n: v[position] for n, v in rows.values.items()}
        if rows.void[position]:
            ruling["ruling"] = "withdrawn"
        try:
            made.append(_resolve_one(ruling, rows, row, book, site, context, day))
        except _Refused as error:
            place = Place(file, rows.sheet, address(row - 1, rows.columns["finding"]["index"]))
            remedy = "Mend the row and save the sheet to the inbox again."
            findings.append(Finding(error.code, "review", error.message, subject=file, place=place, remedy=remedy))
            made.append({**_as_signed(ruling, rows, row), "refused": error.message})
    return made, findings


def _repeated(rows: SheetRows) -> set[int]:
    """Positions that do not count: of equal rulings all but the first, of unequal ones with one key all."""
    by_key: dict[str, list[int]] = {}
    for position, key in enumerate(natural_keys(rows.kind, rows.values, len(rows.rows))):
        by_key.setdefault(key, []).append(position)
    passed_over: set[int] = set()
    for positions in by_key.values():
        said = {(rows.void[at], *(str(listed[at]) for listed in rows.values.values())) for at in positions}
        passed_over.update(positions[1:] if len(said) == 1 else positions)
    return passed_over


def _resolve_one(
    ruling: dict[str, Any], rows: SheetRows, row: int, book: Book, site: Site, context: Context, day: date
) -> dict[str, Any]:
    name = str(ruling["finding"])
    withdrawn = ruling["ruling"] == "withdrawn"
    for needed in ("reason", "by"):
        if not ruling.get(needed) and not withdrawn:
            raise _Refused("ruling.incomplete", f"Row {row} rules on {name} without {needed}; it was not applied.")
    role = "release" if ruling["ruling"] == "release" else "rule"
    refused = people_of(site).refuses(str(ruling.get("by") or ""), role, day)
    if refused:
        raise _Refused("ruling.not-entitled", f"Row {row} was not applied: {refused}.")
    made = _as_signed(ruling, rows, row)
    if ruling["ruling"] == "release":
        _check_release(name, row, book)
    if ruling["ruling"] == "release" or withdrawn:
        return made
    about = book.known_finding(name)
    if about is None:
        raise _Refused("ruling.unknown-finding", f"Row {row} rules on {name}, which is no finding of this book.")
    made["finding"] = name.upper()
    made.update({key: about[key] for key in ("code", "subject", "message", "kind", "column", "spots")})
    if ruling["ruling"] in ("void", "correct") and not about["spots"]:
        raise _Refused(
            "ruling.nothing-to-change", f"Row {row}: {name} rests on no row that was taken; drop a mended file instead."
        )
    if ruling["ruling"] == "correct":
        made["set"] = _corrected(made, row, book, context)
    return made


def _check_release(name: str, row: int, book: Book) -> None:
    status = book.status(name)
    if status is None:
        raise _Refused("ruling.unknown-batch", f"Row {row} releases {name}, which is no batch with a record.")
    if status not in ("reconciled", "released"):
        raise _Refused(
            "ruling.not-reconciled",
            f"Row {row} releases {name}, which is {status}; only a reconciled batch can be "
            "released. Release it again when it is.",
        )


def _as_signed(ruling: dict[str, Any], rows: SheetRows, row: int) -> dict[str, Any]:
    """A ruling as its row states it, with the cell of its corrected value."""
    index = rows.columns.get("corrected_value", rows.columns["finding"])["index"]
    return {
        "finding": str(ruling["finding"]),
        "ruling": ruling["ruling"],
        **{name: ruling.get(name) or "" for name in ("corrected_value", "evidence", "reason", "by")},
        "ruled_on": ruling["ruled_on"],
        "sheet": rows.sheet,
        "cell": address(row - 1, index),
    }


def _corrected(made: dict[str, Any], row: int, book: Book, context: Context) -> dict[str, Any]:
    kind = book.kinds[made["kind"]]
    names = [column.name for column in kind.columns]
    if made["column"] not in names:
        raise _Refused(
            "ruling.nothing-to-change",
            f"Row {row}: {made['finding']} speaks of no single figure; drop a corrected file instead.",
        )
    if not made["corrected_value"]:
        raise _Refused("ruling.incomplete", f"Row {row} corrects {made['finding']} without a corrected_value.")
    column = kind.column(made["column"])
    fact = book.fact_at(*made["spots"][0])
    unit = book.unit_of(kind, fact, column) if fact is not None else ""
    default = context.units.find(column.quantity, unit) if unit else None
    typed = type_column(column, [made["corrected_value"]], context, Stated(default=default))
    if typed.faults:
        raise _Refused(
            "ruling.value-not-usable", f"Row {row}: the corrected value {made['corrected_value']!r} {typed.faults[0]}."
        )
    value = typed.values[0]
    changed = {column.frame_column: float(value) if column.type in ("number", "count") else value}
    if column.type == "moment":
        changed[f"{column.name}_timed"] = None if value is None else len(value) > 10
        changed[f"{column.name}_utc"] = wall_clock_as_utc([value], context.site.timezone)[0]
    if typed.units:
        changed[f"{column.name}_unit"] = typed.units[0]
    return changed
