"""A returned file comes back as a workbook to mend; filled in and dropped, it is taken, and what was said is kept."""

from __future__ import annotations

import io
from datetime import date, datetime
from pathlib import Path
from random import Random

import openpyxl
import pytest
from click.testing import CliRunner

from pipeline.commands.cli import main
from pipeline.inbox.judging import judge
from pipeline.inbox.mended_workbook import book_to_mend, name_to_mend
from pipeline.runs.results import Result
from pipeline.runs.run import rebuild
from pipeline.sheets.columns_sheet import MARK
from pipeline.sheets.explained import LEAVE, Layout, choices_of
from pipeline.sheets.judged import Judged
from pipeline.site.house import build_house
from tests.bad_input.kit import DAY, NOW, house, run_in, xlsx
from tests.reading.mended import choices, filled, page_of, workbook

UNKNOWN = "Cask,Date,Fassprobe,Temp (°F)\nC-1,2026-03-02,124.6,68\nC-2,2026-03-03,121.0,68\n"
LATER = "Cask,Date,Fassprobe,Temp (°F)\nC-3,2026-03-09,119.5,66\n"
PROOF, VOL = "reading in proof, as read", "reading in %vol, as read"


def judged(name: str, data: bytes | str, layouts: dict[tuple[str, ...], Layout] | None = None) -> Judged:
    known = house()
    return judge(name, data.encode() if isinstance(data, str) else data, known.site, known, DAY, layouts)


def returned(data: bytes | str, name: str = "lab.csv") -> bytes:
    """The workbook to mend of a file that is returned."""
    made = judged(name, data)
    assert made.returned and made.to_mend, made.reason
    return book_to_mend(made.to_mend, name, "0" * 64, made.reason, made.remedy)


def readings(made: Judged) -> list[tuple[object, object, object]]:
    assert not made.returned, made.reason
    (rows,) = made.sheets
    return list(zip(rows.values["vessel"], rows.values["reading"], rows.values["reading_unit"], strict=True))


# --- what comes back --------------------------------------------------------------------------------


def test_the_same_rows_come_back_with_a_page_that_lists_each_header() -> None:
    data = returned(UNKNOWN)
    page = page_of(data)
    told = {row[2]: row[4] for row in page if row[1] in ("A1", "B1", "C1", "D1")}
    assert told["Cask"] == "vessel" and told["Temp (°F)"] == "temperature in degF"
    assert choices(data, "Cask") == [] and {PROOF, VOL, LEAVE} <= set(choices(data, "Fassprobe"))
    assert not any(words.startswith(("vessel", "temperature")) for words in choices(data, "Fassprobe"))
    sheet = openpyxl.load_workbook(io.BytesIO(data))["Rows"]
    assert [cell.value for cell in sheet[2]] == ["C-1", "2026-03-02", "124.6", "68"]


def test_a_bad_cell_bears_a_comment_a_border_and_a_line_on_the_page() -> None:
    data = returned("Cask,Date,Observed Proof,Temp (°F)\nC-1,2026-13-02,124.6,68\n")
    cell = openpyxl.load_workbook(io.BytesIO(data))["Rows"]["B2"]
    assert "no day of the calendar" in cell.comment.text and cell.border.left.style == "medium"
    assert any(row[1] == "B2" and "no day of the calendar" in str(row[2]) for row in page_of(data))


def test_mended_cells_are_taken() -> None:
    data = returned("Cask,Date,Observed Proof,Temp (°F)\nC-1,2026-13-02,124.6,68\n")
    assert readings(judged("x.xlsx", filled(data, cells={"Rows": {"B2": "2026-03-02"}}))) == [("C-1", 124.6, "proof")]


def test_nothing_said_is_nothing_taken() -> None:
    """A workbook that comes as it went goes back again, however often."""
    data = returned(UNKNOWN)
    assert judged("lab.csv.to_mend.xlsx", data).returned
    assert name_to_mend("lab.csv") == "lab.csv.to_mend.xlsx"
    assert name_to_mend("lab.csv.to_mend.xlsx") == "lab.csv.to_mend 2.xlsx"
    assert name_to_mend("lab.csv.to_mend 2.xlsx") == "lab.csv.to_mend 3.xlsx"


def test_what_was_said_counts_in_the_unit_that_was_said() -> None:
    data = returned(UNKNOWN)
    assert readings(judged("a.xlsx", filled(data, {"Fassprobe": PROOF}))) == [
        ("C-1", 124.6, "proof"),
        ("C-2", 121.0, "proof"),
    ]
    (rows,) = judged("a.xlsx", filled(data, {"Fassprobe": VOL})).sheets
    assert rows.values["reading_unit"] == ["%vol", "%vol"] and rows.values["state"] == ["as read", "as read"]


