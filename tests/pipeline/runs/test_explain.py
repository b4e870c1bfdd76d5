"""explain walks from a batch, cask or finding to the cells."""

from __future__ import annotations

import pytest

from pipeline.runs.explain import Explained, explain
from tests.pipeline.kit import ROWS, Room, csv, finding, xlsx

HEAD = ["Cask No.", "Date", "Observed reading", "Temp (°F)", "Batch"]


def text(answer: Explained) -> str:
    lines = [answer.title]
    for part in answer.parts:
        lines.append(part.title)
        lines += ["  " * line.depth + line.text for line in part.lines]
    return "\n".join(lines)


def walk(room: Room, name: str) -> str:
    return text(explain(name, room.out))


@pytest.fixture
def hot(room: Room) -> Room:
    rows = [["March readings"], HEAD, ["C-1", "2026-03-02", 120, 131, "B-1"], ["C-2", "2026-03-02", 118, 68, "B-1"]]
    room.run(("lab.xlsx", xlsx({"Lab": rows})))
    return room


def test_a_batch_walks_to_its_cells(hot: Room) -> None:
    """Every figure with file, sheet, cell, header and what stands there, through ``uses``."""
    said = walk(hot, "b-1")
    assert "sums: toy sums of a batch" in said and "total" in said
    for cell in ("C3", "D3", "C4", "D4"):
        assert cell in said
    assert "lab.xlsx · Lab" in said and "Temp (°F): 131" in said and "Observed reading: 118" in said
    assert "stop: Vessel C-1 was read at 55.0 degC." in said


def test_a_cask_walks_to_its_own_cells_alone(hot: Room) -> None:
    """Another cask's cells are not shown."""
    said = walk(hot, "c-2")
    assert "D4" in said and "Temp (°F): 68" in said and "Temp (°F): 131" not in said


def test_a_finding_walks_to_its_row(hot: Room) -> None:
    """What it says, where, what to do, and every cell of the row it rests on."""
    name = finding(hot.run(), "toy.hot").id
    for spelled in (name, name.lower()):
        said = walk(hot, spelled)
        assert "lab.xlsx · Lab · D3" in said and "Vessel C-1 was read at 55.0 degC" in said
        assert "observed 55.0, expected at most 40" in said
        assert "lab.xlsx · Lab, row 3" in said and "A3 (Cask No.: C-1)" in said and "D3 (Temp (°F): 131)" in said
        assert "warm: toy readings less their temperature" in said


def test_a_corrected_figure_walks_to_the_ruling(hot: Room) -> None:
    """The figure's cell is that of the ruling, with what it was corrected to; the others stay."""
    name = finding(hot.run(), "toy.hot").id
    hot.rule(f"{name};correct;68;keyed in °C;mb;2026-05-30")
    said = walk(hot, "C-1")
    assert "rulings.csv" in said and "corrected to 68 by mb" in said and "131" not in said
    assert "Observed reading: 120" in said


def test_a_finding_without_rows(room: Room) -> None:
    """A finding on a row that was not taken names its cell."""
    result = room.run(("lab.csv", csv(ROWS[0], "C-2,soon,118,21,B-1")))
    said = walk(room, finding(result, "sheet.unusable-row").id)
    assert "lab.csv · B3" in said and "soon" in said


def test_a_ruled_finding_says_so(hot: Room) -> None:
    """Ruled by whom, when and why."""
    name = finding(hot.run(), "toy.hot").id
    hot.rule(f"{name};accept;;it was hot;mb;2026-05-30")
    assert "ruled: accept by mb on 2026-05-30: it was hot" in walk(hot, name)


def test_a_finding_on_an_output_is_explained_too(room: Room) -> None:
    """A finding that publishing made has an id like any other."""
    room.run(("lab.csv", csv(*ROWS)))
    said = finding(room.run(("more.csv", csv("C-1,2026-03-02,121,20,B-1"))), "record.changed")
    assert "total 197 → 198" in walk(room, said.id)


def test_names_that_nothing_has(hot: Room) -> None:
    """The nearest known name is offered; an unknown finding says where the open ones are."""
    with pytest.raises(LookupError, match="nothing is called C-11; did you mean C-"):
        walk(hot, "C-11")
    with pytest.raises(LookupError, match="no finding is called F-AAAAAAAAAA"):
        walk(hot, "F-AAAAAAAAAA")


def test_a_file_over_the_usual_limits_is_explained(room: Room) -> None:
    """What could be taken can be explained, whatever the limits are now."""
    room.set_site('timezone = "UTC"\n[limits]\ncolumns = 600\n')
    wide = ",".join(f"x{n}" for n in range(540))
    room.run(("lab.csv", csv(ROWS[0] + "," + wide, header="Cask,Date,Reading,Temp (°C),Batch," + wide)))
    assert "Reading: 120" in walk(room, "C-1")


def test_nothing_is_changed_by_explaining(hot: Room) -> None:
    """Outputs and journal are as before."""
    before, lines = hot.bytes(), hot.journal()
    walk(hot, "B-1")
    assert hot.bytes() == before and hot.journal() == lines
