"""Blank sheets: recognised as their kind, the example never data, a row under it taken whole."""

from __future__ import annotations

import csv as csv_module
import io
import json
import shutil
import subprocess
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from click.testing import CliRunner

from pipeline.commands.cli import main
from pipeline.common.file_names import MARK
from pipeline.contract.kinds import EXAMPLE, SheetColumn, SheetKind
from pipeline.outputs.blank_sheet import NEEDED, blank_of, kind_named
from pipeline.outputs.blank_workbook import FIRST, HEADER, MARKS, book_of
from pipeline.site.house import House, build_house
from tests.make_docs import ROOT
from tests.pipeline.kit import Room, judged, said
from tests.sets import pairs

US = 'timezone = "UTC"\nmarkets = ["US"]\n'
METRIC = 'timezone = "UTC"\nmarkets = ["EU", "UK"]\n'
IMPERIAL = """timezone = "UTC"
[units]
gal = "imperial"
temperature = "degC"
mass = "g"
[rulings]
by = ["R. One", "R. Two"]
"""
CLEANING = '''"""Cleaning."""
from pipeline import SheetColumn, SheetKind, hookimpl

api = 1
COLUMNS = (
    SheetColumn("tank", "name", required=True),
    SheetColumn("cleaned_on", "date", required=True),
    SheetColumn("rinse", "number", quantity="volume", unit="L"),
    SheetColumn("lye", "choice", choices=(("hot", ()), ("cold", ()))),
)


@hookimpl
def sheet_kinds():
    return [SheetKind("cleanings", ("tank", "cleaned_on"), COLUMNS, meaning="one cleaning of a tank")]
'''
SITES = {"us": US, "metric": METRIC, "imperial": IMPERIAL}
KINDS = [kind.name for kind in build_house(US, ROOT).kinds]
SOFFICE = shutil.which("soffice")
needs_office = pytest.mark.skipif(SOFFICE is None, reason="needs a spreadsheet program")


@cache
def built_in(site: str = "us") -> House:
    return build_house(SITES[site], ROOT)


def blank_bytes(house: House, name: str) -> bytes:
    return book_of(blank_of(kind_named(house, name), house), house.site.house)


def filled_cell(column: SheetColumn) -> Any:
    """A value that any column of a type takes."""
    if column.choices:
        return column.choices[-1][0]
    in_bounds = 1.0 if column.high is None or column.high >= 1 else column.high / 2
    in_bounds = 50.0 if column.quantity == "strength" else in_bounds  # 1 would be asked about
    values: dict[str, Any] = {"name": "X-1", "text": "words", "number": in_bounds, "count": 3, "yes_no": "no"}
    values |= {"date": datetime(2026, 3, 2), "moment": datetime(2026, 3, 2, 9, 40)}
    if column.name in ("height", "ullage"):
        return 3.0 if column.name == "height" else 2.0  # with a dip of 1 they add up
    if column.name == "temperature" or column.quantity == "temperature":
        return 20.0  # possible in °C and in °F
    return values[column.type]


def filled(house: House, name: str, data: bytes | None = None, row: int = FIRST + 1) -> bytes:
    """The blank sheet with one row filled in, every column of it."""
    book = openpyxl.load_workbook(io.BytesIO(data or blank_bytes(house, name)))
    sheet = book.worksheets[0]
    for at, column in enumerate(blank_of(kind_named(house, name), house).columns, start=1):
        sheet.cell(row, at).value = filled_cell(column.column)
    raw = io.BytesIO()
    book.save(raw)
    return raw.getvalue()


