"""The command line: exit statuses, one JSON object with --json, words and never a traceback."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from pipeline.commands.cli import main
from pipeline.common.lock import hold
from tests.pipeline import toy_plugin
from tests.pipeline.kit import ROWS, Room, csv, have

ROOT = Path(__file__).parents[3]
HEAVY = ("pandas", "numpy", "scipy", "pint", "openpyxl", "python_calamine", "jinja2")
BAD = b"alpha,beta\n1,2\n"


def call(*arguments: object) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


def run(room: Room, *more: str) -> Result:
    return call("run", room.inbox, "--out", room.out, *more)


def told(result: Result, status: int, *words: str) -> None:
    """In words on standard error, with the status, and no traceback."""
    assert result.exit_code == status, result.output
    assert "Traceback" not in result.output
    for word in words:
        assert word in result.stderr, result.stderr


# --- statuses -------------------------------------------------------------------------------------------


def test_0_when_all_was_taken(room: Room) -> None:
    """A short table of what became of each file, and where to look."""
    room.drop("lab.csv", csv(*ROWS))
    result = run(room)
    assert result.exit_code == 0 and result.stderr == ""
    assert "lab.csv" in result.output and "taken: gauges" in result.output and "index.html" in result.output
    again = run(room)
    assert again.exit_code == 0 and "Nothing new" in again.output


def test_1_when_a_file_was_returned(room: Room) -> None:
    """The reason and the remedy are on the screen; only a newly returned file counts."""
    room.set_site('timezone = "UTC"\nafter_taking = "leave"\n')
    room.drop("bad.csv", BAD)
    result = run(room)
    assert result.exit_code == 1 and "bad.csv was returned" in result.output and "Put the column names" in result.output
    assert run(room).exit_code == 0


def test_1_when_a_stage_failed(room: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    """The run did not do all that it should."""
    room.drop("lab.csv", csv(*ROWS))

    def broken(sums: Any) -> Any:
        raise ZeroDivisionError

    from dataclasses import replace

    monkeypatch.setattr(toy_plugin, "add_up", replace(toy_plugin.add_up, function=broken))
    result = run(room)
    assert result.exit_code == 1 and "Traceback" not in result.output


def test_2_for_wrong_usage(room: Room) -> None:
    """Unknown commands and options, and folders that are not there."""
    for arguments in (("rum",), ("run",), ("run", room.inbox / "nowhere"), ("run", room.inbox, "--colour"), ("check",)):
        result = call(*arguments)
        assert result.exit_code == 2 and "Usage" in result.stderr and "Traceback" not in result.output


def test_3_with_strict_when_a_batch_is_held(room: Room) -> None:
    """Without --strict a held batch is no failure; a returned file weighs more."""
    room.drop("lab.csv", csv("C-1,2026-03-02,120,55,B-1"))
    assert run(room).exit_code == 0
    assert run(room, "--strict").exit_code == 3
    room.drop("bad.csv", BAD)
    assert run(room, "--strict").exit_code == 1


def test_strict_is_content_when_no_batch_is_held(room: Room) -> None:
    """Notes and good batches are status 0."""
    room.drop("lab.csv", csv(*ROWS))
    assert run(room, "--strict").exit_code == 0


# --- in words -------------------------------------------------------------------------------------------


def test_mistakes_are_told_in_words(room: Room) -> None:
    """site.toml, a held book, a damaged journal, an unknown name, nothing taken yet."""
    told(call("explain", "B-1", "--out", room.out), 1, "nothing was taken yet")
    told(call("rebuild", "--out", room.out), 1, "nothing was taken yet")
    room.drop("lab.csv", csv(*ROWS))
    assert run(room).exit_code == 0
    told(call("explain", "B-11", "--out", room.out), 1, "nothing is called B-11", "did you mean B-")
    with hold(room.out):
        told(run(room), 1, "Another vatting works on these outputs", f"process {os.getpid()}")
    room.set_site("timezon = 'UTC'\n")
    told(run(room), 1, "site.toml line 1", "timezone")
    room.set_site("timezone = 'UTC'\n")
    (room.out / "originals" / "journal.jsonl").write_bytes(b"broken\n")
    told(run(room), 1, "journal.jsonl line 1 is damaged")


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (OSError(28, "No space left on device", "/full"), ("No space left on device: /full",)),
        (ZeroDivisionError("a stone"), ("ZeroDivisionError: a stone", "--debug")),
        (KeyError("x"), ("KeyError",)),
        (KeyboardInterrupt(), ("Stopped",)),
    ],
)
def test_what_nobody_foresaw_is_a_sentence(
    room: Room, monkeypatch: pytest.MonkeyPatch, error: BaseException, words: tuple[str, ...]
) -> None:
    """The last net; --debug shows the traceback to a developer."""

    def fails(*_: Any, **__: Any) -> Any:
        raise error

    monkeypatch.setattr("pipeline.runs.run.run", fails)
    told(run(room), 1, *words)
    if isinstance(error, Exception):
        assert run(room, "--debug").exception is error


def test_an_empty_inbox_is_no_mistake(room: Room) -> None:
    """Nothing to take: status 0, outputs are there."""
    result = run(room)
    assert result.exit_code == 0 and (room.out / "index.html").is_file()


# --- json -----------------------------------------------------------------------------------------------


def test_run_answers_one_object(room: Room) -> None:
    """Files with their fates, counts of findings, where to look."""
    room.drop("lab.csv", csv(*ROWS, "C-9,soon,1,2,"))
    room.drop("bad.csv", BAD)
    (room.inbox / "folder").mkdir()
    result = run(room, "--json")
    answer = json.loads(result.stdout)
    assert result.exit_code == 1 and result.stderr == ""
    assert {file["name"]: file["outcome"] for file in answer["files"]} == {"bad.csv": "returned", "lab.csv": "taken"}
    assert answer["findings"] == {"stop": 0, "review": 2, "note": 0}
    assert "folder" in answer["staying"] and answer["look_at"].endswith("index.html")
    assert answer["batches"] == {"B-1": "reconciled", "B-2": "reconciled"}


def test_every_reading_command_answers_json(room: Room) -> None:
    """explain, rebuild, stages, settings and check give one JSON value."""
    room.drop("lab.csv", csv(*ROWS))
    run(room)
    assert json.loads(call("explain", "B-1", "--out", room.out, "--json").stdout)["title"] == "B-1"
    assert json.loads(call("rebuild", "--out", room.out, "--json").stdout)["changed"] == 0
    stages = json.loads(call("stages", "--site", room.site, "--json").stdout)
    assert [made["gives"] for made in stages["stages"]] == ["warm", "sums"]
    assert stages["stages"][0]["needs"] == ["gauges", "site"] and "gauges" in stages["sheets"]
    settings = {row["setting"]: row for row in json.loads(call("settings", "--site", room.site, "--json").stdout)}
    assert settings["timezone"]["from"] == "site.toml line 1" and settings["tolerances.toy_hot"]["value"] == 40.0
    assert settings["tolerances.toy_hot"]["unit"] == "degC" and settings["date_order"]["from"] == "default"


# --- check ----------------------------------------------------------------------------------------------


def test_check_judges_and_records_nothing(room: Room) -> None:
    """As a run would, under the site's settings; nothing is written or moved."""
    room.set_site('timezone = "UTC"\ndate_order = "dmy"\n')
    room.drop("lab.csv", csv("C-1,02/03/2026,120,20,", "C-2,soon,1,2,"))
    room.drop("bad.csv", BAD)
    before = sorted(path.name for path in room.inbox.parent.rglob("*"))
    result = call("check", room.inbox / "lab.csv", room.inbox / "bad.csv", "--out", room.out, "--json")
    answer = json.loads(result.stdout)
    assert result.exit_code == 1
    good, bad = answer[str(room.inbox / "lab.csv")], answer[str(room.inbox / "bad.csv")]
    (sheet,) = good["sheets"]
    assert (sheet["sheet"], sheet["kind"], sheet["rows"]) == ("", "gauges", 1) and not good["returned"]
    assert [(f["code"], f["place"]["cell"]) for f in good["findings"]] == [("sheet.unusable-row", "B3")]
    assert bad["returned"] and bad["reason"] and bad["remedy"]
    assert sorted(path.name for path in room.inbox.parent.rglob("*")) == before
    alone = call("check", room.inbox / "lab.csv", "--site", room.site)
    assert alone.exit_code == 0 and "1 row of gauges" in " ".join(alone.output.split()) and "B3" in alone.output


