"""Headers as labs write them: understood, or the file goes back; a unit or a kind is never guessed."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import pytest

from tests.bad_input.kit import MARCH, codes, column, csv, judged, said, xlsx

FAHRENHEIT = (
    "Temp F,TEMP (F),Temp\u00a0(°F),Temp. (deg. F),Temp [F],temperature_degF,Temp: F,Temp - F,Jar Temp F,Temp (F°),"
    "Temp (degrees F),Temp (Fahrenheit),Temp (˚F),Temp (oF),T °F,Temperature/°F,Temp ( °F )"
).split(",")


@pytest.mark.parametrize("header", [*FAHRENHEIT, "Temp\n(°F)", "Temp\r\n(°F)", "Temp, °F"])
def test_fahrenheit_in_every_spelling(header: str) -> None:
    """However the header says °F, 68 is 20 °C and nothing is assumed."""
    made = judged("a.csv", csv("C-1,2026-03-02,120,68", header=f'Cask,Date,Obs Proof,"{header}"'))
    assert column(made, "temperature_degC") == pytest.approx([20.0])
    assert said(made) == []


@pytest.mark.parametrize(
    "header", ["T °C", "temperature_degC", "Temp (C)", "Temp in °C", "TEMP (c°)", "Temp (degrees C)"]
)
def test_celsius_in_every_spelling(header: str) -> None:
    """However the header says °C, 20 is 20 °C."""
    made = judged("a.csv", csv("C-1,2026-03-02,120,20", header=f"Cask,Date,Obs Proof,{header}"))
    assert column(made, "temperature_degC") == [20.0] and said(made) == []


@pytest.mark.parametrize(
    ("header", "name", "value"),
    [
        ("Wt (lbs)", "net_weight_kg", 45.359237),
        ("Net kg", "net_weight_kg", 100.0),
        ("Volume (US gal.)", "volume_L", 378.5411784),
        ("WG", "volume_L", 378.5411784),
        ("Bulk Litres", "volume_L", 100.0),
        ("Dip (in.)", "depth_cm", 254.0),
    ],
)
def test_other_units_in_headers(header: str, name: str, value: float) -> None:
    """Weights, volumes and dips come out in the unit that their header says."""
    made = judged("a.csv", csv("C-1,2026-03-02,120,68,100", header=f"Cask,Date,Obs Proof,Temp (F),{header}"))
    assert column(made, name) == pytest.approx([value]) and said(made) == []


@pytest.mark.parametrize("header", ["Proof (obs.)", "Proof (observed)", "Obs. Proof", "Proof (proof)"])
def test_a_bracket_that_adds_nothing(header: str) -> None:
    """Proof (obs.) is the observed proof."""
    made = judged("a.csv", csv("C-1,2026-03-02,120,68", header=f"Cask,Date,{header},Temp (F)"))
    assert column(made, "reading_unit") == ["proof"] and said(made) == []


@pytest.mark.parametrize(
    "header", ["Proof (apparent)", "Apparent proof", "Final proof", "Proof (gal)", "Proof (80 °F)"]
)
def test_a_proof_that_is_perhaps_corrected_is_asked_about(header: str) -> None:
    """Words that do not say whether a proof stands as read return the file; nobody is led to call it observed."""
    made = judged("a.csv", csv("C-1,2026-03-02,120,68", header=f"Cask,Date,{header},Temp (F)"))
    assert made.returned and header in made.reason
    assert "Observed Proof only if it stands as read" in made.remedy and "Corrected Proof" in made.remedy


CORRECTED = {
    "corrected": (
        "Proof (true)",
        "proof (corr.)",
        "Corrected proof",
        "True Proof",
        "Temp. corrected proof",
        "True ABV",
    ),
    "at 60 °F": ("Proof (60°F)", "Proof (60 F)", "Proof @ 60", "Proof at 60 °F", "Strength (proof @ 60 °F)"),
    "at 20 °C": ("ABV @ 20 °C", "ABV (20°C)", "ABV@20C", "Alcohol % vol at 20 °C", "Strength (%vol @20°C)"),
}


@pytest.mark.parametrize(("state", "header"), [(state, each) for state, words in CORRECTED.items() for each in words])
def test_a_header_may_say_that_a_reading_was_corrected(state: str, header: str) -> None:
    """A corrected proof is read as such; its temperature, there or not, corrects nothing again."""
    for head, row in (
        (f"Cask,Date,{header},Temp (F)", "C-1,2026-03-02,60,80"),
        (f"Cask,Date,{header}", "C-1,2026-03-02,60"),
    ):
        made = judged("a.csv", csv(row, header=head))
        assert column(made, "state") == [state] and column(made, "reading") == [60.0] and said(made) == []


def test_a_header_and_a_cell_that_say_two_states_are_asked_about() -> None:
    """Corrected proof, and as read in the row: neither is taken."""
    made = judged(
        "a.csv",
        csv(
            "C-1,2026-03-02,120,80,observed",
            "C-2,2026-03-02,120,80,",
            header="Cask,Date,Corrected proof,Temp (F),State",
        ),
    )
    assert column(made, "vessel") == ["C-2"] and column(made, "state") == ["corrected"]
    assert codes(made) == ["sheet.unusable-row"] and said(made)[0].place.cell == "E2"


BESIDE = [
    ("Obs Proof,Corrected Proof", "125.9,118.2", "125.9,108.2"),
    ("Proof,Proof (60°F)", "125.9,118.2", "125.9,124.4"),
    ("Obs Proof,ABV @ 20 °C", "125.9,59.1", "125.9,62.9"),
    ("Proof,ABV", "118.0,59.0", "118.0,54.1"),
    ("Obs Proof,Wine gallons,Bulk litres", "125.9,50.0,189.3", "125.9,50.0,50.0"),
    ("Obs Proof,Temp (C)", "125.9,26.7", "125.9,80"),
]


@pytest.mark.parametrize(("header", "agree", "differ"), BESIDE)
def test_two_columns_that_state_one_thing_are_compared(header: str, agree: str, differ: str) -> None:
    """The one that does not count is held against the other in each row; where they differ, a person looks."""
    head = f"Cask,Date,Temp (F),{header}"
    made = judged("a.csv", csv(f"C-1,2026-03-02,80,{agree}", f"C-2,2026-03-02,80,{differ}", header=head))
    assert codes(made) == ["sheet.column-held-against", "sheet.columns-differ"]
    (found,) = [finding for finding in said(made) if finding.code == "sheet.columns-differ"]
    assert (found.severity, found.subject, found.place.cell[1:]) == ("review", "C-2", "3")


def test_a_column_that_differs_everywhere_is_few_questions() -> None:
    """Of twenty rows that differ five are said, and how many more there are."""
    rows = [f"C-{place},2026-03-02,80,118.0,{50 + place / 10}" for place in range(20)]
    made = judged("a.csv", csv(*rows, header="Cask,Date,Temp (F),Proof,ABV"))
    differ = [finding for finding in said(made) if finding.code == "sheet.columns-differ"]
    assert len(differ) == 5 and differ[-1].message.endswith("So do 15 further rows.")


@pytest.mark.parametrize(
    "header", ["Volume (60F)", "Volume (PG)", "Volume (bbl)", "Dip (fathoms)", "Volume (L @ 20°C)"]
)
def test_units_that_nobody_knows_return_the_file(header: str) -> None:
    """An unknown unit is never taken for the default; the reason lists the known ones."""
    made = judged("a.csv", csv("C-1,2026-03-02,120,68,5", header=f"Cask,Date,Obs Proof,Temperature,{header}"))
    assert made.returned and header in made.reason


UNIT_ROWS: list[list[Any]] = [
    [None, None, "proof", "°C"],
    ["no.", "dd/mm/yyyy", "proof", "°C"],
    ["No.", None, "(proof)", "(°C)"],
    ["-", "-", "proof", "[C]"],
    ["", "", "proof", "deg C"],
]


@pytest.mark.parametrize("units", UNIT_ROWS)
@pytest.mark.parametrize("blank", [0, 1])
def test_a_row_of_units_under_the_header_counts_whatever_else_it_says(units: list[Any], blank: int) -> None:
    """20 under °C is 20 °C, also where the units row says no. and dd/mm/yyyy; never 20 °F with a note."""
    rows = [["Cask", "Date", "Reading", "Temp"], *([[None] * 4] * blank), units, ["C-1", MARCH, 120, 20]]
    made = judged("a.xlsx", xlsx(rows))
    assert column(made, "temperature_degC") == [20.0] and column(made, "reading_unit") == ["proof"]
    assert said(made) == []


@pytest.mark.parametrize("units", [["", "", "proof", "K"], ["", "", "", "Celcius"], ["", "", "proof", "degs"]])
def test_a_row_of_units_that_is_half_understood_returns_the_file(units: list[Any]) -> None:
    """A misspelt unit under the header is in doubt; the default is not taken in its stead."""
    made = judged("a.xlsx", xlsx([["Cask", "Date", "Reading", "Temp"], units, ["C-1", MARCH, 120, 20]]))
    assert made.returned and f"{units[3]!r}" in made.reason and "D2" in made.reason


@pytest.mark.parametrize(
    "words", ["UOM", "U.O.M.", "Unit of measure", "Unit of volume", "Vol unit", "Volume units", "Unit"]
)
def test_a_column_of_units_by_any_name(words: str) -> None:
    """A unit per row is heeded: 200 in a row that says L is no 200 gallons."""
    rows = ["C-1,2026-03-02,120,68,200,L", "C-2,2026-03-02,120,68,50,gal"]
    made = judged("a.csv", csv(*rows, header=f"Cask,Date,Obs Proof,Temp (F),Volume,{words}"))
    assert column(made, "volume_L") == pytest.approx([200.0, 50 * 3.785411784]) and said(made) == []


@pytest.mark.parametrize("words", ["Degrees", "F/C", "°C/°F", "Temp scale", "Deg"])
def test_a_column_that_holds_nothing_but_units_says_them(words: str) -> None:
    """Whatever such a column is called, a C in it is not overheard."""
    rows = ["C-1,2026-03-02,120,20,C", "C-2,2026-03-02,120,68,F"]
    made = judged("a.csv", csv(*rows, header=f"Cask,Date,Obs Proof,Temp,{words}"))
    assert column(made, "temperature_degC") == pytest.approx([20.0, 20.0]) and said(made) == []


def test_a_column_of_units_far_from_any_figure_returns_the_file() -> None:
    """Units that cannot be given to a column are in doubt, not passed over."""
    made = judged("a.csv", csv("C-1,2026-03-02,120,68,x,C", header="Cask,Date,Obs Proof,Temp,Remark,Unit"))
    assert made.returned and "'Unit'" in made.reason


def test_units_mixed_within_one_column() -> None:
    """72 °F, 22 °C and 72F in one column are each what they say; a bare 72 takes the default with a note."""
    rows = ["C-1,2026-03-02,120,72 °F", "C-2,2026-03-02,120,22 °C", "C-3,2026-03-02,120,72F", "C-4,2026-03-02,120,72"]
    made = judged("a.csv", csv(*rows, header="Cask,Date,Obs Proof,Temp"))
    assert column(made, "temperature_degC") == pytest.approx([22.2222222, 22.0, 22.2222222, 22.2222222])
    assert codes(made) == ["sheet.unit-assumed"]


def with_formats(**formats: str) -> Any:
    def change(book: Any) -> None:
        for letter, shown in formats.items():
            for row in range(2, book.active.max_row + 1):
                book.active[f"{letter}{row}"].number_format = shown

    return change


def test_a_cell_shown_as_a_percentage_is_what_it_shows() -> None:
    """ABV 62.3 % is 0.623 to the workbook; it is read as people see it, not as 0.6 % vol."""
    rows = [["Cask", "Date", "ABV", "Temp (°C)"], ["C-1", MARCH, 0.623, 20]]
    made = judged("a.xlsx", xlsx(rows, with_formats(C="0.0%")))
    assert column(made, "reading") == [62.3] and column(made, "reading_unit") == ["%vol"]
    text = judged("a.csv", csv("C-1,2026-03-02,62.3 %,20", header="Cask,Date,ABV,Temp (°C)"))
    assert column(text, "reading") == [62.3]
    rows = [["Batch", "Bottled on", "Bottle size (mL)", "Bottles", "Label ABV"], ["B-1", MARCH, 750, 10, 0.46]]
    assert column(judged("a.xlsx", xlsx(rows, with_formats(E="0%"))), "label_abv") == [46.0]


def test_a_percentage_of_nobody_knows_what_is_a_finding() -> None:
    """A strength in percent without a word of volume or mass is not used."""
    rows = [["Cask", "Date", "Strength", "Temp (°C)"], ["C-1", MARCH, 0.623, 20], ["C-2", MARCH, "62.3 % vol", 20]]
    made = judged("a.xlsx", xlsx(rows, with_formats(C="0.0%")))
    assert column(made, "vessel") == ["C-2"] and codes(made) == ["sheet.unusable-row"]


def test_a_unit_that_only_the_number_format_shows() -> None:
    """A cell that shows 20.0 °C and 75 cl by its format has that unit, and none is assumed."""
    rows = [["Cask", "Date", "Obs Proof", "Temp"], ["C-1", MARCH, 120, 20]]
    made = judged("a.xlsx", xlsx(rows, with_formats(D='0.0" °C"')))
    assert column(made, "temperature_degC") == [20.0] and said(made) == []


def test_a_title_a_merged_header_and_columns_in_any_order() -> None:
    """A merged title, a second header row with the real names, capitals and another order do no harm."""

    def merge(book: Any) -> None:
        book.active.merge_cells("A1:D1")
        book.active.merge_cells("A2:B2")

    rows = [["Regauge March"], ["What was read", None, "Of", None], ["TEMP °F", "PROOF", "DATE", "CASK"]]
    made = judged("a.xlsx", xlsx([*rows, [68, 120, MARCH, "C-1"]], merge))
    assert column(made, "vessel") == ["C-1"] and column(made, "reading") == [120.0] and said(made) == []


def test_a_name_merged_over_several_rows_is_said_of_each() -> None:
    """A batch in a cell merged over three rows is that of all three; one that is written once is not filled down."""
    rows = [["Batch", "Cask", "Drawn WG"], ["B-1", "C-1", 50], [None, "C-2", 40], [None, "C-3", 30]]
    made = judged("a.xlsx", xlsx(rows, lambda book: book.active.merge_cells("A2:A4")))
    assert column(made, "component") == ["C-1", "C-2", "C-3"] and column(made, "batch") == ["B-1"] * 3
    once = judged("a.xlsx", xlsx(rows))
    assert column(once, "component") == ["C-1"]
    assert [fault.place.cell for fault in said(once) if fault.code == "sheet.unusable-row"] == ["A3", "A4"]
    twice = judged("a.xlsx", xlsx(rows, lambda book: book.active.merge_cells("A2:A3")))
    assert column(twice, "component") == ["C-1", "C-2"]


def test_an_amount_merged_over_several_rows_is_said_of_the_first() -> None:
    """What is poured once is not poured three times."""
    rows = [["Batch", "Cask", "Drawn WG"], ["B-1", "C-1", 50], ["B-1", "C-2", None]]
    made = judged("a.xlsx", xlsx(rows, lambda book: book.active.merge_cells("C2:C3")))
    assert column(made, "drawn_volume_L")[1:] in ([], [None])


@pytest.mark.parametrize(
    "header",
    ["Cask,Date,Date,Obs Proof,Temp (F)", "Cask,Date,Obs Proof,Temp,Temp (C)", "Cask,Cask,Date,Proof,Temp"],
)
def test_two_columns_that_say_the_same_return_the_file(header: str) -> None:
    """Nobody picks one of two."""
    assert "both say" in judged("a.csv", csv("1,2,3,4,5", header=header)).reason


def test_a_second_table_underneath_is_not_read_as_rows_of_the_first() -> None:
    """Fill dates and volumes under the readings do not become readings of those days."""
    stock = [[], ["Cask", "Filled", "Entry Proof", "Volume"], ["C-9", datetime(2020, 1, 1), 125, 53]]
    made = judged("a.xlsx", xlsx([["Cask", "Date", "Obs Proof", "Temp (F)"], ["C-1", MARCH, 120, 68], *stock]))
    assert column(made, "vessel") == ["C-1"]
    (finding,) = said(made)
    assert (finding.code, finding.severity, finding.place.cell) == ("sheet.second-table", "review", "A4")
    assert "Filled" in finding.message and "1 row" in finding.message


def test_a_larger_table_underneath_does_not_hide_the_first() -> None:
    """Two tables of which the lower has more known columns: the file goes back and names both."""
    above = [["Cask", "Date", "Obs Proof", "Temp (F)"], ["C-1", MARCH, 120, 68], []]
    below = [["Cask", "Filled", "Entry Proof", "Spirit", "Species", "Owner"], ["C-9", MARCH, 125, "rye", "oak", "me"]]
    made = judged("a.xlsx", xlsx([*above, *below]))
    assert "two tables" in made.reason and "row 1" in made.reason and "row 4" in made.reason


def test_a_header_repeated_on_each_page_is_no_row() -> None:
    """The same header again is passed over, the rows under it count."""
    rows = ["C-1,2026-03-02,120,68", "Cask,Date,Observed Proof,Temp (°F)", "C-2,2026-03-02,120,68"]
    made = judged("a.csv", csv(*rows))
    assert column(made, "vessel") == ["C-1", "C-2"] and made.sheets[0].rows == [2, 4] and said(made) == []


def test_words_where_a_date_belongs_are_not_taken_for_another_table() -> None:
    """One-word notes beside dates in words are rows, though each word is a header of some sheet."""
    rows = ['Alpha,Ann,"March 3, 2026",Spice,Citrus,Heat', 'Beta,Ann,"March 3, 2026",Body,Sweetness,Heat']
    made = judged("a.csv", csv(*rows, header="Sample,Taster,Date,Nose,Palate,Finish"))
    assert column(made, "sample") == ["Alpha", "Beta"] and said(made) == []


def test_a_table_beside_the_table_is_in_doubt() -> None:
    """Two tables side by side say everything twice: returned."""
    header = ["Cask", "Date", "Obs Proof", "Temp (F)", None, "Cask", "Date", "Volume"]
    assert "both say" in judged("a.xlsx", xlsx([header, ["C-1", MARCH, 120, 68, None, "C-2", MARCH, 50]])).reason


def test_figures_under_no_header_are_mentioned() -> None:
    """A column that nobody named is not used, and not passed over in silence."""
    rows = [["Cask", "Date", "Obs Proof", "Temp (F)"], ["C-1", MARCH, 120, 68, "corrected 116.9"]]
    made = judged("a.xlsx", xlsx(rows))
    assert codes(made) == ["sheet.columns-not-used"] and "corrected 116.9" in said(made)[0].message


KINDS = {
    "readings": "Cask,Date,Obs Proof,Temp (F),Tech",
    "casks": "Cask,Filled,Entry Proof,Spirit,Proof",
    "blends": "Batch,Cask,Drawn WG,Proof,Date",
    "bottlings": "Batch,Date,Size,Bottles,ABV",
    "tastings": "Cask,Date,By,Nose,Palate,Finish",
    "briefs": "Batch,Product,Market,Bottle size,Target proof",
    "vessels": "Tank,Type,Capacity (gal)",
    "instruments": "Serial No,Type,Scale,Cal date",
}


@pytest.mark.parametrize(("kind", "header"), KINDS.items())
def test_kinds_are_told_apart_by_their_headers(kind: str, header: str) -> None:
    """Sheets that share cask, date, proof and batch are told apart, in capitals and in reverse order too."""
    for words in (header, header.upper(), ",".join(reversed(header.split(",")))):
        # a header alone is returned with the kind that it would have been
        assert judged("a.csv", words + "\n").reason == f"The file has the headers of {kind} but no rows under them."


def test_a_lacking_column_is_named_with_what_was_found() -> None:
    """What it looks like, what is missing, what was found, and a header that may be the missing one."""
    made = judged("a.csv", csv("C-1,2026-03-02,68,120", header="Cask,Date,Temp (F),Reding"))
    assert "looks like lab readings; no reading column; columns found: Cask, Date, Temp (F), Reding" in made.reason
    assert "'Reding'" in made.remedy and "observed proof" in made.remedy


def test_the_european_and_the_american_lab_sheet() -> None:
    """dd.mm.yyyy with semicolons and decimal commas, and m/d/yy with °F in the cell, under their site's settings."""
    header = "Cask no;Date;Observed ABV (% vol);Temp (°C);Bulk litres"
    made = judged("a.csv", csv("0017;02.03.2026;62,3;20,5;1.234,5", header=header), 'date_order = "dmy"\n')
    assert column(made, "taken_at") == ["2026-03-02"] and column(made, "volume_L") == [1234.5]
    assert column(made, "reading") == [62.3] and column(made, "temperature_degC") == [20.5]
    rows = csv("0017,3/2/26,124.6,72 °F", header="Barrel #,Date,Obs Proof,Temp")
    made = judged("a.csv", rows, 'date_order = "mdy"\n')
    assert column(made, "vessel") == ["0017"] and column(made, "taken_at") == ["2026-03-02"] and said(made) == []


@pytest.mark.parametrize("words", ["a ", "(a) ", "a_", "a/"])
def test_a_header_as_long_as_a_book_is_no_header(words: str) -> None:
    """Ways to part a header grow with the square of its length: what nobody writes as one is not parted."""
    made = judged(
        "a.csv", csv("C-1,2026-03-02,124.6,68,x", header=f"Cask,Date,Observed Proof,Temp (°F),{words * 20_000}")
    )
    assert column(made, "reading") == [124.6]
    assert judged("a.csv", csv("C-1,2026-03-02", header=f"Cask,{words * 20_000}")).returned