def as_csv(data: bytes, delimiter: str = ",", encoding: str = "utf-8-sig") -> bytes:
    """The page to fill in, as a spreadsheet program saves it as CSV."""
    sheet = openpyxl.load_workbook(io.BytesIO(data)).worksheets[0]
    raw = io.StringIO()
    writer = csv_module.writer(raw, delimiter=delimiter)
    for cells in sheet.iter_rows(values_only=True):
        row = []
        for cell in cells:
            if isinstance(cell, datetime):
                cell = cell.strftime("%Y-%m-%d %H:%M" if cell.hour else "%Y-%m-%d")
            text = "" if cell is None else str(cell)
            row.append(text.replace(".", ",") if isinstance(cell, float) and delimiter == ";" else text)
        writer.writerow(row)
    return raw.getvalue().encode(encoding)


def no_rows(house: House, name: str, file: str, data: bytes) -> None:
    """The sheet goes back for want of rows; a sheet of rulings counts as none, as reviewers send whole workbooks."""
    item = judged(house, file, data)
    if name == "rulings":
        assert not item.returned and [(rows.kind.name, rows.rows) for rows in item.sheets] == [("rulings", [])]
        assert said(item) == []
    else:
        assert item.reason == f"The file has the headers of {name} but no rows under them.", item
        assert item.remedy


def taken_whole(house: House, name: str, file: str, data: bytes, row: int = FIRST + 1) -> None:
    """One row of the kind, all its columns, no finding at all: so no unit was assumed."""
    item = judged(house, file, data)
    assert not item.returned, item.reason
    (rows,) = item.sheets
    assert (rows.kind.name, rows.rows) == (name, [row])
    assert said(item) == []
    columns = blank_of(kind_named(house, name), house).columns
    assert set(rows.columns) == {column.column.name for column in columns}
    for column in columns:
        assert rows.values[column.column.frame_column][0] is not None, column.column.name


# --- every kind, round trip ----------------------------------------------------------------------------


@pytest.mark.long
@pytest.mark.parametrize(("name", "site"), pairs(KINDS, SITES))
def test_a_blank_sheet_comes_back_and_a_filled_one_is_taken_whole(name: str, site: str) -> None:
    """As it is: no rows. With a row under the example: that row, whole, with no note on units; as CSV too."""
    house = built_in(site)
    blank, full = blank_bytes(house, name), filled(house, name)
    no_rows(house, name, "sheet.xlsx", blank)
    taken_whole(house, name, "sheet.xlsx", full)
    for delimiter, encoding in ((",", "utf-8-sig"), (";", "cp1252"), ("\t", "utf-16")):
        no_rows(house, name, "sheet.csv", as_csv(blank, delimiter, encoding))
        item = judged(house, "sheet.csv", as_csv(full, delimiter, encoding))
        notes = [finding.message for finding in said(item) if "Windows-1252" not in finding.message]
        assert not item.returned and notes == [], (delimiter, item.reason, notes)
        assert [(rows.kind.name, len(rows.rows)) for rows in item.sheets] == [(name, 1)]


@pytest.mark.long
@pytest.mark.parametrize(("name", "site"), pairs(KINDS, SITES))
def test_the_header_states_the_unit_in_words(name: str, site: str) -> None:
    """The unit that the reader takes from the header is the one that the explanations name."""
    house = built_in(site)
    (rows,) = judged(house, "sheet.xlsx", filled(house, name)).sheets
    for column in blank_of(kind_named(house, name), house).columns:
        stated = rows.columns[column.column.name]["unit"]
        unit = house.units.find(column.column.quantity, column.unit) if column.unit else None
        assert stated == (unit.unit if unit else ""), column.header
        if unit and column.column.quantity != "strength":
            assert f"({column.unit})" in column.header and not any(mark in column.header for mark in "°[]_")


@pytest.mark.long
@pytest.mark.parametrize("name", KINDS)
def test_the_example_row_would_be_good_data(name: str) -> None:
    """Without its marks the example is a row that is taken: it shows how to write, in the sheet's own units."""
    for site in SITES:
        house = built_in(site)
        book = openpyxl.load_workbook(io.BytesIO(blank_bytes(house, name)))
        for cell in book.worksheets[0][FIRST]:
            if cell.value is not None:
                assert cell.value.startswith(EXAMPLE) and cell.data_type == "s"
                cell.value = cell.value.removeprefix(EXAMPLE)
        raw = io.BytesIO()
        book.save(raw)
        item = judged(house, "sheet.xlsx", raw.getvalue())
        assert not item.returned and said(item) == [], (site, item.reason, said(item))
        assert [rows.rows for rows in item.sheets] == [[FIRST]]


