"""What the engine holds a site's plugin to, beyond its frames."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from pipeline import Column, Frame
from pipeline.contract.frames import BrokenPromise
from pipeline.site.house import House
from tests.pipeline import toy_plugin
from tests.pipeline.commands.test_cli import call
from tests.pipeline.kit import ROWS, Room, csv, use
from tests.pipeline.site.test_manager import plugin

WRITES = '''
from pipeline import Column, Frame, hookimpl, stage

api = 1
MINE = Frame("mine", ("batch",), (Column("batch", "text"),))


@stage(gives=MINE)
def spoil(sums):
    """Writes into what it was given."""
    sums["total"] = 50.0
    return sums[["batch", "facts"]]


@hookimpl
def stages():
    return [spoil]
'''
ESCAPES = '''
from pipeline import hookimpl, report

api = 1


@report(path="{path}")
def away(sums):
    """Writes somewhere else."""
    return b"x"


@hookimpl
def reports():
    return [away]
'''


def test_a_stage_that_writes_into_its_input_changes_nothing_for_others(room: Room) -> None:
    """What a plugin does to a frame it was given stays its own."""
    plain = room.run(("lab.csv", csv(*ROWS))).worked.frames["sums"]
    plugin(room.site, "spoiler", WRITES)
    room.set_site('timezone = "UTC"\nplugin_folders = ["mine"]\n')
    result = room.run()
    assert result.run.problems == [] and "mine" in result.worked.frames
    pd.testing.assert_frame_equal(result.worked.frames["sums"], plain)


@pytest.mark.parametrize("path", ["../../away.csv", "/tmp/away.csv", "C:/away.csv", ""])
def test_a_report_cannot_leave_the_outputs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, path: str) -> None:
    """Its plugin is left out when it loads, with the path."""
    use(monkeypatch, toy_plugin)
    room = Room(tmp_path, 'timezone = "UTC"\nplugin_folders = ["mine"]\n')
    plugin(room.site, "away", ESCAPES.replace("{path}", path))
    result = room.run(("lab.csv", csv(*ROWS)))
    (problem,) = result.run.problems
    assert problem.startswith("Plugin away was left out") and "no path inside the outputs" in problem


def test_build_refuses_a_misspelt_column() -> None:
    """A column that the frame does not declare is named, with the nearest."""
    frame = Frame("mine", ("batch",), (Column("batch", "text"), Column("mean_humidity")))
    with pytest.raises(BrokenPromise, match="mean_humidty; did you mean mean_humidity"):
        frame.build({"batch": ["B-1"], "mean_humidty": [3.0]}, [(1,)])


def test_a_frame_can_be_looked_at(house: House) -> None:
    """stages --frame prints the columns; an unknown name is answered with the nearest."""
    assert house.frame("sums").name == "sums"
    with pytest.raises(LookupError, match="did you mean sums"):
        house.frame("sum")


def test_a_file_of_a_kind_that_a_lost_plugin_may_know_waits(room: Room) -> None:
    """While a plugin is left out, an unrecognised file stays in the inbox, and the status is 1."""
    plugin(room.site, "broken", "import no_such_module_at_all\n")
    room.set_site('timezone = "UTC"\nplugin_folders = ["mine"]\n')
    room.drop("humidity.csv", b"Rick,Humidity\nA,70\n")
    result = call("run", room.inbox, "--out", room.out)
    assert result.exit_code == 1 and "may be of a kind that a plugin knows" in result.output
    assert (room.inbox / "humidity.csv").exists() and not (room.out / "returned" / "humidity.csv").exists()


def test_check_says_which_header_was_taken_for_which_column(room: Room) -> None:
    """A guess about a column is shown before the file is dropped."""
    room.drop("lab.csv", csv(*ROWS))
    result = call("check", room.inbox / "lab.csv")
    assert "'Cask' is vessel" in result.output and "'Temp (°C)' is temperature" in result.output