def test_text_stays_text_and_decimal_commas_stay_what_they_were() -> None:
    made = "Zettel;Date;Fassprobe;Temp (°C);Cask\nx;2026-03-02;62,512;20,5;0017\n"
    data = returned(made)
    (rows,) = judged("a.xlsx", filled(data, {"Fassprobe": VOL})).sheets
    assert rows.values["vessel"] == ["0017"] and rows.values["temperature_degC"] == [20.5]


def test_a_shifted_row_is_never_read_shifted() -> None:
    """A decimal comma in a comma file makes a cell too many: as a workbook the row would look whole."""
    data = returned("Cask,Date,Fassprobe,Temp (°F)\nC-1,2026-03-02,124,6,68\nC-2,2026-03-02,121.0,68\n")
    said = filled(data, {"Fassprobe": PROOF})
    assert readings(judged("a.xlsx", said)) == [("C-2", 121.0, "proof")]

    def without_the_page(book: openpyxl.Workbook) -> None:
        book["Rows"]["C1"].value = "Observed Proof"
        del book["Columns"]

    assert readings(judged("a.xlsx", filled(data, edit=without_the_page))) == [("C-2", 121.0, "proof")]


def test_units_that_a_number_format_shows_and_hidden_rows_come_back_as_they_were() -> None:
    def look(book: openpyxl.Workbook) -> None:
        sheet = book.worksheets[0]
        sheet["D2"].number_format = 'General" °C"'
        sheet.row_dimensions[3].hidden = True

    head = ["Cask", "Date", "Fassprobe", "Temp"]
    rows = [["C-1", datetime(2026, 3, 2, 9, 30), 124.6, 20.0], ["C-2", date(2026, 3, 2), 121.0, 20.0]]
    data = returned(xlsx([head, *rows], look), "lab.xlsx")
    (taken,) = judged("a.xlsx", filled(data, {"Fassprobe": PROOF})).sheets
    assert taken.values["vessel"] == ["C-1"] and taken.values["temperature_unit"] == ["degC"]
    assert taken.values["taken_at"] == ["2026-03-02T09:30:00"]
    assert "sheet.hidden-row" in {finding.code for finding in taken.findings}


def test_a_cell_without_a_value_stays_one_until_it_is_mended() -> None:
    def formula(book: openpyxl.Workbook) -> None:
        book.worksheets[0]["E2"].value = "=1/0"

    rows = [["Cask", "Date", "Fassprobe", "Temp (°F)", "Analyst"], ["C-1", date(2026, 3, 2), 124.6, 68, ""]]
    data = returned(xlsx(rows, formula), "lab.xlsx")
    assert judged("a.xlsx", filled(data, {"Fassprobe": PROOF})).returned
    assert readings(judged("a.xlsx", filled(data, {"Fassprobe": PROOF}, cells={"Lab": {"E2": "Ida"}})))


def test_nothing_in_a_cell_is_run() -> None:
    data = returned('Cask,Date,Fassprobe,Temp (°F)\n"=HYPERLINK(""http://x"",1)",2026-03-02,124.6,68\n')
    assert openpyxl.load_workbook(io.BytesIO(data))["Rows"]["A2"].data_type == "s"


# --- what cannot be said ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("header", "never"),
    [
        ("TTB Proof", "reading in %vol, as read"),
        ("Stärke % vol", "reading in proof, as read"),
        ("Corrected Wert", "reading in proof, as read"),
        ("Wert (°C)", "reading in proof, as read"),
        ("Temp (°R)", "reading in proof, as read"),
        ("Inhalt gal", "volume in L"),
        ("Fassprobe", "void"),
        ("Found", "reading in proof"),
    ],
)
def test_a_header_never_means_what_its_own_words_speak_against(header: str, never: str) -> None:
    kind = next(kind for kind in house().kinds if kind.name == "readings")
    offered = choices_of(kind, header, house().units)
    assert offered and never not in offered


def test_a_header_of_another_kind_means_nothing_here() -> None:
    kind = next(kind for kind in house().kinds if kind.of_another)
    assert choices_of(kind, kind.of_another[0], house().units) == {}


def test_proof_is_not_made_percent_by_typing_it_over_the_dropdown() -> None:
    data = returned("Cask,Date,TTB Proof,Temp (°F)\nC-1,2026-03-02,124.6,68\n")
    assert "speak against" in judged("a.xlsx", filled(data, {"TTB Proof": VOL})).reason
    assert readings(judged("a.xlsx", filled(data, {"TTB Proof": PROOF}))) == [("C-1", 124.6, "proof")]


