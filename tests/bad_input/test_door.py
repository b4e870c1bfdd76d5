"""Hostile names and places: the run goes on, everything else is taken, and nothing is lost or run."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from pipeline.commands.cli import main
from pipeline.inbox import folder as door
from tests.bad_input.kit import csv, found, run_in
from tests.support import lying_in

on_linux = pytest.mark.skipif(sys.platform != "linux", reason="other systems have no such names, links and pipes")
GOOD = "C-{},2026-03-02,120.5,68"
BAD = "nothing,here\n{},2\n"
NAMES = [
    "a\nb.csv",
    "tab\tx.csv",
    "\x1b[31mred.csv",
    "=cmd.csv",
    "+1.csv",
    "-rf.csv",
    "@x.csv",
    "q'uo\"te.csv",
    "<script>alert(1)<x>.csv",
    "a&b.csv",
    "%s{0}.csv",
    "CON.csv",
    "trail .csv",
    " lead.csv",
    "Case.csv",
    "case.CSV",
    "e\u0301.csv",
    "\u00e9.csv",
    "x" * 251 + ".csv",
    "🥃" * 60 + ".csv",
    "x.csv.why.txt",
]


def outcomes(folder: Path, files: dict[str, str]) -> dict[str, str]:
    return {fate.name: fate.outcome for fate in run_in(folder, files).fates}


@pytest.mark.long
@on_linux
def test_files_of_any_name_are_taken(tmp_path: Path) -> None:
    """Names with line breaks, quotes, formulas, 255 bytes, one case apart: each is taken and leaves the inbox."""
    made = outcomes(tmp_path, {name: csv(GOOD.format(n)) for n, name in enumerate(NAMES)})
    assert list(made.values()) == ["taken"] * len(NAMES)
    assert lying_in(tmp_path / "in") == []
    assert all(name.isprintable() for name in made)


@pytest.mark.long
@on_linux
def test_files_of_any_name_come_back(tmp_path: Path) -> None:
    """The same names on files that cannot be taken: each lies in returned/ beside its reason, under its own name."""
    made = outcomes(tmp_path, {name: BAD.format(n) for n, name in enumerate(NAMES)})
    assert list(made.values()) == ["returned"] * len(NAMES)
    returned = list((tmp_path / "out" / "returned").iterdir())
    reasons = [path for path in returned if path.name.endswith(".why.txt") and "Why:" in path.read_text("utf-8")]
    # each name's file and reason; x.csv.why.txt is itself the name of a dropped file
    assert len(reasons) == len(NAMES) and len(returned) == 2 * len(NAMES)
    assert all(len(os.fsencode(path.name)) <= 255 and path.name.isprintable() for path in returned)


@pytest.mark.long
@on_linux
def test_names_that_are_no_text(tmp_path: Path) -> None:
    """Bytes that are no UTF-8, up to the longest name there is, are taken or returned like any other."""
    inbox = tmp_path / "in"
    inbox.mkdir()
    for n, name in enumerate([b"lab\xff.csv", b"\xfe" * 251 + b".csv"]):
        with open(os.path.join(os.fsencode(inbox), name), "w") as stream:
            stream.write(csv(GOOD.format(n)))
    with open(os.path.join(os.fsencode(inbox), b"bad\xff.csv"), "w") as stream:
        stream.write(BAD)
    result = run_in(tmp_path, {"good.csv": csv(GOOD.format(9))})
    assert sorted(fate.outcome for fate in result.fates) == ["returned", "taken", "taken", "taken"]
    assert lying_in(inbox) == []
    assert run_in(tmp_path, {}).fates == []


@pytest.mark.long
@on_linux
def test_links_folders_and_pipes_never_stop_the_others(tmp_path: Path) -> None:
    """Links out, to nothing, in circles, to a file taken a moment ago, a folder and a pipe: the rest is taken."""
    inbox = tmp_path / "in"
    inbox.mkdir()
    (inbox / "folder.csv").mkdir()
    os.mkfifo(inbox / "pipe.csv")
    for name, target in {
        "passwd.csv": "/etc/passwd",
        "gone.csv": "nowhere.csv",
        "loop.csv": "loop.csv",
        "up.csv": "..",
        "alias of a.csv": "a.csv",
        "zzz alias of a.csv": "a.csv",
        "alias of bad.csv": "bad.csv",
    }.items():
        os.symlink(target, inbox / name)
    result = run_in(tmp_path, {"a.csv": csv(GOOD.format(1)), "bad.csv": BAD, "z.csv": csv(GOOD.format(2))})
    fates = {fate.name: fate.outcome for fate in result.fates}
    assert (fates["z.csv"], fates["bad.csv"]) == ("taken", "returned")
    assert {"passwd.csv", "folder.csv", "loop.csv", "up.csv", "pipe.csv", "gone.csv"} <= set(result.staying)
    assert b"root:" not in b"".join(path.read_bytes() for path in (tmp_path / "out").rglob("*") if path.is_file())
    assert (inbox / "passwd.csv").is_symlink()
    assert len(result.worked.frames["proofs"]) == 2


@pytest.mark.long
def test_a_file_that_cannot_be_read_stays_and_the_others_are_taken(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file that another program holds, or this user may not read, stays with the reason; exit status 1."""
    real = door.read

    def held(file: door.Waiting, most: float) -> bytes:
        if file.name == "held.csv":
            file = door.Waiting(tmp_path / "not there", file.name)
        return real(file, most)

    monkeypatch.setattr(door, "read", held)
    result = run_in(tmp_path, {"held.csv": csv(GOOD.format(1)), "z.csv": csv(GOOD.format(2))})
    assert [(fate.name, fate.outcome) for fate in result.fates] == [("z.csv", "taken")]
    assert "cannot be read" in result.staying["held.csv"] and (tmp_path / "in" / "held.csv").is_file()
    assert "cannot be read" in (tmp_path / "out" / "returned" / "held.csv.why.txt").read_text("utf-8")
    ended = CliRunner().invoke(main, ["run", str(tmp_path / "in"), "--out", str(tmp_path / "out")])
    assert ended.exit_code == 1 and "held.csv stays" in ended.output
    monkeypatch.undo()
    assert [fate.outcome for fate in run_in(tmp_path, {}).fates] == ["taken"]


