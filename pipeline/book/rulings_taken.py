"""A sheet of rulings as it is taken: which rows count, and which findings and cells each speaks of."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from pipeline.book.releasing import sign
from pipeline.book.taking import Refused, Taking
from pipeline.contract.findings import Finding, Place
from pipeline.sheets.cells import Stated, type_column
from pipeline.sheets.dates import wall_clock_as_utc
from pipeline.sheets.keys import natural_keys
from pipeline.sheets.rows import SheetRows
from pipeline.sheets.rulings_sheet import RELEASES
from pipeline.sheets.units import convert
from pipeline.site.people import people_of
from pipeline.tables.tables import address

STATED = ("corrected_value", "evidence", "reason", "by", "record", "section")


def drop_blank_rulings(rows: SheetRows) -> SheetRows:
    """A row whose ruling is empty is no row: reviewers send whole workbooks back."""
    stated = rows.values.get("ruling", [None] * len(rows.rows))
    filled = [value is not None or withdrawn for value, withdrawn in zip(stated, rows.void, strict=True)]
    values = {name: [v for v, keep in zip(listed, filled, strict=True) if keep] for name, listed in rows.values.items()}
    kept = [row for row, keep in zip(rows.rows, filled, strict=True) if keep]
    void = [mark for mark, keep in zip(rows.void, filled, strict=True) if keep]
    return replace(rows, values=values, rows=kept, void=void)


def resolve(rows: SheetRows, taking: Taking) -> tuple[list[dict[str, Any]], list[Finding]]:
    """What each ruling of a sheet speaks of, for the journal; findings on those that cannot be applied."""
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
            made.append(_resolve_one(ruling, rows, row, taking))
        except Refused as error:
            place = Place(taking.file, rows.sheet, address(row - 1, rows.columns["finding"]["index"]))
            # a note: it needs no ruling of its own, and stays listed in the history
            findings.append(
                Finding(error.code, "note", error.message, subject=taking.file, place=place, remedy=error.remedy)
            )
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


def _resolve_one(ruling: dict[str, Any], rows: SheetRows, row: int, taking: Taking) -> dict[str, Any]:
    name = str(ruling["finding"])
    withdrawn = ruling["ruling"] == "withdrawn"
    for needed in ("by",) if withdrawn else ("reason", "by"):
        if not ruling.get(needed):
            raise Refused("ruling.incomplete", f"Row {row} rules on {name} without {needed}; it was not applied.")
    people = people_of(taking.site)
    refused = people.refuses(ruling["by"], "release" if ruling["ruling"] in RELEASES else "rule", taking.day)
    if refused:
        raise Refused("ruling.not-entitled", f"Row {row} was not applied: {refused}.")
    ruling["by"] = people.name_of(ruling["by"])
    made = _as_signed(ruling, rows, row)
    if withdrawn:
        return made
    if ruling["ruling"] in RELEASES:
        return sign(made, row, taking)
    about = taking.book.known_finding(name)
    if about is None:
        raise Refused("ruling.unknown-finding", f"Row {row} rules on {name}, which is no finding of this book.")
    made["finding"] = name.upper()
    made.update({key: about[key] for key in ("code", "subject", "batch", "message", "kind", "column", "spots")})
    made["feeds"] = about["feeds"] or [about["batch"]] * about["of_law"]
    _check(made, about, row)
    if ruling["ruling"] == "correct":
        made["set"] = _corrected(made, row, taking)
        made.update(_as_first_stated(made, taking))
    return made


def _check(made: dict[str, Any], about: dict[str, Any], row: int) -> None:
    """Hold a ruling against the finding that it speaks of. Raises Refused in words."""
    name, ruling = made["finding"], made["ruling"]
    if about["code"].startswith(("ruling.", "record.release")):
        raise Refused(
            "ruling.of-a-ruling", f"Row {row}: {name} speaks of a ruling or a release; do what it says instead."
        )
    if about["of_law"] and ruling == "accept":
        raise Refused(
            "ruling.verdict-of-law",
            f"Row {row} accepts {name}, which is a verdict of law; no ruling closes one.",
            "Change the brief, correct the wrong cell with evidence, or bring the fact that is missing. Where the rule "
            "itself is wrong, two persons can release the batch against the verdict.",
        )
    if ruling in ("void", "correct") and not about["spots"]:
        raise Refused(
            "ruling.nothing-to-change", f"Row {row}: {name} rests on no row that was taken; drop a mended file instead."
        )
    if ruling == "correct" and (about["of_law"] or about["feeds"]) and not made["evidence"]:
        raise Refused(
            "ruling.no-evidence",
            f"Row {row} corrects {name}, on which a verdict of law rests, without evidence.",
            "Write under evidence what proves the right figure, and save the sheet to the inbox again.",
        )


def _as_signed(ruling: dict[str, Any], rows: SheetRows, row: int) -> dict[str, Any]:
    """A ruling as its row states it, with the cell of its corrected value."""
    index = rows.columns.get("corrected_value", rows.columns["finding"])["index"]
    return {
        "finding": str(ruling["finding"]),
        "ruling": ruling["ruling"],
        **{name: ruling.get(name) or "" for name in STATED},
        "ruled_on": ruling["ruled_on"],
        "sheet": rows.sheet,
        "cell": address(row - 1, index),
    }


def _corrected(made: dict[str, Any], row: int, taking: Taking) -> dict[str, Any]:
    book, context = taking.book, taking.context
    kind = book.kinds[made["kind"]]
    names = [column.name for column in kind.columns]
    if made["column"] not in names:
        raise Refused(
            "ruling.nothing-to-change",
            f"Row {row}: {made['finding']} speaks of no single figure; drop a corrected file instead.",
        )
    if not made["corrected_value"]:
        raise Refused("ruling.incomplete", f"Row {row} corrects {made['finding']} without a corrected_value.")
    column = kind.column(made["column"])
    fact = book.fact_at(*made["spots"][0])
    unit = book.unit_of(kind, fact, column) if fact is not None else ""
    default = context.units.find(column.quantity, unit) if unit else None
    typed = type_column(column, [made["corrected_value"]], context, Stated(default=default))
    if typed.faults:
        raise Refused(
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


def _as_first_stated(made: dict[str, Any], taking: Taking) -> dict[str, str]:
    """What a corrected cell said when its file was taken, in the unit of its sheet, and where it stands."""
    book, (number, sheet, row) = taking.book, made["spots"][0]
    kind = book.kinds[made["kind"]]
    column = kind.column(made["column"])
    found = book.stated_at(number, sheet, row)
    if found is None:
        return {}
    fact, info = found
    value, unit = book.value_of(kind, fact, column.frame_column), book.unit_of(kind, fact, column)
    if value is not None and unit and column.unit:
        known = [taking.context.units.find(column.quantity, words) for words in (column.unit, unit)]
        if known[0] and known[1]:
            value, unit = convert(float(value), known[0], known[1]), known[1].unit
    shown = f"{value:.6g}" if isinstance(value, float) else "nothing" if value is None else str(value)
    index = info.columns.get(column.name, {}).get("index", 0)
    file = next(line["name"] for line in book.files() if line["number"] == number)
    return {
        "original": f"{shown} {unit}".strip(),
        "place": str(Place(file, sheet, address(row - 1, index))),
    }
