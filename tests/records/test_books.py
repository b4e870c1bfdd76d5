"""The workbooks: numbers are numbers, texts are never run, and the review workbook comes back as rulings."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import date, datetime
from typing import Any

import pytest
from openpyxl import load_workbook
from openpyxl.worksheet.worksheet import Worksheet

from pipeline.book.rulings_taken import drop_blank_rulings
from pipeline.common.codes import as_typed, in_groups
from pipeline.sheets.recognise import recognise
from pipeline.sheets.rows import Taken, type_rows
from pipeline.sheets.rulings_sheet import RULINGS
from pipeline.sheets.units import UnitTable
from pipeline.tables.readers import read_tables
from pipeline.tables.tables import Limits
from plugins.blending.declared.kinds import KINDS as BLENDING
from plugins.proof.declared.kinds import KINDS as PROOF
from plugins.proof.declared.kinds import STRENGTH_UNITS
from plugins.records import reports
from plugins.tasting.declared.kinds import KINDS as TASTING
from tests.formulas import is_ours
from tests.records.fake import World, crowd, finding, table, world

FORMULAS = ("=1+1", "+1-2", "-cmd|' /C calc'!A0", "@SUM(A1)", "\t=1", '=HYPERLINK("x")')


@pytest.fixture
def made() -> World:
    return world()


def review(made: World) -> bytes:
    return made.call(reports.open_xlsx, record=made.records())


def opened(data: bytes) -> Any:
    return load_workbook(io.BytesIO(data))


def header_row(sheet: Worksheet, first: str) -> int:
    return next(row for row in range(1, 20) if sheet.cell(row, 1).value == first)


def rows_of(sheet: Worksheet, first: str) -> list[dict[str, Any]]:
    top = header_row(sheet, first)
    names = [cell.value for cell in sheet[top]]
    return [dict(zip(names, row, strict=True)) for row in sheet.iter_rows(min_row=top + 1, values_only=True)]


def test_review_workbook_has_the_columns_of_a_ruling(made: World) -> None:
    """What one must see to rule stands before the seven columns to fill in, the rest behind; frozen and filtered."""
    sheet = opened(review(made)).worksheets[0]
    top = header_row(sheet, "finding")
    names = [cell.value for cell in sheet[top]]
    assert names[:5] == ["finding", "severity", "subject", "batch", "message"]
    assert names[5:12] == ["ruling", "corrected_value", "reason", "by", "ruled_on", "evidence", "section"]
    assert names[12:] == ["record", "remedy", "observed", "expected", "file", "sheet", "cell", "rule", "code"]
    assert sheet.freeze_panes == f"B{top + 1}"
    assert sheet.auto_filter.ref == f"A{top}:U{sheet.max_row}"
    assert sheet.print_title_rows == f"${top}:${top}" and sheet.page_setup.orientation == "landscape"
    assert sheet.cell(top + 1, 5).alignment.wrap_text


def test_rulings_are_chosen_from_a_list(made: World) -> None:
    """The column ruling offers accept, correct, void and release on every row, the last too."""
    sheet = opened(review(made)).worksheets[0]
    (choice,) = [rule for rule in sheet.data_validations.dataValidation if rule.type == "list"]
    assert choice.formula1 == '"accept,correct,void,release,release against the verdict"'
    assert f"F{sheet.max_row}" in choice.sqref and f"F{header_row(sheet, 'finding') + 1}" in choice.sqref


def test_rows_are_batches_to_release_then_open_findings(made: World) -> None:
    """A reconciled batch has its own row at the top; open findings follow, most severe first, ruled ones not at all."""
    lines = rows_of(opened(review(made)).worksheets[0], "finding")
    assert [line["severity"] for line in lines] == ["release", "stop", "stop", "stop", "review", "note", "note"]
    assert lines[0]["finding"] == "B-26-01" and lines[0]["ruling"] is None
    assert lines[0]["record"] == in_groups(made.record("B-26-01")["signing"]["code"]) and lines[1]["record"] is None
    ruled = {found.id for found in made.findings if found.ruling}
    assert not ruled & {line["finding"] for line in lines}


def read_back(data: bytes, made: World) -> Any:
    """The workbook as the engine takes it: recognised among all kinds, typed, rows without ruling dropped."""
    units = UnitTable(tuple(STRENGTH_UNITS))
    (page,) = read_tables("open.xlsx", data, Limits())
    found = recognise(page, [*PROOF, *BLENDING, *TASTING, RULINGS], units)
    return found, drop_blank_rulings(type_rows(page, found, made.site, units, Taken("open.xlsx", date(2026, 3, 21))))


def test_review_workbook_comes_back_as_rulings(made: World) -> None:
    """Filled in and saved to the inbox, it is a sheet of rulings with just the rows that were ruled on."""
    book = opened(review(made))
    sheet = book.worksheets[0]
    top = header_row(sheet, "finding")
    release, stop = sheet.cell(top + 1, 1).value, sheet.cell(top + 2, 1).value
    for column, value in zip(
        range(6, 12), ("correct", "63.5", "Read in °C", "M. Orrin", date(2026, 3, 20), "lab book p. 4"), strict=True
    ):
        sheet.cell(top + 2, column).value = value
    for column, value in ((6, "release"), (8, "Checked."), (9, "M. Orrin")):
        sheet.cell(top + 1, column).value = value
    out = io.BytesIO()
    book.save(out)
    found, rows = read_back(out.getvalue(), made)
    assert found.kind is RULINGS and set(found.columns) == {column.name for column in RULINGS.columns}
    assert rows.values["finding"] == [release, stop]
    assert rows.values["ruling"] == ["release", "correct"]
    assert as_typed(rows.values["record"][0]) == made.record("B-26-01")["signing"]["code"]
    assert rows.values["corrected_value"][1] == "63.5" and rows.values["by"] == ["M. Orrin", "M. Orrin"]
    assert str(rows.values["ruled_on"][1])[:10] == "2026-03-20"


def test_review_workbook_not_filled_in_rules_on_nothing(made: World) -> None:
    """The workbook as it was written has no row that counts, and no cell that cannot be used."""
    found, rows = read_back(review(made), made)
    assert found.kind is RULINGS and rows.rows == []
    assert [said.code for said in rows.findings if said.severity != "note"] == []


@pytest.mark.long
@pytest.mark.parametrize("text", FORMULAS)
def test_no_workbook_holds_a_formula(made: World, text: str) -> None:
    """Text that begins like a formula is kept as text, and is marked so that editing leaves it text."""
    made.findings.append(finding("a.b", "stop", text, subject=text, batch="B-26-01", observed=text, remedy=text))
    made.frames["briefs"] = made.frames["briefs"].assign(product=text)
    made.frames["labels"] = made.frames["labels"].assign(reason=text)
    made.published = {"hazes": {"haze": table([{"batch": "B-26-01", "word": text, "facts": (1,)}])}}
    for data in (review(made), made.call(reports.record_xlsx, "B-26-01", record=made.records())):
        cells = [cell for sheet in opened(data) for row in sheet.iter_rows() for cell in row if cell.value is not None]
        assert not [cell for cell in cells if cell.data_type == "f" and not is_ours(cell)]
        assert [cell for cell in cells if cell.value == "'" + text]
        assert not [cell for cell in cells if cell.value == text]


def test_characters_that_no_workbook_takes_are_replaced(made: World) -> None:
    """Control characters in a message do not stop the workbook; a text too long for a cell is cut and says so."""
    made.findings.append(finding("a.b", "stop", "Bell \x07 and " + "long " * 9000, batch="B-26-01"))
    line = next(line for line in rows_of(opened(review(made)).worksheets[0], "finding") if line["code"] == "a.b")
    assert line["message"].startswith("Bell \ufffd and") and line["message"].endswith("…")


def test_record_workbook_has_its_sheets(made: World) -> None:
    """The record's workbook has its eight sheets, each with a frozen header that print repeats."""
    book = opened(made.call(reports.record_xlsx, "B-26-01", record=made.records()))
    assert book.sheetnames == [
        "Summary", "Components", "Balance", "Label", "Label grounds", "Findings", "Rulings", "Sources",
    ]  # fmt: skip
    for sheet in book:
        assert sheet.freeze_panes and sheet.print_title_rows
        assert sheet.page_setup.fitToHeight == 0 and sheet.sheet_properties.pageSetUpPr.fitToPage