# --- the example row, as people treat it ---------------------------------------------------------------


def edited(house: House, edit: Any, name: str = "readings") -> bytes:
    book = openpyxl.load_workbook(io.BytesIO(filled(house, name)))
    edit(book.worksheets[0])
    raw = io.BytesIO()
    book.save(raw)
    return raw.getvalue()


def example_cells(sheet: Any) -> list[Any]:
    return [cell.value for cell in sheet[FIRST]]


@pytest.mark.long
def test_an_example_that_is_copied_deleted_or_overwritten() -> None:
    """Copied anywhere it is no row; deleted nothing is lost; written over whole it is data."""
    house = built_in()

    def copies(sheet: Any) -> None:
        for row in (FIRST + 2, FIRST + 3, FIRST + 9):
            for at, value in enumerate(example_cells(sheet), start=1):
                sheet.cell(row, at).value = value.upper() if value and row == FIRST + 3 else value

    taken_whole(house, "readings", "lab.xlsx", edited(house, copies))
    taken_whole(house, "readings", "lab.xlsx", edited(house, lambda sheet: sheet.delete_rows(FIRST)), FIRST)

    def clears(sheet: Any) -> None:
        for cell in sheet[FIRST][1:-1]:
            cell.value = None

    taken_whole(house, "readings", "lab.xlsx", edited(house, clears))
    over = filled(house, "readings", row=FIRST)
    taken_whole(house, "readings", "lab.xlsx", over, FIRST)

    def above_too(sheet: Any) -> None:
        sheet.delete_rows(1, MARKS)

    taken_whole(house, "readings", "lab.xlsx", edited(house, above_too), FIRST + 1 - MARKS)


@pytest.mark.long
@pytest.mark.parametrize("left", ["vessel", "temperature", "instrument", "taken_at", "purpose"])
def test_a_row_written_half_over_the_example_is_a_finding(left: str) -> None:
    """One cell left as the example: the row is not mixed with it, and the finding names that cell."""
    house = built_in()
    columns = [column.column.name for column in blank_of(kind_named(house, "readings"), house).columns]
    at = columns.index(left)

    def over_but_one(sheet: Any) -> None:
        for index, column in enumerate(columns):
            if index != at:
                sheet.cell(FIRST, index + 1).value = filled_cell(kind_named(house, "readings").column(column))
        sheet.cell(FIRST, 1 if at else 2).value = "X-2" if at else datetime(2026, 3, 4)

    item = judged(house, "lab.xlsx", edited(house, over_but_one))
    (rows,) = item.sheets
    assert rows.rows == [FIRST + 1]
    (finding,) = said(item)
    assert finding.code == "sheet.unusable-row" and finding.severity == "review" and finding.column == left
    assert "is still the example's; write your own or empty the cell" in finding.message
    assert finding.place.cell == f"{openpyxl.utils.get_column_letter(at + 1)}{FIRST}"


def test_words_that_only_sound_like_an_example_are_data() -> None:
    """A remark on an example, a cask named Example: data as any other."""
    house = built_in()

    def speaks(sheet: Any) -> None:
        sheet.cell(FIRST + 1, 1).value = "EXAMPLE-7"
        sheet.cell(FIRST + 1, 20).value = "for example: cloudy"

    item = judged(house, "lab.xlsx", edited(house, speaks))
    (rows,) = item.sheets
    assert said(item) == [] and rows.values["vessel"] == ["EXAMPLE-7"]
    assert "for example: cloudy" in [values[0] for values in rows.values.values()]