def test_two_headers_for_one_column_are_asked_about_again() -> None:
    data = returned("Cask,Date,Foo,Temp (°F),Bar\nC-1,2026-03-02,124.6,68,121\n")
    again = judged("a.xlsx", filled(data, {"Foo": PROOF, "Bar": PROOF}))
    assert "both say reading" in again.reason and again.to_mend
    assert readings(judged("a.xlsx", filled(data, {"Foo": PROOF, "Bar": LEAVE}))) == [("C-1", 124.6, "proof")]


def test_a_header_changed_since_is_asked_about() -> None:
    data = filled(returned(UNKNOWN), {"Fassprobe": PROOF}, cells={"Rows": {"C1": "ABV Labor"}})
    made = judged("a.xlsx", data)
    assert "C1" in made.reason and "ABV Labor" in made.reason and "header row back" in made.remedy


@pytest.mark.parametrize(
    ("place", "value", "said"),
    [
        ("B8", "rulings", "no kind"),
        ("B8", "nonsense", "no kind"),
        ("C8", "-4", "no row"),
        ("C8", "999999", "holds ''"),
        ("D8", "text, by guess", "no way"),
        ("A8", "Elsewhere", "does not list"),
    ],
)
def test_a_page_that_somebody_spoilt_is_told_in_words(place: str, value: str, said: str) -> None:
    data = filled(returned(UNKNOWN), {"Fassprobe": PROOF}, cells={"Columns": {place: value}})
    made = judged("a.xlsx", data)
    assert made.returned and said in made.reason and not made.layouts


def test_a_page_alone_is_no_sheet_of_rows() -> None:
    def alone(book: openpyxl.Workbook) -> None:
        del book["Rows"]

    made = judged("a.xlsx", filled(returned(UNKNOWN), {"Fassprobe": PROOF}, edit=alone))
    assert made.returned and "Rows" in made.reason


def test_of_kinds_as_like_a_person_says_which() -> None:
    made = judged("a.csv", UNKNOWN)
    assert not made.to_mend[0].open_kind  # more of what readings need is there than of any other kind
    data = filled(returned(UNKNOWN), rows_are="blends")
    again = judged("a.xlsx", data)
    assert again.returned and "blend" in again.reason


# --- what is kept -----------------------------------------------------------------------------------


@pytest.mark.long
def test_what_was_confirmed_counts_for_later_files_and_a_rebuild_gives_the_same(tmp_path: Path) -> None:
    out = tmp_path / "out"
    first = run_in(tmp_path, {"lab.csv": UNKNOWN})
    assert [fate.outcome for fate in first.fates] == ["returned"]
    assert "lab.csv.to_mend.xlsx" in (out / "returned" / "lab.csv.why.txt").read_text("utf-8")
    run_in(
        tmp_path, {"mended by me.xlsx": filled(workbook(out, "lab.csv.to_mend.xlsx"), {"Fassprobe": PROOF}, "Ida V")}
    )
    later = run_in(tmp_path, {"march.csv": LATER})
    assert [fate.outcome for fate in later.fates] == ["taken"]
    told = [
        f.message for f in later.worked.findings if f.code == "sheet.layout-explained" and f.place.file == "march.csv"
    ]
    assert len(told) == 1 and "Ida V (typed" in told[0] and PROOF in told[0]
    shown = CliRunner().invoke(main, ["settings", "--out", str(out)]).output
    assert "confirmed by Ida V (typed" in shown and "'Fassprobe' is reading in proof, as read" in shown
    made = later.worked.frames["readings"]
    again = rebuild(out, now=NOW).worked.frames["readings"]
    assert list(made["vessel"]) == ["C-1", "C-2", "C-3"] and set(made["reading_unit"]) == {"proof"}
    assert made.equals(again)


@pytest.mark.long
def test_amounts_far_from_those_that_were_confirmed_are_asked_about(tmp_path: Path) -> None:
    """Another lab may head its % vol as this one heads its proof."""
    out = tmp_path / "out"
    run_in(tmp_path, {"lab.csv": UNKNOWN})
    run_in(tmp_path, {"a.xlsx": filled(workbook(out, "lab.csv.to_mend.xlsx"), {"Fassprobe": PROOF}, "Ida")})
    result = run_in(
        tmp_path, {"other lab.csv": LATER.replace("119.5", "59.7"), "march.csv": LATER.replace("C-3", "C-4")}
    )
    told = {f.place.file: f for f in result.worked.findings if f.code == "sheet.layout-explained"}
    assert told["march.csv"].severity == "note" and told["other lab.csv"].severity == "review"
    assert "lay around 122.8 then and around 59.7 here" in told["other lab.csv"].message


