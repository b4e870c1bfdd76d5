"""Tables as people lay them out: taken with just the values that are meant, or back where two could be meant."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from pipeline.commands.cli import main
from tests.bad_input.kit import codes, column, csv, judged, run_in, said, xlsx

MARCH = [datetime(2026, 3, 2) + timedelta(days=day) for day in range(4)]
DAYS = [f"{day:%Y-%m-%d}" for day in MARCH]
HEAD = "Cask,Date,Observed Proof,Temp (°F)"


def merged(*ranges: str, tab: str = "Lab") -> Callable[[Any], None]:
    def edit(book: Any) -> None:
        book.worksheets[0].title = tab
        for cells in ranges:
            book.worksheets[0].merge_cells(cells)

    return edit


def rows_of(made: Any, *names: str) -> list[tuple[Any, ...]]:
    return list(zip(*(column(made, name) for name in names), strict=True))


class TestTwoRows:
    @pytest.mark.parametrize(
        "rows",
        [
            [["Cask", "Date", "Measurement", None], [None, None, "Observed Proof", "Temp (°F)"]],
            [["Cask", "Date", "Observed", "Temp"], [None, None, "Proof", "(°F)"]],
            [["Cask", "Date", "Observed Proof", "Temp"], ["No.", "Read", None, "°F"]],
        ],
    )
    def test_a_header_in_two_rows(self, rows: list[list[Any]]) -> None:
        """Merged over two rows, broken into two, or a group over its columns: one header is meant."""
        wide = ["A1:A2", "B1:B2", "C1:D1"] if rows[1][0] is None and rows[0][3] is None else []
        made = judged("a.xlsx", xlsx([*rows, ["C-1", MARCH[0], 120.0, 68.0]], merged(*wide)))
        found = rows_of(made, "vessel", "taken_at", "reading", "reading_unit")
        assert found == [("C-1", DAYS[0], 120.0, "proof")] and said(made) == []
        assert column(made, "temperature_degC") == pytest.approx([20.0])

    def test_two_rows_in_text(self) -> None:
        """Without merged cells words may stand over several columns; here they change nothing, or stand over one."""
        made = judged("a.csv", "Cask,Date,Lab,\n,,Observed Proof,Temp (°F)\nC-1,2026-03-02,120,68\n")
        assert column(made, "reading") == [120.0] and said(made) == []

    def test_corrected_over_a_proof_is_a_corrected_proof(self) -> None:
        """Even where the lower row alone would be a header, the word over it counts."""
        head = [[None, None, "Corrected", "Jar"], ["Cask", "Date", "Proof", "Temp (°F)"]]
        made = judged("a.xlsx", xlsx([*head, ["C-1", MARCH[0], 120.0, 68.0]], merged("E1:F1")))
        assert column(made, "state") == ["corrected"] and column(made, "reading") == [120.0]

    @pytest.mark.parametrize("group", ["Corrected", "Final", "Apparent"])
    def test_a_group_that_may_change_what_is_read_is_asked_about(self, group: str) -> None:
        """A word over proof and temperature alike, or one that no column goes by, returns the file."""
        rows = [["Cask", "Date", group, None], [None, None, "Proof", "Temp (°F)"], ["C-1", MARCH[0], 120.0, 68.0]]
        made = judged("a.xlsx", xlsx(rows, merged("A1:A2", "B1:B2", "C1:D1")))
        assert made.returned and group in made.reason

    @pytest.mark.parametrize("group", ["Corrected", "Final", "Apparent", "Mean"])
    def test_a_group_over_a_header_that_is_whole(self, group: str) -> None:
        """A reading that is perhaps none as read is asked about, also where the lower row is a header by itself."""
        text = f",,{group},,\nCask,Date,Proof,Temp (°F),Volume (gal)\nC-1,2026-03-02,120,68,50\n"
        for made in (judged("a.csv", text), judged("a.csv", f"Lab sheet{text}")):
            assert made.returned or column(made, "state") == ["corrected"]
        assert column(judged("a.csv", text.replace(group, "Lab sheet")), "reading") == [120.0]

    def test_text_in_which_corrected_may_stand_over_two_columns_is_asked_about(self) -> None:
        """In CSV nobody can tell how far a word over columns reaches."""
        made = judged("a.csv", "Cask,Date,Corrected,,Temp (°F)\n,,Proof,ABV,\nC-1,2026-03-02,120,60,68\n")
        assert made.returned and "Corrected" in made.reason and "one cell" in made.remedy


class TestTitles:
    @pytest.mark.parametrize(
        "title", ["Tank: VT-3", "Tank,VT-3", "Tank:,VT-3", "Tank VT-3 – daily readings", "Cuve : VT-3"]
    )
    def test_the_tank_in_a_title(self, title: str) -> None:
        """One sheet a tank, and the tank's name once above it."""
        made = judged("a.csv", f"{title}\nDate,Observed Proof,Temp (°F)\n2026-03-02,120,68\n2026-03-03,121,68\n")
        assert rows_of(made, "vessel", "taken_at", "reading") == [("VT-3", DAYS[0], 120.0), ("VT-3", DAYS[1], 121.0)]

    def test_the_tank_on_the_tab(self) -> None:
        """A workbook with a sheet a tank."""
        rows = [["Date", "Observed Proof", "Temp (°F)"], [MARCH[0], 120.0, 68.0]]
        made = judged("a.xlsx", xlsx(rows, merged(tab="Tank VT-3"), **{"Tank VT-4": rows}))
        assert column(made, "vessel") == ["VT-3", "VT-4"] and said(made) == []

    def test_the_day_in_a_title(self) -> None:
        """A sheet a day, with the meter said once."""
        text = "Lab sheet,,\nDate:,5 March 2026,\nHydrometer:,H-2,\n\nCask,Observed Proof,Temp (°F)\nC-1,120,68\n"
        made = judged("a.csv", text)
        assert rows_of(made, "vessel", "taken_at", "instrument") == [("C-1", "2026-03-05", "H-2")]

    @pytest.mark.parametrize(
        "title",
        [
            *("Tanks: VT-3 and VT-4", "Tank: VT-3; Tank: VT-4", "Tank VT-3 to VT-5", "Tank VT-3 & others", "VT-3"),
            *("Tank 2026", "Tank 500 gal", "Tank 500 L strapping"),
            *("Tank: ", "Report: VT-3", "Tank: Date"),
        ],
    )
    def test_a_title_that_names_no_one_tank(self, title: str) -> None:
        """Two tanks, or a word that nobody said is the tank, return the file."""
        made = judged("a.csv", f"{title}\nDate,Observed Proof,Temp (°F)\n2026-03-02,120,68\n")
        assert made.returned and "no vessel column" in made.reason

    def test_the_head_of_a_letter_moves_nothing(self) -> None:
        """From and To above a table are people more often than vessels."""
        text = "From: W-1,\nTo: L-2,\nDate,Reason,Volume (gal)\n2026-03-02,transfer,50\n"
        assert judged("a.csv", text).returned

    def test_a_tab_that_is_only_a_name_is_no_tank(self) -> None:
        """``March`` and ``VT-3`` look alike to whoever does not know the house."""
        rows = [["Date", "Observed Proof", "Temp (°F)"], [MARCH[0], 120.0, 68.0]]
        assert judged("a.xlsx", xlsx(rows, merged(tab="VT-3"))).returned

    def test_a_column_counts_before_a_title(self) -> None:
        """A title says nothing where the header has the column."""
        made = judged("a.csv", f"Tank: VT-3\n{HEAD}\nC-1,2026-03-02,120,68\n")
        assert column(made, "vessel") == ["C-1"]

    @pytest.mark.parametrize(
        "title", ["Temperatures in °C", "Temp. in °C", "All temperatures in °C", "Units: °C, gal", "Temp: °C"]
    )
    def test_a_unit_in_a_title(self, title: str) -> None:
        """A unit said once is that of the column which states none."""
        made = judged("a.csv", f'"{title}"\nCask,Date,Observed Proof,Temp\nC-1,2026-03-02,120,20\n')
        assert column(made, "temperature_degC") == [20.0] and codes(made) == []

    @pytest.mark.parametrize("title", ["Units: °C, °F", "Room at 20 °C", "Lab C"])
    def test_a_title_that_states_no_one_unit(self, title: str) -> None:
        """What is said of something else, or twice, is no unit of the column; that one was assumed is told."""
        made = judged("a.csv", f'"{title}"\nCask,Date,Observed Proof,Temp\nC-1,2026-03-02,120,68\n')
        assert column(made, "temperature_degC") == pytest.approx([20.0]) and codes(made) == ["sheet.unit-assumed"]

    @pytest.mark.parametrize(
        "title",
        ["All proofs corrected to 60 °F", "Temperature corrected readings", "Korrigiert auf 20 °C", "20℃補正済み"],
    )
    def test_a_title_that_says_corrected_is_asked_about(self, title: str) -> None:
        """Where only a title says that readings were corrected, a person says it in the header."""
        text = f"{title}\nCask,Date,Proof,Temp (°F)\nC-1,2026-03-02,120,68\n"
        made = judged("a.csv", text)
        assert made.returned and "a title says" in made.reason and "Corrected Proof" in made.remedy
        assert column(judged("a.csv", text.replace("Date,Proof", "Date,Corrected proof")), "state") == ["corrected"]
        assert not judged("a.csv", text.replace(title, "Readings not corrected")).returned