@pytest.mark.long
def test_the_explanations_alone_are_no_sheet() -> None:
    """Saved as CSV by mistake, the second page goes back and says what it is."""
    for name in KINDS:
        house = built_in()
        book = openpyxl.load_workbook(io.BytesIO(blank_bytes(house, name)))
        book.remove(book.worksheets[0])
        raw = io.BytesIO()
        book.save(raw)
        for file, data in (("page.xlsx", raw.getvalue()), ("page.csv", as_csv(raw.getvalue()))):
            item = judged(house, file, data)
            assert "only the explanations" in item.reason and "filled in" in item.remedy


def test_an_untouched_blank_leaves_no_trace_in_the_book(room: Room) -> None:
    """Through a whole run: returned with its reason; filled in under the same name it is taken."""
    from pipeline.site.house import open_house
    from pipeline.site.source import Source

    house = open_house(Source(room.site))
    first = room.run(("gauges.xlsx", blank_bytes(house, "gauges")))
    assert [fate.outcome for fate in first.fates] == ["returned"]
    assert "no rows" in (room.out / "returned" / "gauges.xlsx.why.txt").read_text("utf-8")
    second = room.run(("gauges.xlsx", filled(house, "gauges")))
    assert [(fate.outcome, fate.rows) for fate in second.fates] == [("taken", 1)]
    assert list(second.worked.frames["gauges"]["vessel"]) == ["X-1"]


# --- the workbook --------------------------------------------------------------------------------------


@pytest.mark.long
def test_the_page_says_in_words_what_is_needed() -> None:
    """Over each header stands whether every row needs it; colour only underlines it."""
    house = built_in()
    for name in KINDS:
        kind = kind_named(house, name)
        sheet = openpyxl.load_workbook(io.BytesIO(blank_bytes(house, name))).worksheets[0]
        for at, column in enumerate(blank_of(kind, house).columns, start=1):
            mark = sheet.cell(MARKS, at).value
            assert sheet.cell(HEADER, at).value == column.header
            assert (mark == NEEDED) == (column.column.required and not column.column.may_be_blank)
            assert mark
        assert sheet.freeze_panes == f"B{FIRST}" and sheet.print_title_rows == f"${MARKS}:${HEADER}"
        assert sheet.page_setup.orientation == "landscape" and sheet.page_setup.fitToHeight == 0


def checks(sheet: Any) -> dict[str, Any]:
    """Column letter → check of its cells."""
    return {
        str(check.sqref).partition(":")[0].rstrip("0123456789"): check
        for check in sheet.data_validations.dataValidation
    }


@pytest.mark.long
def test_words_are_drop_downs_and_numbers_and_dates_are_checked() -> None:
    """Choices list exactly the words kept; bounds stand in the unit of the header; each has a prompt."""
    house = built_in()
    for name in KINDS:
        sheet = openpyxl.load_workbook(io.BytesIO(blank_bytes(house, name))).worksheets[0]
        found = checks(sheet)
        for at, column in enumerate(blank_of(kind_named(house, name), house).columns, start=1):
            check = found.get(openpyxl.utils.get_column_letter(at))
            if column.column.choices or column.column.type == "yes_no":
                assert check.type == "list" and check.formula1 == f'"{",".join(column.words)}"'
            elif column.column.type in ("number", "count", "date", "moment"):
                wanted = {"number": "decimal", "count": "whole"}.get(column.column.type, "date")
                assert check.type == wanted and check.prompt and check.showInputMessage and check.error
                assert len(check.prompt) <= 255 and len(check.promptTitle) <= 32 and len(check.error) <= 225
            if check is not None:
                assert f"{FIRST + 1}:" in str(check.sqref)  # not the example
                assert "e+" not in f"{check.formula1}{check.formula2}"  # not every program knows 1e+12 there
    sheet = openpyxl.load_workbook(io.BytesIO(blank_bytes(house, "readings"))).worksheets[0]
    temperature = checks(sheet)["F"]
    assert (float(temperature.formula1), float(temperature.formula2)) == (-22.0, 140.0)
    metric = openpyxl.load_workbook(io.BytesIO(blank_bytes(built_in("metric"), "readings"))).worksheets[0]
    assert (float(checks(metric)["F"].formula1), float(checks(metric)["F"].formula2)) == (-30.0, 60.0)


