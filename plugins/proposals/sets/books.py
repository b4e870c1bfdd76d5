"""The workbook that people take to the vat."""

from __future__ import annotations

from typing import Any, NamedTuple

from openpyxl import Workbook
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from pipeline.contract.kinds import EXPLANATIONS
from pipeline.writing.workbooks import Book, Paper, Sheet
from plugins.proposals.declared.cautions import POUR
from plugins.proposals.sets.pour import HEADSPACE, Pour

INK, SOFT, PALE, ASK, LINE = "212427", "585B5C", "EFE9DB", "FFF4CC", "B9B2A0"
THIN = Side(style="thin", color=LINE)
BOX = Border(left=THIN, right=THIN, top=THIN, bottom=THIN)
FONTS = {
    "": Font(name="Calibri", size=11, color=INK),
    "bold": Font(name="Calibri", size=11, bold=True, color=INK),
    "small": Font(name="Calibri", size=10, color=SOFT),
    **{f"title {size}": Font(name="Georgia", size=size, bold=True, color=INK) for size in (11, 12, 15)},
}
WRAP, PLAIN = Alignment(vertical="top", wrap_text=True), Alignment()
Row = dict[str, Any]

FILL_IN = (
    ("Batch", 12, False), ("Line", 7, False), ("Component", 14, False), ("Planned volume ({unit})", 13, False),
    ("Drawn volume ({unit})", 13, True), ("Net weight (kg)", 12, True), ("Temperature (°C)", 12, True),
    ("Drawn proof", 11, True), ("Basis", 16, True), ("Drawn at", 17, True), ("Cask emptied", 10, True),
    ("Left in cask ({unit})", 12, True), ("Remark", 26, True),
)  # fmt: skip
BASES = '"weighed,metered,dipped,regauge on paper,share of dump"'


class Look(NamedTuple):
    """How a cell is shown: the name of its font, number format, fill, and whether it wraps and has a box."""

    font: str = ""
    shown: str = ""
    fill: str = ""
    wraps: bool = True
    box: bool = True


class Layout(NamedTuple):
    """Widths of columns, where it is frozen, one after the other, areas to choose from, merged areas."""

    widths: tuple[float, ...]
    panes: tuple[str | None, ...]
    choices: tuple[tuple[str, str], ...] = ()
    merged: tuple[str, ...] = ()


def _give(cell: Any, look: Look) -> None:
    cell.font, cell.alignment = FONTS[look.font], WRAP if look.wraps else PLAIN
    if look.shown:
        cell.number_format = look.shown
    if look.box:
        cell.border = BOX
    if look.fill:
        cell.fill = PatternFill("solid", start_color=look.fill, end_color=look.fill)


def _lay_out(sheet: Worksheet, layout: Layout) -> None:
    for column, width in enumerate(layout.widths, start=1):
        sheet.column_dimensions[get_column_letter(column)].width = width
    for pane in layout.panes:
        sheet.freeze_panes = pane
    for area, words in layout.choices:
        check = DataValidation("list", formula1=words, allow_blank=True)
        check.add(area)
        sheet.add_data_validation(check)
    for area in layout.merged:
        sheet.merged_cells.add(area)
    sheet.page_setup.orientation, sheet.page_setup.paperSize = "landscape", 9
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    sheet.page_margins.left = sheet.page_margins.right = 0.4


PAPER = Paper(Workbook, _give, _lay_out)


def blend_sheet(batch: str, pour: Pour, steps: list[Row], us: bool, vat: Row) -> bytes:
    """The pour-day sheet: first page to fill in and drop back (kind ``blends``), second page the plan to pour by."""
    book = Book(PAPER)
    _fill_in(book.sheet("Blend sheet"), batch, pour, steps, us)
    _plan(book.sheet("Pour plan"), batch, pour, steps, us, vat)
    return book.to_bytes()


def _title(sheet: Sheet, row: int, text: str, size: int = 15) -> None:
    sheet.put(row, 1, text, Look(f"title {size}", wraps=False, box=False))


def _small(sheet: Sheet, row: int, text: str) -> None:
    sheet.put(row, 1, text, Look("small", wraps=False, box=False))


def _heads(sheet: Sheet, row: int, heads: list[tuple[str, float, bool]]) -> tuple[float, ...]:
    """The row of headers; gives the widths of the columns."""
    for at, (head, _, asks) in enumerate(heads, start=1):
        sheet.put(row, at, head, Look("bold", fill=ASK if asks else PALE))
    sheet.heights[row] = 46.0
    return tuple(width for _, width, _ in heads)


