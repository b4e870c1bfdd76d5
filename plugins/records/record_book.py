"""batches/BATCH/record.xlsx: the record as sheets. Figures are unrounded; the cell's format rounds what is shown."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from openpyxl import Workbook
from openpyxl.utils import get_column_letter

from pipeline.outputs import workbook_bytes
from plugins.records import cells, words
from plugins.records.cells import Head
from plugins.records.plain import rows
from plugins.records.reasons import why
from plugins.records.record import ENTRIES, STEPS, draw, poured

if TYPE_CHECKING:
    import pandas as pd

Row = dict[str, Any]
STATUS_FILLS = {"held": "stop", "in review": "review", "reconciled": "good", "released": "good"}
CAUTION = "Control record; figures of record are the signed gauges. Not a return, and not accepted by any authority."
VAPOUR = "Spirit of this strength gives off vapour that ignites at room temperature; the site’s fire rules come first."
NO_ADVICE = "No legal advice and no label approval: a person signs. Unverified rules must be checked against the law."

PARTS = (
    Head("Component", 16),
    Head("Kind", 10),
    Head("Filling", 16),
    Head("Filled on", 11, "date"),
    Head("Drawn at", 16, "moment"),
    Head("Line", 7),
    Head("Proof at 60 °F", 10, "proof"),
    Head("Strength is", 10),
    Head("Apparent proof", 10, "proof"),
    Head("% vol at 20 °C", 10, "strength"),
    Head("Wine gallons at 60 °F", 11, "tenth"),
    Head("Litres at 20 °C", 11, "tenth"),
    Head("Proof gallons", 10, "tenth"),
    Head("LPA", 10, "tenth"),
    Head("Mass kg", 10, "tenth"),
    Head("Planned wine gallons", 11, "tenth"),
    Head("Age, years", 7, "count"),
    Head("months", 8, "count"),
    Head("days", 6, "count"),
    Head("How measured", 20),
    Head("Strength from", 28),
)
ACCOUNT = (
    Head("Entry", 25),
    Head("Proof at 60 °F", 10, "proof"),
    Head("% vol at 20 °C", 10, "strength"),
    Head("Wine gallons at 60 °F", 12, "tenth"),
    Head("Litres at 20 °C", 12, "tenth"),
    Head("Proof gallons", 11, "tenth"),
    Head("Proof gallons, to the law’s tenth", 12, "tenth"),
    Head("LPA", 11, "tenth"),
    Head("Mass kg", 11, "tenth"),
    Head("Alcohol kg", 11, "tenth"),
    Head("± proof", 9, "hundredth"),
    Head("± mass kg", 9, "hundredth"),
    Head("± alcohol kg", 9, "hundredth"),
    Head("Basis", 36),
)
LOSS = (
    Head("Step", 25),
    Head("PG", 10, "hundredth"),
    Head("LPA", 10, "hundredth"),
    Head("Mass kg", 12, "hundredth"),
)
CHECK = (
    Head("Component", 25),
    Head("As read", 10, "any"),
    Head("Perhaps", 10, "any"),
    Head("Unit", 12),
    Head("Misfit before", 12, "tenth"),
    Head("after", 11, "tenth"),
)
CLAIMS = (
    Head("Claim", 20),
    Head("Market", 9),
    Head("Verdict", 12),
    Head("Reason", 48),
    Head("Rule", 22),
    Head("Unverified", 12),
    Head("Facts", 48),
)
FOUND = (
    Head("Finding", 16),
    Head("Severity", 10),
    Head("Message", 42),
    Head("Observed", 15),
    Head("Expected", 15),
    Head("Subject", 12),
    Head("Place", 20),
    Head("Rule", 17),
    Head("Remedy", 30),
    Head("Ruling", 24),
    Head("Code", 20),
)
SOURCES = (Head("File", 36), Head("Sheet", 18), Head("Rows", 40), Head("SHA-256", 68))


def book(
    record: Row, components: pd.DataFrame, component_ages: pd.DataFrame | None, site: Any, run: Any, ruling: Any
) -> bytes:
    """The workbook of one batch."""
    made = cells.new_book()
    summary(made, record, site, run, ruling)
    parts(made, record, components, component_ages)
    account(made, record)
    label(made, record)
    findings(made, record)
    sources(made, record)
    extra(made, record)
    return workbook_bytes(made)


def summary(made: Workbook, record: Row, site: Any, run: Any, ruling: Any) -> None:
    sheet = cells.sheet(made, "Summary", f"Batch {record['batch']}", [CAUTION, VAPOUR])
    heads = (Head("What", 34), Head("Value", 22), Head("Unit or note", 70))
    top = cells.header(sheet, heads)
    for place, (what, value, look, note) in enumerate(summed(record, site, run, ruling), start=top + 1):
        fill = STATUS_FILLS.get(value, "") if what == "Status" else ""
        cells.line(sheet, place, heads, [what, value, note])
        cells.put(sheet.cell(place, 2), value, look, fill)
        sheet.cell(place, 2).alignment = cells.LEFT
    cells.for_print(sheet, top, freeze=f"A{top + 1}", landscape=False)


def summed(record: Row, site: Any, run: Any, ruling: Any) -> list[tuple[str, Any, str, str]]:
    """What, value, look and note of each line of the summary."""
    lines: list[tuple[str, Any, str, str]] = [
        ("House", site.house, "text", ""),
        ("Product", record["product"], "text", ""),
        ("Market", record["market"], "text", ""),
        ("Status", record["status"], "text", " ".join(why(record, ruling))),
        ("Book date", run.book_date, "date", "latest date among the facts"),
    ]
    for name in ("expected", "gauged", "bottled"):
        entry = record["balance"][name]
        title = words.ENTRIES[name]
        if entry is None:
            lines.append((title, None, "text", "not there"))
            continue
        lines += [
            (f"{title}: strength", entry["proof_60F"], "proof", "proof at 60 °F"),
            ("", entry["abv_20C"], "strength", "% vol at 20 °C"),
            (f"{title}: quantity", entry["volume_60F_gal"], "tenth", "wine gallons at 60 °F"),
            ("", entry["volume_20C_L"], "tenth", "litres at 20 °C"),
            (f"{title}: alcohol", entry["proof_gallons"], "tenth", "proof gallons"),
            ("", entry["lpa"], "tenth", "LPA"),
        ]
    age = record["age"]
    lines += [
        ("Contraction", record["balance"]["contraction_60F_gal"], "hundredth", "wine gallons at 60 °F"),
        ("Youngest component", age["youngest_component"], "text", words.age(age["years"], age["months"], age["days"])),
        ("Components", len(record["components"]), "count", "lines of the make-up"),
        ("Open findings", sum(found["ruling"] is None for found in record["findings"]), "count", "see Findings"),
    ]
    lines += [
        (f"Label: {claim['claim']}", claim["verdict"], "text", claim["market"] or "") for claim in record["label"]
    ]
    return lines


def parts(made: Workbook, record: Row, components: pd.DataFrame, component_ages: pd.DataFrame | None) -> None:
    says = f"Batch {record['batch']}, in the order drawn. Volumes do not add: they contract."
    sheet = cells.sheet(made, "Components", "Make-up of the vat", [says])
    top = cells.header(sheet, PARTS)
    ages = {draw(row): row for row in rows(component_ages)}
    found = poured(components)
    for place, part in enumerate(found, start=top + 1):
        cells.line(sheet, place, PARTS, part_line(part, ages.get(draw(part), {})))
    sums = {name: sum(part[name] or 0.0 for part in found) for name in ("proof_gallons", "lpa", "mass_kg")}
    cells.line(
        sheet,
        top + 1 + len(found),
        PARTS,
        ["Sums", *[None] * 11, sums["proof_gallons"], sums["lpa"], sums["mass_kg"], *[None] * 6],
        "sum",
    )
    sheet.auto_filter.ref = f"A{top}:{get_column_letter(len(PARTS))}{top + max(len(found), 1)}"
    cells.for_print(sheet, top, freeze=f"B{top + 1}", across=2)


def part_line(part: Row, age: Row) -> list[Any]:
    return [
        part["component"],
        words.KINDS.get(part["kind"] or "", part["kind"]),
        part.get("filling"),
        cells.day(part.get("filled_on")),
        cells.day(part.get("drawn_at")),
        part.get("line"),
        part["proof_60F"],
        part.get("strength_basis"),
        part.get("proof_apparent_60F"),
        part["abv_20C"],
        part["volume_60F_gal"],
        part["volume_20C_L"],
        part["proof_gallons"],
        part["lpa"],
        part["mass_kg"],
        part.get("planned_volume_60F_gal"),
        age.get("years"),
        age.get("months"),
        age.get("days"),
        words.BASES.get(part.get("drawn_basis") or "", part.get("drawn_basis")),
        part.get("strength_source"),
    ]


def account(made: Workbook, record: Row) -> None:
    balance = record["balance"]
    asides = [f"Batch {record['batch']}. ± is the standard uncertainty. Gauged is never filled from expected."]
    sheet = cells.sheet(made, "Balance", "Account of the batch", asides)
    top = cells.header(sheet, ACCOUNT)
    for place, name in enumerate(ENTRIES, start=top + 1):
        cells.line(sheet, place, ACCOUNT, entry_line(words.ENTRIES[name], balance[name]))
    cells.say(sheet, cells.below(sheet), "Losses by step; a gain is negative", "part")
    small_header(sheet, LOSS)
    for name in STEPS:
        step = balance["loss"][name] or {}
        values = [words.STEPS[name], step.get("proof_gallons"), step.get("lpa"), step.get("mass_kg")]
        cells.line(sheet, sheet.max_row + 1, LOSS, values)
    cells.say(sheet, cells.below(sheet), "Does it close?", "part")
    smallest = balance["imbalance"]["smallest_visible"]
    for what, value in (
        ("Contraction, wine gallons", balance["contraction_60F_gal"]),
        ("Misfit of mass, in ±", balance["imbalance"]["mass_z"]),
        ("Misfit of alcohol, in ±", balance["imbalance"]["ethanol_z"]),
        ("Smallest slip seen, proof", smallest["proof"]),
        ("Smallest slip seen, kg", smallest["mass_kg"]),
    ):
        row = sheet.max_row + 1
        cells.put(sheet.cell(row, 1), what)
        cells.put(sheet.cell(row, 2), value, "hundredth")
    figures(sheet, balance["imbalance"]["figures_to_check"])
    cells.for_print(sheet, top, freeze=f"B{top + 1}")


def figures(sheet: Any, found: list[Row]) -> None:
    """Figures to check, where there are any."""
    if not found:
        return
    says = "Figures to check, most likely first; a figure to check is not an accusation"
    cells.say(sheet, cells.below(sheet), says, "part")
    small_header(sheet, CHECK)
    for figure in found:
        row = sheet.max_row + 1
        names = f"{', '.join(figure['components'])}: {words.spoken(figure['quantity'] or '')}"
        seen = (figure["z_before"], figure["z_after"])
        values = [names, figure["as_read"], figure["as_corrected"], words.unit(figure["unit"]), *seen]
        cells.line(sheet, row, CHECK, values)
        cells.put(sheet.cell(row, len(CHECK) + 1), f"{figure['slip'] or ''} ({words.place(figure['place'])})")
        sheet.cell(row, len(CHECK) + 1).alignment = cells.OVERFLOWS


def small_header(sheet: Any, heads: tuple[Head, ...]) -> None:
    """A header row right below, which leaves the column widths of the first table."""
    row = sheet.max_row + 1
    for column, head in enumerate(heads, start=1):
        cells.put(sheet.cell(row, column), head.title, "text", "header")
        if head.look in cells.NUMBERS:
            sheet.cell(row, column).alignment = cells.RIGHT


def entry_line(title: str, entry: Row | None) -> list[Any]:
    if entry is None:
        return [title, *[None] * 12, "not there"]
    apart = entry["uncertainty"]
    return [
        title,
        entry["proof_60F"],
        entry["abv_20C"],
        entry["volume_60F_gal"],
        entry["volume_20C_L"],
        entry["proof_gallons"],
        entry["proof_gallons_official"],
        entry["lpa"],
        entry["mass_kg"],
        entry["ethanol_kg"],
        apart["proof_60F"],
        apart["mass_kg"],
        apart["ethanol_kg"],
        entry["basis"],
    ]


def label(made: Workbook, record: Row) -> None:
    sheet = cells.sheet(made, "Label", "Label claims", [NO_ADVICE])
    top = cells.header(sheet, CLAIMS)
    for place, claim in enumerate(record["label"], start=top + 1):
        unverified = None if claim["unverified"] is None else words.free(claim["unverified"])
        facts = words.free(claim["facts"]) if claim["facts"] else None
        values = [claim["claim"], claim["market"], claim["verdict"], claim["reason"], claim["rule"], unverified, facts]
        cells.line(sheet, place, CLAIMS, values)
        fill = {"met": "good", "not met": "stop", "cannot tell": "review"}.get(claim["verdict"] or "", "")
        cells.put(sheet.cell(place, 3), claim["verdict"], "text", fill)
    if not record["label"]:
        cells.say(sheet, top + 1, "No claim was judged: the brief names no market or no claim.", "aside")
    cells.for_print(sheet, top, freeze=f"B{top + 1}")


def findings(made: Workbook, record: Row) -> None:
    says = "Rule on the open ones in exceptions/open.xlsx."
    sheet = cells.sheet(made, "Findings", "Findings that concern the batch", [says])
    top = cells.header(sheet, FOUND)
    for place, found in enumerate(record["findings"], start=top + 1):
        ruled = found["ruling"]
        said = f"{ruled['ruling']} by {ruled['by']} on {ruled['ruled_on']}: {ruled['reason']}" if ruled else None
        values = [
            found["id"],
            found["severity"],
            found["message"],
            found["observed"],
            found["expected"],
            found["subject"],
            words.place(found["place"]) or None,
            found["rule"],
            found["remedy"],
            said,
            found["code"],
        ]
        cells.line(sheet, place, FOUND, values)
        fill = {"stop": "stop", "review": "review"}.get(found["severity"], "") if not ruled else ""
        cells.put(sheet.cell(place, 2), found["severity"], "text", fill)
    sheet.auto_filter.ref = f"A{top}:{get_column_letter(len(FOUND))}{top + max(len(record['findings']), 1)}"
    cells.for_print(sheet, top, freeze=f"B{top + 1}")


def sources(made: Workbook, record: Row) -> None:
    sheet = cells.sheet(made, "Sources", "Sources", ["Every figure of the record rests on these rows."])
    top = cells.header(sheet, SOURCES)
    for place, source in enumerate(record["sources"], start=top + 1):
        values = [source["file"], source["sheet"] or None, words.ranges(source["rows"]), source["sha256"]]
        cells.line(sheet, place, SOURCES, values)
    cells.for_print(sheet, top, freeze=f"A{top + 1}")


def extra(made: Workbook, record: Row) -> None:
    """One sheet for each frame of a site's plugin."""
    for plugin, frames in record["extra"].items():
        for frame, lines in frames.items():
            if not lines:
                continue
            name = cells.sheet_name(made, words.spoken(frame))
            sheet = cells.sheet(made, name, words.spoken(frame), [f"From the site’s plugin {plugin}."])
            heads = tuple(Head(words.spoken(column), 18, "any") for column in lines[0])
            top = cells.header(sheet, heads)
            for place, row in enumerate(lines, start=top + 1):
                cells.line(sheet, place, heads, [shown(value) for value in row.values()])
            cells.for_print(sheet, top, freeze=f"A{top + 1}")


def shown(value: Any) -> Any:
    """Numbers and text as they are, anything else in words."""
    return value if isinstance(value, (str, int, float)) or value is None else words.free(value)
