"""record.xlsx and months.xlsx add up by themselves: every formula gives the figure that we worked out."""

from __future__ import annotations

from pathlib import Path

import pytest
from openpyxl import load_workbook

from tests.formulas import Evaluated, by_a_spreadsheet_program, is_ours
from tests.made_once import demo

BOOKS = ("batches/B-26-01/record.xlsx", "batches/B-26-02/record.xlsx", "accounts/months.xlsx")


@pytest.mark.parametrize("path", [pytest.param(p, marks=[pytest.mark.long] * ("record" in p)) for p in BOOKS])
def test_formulas_give_the_figures_that_are_kept_beside_them(path: str) -> None:
    """By an evaluator of our own, which reads the formulas and nothing that is kept."""
    made = Evaluated((demo()[0] / path).read_bytes())
    found = made.formulas()
    assert len(found) > 8
    for sheet, cell in found:
        assert is_ours(cell), cell.value
        kept = made.kept[sheet][cell.coordinate].value
        assert made.value(sheet, cell.coordinate) == pytest.approx(kept, rel=1e-9, abs=1e-9), (sheet, cell.coordinate)


def test_totals_are_formulas_down_to_the_lines() -> None:
    """Drawn, water, expected and the runs in the record; entries, openings and what is on hand in the accounts."""
    out = demo()[0]
    record = load_workbook(out / BOOKS[0])
    balance = {row[0].value: row for row in record["Balance"].iter_rows(min_row=4) if row[0].value}
    for name in ("Drawn (dumped, disgorged)", "Water", "Expected, calculated"):
        assert [cell.data_type for cell in balance[name][5:9]] == ["f"] * 4, name
    assert [cell.data_type for cell in balance["All steps"][1:4]] == ["f"] * 3
    runs = [row for row in record["Bottling"].iter_rows(min_row=5) if row[6].value is not None]
    assert [row[6].data_type for row in runs] == ["f"] * 3 and runs[-1][5].data_type == "f"
    months = load_workbook(out / BOOKS[2])["Months"]
    rows = [row for row in months.iter_rows(min_row=6) if row[0].value]
    first = min(row[0].value for row in rows)
    for row in rows:
        if not (row[3].value == "opening" and not row[5].value) and not (
            row[3].value == "opening" and row[0].value == first
        ):
            assert [cell.data_type for cell in row[5:9]] == ["f"] * 4, [cell.value for cell in row]


def test_a_figure_that_the_formula_does_not_give_stays_a_figure() -> None:
    """Never a formula that shows something else than we worked out."""
    from pipeline.writing.workbooks import Formula, reckoned

    assert reckoned("A1+A2", 3.0, 3.0 + 1e-13) == Formula("A1+A2", 3.0)
    assert reckoned("A1+A2", 3.0, 3.1) == 3.0 and reckoned("A1", None, 1.0) is None and reckoned("A1", 2.0, None) == 2.0


@pytest.mark.long
@pytest.mark.parametrize("path", BOOKS)
def test_a_spreadsheet_program_reckons_the_same(path: str, tmp_path: Path) -> None:
    """What LibreOffice puts in place of each formula is our figure."""
    source = demo()[0] / path
    reckoned = by_a_spreadsheet_program(source, tmp_path)
    if reckoned is None:
        pytest.skip("no soffice on this machine")
    made = Evaluated(source.read_bytes())
    for sheet, cell in made.formulas():
        kept = made.kept[sheet][cell.coordinate].value
        assert reckoned[sheet][cell.coordinate].value == pytest.approx(kept, rel=1e-9, abs=1e-9), (
            sheet,
            cell.coordinate,
        )
