"""The workbook of a bench card: what to pour, which glass holds what, the tasters' pages, and how it goes.

The first three pages come back filled in; the fourth is never read.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from openpyxl import Workbook
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.pagebreak import Break
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from pipeline.contract.kinds import EXPLANATIONS
from pipeline.writing.workbooks import Book, Paper, Sheet

Row = dict[str, Any]
Columns = tuple[tuple[str, float, str], ...]
DARK, GREY, HEAD, WRITE, WARN, RULE, BAND = "1F2A30", "5A6268", "E3E8E4", "FFF7D6", "F6DDCB", "A9B0AB", "F4F6F4"
EDGE = Side(style="thin", color=RULE)
FRAMED = Border(left=EDGE, right=EDGE, top=EDGE, bottom=EDGE)
TOP = Alignment(vertical="top", wrap_text=True)
CAUTIONS = (
    "Cask strength burns: nose at the strength on the card, spit, drink water, eat. Eight to ten small glasses at most "
    "in one sitting.",
    "Nobody is asked to swallow, and nobody tastes who is pregnant, on medicine that interacts, or in recovery. No "
    "driving and no machines afterwards.",
    "Spirit vapour burns: no flame or hot plate at the bench. Duty applies to samples and to the spittoon: record what "
    "was used and destroyed.",
    "The site's alcohol policy, fire code and licence come before anything printed here.",
)
POUR = (
    ("Trial", 20, ""), ("Batch", 11, ""), ("Component", 15, ""), ("ml", 9, "0.0"),
    ("Strength of sample (% vol)", 17, "0.0"), ("Total ml", 9, "0.0"), ("Made at", 13, "yyyy-mm-dd"),
    ("Made by", 14, ""), ("Accepted", 10, ""), ("Proposal", 17, ""), ("Remark", 44, ""),
)  # fmt: skip
GLASS = (
    ("Flight", 16, ""), ("Pouring order", 9, "0"), ("Code", 9, ""), ("Trial", 22, ""), ("Role", 13, ""),
    ("Batch", 11, ""), ("Nosing strength (% vol)", 12, "0.0"), ("Spirit in glass ml", 11, "0.0"),
    ("Water in glass ml", 11, "0.0"),
)  # fmt: skip


class Look(NamedTuple):
    """How a framed cell is shown: its number format, its fill, and whether it is bold."""

    shown: str = ""
    fill: str = ""
    bold: bool = False


class Layout(NamedTuple):
    """Widths, the header's row (0: none), areas with words to choose from, merged areas, rows that end pages."""

    widths: tuple[float, ...]
    header: int = 0
    choices: tuple[tuple[str, str], ...] = ()
    merged: tuple[str, ...] = ()
    breaks: tuple[int, ...] = ()


def _give(cell: Any, look: Look | str) -> None:
    if isinstance(look, Look):
        cell.font = Font(name="Calibri", size=11, color=DARK, bold=look.bold)
        cell.alignment, cell.border = TOP, FRAMED
        if look.shown:
            cell.number_format = look.shown
        if look.fill:
            cell.fill = PatternFill("solid", start_color=look.fill, end_color=look.fill)
    elif look == "text":
        cell.alignment = TOP
    else:
        cell.font = (
            Font(name="Georgia", size=15, bold=True, color=DARK) if look == "title" else Font(size=10, color=GREY)
        )


def _lay_out(sheet: Worksheet, layout: Layout) -> None:
    for column, width in enumerate(layout.widths, start=1):
        sheet.column_dimensions[get_column_letter(column)].width = width
    if layout.header:
        sheet.freeze_panes = f"A{layout.header + 1}"
        sheet.print_title_rows = f"{layout.header}:{layout.header}"
        sheet.page_margins.left = sheet.page_margins.right = 0.4
        sheet.page_margins.top = sheet.page_margins.bottom = 0.5
    sheet.page_setup.orientation, sheet.page_setup.paperSize = "landscape", 9
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    for area, words in layout.choices:
        check = DataValidation("list", formula1=f'"{words}"', allow_blank=True)
        check.add(area)
        sheet.add_data_validation(check)
    for area in layout.merged:
        sheet.merged_cells.add(area)
    for row in layout.breaks:
        sheet.row_breaks.append(Break(id=row))