@pytest.mark.long
def test_what_was_confirmed_can_be_taken_back_in_the_settings(tmp_path: Path) -> None:
    out = tmp_path / "out"
    run_in(tmp_path, {"lab.csv": UNKNOWN})
    run_in(tmp_path, {"a.xlsx": filled(workbook(out, "lab.csv.to_mend.xlsx"), {"Fassprobe": PROOF}, "Ida")})
    code = Layout("readings", ("Cask", "Date", "Fassprobe", "Temp (°F)"), ((2, PROOF),)).code
    site = f'timezone = "UTC"\n[sheets]\nnot_confirmed = ["{code}"]\n'
    assert [fate.outcome for fate in run_in(tmp_path, {"march.csv": LATER}, site).fates] == ["returned"]


@pytest.mark.long
def test_who_says_otherwise_than_was_confirmed_is_asked(tmp_path: Path) -> None:
    out = tmp_path / "out"
    run_in(tmp_path, {"lab.csv": UNKNOWN})
    data = workbook(out, "lab.csv.to_mend.xlsx")
    run_in(tmp_path, {"a.xlsx": filled(data, {"Fassprobe": PROOF}, "Ida")})
    (fate,) = run_in(tmp_path, {"b.xlsx": filled(data, {"Fassprobe": VOL}, "Ole")}).fates
    assert fate.outcome == "returned" and "Ida" in fate.reason and "not_confirmed" in fate.remedy


# --- one slip, one line -----------------------------------------------------------------------------

BAD = "Cask,Date,Observed Proof,Temp (°F)\nC-1,2026-03-02,abc,68\nC-2,2026-03-02,def,68\nC-3,2026-03-02,,68\n"


def open_lines(result: Result) -> list[str]:
    return sorted(f.code for f in result.worked.findings if f.is_open and f.severity != "note")


@pytest.mark.long
def test_a_returned_file_is_one_line_on_the_first_page(tmp_path: Path) -> None:
    result = run_in(tmp_path, {"lab.csv": BAD})
    assert open_lines(result) == ["file.returned"]
    page = (tmp_path / "out" / "index.html").read_text("utf-8")
    assert page.count("None of its 3 rows") == 1 and 'href="returned/lab.csv.to_mend.xlsx"' in page


@pytest.mark.long
def test_the_mended_workbook_settles_what_it_mends_under_any_name(tmp_path: Path) -> None:
    run_in(tmp_path, {"lab.csv": UNKNOWN})
    data = workbook(tmp_path / "out", "lab.csv.to_mend.xlsx")
    result = run_in(tmp_path, {"quite another.xlsx": filled(data, {"Fassprobe": PROOF}, "Ida")})
    assert open_lines(result) == []
    page = (tmp_path / "out" / "index.html").read_text("utf-8")
    assert "mended by quite another.xlsx" in page and "Files that came back" not in page


@pytest.mark.long
def test_a_workbook_that_goes_back_again_takes_the_place_of_the_line_before(tmp_path: Path) -> None:
    out = tmp_path / "out"
    run_in(tmp_path, {"lab.csv": "Cask,Date,Foo,Temp (°F),Bar\nC-1,2026-03-02,124.6,68,121\n"})
    half = filled(workbook(out, "lab.csv.to_mend.xlsx"), {"Foo": PROOF, "Bar": PROOF}, "Ida")
    again = run_in(tmp_path, {"lab.csv.to_mend.xlsx": half})
    assert open_lines(again) == ["file.returned"] and (out / "returned" / "lab.csv.to_mend.xlsx").read_bytes() == half
    whole = workbook(out, "lab.csv.to_mend 2.xlsx")
    assert [row[5] for row in page_of(whole) if row[2] in ("Foo", "Bar")] == [PROOF, PROOF]

    def leave(book: openpyxl.Workbook) -> None:
        next(row for row in book["Columns"].iter_rows() if row[2].value == "Bar")[5].value = LEAVE

    assert open_lines(run_in(tmp_path, {"x.xlsx": filled(whole, edit=leave, by="Ida")})) == []