class TestDaysAcross:
    def test_a_day_over_a_group_of_columns(self) -> None:
        """Days over proof and temperature: a row a cask and day, and none where nothing was read."""
        head = [
            ["Cask", MARCH[0], None, MARCH[1], None],
            [None, "Observed Proof", "Temp (°F)"] + ["Observed Proof", "Temp (°F)"],
        ]
        rows = [["C-1", 120.0, 68.0, 121.0, 68.0], ["C-2", 119.0, 68.0, None, None]]
        made = judged("a.xlsx", xlsx([*head, *rows], merged("A1:A2", "B1:C1", "D1:E1")))
        found = rows_of(made, "vessel", "taken_at", "reading")
        assert found == [("C-1", DAYS[0], 120.0), ("C-2", DAYS[0], 119.0), ("C-1", DAYS[1], 121.0)]
        assert said(made) == []

    def test_a_day_over_each_column(self) -> None:
        """Days across and what was measured in a title; in text too."""
        made = judged("a.csv", f"Corrected proof\nCask,{','.join(DAYS)}\nC-1,120,119.5,119,\nC-2,,118,,117\n")
        assert rows_of(made, "vessel", "taken_at", "reading", "state") == [
            ("C-1", DAYS[0], 120.0, "corrected"),
            ("C-1", DAYS[1], 119.5, "corrected"),
            ("C-2", DAYS[1], 118.0, "corrected"),
            ("C-1", DAYS[2], 119.0, "corrected"),
            ("C-2", DAYS[3], 117.0, "corrected"),
        ]

    @pytest.mark.parametrize("title", ["", "Proof", "Corrected proof,Volume (gal)", "Final proof"])
    def test_days_across_without_what_was_measured(self, title: str) -> None:
        """Without a title, with two, or with one that lacks the temperature, the file comes back."""
        assert judged("a.csv", f"{title}\nCask,{','.join(DAYS)}\nC-1,120,119.5,119,118\n").returned

    def test_days_across_of_what_has_no_day(self) -> None:
        """Volumes of days are no dip table: a day that a kind would lose returns the file."""
        assert judged("a.csv", "Volume (gal)\nTank,2026-03-02,2026-03-03\nVT-1,50,49\n").returned

    def test_days_across_that_could_be_two_days(self) -> None:
        """A day that reads two ways is asked about, over columns as in rows."""
        made = judged("a.csv", "Corrected proof\nCask,3/4/2026,4/4/2026\nC-1,120,119.5\n")
        assert column(made, "taken_at") == ["2026-04-04"]
        (fault,) = said(made)
        assert "day/month or month/day" in fault.message and "taken_at (B2)" in fault.message