PAPER = Paper(Workbook, _give, _lay_out)


def card_bytes(card: Row) -> bytes:
    """The workbook of a card from ``plan_card``."""
    book = Book(PAPER)
    _pour(book.sheet("Pour"), card)
    _glasses(book.sheet("Glasses"), card)
    _tasting(book.sheet("Tasting"), card, card["orders"])
    _how(book.sheet("How it goes"), card)
    return book.to_bytes()


def tasting_bytes(card: Row, taster: str | None = None) -> bytes:
    """The tasters' pages alone (of one taster): nothing in it says what stands behind a code."""
    book = Book(PAPER)
    orders = [row for row in card["orders"] if taster is None or row["taster"] == taster]
    _tasting(book.sheet("Tasting"), card, orders)
    return book.to_bytes()


def _write(
    sheet: Sheet, row: int, column: int, value: Any, shown: str = "", fill: str = "", bold: bool = False
) -> None:
    sheet.put(row, column, value, Look(shown, fill, bold))


def _above(sheet: Sheet, title: str, *lines: str) -> int:
    """Title and lines; the row of the header."""
    for at, text in enumerate((title, *lines), start=1):
        sheet.put(at, 1, text, "title" if at == 1 else "aside")
    return len(lines) + 3


def _header(sheet: Sheet, row: int, columns: Columns, names: dict[str, list[str]], asks: tuple[str, ...] = ()) -> None:
    """Headers with their widths, wider where the ``names`` under one are longer."""
    widths = []
    for at, (head, width, _) in enumerate(columns, start=1):
        _write(sheet, row, at, head, fill=WRITE if head in asks else HEAD, bold=True)
        longest = max(map(len, names.get(head, ())), default=0)
        widths.append(min(max(width, longest + 2.0), 36.0) if head in names else width)
    sheet.heights[row] = 33.0
    sheet.layout = Layout(tuple(widths), row)


def _names(card: Row) -> dict[str, list[str]]:
    """What stands under the headers whose width hangs on it."""
    return {
        "Trial": [trial["trial"] for trial in card["trials"]],
        "Flight": list(card["flights"]),
        "Component": [item["component"] for item in card["needed"]],
        "Proposal": [trial["proposal"] for trial in card["trials"]],
        "Taster": [served["taster"] for served in card["orders"]],
    }


def _pour(sheet: Sheet, card: Row) -> None:
    row = _above(
        sheet,
        f"Bench card {card['card']}",
        card["question"] or "Which of these is best?",
        "For who pours. Correct what was poured otherwise, fill in the yellow columns, save, drop into the inbox: it "
        "comes back with the pages Glasses and Tasting.",
        "Yes under Accepted beside the one trial that is to be poured in the vat, once that is decided.",
    )
    _header(sheet, row, POUR, _names(card), ("Made at", "Made by", "Accepted"))
    first = row + 1
    for number, trial in enumerate(card["trials"]):
        band = BAND if number % 2 else ""
        for part in trial["parts"]:
            row += 1
            values = (
                trial["trial"], card["batch"] or None, part["component"], part["ml"], round(part["strength_abv"], 2),
                trial["total_ml"], None, None, None, trial["proposal"] or None, part["how"] or None,
            )  # fmt: skip
            for at, (value, (_, _, shown)) in enumerate(zip(values, POUR, strict=True), start=1):
                plain = WARN if part["small"] and at in (4, 11) else band
                _write(sheet, row, at, value, shown, WRITE if at in (7, 8, 9) else plain, bold=at == 4)
            sheet.heights[row] = 46.0 if part["how"] else 18.0
    sheet.layout = sheet.layout._replace(choices=((f"I{first}:I{row}", "yes,no"),))


def _glasses(sheet: Sheet, card: Row) -> None:
    row = _above(
        sheet,
        f"Glasses of {card['card']}",
        "The key: whoever tastes must not see this page. One code for a glass, the same for every taster.",
    )
    _header(sheet, row, GLASS, _names(card))
    for item in card["glasses"]:
        row += 1
        values = (
            item["flight"], item["order"], item["code"], item["trial"], item["role"], card["batch"] or None,
            round(item["nosing_abv"], 2), round(item["spirit_ml"], 1), round(item["water_ml"], 1),
        )  # fmt: skip
        for at, (value, (_, _, shown)) in enumerate(zip(values, GLASS, strict=True), start=1):
            _write(sheet, row, at, value, shown, bold=at == 3)
        sheet.heights[row] = 18.0