def test_who_may_rule_is_a_drop_down() -> None:
    """[rulings] by in site.toml gives the names; without it the cell is free."""
    house = built_in("imperial")
    columns = {column.column.name: column for column in blank_of(kind_named(house, "rulings"), house).columns}
    assert columns["by"].words == ("R. One", "R. Two") and "message" not in columns
    assert blank_of(kind_named(built_in(), "rulings"), built_in()).columns[-2].words == ()


def test_a_list_too_long_for_a_check_stands_on_the_second_page(house: House) -> None:
    """Words with commas, and lists over 255 characters, are looked up in cells."""
    words = tuple((f"word number {number}, of many", ()) for number in range(30))
    kind = SheetKind(
        "long", ("id",), (SheetColumn("id", "name", required=True), SheetColumn("what", "choice", choices=words))
    )
    book = openpyxl.load_workbook(io.BytesIO(book_of(blank_of(kind, house), "")))
    area = checks(book.worksheets[0])["B"].formula1
    page, _, cells = area.partition("!")
    listed = [cell.value for (cell,) in book[page.strip("'")][cells.replace("$", "")]]
    assert listed == [word for word, _ in words]


def test_an_odd_kind_still_has_its_sheet(house: House) -> None:
    """A long name with signs that no sheet may bear, no meaning, a column called example, units nobody converts."""
    columns = (
        SheetColumn("id", "name", required=True),
        SheetColumn("example", "text"),
        SheetColumn("strength_unit", "text"),
        SheetColumn("now", "number", quantity="toy strength", default_unit="proof|%vol"),
        SheetColumn("of_nothing", "number", quantity="nothing known"),
    )
    kind = SheetKind("a/b: [c]? " + "long " * 10, ("id",), columns)
    book = openpyxl.load_workbook(io.BytesIO(book_of(blank_of(kind, house), "")))
    headers = [cell.value for cell in book.worksheets[0][HEADER]]
    assert headers == ["id", "example", "strength unit", "now (proof)", "of nothing"]


def test_equal_settings_give_equal_bytes() -> None:
    """No clock and no chance in the workbook."""
    assert blank_bytes(built_in(), "casks") == blank_bytes(built_in(), "casks")


def test_text_of_a_plugin_is_never_run(house: House) -> None:
    """A meaning that begins with = stays text."""
    kind = SheetKind("odd", ("id",), (SheetColumn("id", "name", required=True, meaning="=1+1"),), meaning="=2+2")
    for sheet in openpyxl.load_workbook(io.BytesIO(book_of(blank_of(kind, house), "=3"))).worksheets:
        assert all(cell.data_type in ("s", "n") for row in sheet.iter_rows() for cell in row)


# --- the command ---------------------------------------------------------------------------------------


def call(*arguments: object) -> Any:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


def test_the_command_writes_and_never_over(tmp_path: Path) -> None:
    """A file that is there may be filled in: it is left as it is, in words, with status 1."""
    target = tmp_path / "mine.xlsx"
    made = call("sheet", "Readings", "-o", target)
    assert made.exit_code == 0 and str(target) in made.output and "never taken" in made.output
    before = target.read_bytes()
    again = call("sheet", "readings", "-o", target)
    assert again.exit_code == 1 and "is there already" in again.stderr and target.read_bytes() == before
    into = call("sheet", "casks", "-o", tmp_path, "--json")
    assert json.loads(into.stdout)["file"] == str(tmp_path / "casks.xlsx") and (tmp_path / "casks.xlsx").is_file()
    for file, words in (("x.csv", "end in .xlsx"), ("nowhere/x.xlsx", "There is no folder")):
        wrong = call("sheet", "casks", "-o", tmp_path / file)
        assert wrong.exit_code == 1 and words in wrong.stderr and "Traceback" not in wrong.output
    assert sorted(path.name for path in tmp_path.iterdir()) == ["casks.xlsx", "mine.xlsx"]


