"""CSV as instruments, spreadsheets and people write it: read as meant, or returned; no row swallowed."""

from __future__ import annotations

import pytest

from tests.bad_input.kit import codes, column, csv, judged, said

TABLE = "Cask;Date;Observed Proof;Temp (°F)\nCafé-1;2026-03-02;120,5;68\n"


@pytest.mark.parametrize(
    ("data", "notes"),
    [
        (TABLE.encode("utf-8"), []),
        (TABLE.encode("utf-8-sig"), []),
        (TABLE.encode("utf-16"), []),
        (b"\xfe\xff" + TABLE.encode("utf-16-be"), []),
        (TABLE.encode("cp1252"), ["sheet.read-note"]),
        (("sep=;\n" + TABLE).encode(), []),
        (TABLE.replace("\n", "\r").encode(), []),
        (TABLE.replace("\n", "\r\n").encode(), []),
        (TABLE.replace(";", "\t").encode(), []),
    ],
)
def test_encodings_line_ends_and_delimiters(data: bytes, notes: list[str]) -> None:
    """One table in every form that spreadsheets save: the same cells; a guessed encoding is said."""
    made = judged("a.csv", data)
    assert column(made, "vessel") == ["Café-1"] and column(made, "reading") == [120.5]
    assert column(made, "temperature_unit") == ["degF"]
    assert codes(made) == notes


def test_letters_of_an_old_code_page_are_not_taken_for_a_unit() -> None:
    """A degree sign from an old code page reads as ø: the unit is in doubt and the file goes back."""
    assert "'øF'" in judged("a.csv", TABLE.encode("cp437")).reason


@pytest.mark.parametrize(
    "rows",
    [
        ['C-1,2026-03-02,120,"68', "C-2,2026-03-02,120,68", "C-3,2026-03-02,120,68"],
        ['"C-1,2026-03-02,120,68', "C-2,2026-03-02,120,68"],
        ["C-1,2026-03-02,120,68", 'C-2,2026-03-02,"120,68', "C-3,2026-03-02,120,68", 'C-4,2026-03-02,121",68'],
    ],
)
def test_an_unclosed_quotation_mark_never_swallows_rows(rows: list[str]) -> None:
    """Rows under a quotation mark that is never closed are not lost in one cell: the file goes back."""
    made = judged("a.csv", csv(*rows))
    assert made.returned and "quotation mark" in made.reason and "quotation mark" in made.remedy


def test_rows_inside_a_remark_are_not_swallowed_either() -> None:
    """The same where the swallowing cell is a free text, in which anything could stand."""
    header = "Cask,Date,Observed Proof,Temp (°F),Remark"
    rows = ["C-1,2026-03-02,120,68,ok", 'C-2,2026-03-02,120,68,"6 inch', "C-3,2026-03-02,120,68,ok"]
    assert "row 3" in judged("a.csv", csv(*rows, header=header)).reason
    closed = [*rows, 'C-4,2026-03-02,120,68,8"']
    assert "row 3" in judged("a.csv", csv(*closed, header=header)).reason


def test_quotation_marks_that_belong_there() -> None:
    """A note over several lines with commas, and an inch sign within words, are just text."""
    header = "Cask,Date,Observed Proof,Temp (°F),Remark"
    rows = ['C-1,2026-03-02,120,68,"oak, smoke\nsalt, ""sea""\nend"', 'C-2,2026-03-02,120,68,5" stave']
    made = judged("a.csv", csv(*rows, header=header))
    assert column(made, "remark") == ['oak, smoke\nsalt, "sea"\nend', '5" stave']


@pytest.mark.parametrize("claims", ["straight; bottled in bond", "straight; small batch; bottled in bond"])
@pytest.mark.parametrize("rows", [1, 3, 12])
def test_semicolons_within_one_column_do_not_cut_a_comma_file(claims: str, rows: int) -> None:
    """A brief whose claims are separated by semicolons is still a comma file."""
    made = judged("a.csv", csv(*(f"B-{n},Rye,US,{claims}" for n in range(rows)), header="Batch,Product,Market,Claims"))
    assert column(made, "claims") == [claims] * rows


def test_semicolons_with_decimal_commas_and_ragged_rows() -> None:
    """Rows that lack their last cells do not make the decimal commas the delimiter."""
    rows = ["C-1;2026-03-02;60,1;20,5", "C-2;2026-03-02;60,2;20,5;ok", "C-3;2026-03-02;60,3;20,5"]
    made = judged("a.csv", csv("", *rows, header="Lab, week 9\nCask;Date;Reading;Temp (°C);Remark"))
    assert column(made, "reading") == [60.1, 60.2, 60.3]


def test_an_unquoted_decimal_comma_in_a_comma_file_shifts_no_cell() -> None:
    """Too many cells in a row: a finding for that row, never the neighbour's value."""
    made = judged("a.csv", csv("C-1,2026-03-02,120,5,68", "C-2,2026-03-02,121,68", "C-3,2026-03-02,121,68,,"))
    assert column(made, "vessel") == ["C-2", "C-3"]
    assert codes(made) == ["sheet.unusable-row"] and "5 cells under a header of 4" in said(made)[0].message


def test_short_rows_lack_what_they_lack() -> None:
    """A row that ends early is a finding that names the cell it lacks."""
    made = judged("a.csv", csv("C-1,2026-03-02", "C-2,2026-03-02,121,68"))
    assert column(made, "vessel") == ["C-2"]
    assert said(made)[0].place.cell == "C2" and "is empty" in said(made)[0].message


@pytest.mark.long
def test_thirty_thousand_ragged_rows() -> None:
    """Size changes nothing: each row that cannot be used is a finding, the others count."""
    made = judged("a.csv", csv(*(f"C-{n},2026-03-02,120,68{',x' * (n % 5)}" for n in range(30_000))))
    assert len(column(made, "vessel")) == 6_000
    assert len(said(made)) == 24_000


def test_letters_that_cannot_be_seen_make_no_second_cask() -> None:
    """Zero-width, control and direction characters are not part of a name; a no-break space is a space."""
    names = ["C-\u200b1", "\u202eC-1", "C-\x071", "C-\u00ad1", " C-1\u00a0", "\ufeffC-1"]
    made = judged("a.csv", csv(*(f"{name},2026-03-0{n + 1},120,68" for n, name in enumerate(names))))
    assert column(made, "vessel") == ["C-1"] * len(names)


@pytest.mark.parametrize("name", ["0101", "007", "1E5", "NA", "null", "TRUE-1", "🥃", "C-1 ½"])
def test_names_stay_as_they_are_written(name: str) -> None:
    """Leading zeros, 1E5 and NA are names like any other."""
    assert column(judged("a.csv", csv(f"{name},2026-03-02,120,68")), "vessel") == [name]


def test_a_csv_of_one_column_is_returned() -> None:
    """One column is no table."""
    assert judged("a.csv", "Cask\nC-1\nC-2\n").returned
