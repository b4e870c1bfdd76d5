"""The sheet Balance of batches/BATCH/record.xlsx: the account, its losses, and whether it closes."""

from __future__ import annotations

from typing import Any

from openpyxl.utils import get_column_letter

from pipeline.writing.workbooks import Book, Sheet, reckoned
from plugins.records.record import words
from plugins.records.record.record import ENTRIES, STEPS
from plugins.records.workbooks import cells
from plugins.records.workbooks.cells import Head

Row = dict[str, Any]

ACCOUNT = (
    Head("Entry", 25),
    Head("Proof at 60 °F", 10, "proof"),
    Head("% vol at 20 °C", 10, "strength"),
    Head("Wine gallons at 60 °F", 12, "tenth"),
    Head("Litres at 20 °C", 12, "tenth"),
    Head("Proof gallons", 11, "tenth"),
    Head("LPA", 11, "tenth"),
    Head("Mass kg", 11, "tenth"),
    Head("Alcohol kg", 11, "tenth"),
    Head("± proof", 10, "hundredth"),
    Head("± mass kg", 11, "hundredth"),
    Head("± alcohol kg", 13, "hundredth"),
    Head("Basis", 36),
)
LOSS = (
    Head("Step", 25),
    Head("PG", 10, "tenth"),
    Head("LPA", 10, "tenth"),
    Head("Mass kg", 12, "tenth"),
)
CHECK = (
    Head("Component", 25),
    Head("As read", 10, "any"),
    Head("Perhaps", 10, "any"),
    Head("Unit", 12),
    Head("Before", 12, "tenth"),
    Head("After", 11, "tenth"),
)


def account(made: Book, record: Row) -> None:
    balance = record["balance"]
    asides = [f"Batch {record['batch']}. ± is the standard uncertainty. Gauged is never filled from expected."]
    sheet = cells.sheet(made, "Balance", "Account of the batch", asides)
    top = cells.header(sheet, ACCOUNT)
    for place, name in enumerate(ENTRIES, start=top + 1):
        line = entry_line(words.ENTRIES[name], balance[name])
        cells.line(sheet, place, ACCOUNT, living(line, name, place, record["components"]))
    cells.say(sheet, cells.below(sheet), "Losses by step; a gain is negative", "part")
    small_header(sheet, LOSS)
    for name in STEPS:
        step = balance["loss"][name] or {}
        values = [words.STEPS[name], step.get("proof_gallons"), step.get("lpa"), step.get("mass_kg")]
        cells.line(sheet, sheet.last + 1, LOSS, values)
    first = sheet.last - len(STEPS) + 1
    total: list[Any] = ["All steps"]
    for column, key in (("B", "proof_gallons"), ("C", "lpa"), ("D", "mass_kg")):
        known = [step[key] for step in balance["loss"].values() if step and step[key] is not None]
        value = sum(known) if known else None
        total.append(reckoned(f"SUM({column}{first}:{column}{sheet.last})", value, value))
    cells.line(sheet, sheet.last + 1, LOSS, total, "sum")
    cells.say(sheet, cells.below(sheet), "Does it close?", "part")
    smallest = balance["imbalance"]["smallest_visible"]
    for what, value in (
        ("Contraction, wine gallons", balance["contraction_60F_gal"]),
        ("Misses in mass by, in ±", balance["imbalance"]["mass_z"]),
        ("Misses in alcohol by, in ±", balance["imbalance"]["ethanol_z"]),
        ("Smallest slip seen, proof", smallest["proof"]),
        ("Smallest slip seen, kg", smallest["mass_kg"]),
    ):
        row = sheet.last + 1
        cells.put(sheet, row, 1, what)
        cells.put(sheet, row, 2, value, "hundredth")
    said = words.misses(balance["imbalance"]["mass_z"], balance["imbalance"]["ethanol_z"])
    if said:
        cells.say(sheet, sheet.last + 1, said, "aside")
    official(sheet, balance["gauged"])
    figures(sheet, balance["imbalance"]["figures_to_check"])
    cells.for_print(sheet, ACCOUNT, top, freeze=f"B{top + 1}")