def test_an_unknown_kind_is_told_with_the_nearest() -> None:
    """And without a kind all are listed."""
    wrong = call("sheet", "reading")
    assert wrong.exit_code == 1 and "Did you mean readings?" in wrong.stderr and "casks" in wrong.stderr
    listed = call("sheet")
    assert listed.exit_code == 0 and all(f"  {name}: " in listed.output for name in KINDS)
    assert list(json.loads(call("sheet", "--json").stdout)) == KINDS


def test_a_sites_own_kind_and_settings_count(tmp_path: Path) -> None:
    """--site: the kinds of its plugins, its units and names; a sheet written into an inbox is warned of."""
    folder, inbox = tmp_path / "etc", tmp_path / "inbox"
    inbox.mkdir()
    (inbox / MARK).touch()
    (folder / "mine" / "cleaning").mkdir(parents=True)
    (folder / "site.toml").write_text('plugin_folders = ["mine"]\n' + METRIC.split("\n", 1)[1], "utf-8")
    (folder / "mine" / "cleaning" / "plugin.py").write_text(CLEANING, "utf-8")
    made = call("sheet", "cleanings", "--site", folder, "-o", inbox / "c.xlsx")
    assert made.exit_code == 0 and "move it out" in made.output, made.output
    sheet = openpyxl.load_workbook(inbox / "c.xlsx").worksheets[0]
    assert [cell.value for cell in sheet[HEADER]] == ["tank", "cleaned on", "rinse (litres)", "lye"]
    house = build_house((folder / "site.toml").read_text("utf-8"), folder)
    no_rows(house, "cleanings", "c.xlsx", (inbox / "c.xlsx").read_bytes())
    taken_whole(house, "cleanings", "c.xlsx", filled(house, "cleanings"))


# --- through a spreadsheet program ---------------------------------------------------------------------


@needs_office
def test_a_spreadsheet_program_keeps_it(tmp_path: Path) -> None:
    """Opened and saved again as XLSX and as CSV, every kind is still itself: blank and filled in."""
    house = built_in()
    (tmp_path / "in").mkdir()
    for name in KINDS:
        (tmp_path / "in" / f"{name}.xlsx").write_bytes(blank_bytes(house, name))
        (tmp_path / "in" / f"{name}_full.xlsx").write_bytes(filled(house, name))
    profile = f"-env:UserInstallation={(tmp_path / 'profile').as_uri()}"
    files = [str(path) for path in sorted((tmp_path / "in").iterdir())]
    for ending, filter_ in (
        ("xlsx", "xlsx"),
        ("csv", "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,true,false"),
    ):
        command = [
            str(SOFFICE),
            profile,
            "--headless",
            "--convert-to",
            filter_,
            "--outdir",
            str(tmp_path / ending),
            *files,
        ]
        subprocess.run(command, check=True, capture_output=True, timeout=300)
        for name in KINDS:
            no_rows(house, name, f"a.{ending}", (tmp_path / ending / f"{name}.{ending}").read_bytes())
            item = judged(house, f"a.{ending}", (tmp_path / ending / f"{name}_full.{ending}").read_bytes())
            assert not item.returned and said(item) == [], (name, ending, item.reason, said(item))
            assert [(rows.kind.name, rows.rows) for rows in item.sheets] == [(name, [FIRST + 1])]
    again = openpyxl.load_workbook(tmp_path / "xlsx" / "readings.xlsx").worksheets[0]
    assert {check.type for check in again.data_validations.dataValidation} >= {"list", "decimal", "date"}
