"""Every figure of a batch's account beside the nearest with which mass and alcohol balance, for page and workbook."""

from __future__ import annotations

from typing import Any

from pipeline.writing.workbooks import Book
from plugins.records.record import words
from plugins.records.workbooks import cells
from plugins.records.workbooks.cells import Head

Row = dict[str, Any]
SIDES = {
    "gauged": "the vat’s gauge",
    "vat": "the vat before the filter",
    "bottled": "filled into bottles",
    "lost": "lost at this step",
    "dump": "content by dump gauge",
    "drawn": "drawn",
}
SPREADS = (
    " One wrong figure is then spread over all others, so that what stands as reconciled counts only once it is mended."
)
# What people look at first; draws are many, and of these the page shows those that would have to move most.
FIRST = ("gauged", "vat", "bottled", "lost")
MOST_DRAWS = 24
HEADS = (
    Head("Component or step", 25),
    Head("Figure", 22),
    Head("Drawn on", 11, "date"),
    Head("Line", 7),
    Head("Unit", 8),
    Head("Measured", 12, "hundredth"),
    Head("± measured", 12, "hundredth"),
    Head("Reconciled", 12, "hundredth"),
    Head("± reconciled", 13, "hundredth"),
    Head("Moved by, in ±", 11, "hundredth"),
    Head("Test of an error of its own", 12, "hundredth"),
    Head("Beyond chance", 9),
    Head("Smallest error seen in half of cases", 14, "hundredth"),
)


def moved(figure: Row) -> float | None:
    """By how many of its standard uncertainties a figure had to move; None of one that is exact or not measured."""
    if figure["measured"] is None or figure["reconciled"] is None or not figure["uncertainty"]:
        return None
    return float((figure["reconciled"] - figure["measured"]) / figure["uncertainty"])


def view(record: Row) -> Row | None:
    """What the page shows: the test of all balances, and lines of figures; None where nothing was reconciled."""
    found = record["balance"].get("reconciled")
    if not found or not found["figures"]:
        return None
    known = [figure for figure in found["figures"] if figure["side"] == "lost" or figure["uncertainty"]]
    first = [figure for side in FIRST for figure in known if figure["side"] == side]
    draws = [figure for figure in known if figure["side"] not in FIRST]
    order = sorted(range(len(draws)), key=lambda place: -abs(moved(draws[place]) or 0.0))
    shown = [draws[place] for place in sorted(order[:MOST_DRAWS])]
    return {
        "says": says(found),
        "lines": [line(figure) for figure in [*first, *shown]],
        "hidden": len(draws) - len(shown),
    }


def says(found: Row) -> str:
    """The test of all balances together, in a sentence."""
    closes = "closes" if found["closes"] else "does not close"
    balances = words.count(found["degrees"], "balance")
    chance = max(100.0 * (found["p_value"] or 0.0), 0.01)
    than = "less than " if chance <= 0.01 else ""
    dumps = sum(figure["side"] == "dump" for figure in found["figures"])
    beside = " (the casks’ dump gauges beside each other counted in)" if dumps > 1 else ""
    return (
        f"The account {closes}: its {balances} together miss by a chi-square of "
        f"{words.number(found['chi_square'], 1)}; chance gives so much or more{beside} in {than}{_chance(chance)} "
        f"of 100 batches in which nothing is wrong.{'' if found['closes'] else SPREADS}"
    )


def line(figure: Row) -> Row:
    away, digits = moved(figure), 2 if figure["unit"] == "proof" else 1
    of_loss = figure["side"] == "lost"
    return {
        "component": words.STEPS.get(figure["component"], figure["component"]) if of_loss else figure["component"],
        "what": what(figure),
        "unit": figure["unit"],
        "measured": words.NONE if of_loss else words.number(figure["measured"], digits),
        "uncertainty": "" if of_loss else words.number(figure["uncertainty"], digits),
        "reconciled": words.number(figure["reconciled"], digits),
        "reconciled_uncertainty": words.number(figure["reconciled_uncertainty"], digits),
        "moved": words.NONE if away is None else f"{away:+.1f}".replace("-", "\u2212"),
        "beyond": bool(figure["beyond_chance"]),
        "smallest": words.NONE
        if figure["smallest_visible"] is None
        else words.number(figure["smallest_visible"], digits),
    }


def what(figure: Row) -> str:
    quantity = "strength" if figure["quantity"] == "strength" else "mass"
    side = str(SIDES.get(figure["side"], figure["side"]))
    return f"{quantity}, {side}" if figure["side"] != "lost" else side


def reconciled_sheet(made: Book, record: Row) -> None:
    """The sheet Reconciled of record.xlsx: all figures, unrounded. No sheet where nothing was reconciled."""
    found = record["balance"].get("reconciled")
    if not found or not found["figures"]:
        return
    asides = [
        says(found),
        "Reconciled: nearest to the measured figures, with mass and alcohol in balance; they replace no gauge.",
    ]
    sheet = cells.sheet(made, "Reconciled", "Figures as measured and as reconciled", asides)
    top = cells.header(sheet, HEADS)
    for row, figure in enumerate(found["figures"], start=top + 1):
        cells.line(sheet, row, HEADS, values(figure))
    cells.for_print(sheet, HEADS, top, freeze=f"B{top + 1}")


def values(figure: Row) -> list[Any]:
    kept = ("unit", "measured", "uncertainty", "reconciled", "reconciled_uncertainty")
    beyond = figure["beyond_chance"]
    return [
        figure["component"],
        what(figure),
        (figure["drawn_at"] or "")[:10] or None,
        figure["line"],
        *(figure[name] for name in kept),
        moved(figure),
        figure["score"],
        None if beyond is None else "yes" if beyond else "no",
        figure["smallest_visible"],
    ]


def _chance(in_100: float) -> str:
    """How many of 100, with two digits; never as a power of ten."""
    return f"{in_100:.0f}" if in_100 >= 9.5 else f"{in_100:.2g}"
