"""What ``vatting explain`` prints: rows that are alike are told in one line each, and nothing is lost that differs."""

from __future__ import annotations

import json

from click.testing import CliRunner

from pipeline.commands.cli import main
from pipeline.runs.explain import Line, Part, explain
from pipeline.runs.explain_cells import Behind, Cell
from pipeline.runs.explain_folded import NOTE, folded
from tests.pipeline.kit import Room, csv

TIMES = [f"C-1,2026-03-{day:02d},{120 + day},20,B-1" for day in range(2, 14)]
WHERE = "lab.csv"


def text(lines: list[Line]) -> list[str]:
    return ["  " * line.depth + line.text for line in lines]


def row(key: str, *groups: tuple[str, tuple[str, ...], list[Cell]], count: int | None = None) -> list[Line]:
    """Lines as the walk makes them: a key, and for each group its figures and a line of cells."""
    lines = [Line(key, first=True)]
    for figures, names, cells in groups:
        behind = Behind(WHERE, tuple(cells), count or len(cells))
        lines += [Line(figures, 1, names), Line(f"← {behind.text}", 2, cells=behind)]
    return lines


def cell(column: str, at: int, said: str, header: str = "Score") -> Cell:
    return Cell(column, at, header, said)


def test_a_row_like_the_one_above_names_what_differs() -> None:
    """The first row stands in full; of the second the other figure and its cell, of the third nothing but its key."""
    taster = ("taster ab", ("taster",), [cell("E", 5, "ab", "Taster")])
    lines = [
        *row("1", taster, ("score 7", ("score",), [cell("I", 5, "7")])),
        *row("2", taster, ("score 8", ("score",), [cell("I", 6, "8")])),
        *row("3", taster, ("score 8", ("score",), [cell("I", 6, "8")])),
    ]
    assert text(folded(Part("scores", lines))) == [
        *("1", "  taster ab", "    ← lab.csv: E5 (Taster: ab)", "  score 7", "    ← lab.csv: I5 (Score: 7)"),
        *("2: score 8 ← lab.csv: I6 (8)", "3"),
    ]


def test_a_row_with_other_figures_or_other_columns_stands_in_full() -> None:
    """A figure more or less could not be told from one that stayed; cells of another column want their header."""
    score = ("score 7", ("score",), [cell("I", 5, "7")])
    more = row("2", score, ("peak 3", ("peak",), [cell("K", 5, "3", "Peak")]))
    elsewhere = row("2", ("score 7", ("score",), [cell("J", 5, "7", "Points")]))
    for other in (more, elsewhere):
        assert text(folded(Part("scores", [*row("1", score), *other])))[3:] == text(other)


def test_cells_of_a_column_are_a_range() -> None:
    """Rows that follow each other, rows apart, and what all say once; the rest is counted."""
    cells = [cell("I", at, said) for at, said in ((5, "7"), (6, "7.5"), (7, "6"), (9, "7"))]
    same = [cell("A", at, "2026-03-02", "Date") for at in (5, 6)]
    (key, figures, sources) = folded(Part("scores", row("1", ("score 7", ("score",), [*cells, *same]), count=20)))
    assert sources.text == "← lab.csv: I5:I7, I9 (Score: 7; 7.5; 6; 7), A5:A6 (Date: 2026-03-02) and 12 cells more"


def test_what_a_ruling_set_keeps_its_words() -> None:
    """The cell of a ruling has no header."""
    set_by = Cell("C", 2, words="(reading corrected to 68 by mb)")
    lines = [
        *row("1", ("reading 60", ("reading",), [Cell("C", 3, words="(reading corrected to 60 by mb)")])),
        *row("2", ("reading 68", ("reading",), [set_by])),
    ]
    assert text(folded(Part("r", lines)))[-1] == "2: reading 68 ← lab.csv: C2 (reading corrected to 68 by mb)"


def test_findings_are_not_folded() -> None:
    """Lines that give no figures stand as they are."""
    part = Part("Findings", [Line("stop: Hot."), Line("at lab.csv · D3", 1), Line("stop: Hot."), Line("at x", 1)])
    assert folded(part) == part.lines


def test_the_print_is_short_and_json_has_every_line(room: Room) -> None:
    """Twelve readings of a cask: one row in full in each frame, the others a line each, with every figure's cell."""
    room.run(("lab.csv", csv(*TIMES)))
    asked = ["explain", "C-1", "--all", "--out", str(room.out)]
    told = CliRunner().invoke(main, asked).output
    data = json.loads(CliRunner().invoke(main, [*asked, "--json"]).output)
    lines = [line for part in data["parts"] for line in part["lines"]]
    assert NOTE in told and len(told.splitlines()) < len(lines) / 2
    for day in range(2, 14):
        assert f"C{day} ({120 + day})" in told or f"C{day} (Reading: {120 + day})" in told
        assert any(f"C{day} (Reading: {120 + day})" in line["text"] for line in lines)
    answer = explain("C-1", room.out, everything=True)
    assert lines == [{"text": line.text, "depth": line.depth} for part in answer.parts for line in part.lines]


def test_one_row_needs_no_note(room: Room) -> None:
    """Where nothing is folded, nothing is said of it."""
    room.run(("lab.csv", csv(TIMES[0])))
    assert NOTE not in CliRunner().invoke(main, ["explain", "C-1", "--out", str(room.out)]).output