def _fill_in(sheet: Sheet, batch: str, pour: Pour, steps: list[Row], us: bool) -> None:
    unit, key = ("US gal", "volume_60F_gal") if us else ("litres", "volume_20C_L")
    _title(sheet, 1, f"Blend sheet {batch}")
    _small(sheet, 2, f"From {pour.source}. Fill in the yellow columns as it is poured, save, drop into the inbox.")
    if pour.notes:
        _small(sheet, 3, " ".join(pour.notes))
    heads = [(head.format(unit=unit), float(width), asks) for head, width, asks in FILL_IN]
    widths = _heads(sheet, 4, heads)
    for line, step in enumerate(steps, start=1):
        at = 4 + line
        for column, value in enumerate((batch, str(line), step["component"], round(step[key], 1)), start=1):
            sheet.put(at, column, value, Look(shown="0.0" if column == 4 else ""))
        for column in range(5, len(heads) + 1):
            shown = "yyyy-mm-dd hh:mm" if column == 10 else "General"
            sheet.put(at, column, None, Look(shown=shown))
        sheet.heights[at] = 22.0
    last = 4 + max(len(steps), 1)
    sheet.layout = Layout(widths, ("A5",), ((f"I5:I{last}", BASES), (f"K5:K{last}", '"yes,no"')))


def _plan(sheet: Sheet, batch: str, pour: Pour, steps: list[Row], us: bool, vat: Row) -> None:
    _title(sheet, 1, EXPLANATIONS, 12)
    _title(sheet, 2, f"Pour plan {batch}: {pour.source}")
    row = 3
    for note in [*pour.notes, *vat_notes(steps, vat)]:
        _small(sheet, row, note)
        row += 1
    unit = "US gal" if us else "L"
    heads = [
        ("no", 5.0, False), ("what", 14.0, False), (f"volume, {unit}", 10.0, False),
        ("strength, proof" if us else "strength, % vol", 10.0, False), (f"in the vat after it, {unit}", 12.0, False),
        ("level, in" if us else "level, cm", 9.0, False),
        ("proof gallons so far" if us else "LPA so far", 11.0, False),
        ("vat, proof" if us else "vat, % vol", 9.0, False), ("do", 44.0, False), ("time", 9.0, True),
        ("by, initials", 11.0, True), ("checked", 11.0, True),
    ]  # fmt: skip
    header = row = row + 1
    widths = _heads(sheet, row, heads)
    for number, step in enumerate(steps, start=1):
        row += 1
        level = step["level_cm"]
        values = [
            number, step["component"], step["volume_60F_gal" if us else "volume_20C_L"],
            step["proof_60F" if us else "abv_20C"], step["running_gal" if us else "running_L"],
            level / 2.54 if us and level is not None else level,
            step["running_proof_gallons" if us else "running_lpa"], step["running_proof" if us else "running_abv"],
            step["note"], None, None, None,
        ]  # fmt: skip
        for column, value in enumerate(values, start=1):
            sheet.put(row, column, value, Look(shown="0.0" if isinstance(value, float) else "General"))
        sheet.heights[row] = 30.0
    row += 2
    _title(sheet, row, "Swap: if a cask leaks or disappoints, see the page proposals.html for what can stand in.", 11)
    merged = []
    for caution in POUR:
        row += 1
        merged.append(f"A{row}:{get_column_letter(len(heads))}{row}")
        sheet.put(row, 1, caution, Look(box=False))
        sheet.heights[row] = 15.0 * (1 + len(caution) // 150) + 2
    for words in ("Poured by", "Gauged by", "Water released by (after the gauge)", "Checked by"):
        row += 1
        sheet.put(row, 1, words, Look(wraps=False, box=False))
        sheet.put(row, 9, None, Look())
        sheet.heights[row] = 24.0
    sheet.layout = Layout(widths, (f"A{header + 1}", None), merged=tuple(merged))


def vat_notes(steps: list[Row], vat: Row) -> list[str]:
    """What heel, headspace and dip table leave to say."""
    said = []
    name = vat["name"] or "the vat (the brief names none)"
    most = max((step["running_L"] for step in steps), default=0.0)
    if vat["capacity_L"] is not None:
        free = vat["capacity_L"] - most
        said.append(f"{name} holds {vat['capacity_L']:.0f} L; {most:.0f} L leave {free:.0f} L free.")
        if most > vat["capacity_L"] * (1.0 - HEADSPACE):
            said.append(f"TOO MUCH for {name}: at least {100 * HEADSPACE:.0f} % headspace is wanted. Split the pour.")
    else:
        said.append(f"The capacity of {name} is not known: look that {most:.0f} L and headspace fit.")
    if vat["empty"] is not True:
        said.append(
            "No sheet says that the vat is empty. A heel changes taste, strength, age and claims: drain or gauge it."
        )
    if all(step["level_cm"] is None for step in steps):
        said.append("No dip table of the vat: levels are left out.")
    return said