def test_check_and_run_agree(room: Room) -> None:
    """What check says of a file is what a run makes of it."""
    room.drop("lab.csv", csv(*ROWS, "C-9,soon,1,2,", "C-9,2026-03-02,500,2,"))
    said = json.loads(call("check", room.inbox / "lab.csv", "--json").stdout)[str(room.inbox / "lab.csv")]
    result = room.run()
    assert [f["message"] for f in said["findings"]] == [f.message for f in have(result, "sheet.unusable-row")]


# --- loading --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("arguments", [["--help"], ["run", "--help"], ["--version"]])
def test_help_loads_nothing_heavy(arguments: list[str]) -> None:
    """vatting --help imports none of pandas, scipy, pint, openpyxl."""
    script = (
        "import sys\nfrom pipeline.commands.cli import main\n"
        f"try:\n    main({arguments!r})\nexcept SystemExit as end:\n    assert not end.code, end.code\n"
        f"print('LOADED', [name for name in {HEAVY!r} if name in sys.modules])\n"
    )
    made = subprocess.run([sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True, timeout=300)
    assert made.returncode == 0, made.stderr
    assert "LOADED []" in made.stdout


def test_the_module_is_the_command() -> None:
    """python -m pipeline is vatting."""
    made = subprocess.run(
        [sys.executable, "-m", "pipeline", "--help"], cwd=ROOT, capture_output=True, text=True, timeout=60
    )
    assert made.returncode == 0 and "vatting run inbox_example" in made.stdout


def test_stages_of_the_installed_plugins() -> None:
    """The graph of the distribution's own plugins is shown without an inbox."""
    result = call("stages", "--json")
    assert result.exit_code == 0
    gives = {made["gives"] for made in json.loads(result.stdout)["stages"]}
    assert {"proofs", "components", "balances", "labels"} <= gives
