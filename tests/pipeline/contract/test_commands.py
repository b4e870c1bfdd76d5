"""Commands that plugins add: listed without being loaded, loaded when called, and never in the way."""

from __future__ import annotations

from pathlib import Path
from types import ModuleType
from typing import Any

import click
import pytest
from click.testing import CliRunner

from pipeline import Command
from pipeline.commands.cli import Commands
from pipeline.site.plugin_commands import plugin_commands

DOOR = '''
import click
from pipeline import Command, hookimpl

api = 1


def greeting():
    @click.command()
    def greet():
        """Greet at length."""
        click.echo("well met")

    return greet


@hookimpl
def commands():
    return [Command("greet", "Greet whoever calls.", greeting), Command("run", "Never reached.", greeting)]
'''


class Entry:
    """An entry point of another distribution."""

    name, dist = "other", None

    def __init__(self, made: Any) -> None:
        self._made = made

    def load(self) -> Any:
        if isinstance(self._made, Exception):
            raise self._made
        return self._made


def door(*made: Command) -> ModuleType:
    module = ModuleType("door")
    module.commands = lambda: list(made)  # type: ignore[attr-defined]
    return module


def entries(monkeypatch: pytest.MonkeyPatch, *made: Any) -> None:
    monkeypatch.setattr(
        "pipeline.site.plugin_commands.metadata.entry_points", lambda group: [Entry(each) for each in made]
    )


def never() -> click.Command:
    raise AssertionError("loaded")


@pytest.fixture
def group() -> Commands:
    group = Commands("vatting")

    @group.command()
    def run() -> None:
        """Run."""
        click.echo("ran")

    return group


def test_commands_are_listed_without_being_loaded(monkeypatch: pytest.MonkeyPatch, group: Commands) -> None:
    """The list shows name and line; loading would raise here."""
    entries(monkeypatch, door(Command("weigh", "Weigh a cask.", never)))
    shown = CliRunner().invoke(group, ["--help"])
    assert shown.exit_code == 0 and "weigh" in shown.output and "Weigh a cask." in shown.output


def test_a_called_command_is_loaded(monkeypatch: pytest.MonkeyPatch, group: Commands) -> None:
    """It takes its own arguments and shows its own help."""

    def load() -> click.Command:
        return click.Command("weigh", params=[click.Argument(["what"])], callback=lambda what: click.echo(f"of {what}"))

    entries(monkeypatch, door(Command("weigh", "Weigh a cask.", load)))
    assert CliRunner().invoke(group, ["weigh", "C-1"]).output == "of C-1\n"
    assert "WHAT" in CliRunner().invoke(group, ["weigh", "--help"]).output
    assert CliRunner().invoke(group, ["wiegh"]).exit_code == 2


def test_the_engine_keeps_its_names(monkeypatch: pytest.MonkeyPatch, group: Commands) -> None:
    """A plugin that gives a name of the engine's is not heard; of two plugins the first is."""
    weigh = [Command("weigh", line, never) for line in ("First.", "Second.")]
    entries(monkeypatch, door(Command("run", "Stolen.", never), weigh[0]), door(weigh[1]))
    assert CliRunner().invoke(group, ["run"]).output == "ran\n"
    assert plugin_commands()["weigh"].help == "First."


def test_a_broken_plugin_does_not_stop_the_list(monkeypatch: pytest.MonkeyPatch, group: Commands) -> None:
    """What cannot be loaded, has no commands or gives nonsense is passed over."""
    odd = ModuleType("odd")
    odd.commands = lambda: 5  # type: ignore[attr-defined]
    entries(monkeypatch, ImportError("gone"), ModuleType("none"), odd, door(Command("weigh", "Weigh.", never)))
    assert list(plugin_commands()) == ["weigh"]


def test_plugins_of_a_site(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, group: Commands) -> None:
    """The site's folder adds commands: ``site`` here, or the one named; a broken one, or an inbox, adds none."""
    site = tmp_path / "site"
    (site / "mine" / "kind").mkdir(parents=True)
    (site / "mine" / "kind" / "plugin.py").write_text(DOOR, "utf-8")
    (site / "site.toml").write_text('plugin_folders = ["mine"]\n', "utf-8")
    monkeypatch.chdir(tmp_path)
    assert CliRunner().invoke(group, ["greet"]).output == "well met\n"
    monkeypatch.chdir(site)  # somebody who stands in an inbox runs no code that was dropped there
    assert CliRunner().invoke(group, ["greet"]).exit_code == 2
    for stated in (["--site", str(site)], [f"--site={site}"]):
        assert "Missing" not in CliRunner().invoke(group, ["greet", *stated]).output
        assert "greet" in group.added
    (site / "site.toml").write_text("plugin_folders = [", "utf-8")
    assert "greet" not in plugin_commands(site)