def test_numbers_are_numbers_and_dates_are_dates(made: World) -> None:
    """Figures stand unrounded with a format that rounds what is shown; dates can be reckoned with."""
    records = made.records()
    book = opened(made.call(reports.record_xlsx, "B-26-01", record=records))
    lines = rows_of(book["Components"], "Component")
    parts = records["B-26-01"]["components"]
    assert [line["Proof gallons"] for line in lines[:-1]] == pytest.approx(
        [part["proof_gallons"] for part in parts], rel=1e-14
    )
    assert lines[0]["Filled on"] == datetime(2020, 4, 15) and lines[2]["Drawn at"] == datetime(2026, 1, 11, 9, 30)
    assert lines[-1]["LPA"] == f"=SUM(N5:N{4 + len(parts)})"  # what it gives: tests/records/test_living_books.py
    sheet = book["Components"]
    top = header_row(sheet, "Component")
    assert sheet.cell(top + 1, 7).number_format == "0.0" and sheet.cell(top + 1, 10).number_format == "0.00"
    balance = {line["Entry"]: line for line in rows_of(book["Balance"], "Entry") if line["Entry"]}
    gauged = records["B-26-01"]["balance"]["gauged"]["proof_60F"]
    assert balance["Gauged"]["Proof at 60 °F"] == pytest.approx(gauged, rel=1e-14)


