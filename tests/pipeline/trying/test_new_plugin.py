"""``vatting new-plugin`` writes a folder that runs, and ``vatting try-plugin`` finds what is wrong with one."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from pipeline.commands.cli import main as commands
from pipeline.common.errors import NotKnown, PluginError
from pipeline.trying.new_plugin import new_plugin
from pipeline.trying.try_plugin import try_plugin

FAULTS = {
    "a clock": (
        ('"level": rows["seals_level"]}', '"level": rows["seals_level"] + time.perf_counter()}'),
        "stage mark_batches, pure: it gives something else when called again",
    ),
    "the order of rows": (
        ('seals.sort_values(["noted_on", "seals_level"])', "seals"),
        "stage mark_batches, order: rows in another order change level, facts; sort by the key first",
    ),
    "other batches": (
        ('"level": rows["seals_level"]}', '"level": rows["seals_level"] + len(components)}'),
        "stage mark_batches, split: mark_batches in two halves: column level",
    ),
    "no facts": (
        ('unite(rows["facts_seen"], rows["facts"])', "[()] * len(rows)"),
        "stage mark_batches, facts: The stage mark_batches of plugin seals failed",
    ),
    "a changed input": (
        ("    limit = site[LIMIT]", '    seals["remark"] = "seen"\n    limit = site[LIMIT]'),
        "stage mark_batches, inputs: it changes seals; work on a copy: seals.assign(…)",
    ),
    "time": (
        ("    limit = site[LIMIT]", "    time.sleep(0.5)\n    limit = site[LIMIT]"),
        "ms a row (9 rows given); at most 5 ms: work by column",
    ),
    "many words": (
        (
            "{row.level:g}; the limit",
            "{row.level:g}, which in the eyes of all who were asked is more than is right; the limit",
        ),
        "finding seals.above-limit, short: 30 words in the first sentence; at most 25",
    ),
    "no remedy": (
        ('            remedy="Look at the cask again, or rule on this finding.",\n', ""),
        "finding seals.above-limit, complete: it lacks remedy",
    ),
    "another's headers": (
        ('SheetColumn("seals_level", "number", required=True', 'SheetColumn("seals_level", "number"'),
        "plugin, headers: Plugin seals was left out: sheet kind seals could take sheets of",
    ),
    "no words": (
        (', meaning="highest level that is let pass"', ""),
        "plugin, docs: nothing says what this is: setting plugins.seals.limit",
    ),
    "a report with a clock": (
        ("    return frame_csv(seals_marks, MARKS.names)", "    return str(time.time()).encode()"),
        "report list_marks, pure: another day gives other bytes: it reads a clock",
    ),
    "a column of nobody": (
        ('SheetColumn("seals_level", "number", required=True', 'SheetColumn("seals_lvl", "number", required=True'),
        "plugin, fits in: Plugin seals was left out",
    ),
}


@pytest.fixture
def written(tmp_path: Path) -> Path:
    new_plugin("seals", tmp_path)
    return tmp_path / "seals"


def test_a_new_plugin_has_one_of_each_thing(written: Path) -> None:
    """And no mark of the template is left in it, nor is anything written twice."""
    names = {path.relative_to(written).as_posix() for path in written.rglob("*") if path.is_file()}
    assert names == {
        *("README.md", "plugin.py", "command.py", "rules/house.toml", "samples/seals.csv"),
        *("templates/marks.html", "tests/test_seals.py"),
    }
    text = "".join(path.read_text("utf-8") for path in written.rglob("*") if path.is_file())
    assert "@NAME@" not in text and "@COMMAND@" not in text
    with pytest.raises(PluginError, match="is there already"):
        new_plugin("seals", written.parent)
    with pytest.raises(PluginError, match="proof is the name of a plugin"):
        new_plugin("proof", written.parent)
    with pytest.raises(NotKnown, match="'Seal Checks' is no name for a plugin"):
        new_plugin("Seal Checks", written.parent)


@pytest.mark.long
def test_the_tests_of_a_new_plugin_pass(written: Path) -> None:
    """As they are written, in a session of their own; the formatter and the linter have nothing to say."""
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "seals"],
        cwd=written.parent,
        capture_output=True,
    )
    assert done.returncode == 0 and b"3 passed" in done.stdout, done.stdout.decode()


@pytest.mark.long
def test_a_new_plugin_keeps_its_promises(written: Path) -> None:
    """On the command line, from where its own command is listed too."""
    answer = CliRunner().invoke(commands, ["try-plugin", str(written), "--json"], catch_exceptions=False)
    told = json.loads(answer.stdout)
    assert answer.exit_code == 0 and told["broken"] == 0
    assert {one["promise"] for one in told["promises"]} >= {
        *(
            "fits in",
            "docs",
            "readme",
            "taken",
            "runs",
            "pure",
            "split",
            "order",
            "inputs",
            "time",
            "short",
            "complete",
        ),
    }


@pytest.mark.parametrize(
    "case", [case if case == "another's headers" else pytest.param(case, marks=pytest.mark.long) for case in FAULTS]
)
def test_a_planted_fault_is_found_and_named(written: Path, case: str) -> None:
    """One fault each, and nothing beside what it brings with it."""
    (old, new), words = FAULTS[case]
    path = written / "plugin.py"
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new).replace("from pathlib", "import time\nfrom pathlib"), "utf-8")
    trial = try_plugin(written)
    said = [f"{one.of}, {one.promise}: {one.said}" for one in trial.broken]
    assert [one for one in said if words in one], said
    assert len(said) <= (5 if case == "a clock" else 2), said  # a clock in a stage is seen in its reports, too