class TestSideBySide:
    @pytest.mark.parametrize("gap", [",", ",,"])
    def test_the_same_header_twice(self, gap: str) -> None:
        """Two tables beside each other, with a blank column between or not."""
        rows = [f"C-{n},2026-03-02,12{n},68{gap}C-{n + 2},2026-03-03,12{n + 2},68" for n in (1, 2)]
        made = judged("a.csv", csv(*rows, header=f"{HEAD}{gap}{HEAD}"))
        assert rows_of(made, "vessel", "reading") == [("C-1", 121), ("C-2", 122), ("C-3", 123), ("C-4", 124)]
        assert said(made) == []

    def test_a_shorter_table_beside(self) -> None:
        """Blank cells of the shorter one are no rows."""
        made = judged(
            "a.csv",
            csv("C-1,2026-03-02,120,68,,C-2,2026-03-02,121,68", "C-3,2026-03-02,122,68,,,,,", header=f"{HEAD},,{HEAD}"),
        )
        assert sorted(column(made, "vessel")) == ["C-1", "C-2", "C-3"] and said(made) == []

    def test_a_title_over_each(self) -> None:
        """Two tanks side by side, each named over its own table."""
        head = "Date,Observed Proof,Temp (°F)"
        text = f"Tank: VT-3,,,,Tank: VT-4,,\n{head},,{head}\n2026-03-02,120,68,,2026-03-02,121,68\n"
        assert rows_of(judged("a.csv", text), "vessel", "reading") == [("VT-3", 120.0), ("VT-4", 121.0)]

    def test_two_tables_of_which_one_is_not_known(self) -> None:
        """Where one of two lacks its key, both come back."""
        made = judged(
            "a.csv", csv("C-1,2026-03-02,120,68,,2026-03-02,121,68", header=f"{HEAD},,Date,Observed Proof,Temp (°F)")
        )
        assert made.returned