@pytest.mark.long
def test_a_row_stated_under_another_name_settles_the_row_that_was_not_taken(tmp_path: Path) -> None:
    first = "Cask,Date,Observed Proof,Temp (°F)\nC-1,2026-03-02,121,68\nC-2,2026-03-02,abc,68\nC-3,2026-14-02,120,68\n"
    assert open_lines(run_in(tmp_path, {"lab.csv": first})) == ["sheet.unusable-row"] * 2
    other = "Cask,Date,Observed Proof,Temp (°F)\nC-4,2026-03-02,121,68\n"
    assert open_lines(run_in(tmp_path, {"others.csv": other})) == ["sheet.unusable-row"] * 2
    mended = "Cask,Date,Observed Proof,Temp (°F)\nC-2,2026-03-02,119,68\nC-3,2026-03-02,120,68\n"
    left = run_in(tmp_path, {"rest of it.csv": mended})
    assert [f.place.cell for f in left.worked.findings if f.code == "sheet.unusable-row"] == [
        "B4"
    ]  # its key is unknown


@pytest.mark.long
def test_a_returned_file_is_settled_once_each_of_its_rows_is_stated(tmp_path: Path) -> None:
    run_in(tmp_path, {"lab.csv": BAD})
    two = "Cask,Date,Observed Proof,Temp (°F)\nC-1,2026-03-02,121,68\nC-2,2026-03-02,121,68\n"
    assert open_lines(run_in(tmp_path, {"two.csv": two})) == ["file.returned"]
    third = "Cask,Date,Observed Proof,Temp (°F)\nC-3,2026-03-02,121,68\n"
    assert open_lines(run_in(tmp_path, {"third.csv": third})) == []


# --- a workbook that somebody means ill with ----------------------------------------------------------


def test_a_page_in_a_text_file_or_hidden_or_twice_explains_nothing() -> None:
    assert "lists no sheet" in judged("a.csv", f"{MARK}\nConfirmed by,Ida\n").reason
    data = returned(UNKNOWN)

    def hide(book: openpyxl.Workbook) -> None:
        book["Columns"].sheet_state = "hidden"

    assert "no reading column" in judged("a.xlsx", filled(data, {"Fassprobe": PROOF}, edit=hide)).reason

    def twice(book: openpyxl.Workbook) -> None:
        copy = book.copy_worksheet(book["Columns"])
        next(row for row in copy.iter_rows() if row[2].value == "Fassprobe")[5].value = VOL

    made = judged("a.xlsx", filled(data, {"Fassprobe": PROOF}, edit=twice))
    assert made.returned or readings(made)[0] == ("C-1", 124.6, "proof")


@pytest.mark.long
def test_whatever_is_written_on_the_page_nothing_is_raised_and_nothing_is_guessed() -> None:
    """Cells of the page exchanged at random: the file goes back, or counts as was chosen; a page never gives rows."""
    data, dice = returned(UNKNOWN), Random(20)
    words = [None, "", "Rows", "readings", "rulings", "C1", "A1", "Cask", PROOF, VOL, LEAVE, "-1", 7, 1e9, "=1+1", MARK]
    taken = 0

    def spoil(book: openpyxl.Workbook) -> None:
        page = book["Columns"]
        for _ in range(dice.randrange(1, 4)):
            cell = page.cell(dice.randrange(1, 16), dice.randrange(1, 7))
            if type(cell).__name__ == "Cell":
                cell.value = dice.choice(words)

    for _ in range(60):
        made = judged("a.xlsx", filled(data, {"Fassprobe": PROOF}, edit=spoil))
        assert "could not be read" not in made.reason
        if not made.returned:
            taken += 1
            assert readings(made) in ([("C-1", 124.6, unit), ("C-2", 121.0, unit)] for unit in ("proof", "%vol"))
    assert 10 < taken < 60


@pytest.mark.parametrize(
    ("by", "why"), [("Oddny Fell", ""), ("Ilka Vordren", "may not rule"), ("Nobody", "is not listed")]
)
def test_only_who_may_rule_says_what_holds_for_later_files(by: str, why: str, tmp_path: Path) -> None:
    """Where a site lists people; cells alone may be mended by whoever drops files."""
    people = '[[people]]\nname = "Oddny Fell"\nroles = ["rule"]\n[[people]]\nname = "Ilka Vordren"\nroles = ["drop"]\n'
    listed = build_house(f'timezone = "UTC"\n{people}', tmp_path)
    made = judge("a.xlsx", filled(returned(UNKNOWN), {"Fassprobe": PROOF}, by=by), listed.site, listed, DAY)
    assert made.returned == bool(why) and why in made.reason
    cells = returned("Cask,Date,Observed Proof,Temp (°F)\nC-1,2026-13-02,124.6,68\n")
    mended = filled(cells, cells={"Rows": {"B2": "2026-03-02"}}, by=by)
    assert not judge("b.xlsx", mended, listed.site, listed, DAY).returned
