"""DEVELOPERS.md and README.md say what is so."""

from __future__ import annotations

import inspect
import json
import re
import shutil
from datetime import UTC, datetime
from importlib import import_module
from pathlib import Path

import click
import pytest

import pipeline
from pipeline import testing
from pipeline.commands.cli import main as commands
from pipeline.contract import hooks
from pipeline.runs.run import run
from pipeline.site.house import build_house
from tests import reference
from tests.make_docs import MADE, ROOT, up_to_date
from tests.support import write_site

DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text("utf-8")
README = (ROOT / "README.md").read_text("utf-8")


def example() -> tuple[str, str]:
    """Path and source of the example plugin in DEVELOPERS.md."""
    found = re.search(r"<!-- example plugin: (\S+) -->\n```python\n(.*?)```", DEVELOPERS, re.DOTALL)
    assert found
    return found[1], found[2]


@pytest.mark.parametrize("without", [["north*", "*nos*"], pytest.param([], marks=pytest.mark.long)])
def test_the_example_plugin_adds_to_the_record(tmp_path: Path, without: list[str]) -> None:
    """A plugin in a folder outside the repository, copied from DEVELOPERS.md, shows up in the record."""
    inbox = tmp_path / "inbox"
    shutil.copytree(ROOT / "inbox_example", inbox, ignore=shutil.ignore_patterns(*without))
    path, source = example()
    site = write_site(inbox, 'plugin_folders = ["site_plugins"]\n' + (inbox / "site.toml").read_text("utf-8"))
    (site / path).parent.mkdir(parents=True)
    (site / path).write_text(source, "utf-8")
    result = run(inbox, tmp_path / "out", now=datetime(2026, 11, 1, tzinfo=UTC))
    assert result.run.problems == []
    records = sorted((tmp_path / "out" / "batches").glob("*/record.json"))
    assert records
    for record in records:
        rows = json.loads(record.read_bytes())["extra"]["wood_mix"]["wood_mix"]
        assert sum(row["share_percent"] for row in rows) == pytest.approx(100.0)


def test_every_hook_is_described_with_its_signature() -> None:
    """The hook list of DEVELOPERS.md is the hook specifications."""
    made = set()
    for name, function in inspect.getmembers(hooks, inspect.isfunction):
        if hasattr(function, f"{hooks.PROJECT}_spec"):
            made.add(f"{name}{inspect.signature(function)}".replace("'", ""))
    said = set(re.findall(r"^- `(\w+\(\) -> [^`]+)`$", DEVELOPERS, re.MULTILINE))
    assert said == made


def test_every_argument_is_described() -> None:
    """The reference has all that ``pipeline`` exports, and says of each argument of a declaration what it is."""
    listed = {name for names in reference.PARTS.values() for name in names}
    assert listed == set(pipeline.__all__)
    for name in reference.PARTS["Declarations"]:
        made = getattr(pipeline, name)
        said = set(re.findall(r"``(\w+)", inspect.getdoc(made) or "")) if name not in reference.SAID else set()
        lacks = (
            [one for one, _, _ in reference.arguments(made) if one not in said] if name not in reference.SAID else []
        )
        assert lacks == [], name
    for name in (*reference.FIXTURES, *reference.FUNCTIONS):
        assert inspect.getdoc(getattr(testing, name)), name


@pytest.mark.parametrize("name", MADE)
def test_the_made_sections_are_true(name: str) -> None:
    """What is made from declarations is as declared; python -m tests.make_docs writes it."""
    assert up_to_date(name) == (ROOT / name).read_text("utf-8")


def test_the_readme_is_short() -> None:
    """Everybody finds their part in two minutes; what is long stands in the README of the house it is about."""
    assert len(README.encode()) <= 12_000


@pytest.mark.parametrize("name", MADE)
def test_links_lead_somewhere(name: str) -> None:
    """A file that is linked exists, and has the heading that the link names."""
    for target, heading in re.findall(r"\]\((?!https?:)([^)#\s]*)#?([^)\s]*)\)", (ROOT / name).read_text("utf-8")):
        path = ROOT / name if not target else (ROOT / name).parent / target
        assert path.exists(), target
        if heading:
            titles = re.findall(r"^#+ (.*)$", path.read_text("utf-8"), re.MULTILINE)
            assert heading in {re.sub(r"[^\w\- ]", "", title.lower()).replace(" ", "-") for title in titles}, heading


def test_no_way_to_the_record_goes_back() -> None:
    """Each of the three ways has at most nine steps; a room that was left is not entered again."""
    ways = DEVELOPERS[DEVELOPERS.index("## Three ways") : DEVELOPERS.index("## Adding a stage")].split("\n### ")
    first, *three = [re.findall(r"^(\d)\. \*\*.*?\*\* \(`([\w/]+)/\w+\.py`", way, re.MULTILINE) for way in ways]
    assert [way.partition("\n")[0] for way in ways[1:]] == ["One reading", "One tasting note", "One brief"]
    for way in three:
        steps, rooms = zip(*first, *way, strict=True)
        assert steps == tuple(str(number) for number in range(1, 10))
        assert len(set(rooms)) == len(rooms), rooms


def test_every_command_is_listed() -> None:
    """No command without its line, and no line without its command."""
    listed = (ROOT / "pipeline" / "commands" / "README.md").read_text("utf-8")
    said = set(re.findall(r"^\| `vatting ([\w-]+)", listed, re.MULTILINE))
    assert said == set(commands.list_commands(click.Context(commands)))


def test_every_benchmark_can_be_imported() -> None:
    """No test runs them, so that nothing else tells that what they measure has moved."""
    names = [path.stem for path in sorted((ROOT / "tests" / "benchmarks").glob("bench_*.py"))]
    assert len(names) > 10
    for name in names:
        assert import_module(f"tests.benchmarks.{name}").__doc__


def test_files_named_in_developers_exist() -> None:
    """What a newcomer is told to read is there."""
    named = set(re.findall(r"`((?:pipeline|plugins|tests)/[\w/]+(?:\.py|\.md|/))`", DEVELOPERS)) - {
        "plugins/PLUGIN/",
        "plugins/PLUGIN/declared/",
    }
    assert named
    assert [name for name in sorted(named) if not (ROOT / name).exists()] == []


def test_the_house_has_no_problems() -> None:
    """All built-in plugins load and their graph closes."""
    house = build_house("", ROOT)
    assert house.plugins.problems == []
    assert {"proofs", "components", "balances", "labels", "profiles"} <= set(house.graph.frames)