def _tasting_columns(card: Row) -> Columns:
    standard = (("Difference", 10.5, "General"),) if card["standard"] else ()
    families = tuple((family.replace("_", " ").capitalize(), 9.8, "General") for family in card["families"])
    return (
        ("Flight", 12, ""), ("Taster", 12, ""), ("Order", 6.5, "0"), ("Code", 6.5, ""), ("Date", 11, "yyyy-mm-dd"),
        ("Place", 6.5, "General"), *standard, ("Score", 7, "General"), *families, ("Nose", 22, ""), ("Palate", 22, ""),
        ("Finish", 16, ""), ("Remark", 15, ""),
    )  # fmt: skip


def _tasting(sheet: Sheet, card: Row, orders: list[Row]) -> None:
    told = "Place: 1 for the best; equal places where you cannot tell them apart. Score 0 to 10."
    if card["standard"]:
        told += " Difference from the standard that stands named on the table: 0 none to 10 very large."
    if card["families"]:
        told += " Families 0 to 10; leave empty what you cannot tell."
    row = _above(
        sheet,
        f"Tasting of {card['card']}",
        "Take the glasses in this order; five to ten minutes after pouring; water and a rest of two minutes between.",
        told,
        "Two of the glasses may hold the same. Do not speak of them until all pages are in. Spit.",
    )
    columns = _tasting_columns(card)
    heads = [head for head, _, _ in columns]
    given = ("Flight", "Taster", "Order", "Code")
    _header(sheet, row, columns, {"Taster": _names(card)["Taster"]}, tuple(head for head in heads if head not in given))
    breaks = []
    for number, served in enumerate(orders):
        for place, code in enumerate(served["codes"], start=1):
            row += 1
            known = {"Flight": served["flight"], "Taster": served["taster"] or None, "Order": place, "Code": code}
            for at, (head, _, shown) in enumerate(columns, start=1):
                fill = "" if head in given and known[head] is not None else WRITE
                _write(sheet, row, at, known.get(head), shown, fill, bold=head == "Code")
            sheet.heights[row] = 52.0
        if number + 1 < len(orders):
            breaks.append(row)
    sheet.layout = sheet.layout._replace(breaks=tuple(breaks))


def _how(sheet: Sheet, card: Row) -> None:
    row = _above(sheet, EXPLANATIONS, f"How bench card {card['card']} goes") - 1
    row = _table(sheet, row, ("Sample", "ml needed"), [(n["component"], n["ml"]) for n in card["needed"]], "0.0")
    strengths = [(t["trial"], t["total_ml"], t["abv"], _water30(card, t["trial"]), t["about"]) for t in card["trials"]]
    heads = ("Trial", "ml made", "% vol as made", "water per 30 ml", "what it is")
    row = _table(sheet, row + 1, heads, strengths, "0.0")
    merged = []
    for text in (*card["notes"], *CAUTIONS):
        row += 1
        merged.append(f"A{row}:E{row}")
        sheet.put(row, 1, text, "text")
        sheet.heights[row] = 15.5 * (1 + len(text) // 120)
    sheet.layout = Layout((26.0, 12.0, 14.0, 16.0, 60.0), merged=tuple(merged))


def _water30(card: Row, trial: str) -> float:
    return next(round(item["water_per_30_ml"], 1) for item in card["glasses"] if item["trial"] == trial)


def _table(sheet: Sheet, row: int, heads: tuple[str, ...], rows: list[tuple[Any, ...]], shown: str) -> int:
    row += 1
    for at, head in enumerate(heads, start=1):
        _write(sheet, row, at, head, fill=HEAD, bold=True)
    for values in rows:
        row += 1
        for at, value in enumerate(values, start=1):
            number = isinstance(value, float)
            _write(sheet, row, at, round(value, 2) if number else value, shown if number else "")
    return row
