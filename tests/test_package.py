"""The wheel carries all it needs; commands import no more than they use; the tree keeps its rules."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest

from tests import licences
from tests.made_once import made_once
from tests.make_docs import ROOT

HEAVY = ("pandas", "scipy", "pint", "openpyxl")


def test_help_imports_nothing_heavy() -> None:
    """vatting --help loads none of pandas, scipy, pint, openpyxl."""
    code = (
        "import sys\nfrom click.testing import CliRunner\nfrom pipeline.commands.cli import main\n"
        "result = CliRunner().invoke(main, ['--help'])\nassert result.exit_code == 0, result.output\n"
        "assert 'explain' in result.output\n"
        f"print(sorted(set({HEAVY!r}) & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def built(folder: Path) -> None:
    """A wheel of the tree as it is."""
    source = folder / "source"
    top = shutil.ignore_patterns(".git", "outputs", "build", "*.egg-info", ".*_cache")
    shutil.copytree(ROOT, source, ignore=lambda folder, names: top(folder, names) if folder == str(ROOT) else [])
    wheel = [sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "--no-build-isolation", "-w", str(folder), "."]
    subprocess.run(wheel, cwd=source, check=True, capture_output=True)


@pytest.mark.parametrize(("inbox", "batches"), [("few", 0), pytest.param("inbox_example", 3, marks=pytest.mark.long)])
def test_a_wheel_runs_the_demo_from_an_empty_folder(tmp_path: Path, inbox: str, batches: int) -> None:
    """A wheel built from the tree, alone on the path, runs in an empty folder: briefs alone, or the example inbox."""
    few = tmp_path / "few"
    few.mkdir()
    for name in ("site.toml", "briefs_2026.csv"):
        shutil.copy(ROOT / "inbox_example" / name, few)
    (made,) = made_once("wheel", built)[0].glob("vatting-*.whl")
    names = set(zipfile.ZipFile(made).namelist())
    assert {"plugins/tasting/words/data/lexicon.csv", "plugins/label_age/rules/us.toml"} <= names
    template = (ROOT / "pipeline" / "trying").rglob("*.*")
    assert {path.relative_to(ROOT).as_posix() for path in template if path.suffix in (".txt", ".csv")} <= names
    assert {
        "pipeline/py.typed",
        "pipeline/writing/templates/page.html",
        "pipeline/runs/templates/plugins.html",
    } <= names
    assert not [name for name in names if name.startswith(("tests", "inbox_example"))]
    target, empty = tmp_path / "target", tmp_path / "empty"
    empty.mkdir()
    with zipfile.ZipFile(made) as packed:
        packed.extractall(target)
    code = "import pipeline; print(pipeline.__file__); from pipeline.commands.cli import main; main()"
    environment = {**os.environ, "PYTHONPATH": str(target), "PYTHONSAFEPATH": "1"}
    done = subprocess.run(
        [sys.executable, "-c", code, "run", str(few if inbox == "few" else ROOT / inbox), "--json"],
        cwd=empty,
        env=environment,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    first, _, answer = done.stdout.partition("\n")
    assert first.startswith(str(target))
    assert {file["outcome"] for file in json.loads(answer)["files"]} == {"taken"}
    assert (empty / "outputs" / "index.html").is_file()
    assert len(list((empty / "outputs" / "batches").glob("*/record.json"))) == batches


def test_the_top_level_is_as_agreed() -> None:
    """README, DEVELOPERS, pyproject and five folders; the rest are dotfiles."""
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True)
    if listed.returncode != 0:  # an unpacked archive has no git; the folder itself is looked at
        names = {path.name for path in ROOT.iterdir() if not path.name.endswith((".egg-info", "_cache"))}
    else:
        names = {line.split("/")[0] for line in listed.stdout.splitlines()}
    names = {name for name in names if not name.startswith(".")}
    folders = {"pipeline", "plugins", "tests", "inbox_example", "outputs"}
    assert names == {"README.md", "DEVELOPERS.md", "pyproject.toml", *folders}


def test_files_are_short() -> None:
    """No module of the two houses is longer than 400 lines."""
    long = {
        str(path.relative_to(ROOT)): count
        for house in ("pipeline", "plugins")
        for path in sorted((ROOT / house).rglob("*.py"))
        if (count := len(path.read_text("utf-8").splitlines())) > 400
    }
    assert long == {}


def pinned(name: str) -> dict[str, str]:
    """Version by package of a file of the CI."""
    lines = [line for line in (ROOT / ".ci" / name).read_text("utf-8").splitlines() if not line.startswith("#")]
    found = [re.fullmatch(r"([\w.\-]+)==([\w.]+)( --hash=sha256:[0-9a-f]{64})?", line) for line in lines]
    assert all(found), lines
    return {licences.plain(match[1]): match[2] for match in found if match}


def test_constraints_pin_what_is_needed() -> None:
    """Every dependency of vatting and its tests, of whatever depth, is pinned, and no line names an index."""
    assert set(pinned("constraints.txt")) == licences.needed("test")


def test_every_file_that_the_ci_installs_has_its_digest() -> None:
    """The digests are of what is pinned, each version once; ``python -m tests.hashes`` writes them."""
    assert pinned("hashes.txt") == pinned("constraints.txt")


def test_what_is_not_permissive_serves_the_tests_alone() -> None:
    """And somebody wrote down what it asks for."""
    strict = {one.name: one.test_only for one in licences.licences() if not one.is_permissive}
    assert strict and all(strict.values()) and set(strict) <= set(licences.NOTICES)


def test_the_package_says_what_it_is() -> None:
    """All that an owner need not decide. A licence is the owner's; without one nothing is uploaded by mistake."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    assert {"name", "version", "description", "readme", "requires-python", "keywords", "classifiers"} <= set(project)
    assert "license" in project or "Private :: Do Not Upload" in project["classifiers"]