@pytest.mark.long
@pytest.mark.parametrize(
    ("files", "status"),
    [
        ({"a.csv": csv(GOOD.format(1))}, 0),
        ({"a.csv": csv("C-1,soon,120,68", GOOD.format(1))}, 0),
        ({"a.csv": csv(GOOD.format(1)), "b.csv": BAD}, 1),
        ({"a.csv": ""}, 1),
        ({}, 0),
    ],
)
def test_exit_status(tmp_path: Path, files: dict[str, str], status: int) -> None:
    """0 when all was taken, rows in findings or not; 1 when a file came back; and only while it is new."""
    inbox, out = tmp_path / "in", tmp_path / "out"
    inbox.mkdir()
    for name, text in files.items():
        (inbox / name).write_text(text, "utf-8")
    ended = CliRunner().invoke(main, ["run", str(inbox), "--out", str(out)])
    assert ended.exit_code == status and "Traceback" not in ended.output
    assert CliRunner().invoke(main, ["run", str(inbox), "--out", str(out)]).exit_code == 0


@pytest.mark.parametrize(
    "site", ["hose = 'x'\n", "house = \n", "house = 5\n", "timezone = 'Mars/X'\n", "[limits]\ncells = -1\n", "\x00"]
)
def test_a_mistake_in_site_toml_takes_nothing(tmp_path: Path, site: str) -> None:
    """With a site.toml that cannot be used nothing is taken: one sentence, status 1, the files lie where they lay."""
    inbox = tmp_path / "in"
    inbox.mkdir()
    (inbox / "site.toml").write_text(site, "utf-8")
    (inbox / "a.csv").write_text(csv(GOOD.format(1)), "utf-8")
    ended = CliRunner().invoke(main, ["run", str(inbox), "--out", str(tmp_path / "out")])
    assert ended.exit_code == 1 and ended.output.strip().startswith("vatting: site.toml")
    assert sorted(os.listdir(inbox)) == ["a.csv", "site.toml"]


@pytest.mark.long
def test_two_files_corrected_by_a_third_and_one_renamed(tmp_path: Path) -> None:
    """The last word counts, whatever the case of the name; the first file under a new name brings nothing back."""
    first = csv("C-1,2026-03-02,120,68", "C-2,2026-03-02,121,68")
    run_in(tmp_path, {"a.csv": first, "b.csv": csv("C-1,2026-03-02,122,68")})
    run_in(tmp_path, {"c.csv": csv("c-1,2026-03-02,123,68")})
    result = run_in(tmp_path, {"a once more.csv": first})
    assert [fate.outcome for fate in result.fates] == ["known"]
    proofs = result.worked.frames["proofs"].sort_values("reading")
    assert proofs["reading"].tolist() == [121.0, 123.0]
    assert "sheet.changed-by-another-file" in found(result) and "sheet.key-disputed" not in found(result)
