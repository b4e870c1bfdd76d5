"""exceptions/open.xlsx: what is open, and the columns in which a reviewer rules on it.

Saved to the inbox it is recognised by its headers as a sheet of rulings; rows whose ruling is
empty count as none. A batch that can be released has a row of its own, with the code of its record; these come first.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from openpyxl.formatting.rule import FormulaRule
from openpyxl.styles import PatternFill
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet

from pipeline.common.codes import in_groups
from pipeline.contract.findings import Finding
from pipeline.sheets.rulings_sheet import RELEASES
from pipeline.writing.workbooks import Book, Sheet
from plugins.records.record.concerns import RECONCILED, RELEASED_AGAINST, in_order
from plugins.records.record.finding_tables import STATED, stated
from plugins.records.record.notices import batches_of, caveats, held_by
from plugins.records.record.plain import natural
from plugins.records.workbooks import cells
from plugins.records.workbooks.cells import Head

# what one must see to rule stands beside the columns to fill in; the rest is behind them
BEFORE = {"finding": 16, "severity": 10, "subject": 15, "batch": 12, "message": 56}
FILL_IN = (
    Head("ruling", 11),
    Head("corrected_value", 17),
    Head("reason", 28),
    Head("by", 14),
    Head("ruled_on", 12, "date"),
    Head("evidence", 18),
    Head("section", 14),
)
AFTER = {
    **{"record": 34, "remedy": 42, "observed": 20, "expected": 20, "file": 26, "sheet": 12, "cell": 8},
    **{"rule": 28, "code": 24},
}
HEADS = (
    *(Head(name, width) for name, width in BEFORE.items()),
    *FILL_IN,
    *(Head(name, width) for name, width in AFTER.items()),
)
PLACES = {head.title: column for column, head in enumerate(HEADS, start=1)}
RULINGS = ("accept", "correct", "void", *RELEASES)
SAYS = (
    "Fill in the yellow columns and save this workbook to the inbox. A row without a ruling counts as none.",
    "accept: the figures stand and the finding is closed. No ruling closes a verdict of law.",
    "correct: give corrected_value; it takes the place of the figure in that cell.   "
    "void: the row at that place is left out.   release: signs out the version in the column record, and no other.",
    "release against the verdict: where a rule of law is wrong; two persons, each with section, reason and document.",
    "reason and by are needed; an empty ruled_on is the day on which the workbook is taken.",
    "Tolerances are the house’s own, no allowance in law. A figure to check is not an accusation.",
)


def book(findings: Iterable[Finding], records: Mapping[str, Any], site: Any) -> bytes:
    """The review workbook. ``records``: batch → record."""
    made = Book(cells.PAPER)
    title = "Findings to rule on" + (f", {site.house}" if site.house else "")
    sheet = cells.sheet(made, "Rulings", title, SAYS, column=2)
    top = cells.header(sheet, HEADS)
    for head in FILL_IN:
        cells.put(sheet, top, PLACES[head.title], head.title, "text", "ask")
    row, carried = top, batches_of(records)
    for batch in sorted(records, key=natural):
        if ready(records[batch]):
            row += 1
            values = awaiting(records[batch])
            write(sheet, row, values, "release")
            if caveats(records[batch]):
                cells.put(sheet, row, PLACES["message"], values["message"], "text", "stop")
    for finding in in_order(found for found in findings if found.is_open):
        row += 1
        values = dict(zip(STATED, stated(finding, held_by(finding, carried)), strict=True))
        write(sheet, row, values, finding.severity)
    end = max(row, top + 1)
    sheet.filter = f"A{top}:{get_column_letter(len(HEADS))}{end}"
    cells.for_print(sheet, HEADS, top, freeze=f"B{top + 1}", across=2, more=(ask, top, end))
    return made.to_bytes()


def ready(record: dict[str, Any]) -> bool:
    """Whether a batch has a row to be released: it is reconciled, or but for its verdicts of law it would be."""
    signing = record["signing"]
    contested = signing["of_law"] and signing["but_for_law"] == RECONCILED and record["status"] != RELEASED_AGAINST
    return bool(signing["code"]) and (record["status"] == RECONCILED or bool(contested))


def awaiting(record: dict[str, Any]) -> dict[str, str]:
    """The row by which a batch is released: its id stands in the column ``finding``, its version in ``record``."""
    if record["status"] == RECONCILED:
        closes = "The account closes and nothing that concerns the batch is open; it awaits a signed release."
        remedy = "Check the record, then put release, the reason and your name."
    else:
        closes = f"All that is open are verdicts of law ({record['signing']['of_law']}). It cannot be released."
        remedy = (
            "Mend what the verdicts rest on. If the rule itself is wrong, two persons put release against the verdict, "
            "each with section, reason and evidence."
        )
    says = " ".join([*(f"{said}." for _, said in caveats(record)), closes])
    values = {"finding": record["batch"], "severity": "release", "code": "", "subject": record["product"] or ""}
    values.update(batch=record["batch"], message=says, remedy=remedy, record=in_groups(record["signing"]["code"]))
    return values


def write(sheet: Sheet, row: int, values: Mapping[str, str], severity: str) -> None:
    fill = {"stop": "stop", "review": "review", "release": "good"}.get(severity, "")
    asked = {head.title for head in FILL_IN}
    for column, head in enumerate(HEADS, start=1):
        if head.title in asked:
            cells.put(sheet, row, column, None, head.look, "fill in")
        else:
            look = fill if head.title == "severity" else ""
            cells.put(sheet, row, column, values.get(head.title) or None, "text", look)
    cells.fit(sheet, row, HEADS, [values.get(head.title, "") for head in HEADS])


def ask(sheet: Worksheet, top: int, end: int) -> None:
    """Drop-downs, and a hint where reason or name is still missing."""
    at = {head.title: get_column_letter(PLACES[head.title]) for head in FILL_IN}
    choice = DataValidation("list", formula1=f'"{",".join(RULINGS)}"', allow_blank=True, showErrorMessage=True)
    choice.errorTitle, choice.error = "Ruling", "One of the list; or leave it empty."
    choice.add(f"{at['ruling']}{top + 1}:{at['ruling']}{end}")
    dated = DataValidation("date", operator="greaterThan", formula1="36526", allow_blank=True, showErrorMessage=True)
    dated.errorTitle, dated.error = "Ruled on", "A date, such as 2026-03-20; or leave it empty."
    dated.add(f"{at['ruled_on']}{top + 1}:{at['ruled_on']}{end}")
    sheet.add_data_validation(choice)
    sheet.add_data_validation(dated)
    missing = PatternFill("solid", start_color="F6DAD7", end_color="F6DAD7")
    ruling = f"${at['ruling']}{top + 1}"
    for name in ("reason", "by"):
        area = f"{at[name]}{top + 1}:{at[name]}{end}"
        sheet.conditional_formatting.add(
            area, FormulaRule(formula=[f'AND({ruling}<>"",{at[name]}{top + 1}="")'], fill=missing)
        )
    value = f"{at['corrected_value']}{top + 1}"
    unset = FormulaRule(formula=[f'AND({ruling}="correct",{value}="")'], fill=missing)
    sheet.conditional_formatting.add(f"{value}:{at['corrected_value']}{end}", unset)