def test_a_gauge_that_is_missing_leaves_its_cells_empty(made: World) -> None:
    """A batch not yet gauged has no number in the line of the gauge."""
    book = opened(made.call(reports.record_xlsx, "B-26-04", record=made.records()))
    line = next(line for line in rows_of(book["Balance"], "Entry") if line["Entry"] == "Gauged")
    assert line["Basis"] == "not there"
    assert all(value is None for name, value in line.items() if name not in ("Entry", "Basis"))


def test_workbooks_repeat_to_the_byte(made: World) -> None:
    """Equal facts give equal workbooks; nothing in them comes from the clock."""
    other = world()
    assert review(made) == review(other)
    one = made.call(reports.record_xlsx, "B-26-02", record=made.records())
    assert one == other.call(reports.record_xlsx, "B-26-02", record=other.records())


@pytest.mark.long
def test_thousands_of_findings_fit(made: World) -> None:
    """Every one of 3,000 open findings has its row."""
    many = crowd(made, 0, 3000)
    lines = rows_of(opened(review(many)).worksheets[0], "finding")
    assert len(lines) == 3000 + 6 + 1


def test_a_sites_frame_has_a_sheet_of_its_own(made: World) -> None:
    """A published frame becomes a sheet whose name a workbook takes."""
    made.published = {
        "hazes": {
            "haze_after_chilling_to_minus_ten_degrees": table(
                [{"batch": "B-26-01", "ntu": 1.25, "seen": True, "facts": (1,)}]
            )
        }
    }
    book = opened(made.call(reports.record_xlsx, "B-26-01", record=made.records()))
    assert book.sheetnames[-1] == "haze after chilling to min"
    assert rows_of(book.worksheets[-1], "batch")[0]["ntu"] == 1.25


def test_a_batch_released_needs_no_release(made: World) -> None:
    """A batch that is released or not reconciled has no row to release it."""
    made.run = replace(made.run, releases={})
    lines = rows_of(opened(review(made)).worksheets[0], "finding")
    assert [line["finding"] for line in lines if line["severity"] == "release"] == ["B-25-11", "B-26-01"]