def living(line: list[Any], name: str, place: int, parts: list[Row]) -> list[Any]:
    """Drawn and water as sums of the sheet Components, expected as the sum of both, wherever that gives the figure.

    Components begin in row 5 there: title, one line of explanation, a free row, the header.
    """
    first, last = FIRST_PART, FIRST_PART + len(parts) - 1
    for column, (key, of) in OF_COMPONENTS.items():
        mine = [part[key] for part in parts if (part["kind"] == "water") == (name == "water")]
        whole = [part[key] for part in parts]
        area, kinds = f"Components!{of}{first}:{of}{last}", f"Components!B{first}:B{last}"
        own = get_column_letter(column)
        text, found = {
            "drawn": (f'SUM({area})-SUMIF({kinds},"water",{area})', mine),
            "water": (f'SUMIF({kinds},"water",{area})', mine),
            "expected": (f"{own}{place - 2}+{own}{place - 1}", whole),
        }.get(name, ("", []))
        if found:
            line[column - 1] = reckoned(text, line[column - 1], sum(value or 0.0 for value in found))
    return line


OF_COMPONENTS = {6: ("proof_gallons", "M"), 7: ("lpa", "N"), 8: ("mass_kg", "O"), 9: ("ethanol_kg", "W")}
"""Columns of the account that add up, with the key of a component and its column on the sheet Components."""
FIRST_PART = 5


def official(sheet: Sheet, gauged: Row | None) -> None:
    """The gauge's proof gallons as the law rounds them, apart from the figures that are not so rounded."""
    if gauged is None or gauged["proof_gallons_official"] is None:
        return
    cells.say(sheet, cells.below(sheet), f"Proof gallons of the gauge, {words.OFFICIAL}", "part")
    row = sheet.last + 1
    cells.put(sheet, row, 1, "Gauged, official")
    cells.put(sheet, row, 2, gauged["proof_gallons_official"], "tenth")
    cells.say(sheet, row + 1, f"Unrounded it stands above; {words.WHY_OFFICIAL}.", "aside")


def figures(sheet: Sheet, found: list[Row]) -> None:
    """Figures to check, where there are any."""
    if not found:
        return
    says = "Figures to check, most likely first; a figure to check is not an accusation"
    cells.say(sheet, cells.below(sheet), says, "part")
    says = (
        "Before and after it is mended: by how much the whole account misses, as a normal score; it closes up to 2.3, "
        "where 2 of 100 sound ones may be stopped."
    )
    cells.say(sheet, sheet.last + 1, says, "aside")
    small_header(sheet, CHECK)
    for figure in found:
        row = sheet.last + 1
        names = f"{', '.join(figure['components'])}: {words.spoken(figure['quantity'] or '')}"
        seen = (figure["z_before"], figure["z_after"])
        values = [names, figure["as_read"], figure["as_corrected"], words.unit(figure["unit"]), *seen]
        cells.line(sheet, row, CHECK, values)
        said = f"{figure['slip'] or ''} ({words.place(figure['place'])})"
        cells.put(sheet, row, len(CHECK) + 1, said, align="overflows")


def small_header(sheet: Sheet, heads: tuple[Head, ...]) -> None:
    """A header row right below, which leaves the column widths of the first table."""
    row = sheet.last + 1
    for column, head in enumerate(heads, start=1):
        align = "right" if head.look in cells.NUMBERS else ""
        cells.put(sheet, row, column, head.title, "text", "header", align)


def entry_line(title: str, entry: Row | None) -> list[Any]:
    if entry is None:
        return [title, *[None] * 11, "not there"]
    apart = entry["uncertainty"]
    return [
        title,
        entry["proof_60F"],
        entry["abv_20C"],
        entry["volume_60F_gal"],
        entry["volume_20C_L"],
        entry["proof_gallons"],
        entry["lpa"],
        entry["mass_kg"],
        entry["ethanol_kg"],
        apart["proof_60F"],
        apart["mass_kg"],
        apart["ethanol_kg"],
        " ".join([entry["basis"] or "", *words.corrections(entry["corrected"])]).strip() or None,
    ]