class TestDipTables:
    @pytest.mark.parametrize(
        "head", ["Dip (in),Volume (gal)", "Dip (inches),Gallons", "Inches,Gallons", "Wet dip (in),Gal"]
    )
    def test_a_strapping_table_with_its_tank_above(self, head: str) -> None:
        """As tank makers print it, in one block or in two beside each other."""
        one = judged("a.csv", f"Tank VT-3 strapping table\n{head}\n0,0\n1/4,2.5\n12 1/2,500\n")
        two = judged("a.csv", f"Tank: VT-3,,,\n{head},{head}\n0,0,12 1/2,500\n1/4,2.5,,\n")
        for made in (one, two):
            assert {kind.kind.name for kind in made.sheets} == {"vessels"} and said(made) == []
            points = sorted(rows_of(made, "vessel", "depth_cm", "volume_at_depth_L"))
            wanted = [("VT-3", 0.0, 0.0), ("VT-3", 0.635, 9.463529), ("VT-3", 31.75, 1892.7059)]
            assert [name for name, *_ in points] == ["VT-3"] * 3
            assert [point[1:] for point in points] == [pytest.approx(point[1:]) for point in wanted]

    @pytest.mark.parametrize("head", ["Ullage (in)", "Dry dip (in)", "Outage (in)"])
    def test_a_depth_from_the_top_is_asked_about(self, head: str) -> None:
        """An ullage is no dip: which dip it is takes the height that it is measured from."""
        made = judged("a.csv", f"Tank,{head},Volume (gal)\nVT-3,1,500\nVT-3,2,490\n")
        assert made.returned and "needs a depth, or the height" in made.reason

    def test_a_log_of_dips_is_no_strapping_table(self) -> None:
        """Tank, day, inches and gallons say what was in the tank, not what it holds at a dip."""
        made = judged("a.csv", "Tank,Date,Inches,Gallons\nVT-3,2026-03-02,12,500\nVT-3,2026-03-03,11,470\n")
        assert made.returned


def test_a_day_of_a_view_is_explained_by_its_cell() -> None:
    """What holds for all rows keeps the address of its cell."""
    made = judged("a.csv", "Tank: VT-3\nDate,Observed Proof,Temp (°F)\n2026-03-02,120,68\n")
    assert made.sheets[0].columns["vessel"] == {"index": 0, "header": "Tank", "unit": "", "row": 1}
    assert date.fromisoformat(column(made, "taken_at")[0]) == MARCH[0].date()


@pytest.mark.long
def test_views_are_explained_and_verified_by_their_cells(tmp_path: Path) -> None:
    """Of days across, a title and a tab: every figure is walked back to its cells, and made anew from the original."""
    across = f"Corrected proof\nCask,{','.join(DAYS)}\nC-1,120,119.5,119,118\n"
    rows = [["Date", "Observed Proof", "Temp (°F)"], [MARCH[0], 121.0, 68.0]]
    files = {
        "across.csv": across,
        "title.csv": "Tank: VT-9\nDate,Observed Proof,Temp (°F)\n2026-03-02,121,68\n",
        "tab.xlsx": xlsx(rows, merged(tab="Tank VT-8")),
    }
    files["merged.xlsx"] = xlsx(
        [HEAD.split(","), ["C-2", MARCH[0], 121.0, 68.0], [None, MARCH[1], 121.0, 68.0]], merged("A2:A3")
    )
    run_in(tmp_path, files)
    out = ["--out", str(tmp_path / "out")]
    told = {
        name: CliRunner().invoke(main, ["explain", name, "--all", *out]).output
        for name in ("C-1", "C-2", "VT-9", "VT-8")
    }
    assert "across.csv: C2 (taken_at: 2026-03-03)" in told["C-1"]
    assert "across.csv: C3 (Corrected proof: 119.5)" in told["C-1"]
    assert "A3 (C-2)" in told["C-2"]
    assert "title.csv: A1 (Tank: Tank: VT-9)" in told["VT-9"] and "B3 (Observed Proof: 121)" in told["VT-9"]
    assert "the tab (Tank: Tank VT-8)" in told["VT-8"]
    checked = CliRunner().invoke(main, ["verify", "--facts", *out])
    assert checked.exit_code == 0 and "8 rows read anew" in checked.output, checked.output
