"""Plugins from entry points and from the site's folders; one that fails is left out, a built-in never."""

from __future__ import annotations

import importlib.util
import sys
import textwrap
from collections.abc import Callable
from pathlib import Path
from types import ModuleType, SimpleNamespace
from typing import Any

import pytest

from pipeline import hookimpl
from pipeline.common.errors import PluginError, SettingsError
from pipeline.site.house import House, build_house
from pipeline.site.loading import load_plugins
from pipeline.site.source import without
from tests.pipeline import toy_plugin
from tests.pipeline.kit import ROWS, FakeEntry, Room, csv, finding, have, use

SUMMER = '''
import pandas as pd
from pipeline import Column, Frame, Setting, hookimpl, stage

from vatting_site.summer.sums import doubled

api = 1
DOUBLE = Frame(
    "double",
    key=("batch",),
    columns=(Column("batch", "text"), Column("total", "float", uses=("sums.total",))),
    publish=True,
)


@stage(gives=DOUBLE)
def double(sums: pd.DataFrame, site) -> pd.DataFrame:
    """Doubles the sums."""
    return sums[["batch", "facts"]].assign(total=doubled(sums["total"]) * site["plugins.summer.factor"])


@hookimpl
def stages():
    return [double]


@hookimpl
def settings():
    return [Setting("plugins.summer", "factor", "number", 1.0)]
'''
TELLS = """
import json
from pipeline import hookimpl, report
api = 1

@report(path="extra/{batch}.json", per="sums.batch")
def extra(published, batch):
    rows = {p: {f: t["total"].tolist() for f, t in fs.items()} for p, fs in published.items()}
    return json.dumps(rows).encode()

@hookimpl
def reports():
    return [extra]
"""
SUMS = "def doubled(values):\n    return values * 2\n"


def plugin(folder: Path, name: str, source: str, **beside: str) -> None:
    place = folder / "mine" / name
    place.mkdir(parents=True)
    (place / "plugin.py").write_text(textwrap.dedent(source), "utf-8")
    for module, text in beside.items():
        (place / f"{module}.py").write_text(text, "utf-8")


@pytest.fixture
def load(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., House]:
    """Opens the toy house with the plugin folder ``mine``."""
    use(monkeypatch, toy_plugin)

    def build(text: str = "") -> House:
        return build_house(f'plugin_folders = ["mine"]\n{text}', tmp_path)

    return build


def test_a_folder_of_the_site_adds_a_stage(tmp_path: Path, load: Callable[..., House]) -> None:
    """Its stages, settings and own modules work; it is known as the site's, with a version of its content."""
    plugin(tmp_path, "summer", SUMMER, sums=SUMS)
    house = load("[plugins.summer]\nfactor = 3\n")
    assert house.plugins.problems == []
    assert "double" in house.graph.frames and house.site["plugins.summer.factor"] == 3.0
    assert house.plugins.foreign == {"summer"}
    first = house.plugins.versions["summer"]
    (tmp_path / "mine" / "summer" / "sums.py").write_text("def doubled(values):\n    return values + values\n", "utf-8")
    assert load("[plugins.summer]\nfactor = 3\n").plugins.versions["summer"] != first


def test_its_result_comes_with_provenance(room: Room) -> None:
    """A run with a site's plugin gives its frame, resting on the same facts."""
    plugin(room.site, "summer", SUMMER, sums=SUMS)
    room.set_site('timezone = "UTC"\nplugin_folders = ["mine"]\n')
    result = room.run(("lab.csv", csv(*ROWS)))
    made = result.worked.frames["double"]
    assert made["total"].tolist() == [394.0, 182.0]
    assert made["facts"].tolist() == result.worked.frames["sums"]["facts"].tolist()
    assert result.staying == {}, "the folder of plugins is no file that stays"


BROKEN = {
    "import": ("import no_such_module_at_all\napi = 1\n", "no_such_module_at_all"),
    "syntax": ("api = 1\ndef f(:\n", "SyntaxError"),
    "no_api": ("", "no api"),
    "later_api": ("api = 2\n", "api = 2; this vatting wants api = 1"),
    "misspelt": ("from pipeline import hookimpl\napi = 1\n@hookimpl\ndef stagez():\n    return []\n", "stagez"),
    "argument": ("from pipeline import hookimpl\napi = 1\n@hookimpl\ndef stages(clock):\n    return []\n", "clock"),
    "raises": ("from pipeline import hookimpl\napi = 1\n@hookimpl\ndef stages():\n    return 1 / 0\n", "ZeroDivision"),
    "no_stage": ("from pipeline import hookimpl\napi = 1\n@hookimpl\ndef stages():\n    return [len]\n", "no_stage"),
    "no_file": (
        "from pathlib import Path\nfrom pipeline import hookimpl\napi = 1\n"
        "@hookimpl\ndef data_files():\n    return {'rules': [Path('nowhere.toml')]}\n",
        "nowhere.toml",
    ),
    "words": (
        "from pipeline import SheetColumn, SheetKind, hookimpl\napi = 1\n@hookimpl\ndef sheet_kinds():\n"
        "    return [SheetKind('k', ('a',), (SheetColumn('a', words='x'), SheetColumn('b', words='X')))]\n",
        "gives header words to two columns",
    ),
}


@pytest.mark.parametrize("name", sorted(BROKEN))
def test_a_plugin_of_the_site_that_fails_is_left_out(name: str, tmp_path: Path, load: Callable[..., House]) -> None:
    """The others load; the problem names the plugin and the cause."""
    source, word = BROKEN[name]
    plugin(tmp_path, name, source)
    plugin(tmp_path, "summer", SUMMER, sums=SUMS)
    plugins = load().plugins
    assert plugins.names == ["toy", "summer"]
    (problem,) = plugins.problems
    assert problem.startswith(f"Plugin {name} was left out: ") and word in problem


def test_a_plugin_left_out_is_a_finding_and_its_settings_stop_nothing(room: Room) -> None:
    """The run goes on, the finding names it, and [plugins.NAME] of a plugin left out is no unknown key."""
    plugin(room.site, "broken", "import no_such_module_at_all\n")
    room.set_site('timezone = "UTC"\nplugin_folders = ["mine"]\n[plugins.broken]\ndepth = 3\n')
    result = room.run(("lab.csv", csv(*ROWS)))
    said = finding(result, "plugin.not-loaded")
    assert said.severity == "review" and said.subject == "broken" and "no_such_module_at_all" in said.message
    assert result.run.problems and "broken" in room.bytes()["index.html"].decode()
    assert len(result.worked.frames["warm"]) == 3


def test_settings_of_a_plugin_that_is_not_there_are_unknown(load: Callable[..., House]) -> None:
    """A table of a plugin that nobody named is an unknown key."""
    with pytest.raises(SettingsError, match=r"plugins\.nobody\.depth"):
        build_house("[plugins.nobody]\ndepth = 3\n", Path())


def test_settings_of_plugins_in_a_folder_that_is_not_there_are_passed_over(load: Callable[..., House]) -> None:
    """Whoever misspelt the folder hears of that, and not of settings that its plugins would have declared."""
    house = load("[plugins.nobody]\ndepth = 3\n")
    assert house.plugins.problems == ["The plugin folder mine of site.toml does not exist."]


def test_a_folder_that_does_not_exist_is_a_problem(load: Callable[..., House]) -> None:
    """A misspelt plugin folder is said, not passed over."""
    assert load().plugins.problems == ["The plugin folder mine of site.toml does not exist."]


def test_a_site_plugin_that_breaks_the_graph_is_left_out(tmp_path: Path, load: Callable[..., House]) -> None:
    """A stage that needs a frame nobody makes takes its own plugin out, and no plugin of a like name."""
    plugin(tmp_path, "summer", SUMMER, sums=SUMS)
    plugin(tmp_path, "summer2", SUMMER.replace('"double"', '"triple"').replace("sums: pd", "nothing: pd").replace(
        "summer", "summer2"), sums=SUMS)  # fmt: skip
    house = load()
    assert house.plugins.names == ["toy", "summer"]
    assert len(house.plugins.problems) == 1 and "summer2" in house.plugins.problems[0]
    assert "double" in house.graph.frames and "triple" not in house.graph.frames


def test_a_second_maker_in_a_site_plugin_is_left_out(tmp_path: Path, load: Callable[..., House]) -> None:
    """A site's plugin cannot take a built-in frame's place by accident."""
    source = SUMMER.replace('"double"', '"sums"').replace("sums: pd", "warm: pd")
    plugin(tmp_path, "summer", source, sums=SUMS)
    plugins = load().plugins
    assert plugins.names == ["toy"] and "two makers" in plugins.problems[0]


def test_a_site_plugin_that_goes_round_in_a_circle_is_left_out(tmp_path: Path, load: Callable[..., House]) -> None:
    """A stage that rests on its own frame stops its plugin and no other."""
    plugin(tmp_path, "summer", SUMMER.replace("sums: pd", "double: pd"), sums=SUMS)
    plugins = load().plugins
    assert plugins.names == ["toy"] and "circle: double needs double" in plugins.problems[0]


def test_a_site_plugin_may_not_take_the_name_of_another(tmp_path: Path, load: Callable[..., House]) -> None:
    """A folder called like a built-in plugin is left out, and the built-in stays what it is."""
    plugin(tmp_path, "toy", "api = 1\n")
    house = load()
    assert house.plugins.names == ["toy"] and house.plugins.foreign == set()
    assert len(house.plugins.stages) == 2 and "Plugin toy was left out" in house.plugins.problems[0]


def built_in(name: str, **parts: Any) -> ModuleType:
    module = ModuleType(f"{name}_plugin")
    module.api = 1  # type: ignore[attr-defined]
    for part, made in parts.items():

        def hook(made: Any = made) -> Any:
            return made

        hook.__name__ = part
        setattr(module, part, hookimpl(specname=part)(lambda made=made: made))
    return module


def test_a_built_in_plugin_that_fails_stops_everything(monkeypatch: pytest.MonkeyPatch) -> None:
    """A broken built-in is an error in words."""
    module = ModuleType("broken_plugin")
    use(monkeypatch, toy_plugin, module)
    with pytest.raises(PluginError, match="built-in plugin broken cannot be loaded.*no api"):
        build_house("", Path())


def test_without_any_built_in_plugin_nothing_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    """A checkout that is not installed says so."""
    monkeypatch.setattr("pipeline.site.loading._entry_points", lambda: [])
    with pytest.raises(PluginError, match="not installed"):
        load_plugins()


def test_a_plugin_of_another_distribution_that_fails_is_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """An installed plugin that is not ours is held to the same as the site's."""
    broken = ModuleType("theirs_plugin")
    found = [("toy", FakeEntry(toy_plugin), True), ("theirs", FakeEntry(broken), False)]
    monkeypatch.setattr("pipeline.site.loading._entry_points", lambda: found)
    plugins = load_plugins()
    assert plugins.names == ["toy"] and "theirs" in plugins.problems[0]


def test_two_kinds_of_one_name_are_an_error(monkeypatch: pytest.MonkeyPatch) -> None:
    """The kind is named."""
    use(monkeypatch, toy_plugin, built_in("second", sheet_kinds=[toy_plugin.STOCK]))
    with pytest.raises(PluginError, match="second cannot be loaded.*the sheet kind stock, which is there already"):
        build_house("", Path())


def test_the_installed_plugins_load() -> None:
    """The distribution's own entry points load and fit together, with nothing left out."""
    house = build_house("", Path())
    assert house.plugins.problems == []
    assert {"proof", "validation", "tasting", "blending", "label_age", "records"} <= set(house.plugins.names)


def test_plugins_do_not_leak_between_loads(tmp_path: Path, load: Callable[..., House]) -> None:
    """A plugin that was mended is loaded as it is now."""
    plugin(tmp_path, "summer", "import no_such_module_at_all\n")
    assert load().plugins.names == ["toy"]
    (tmp_path / "mine" / "summer" / "plugin.py").write_text(SUMMER, "utf-8")
    (tmp_path / "mine" / "summer" / "sums.py").write_text(SUMS, "utf-8")
    assert load().plugins.names == ["toy", "summer"]
    assert sys.modules["vatting_site.summer.plugin"].api == 1


def test_the_engine_never_imports_the_trade() -> None:
    """pipeline/ knows nothing of plugins/."""
    for path in (Path(__file__).parents[3] / "pipeline").rglob("*.py"):
        for line in path.read_text("utf-8").splitlines():
            assert not line.strip().startswith(("import plugins", "from plugins")), path.name


def test_every_plugin_of_a_published_stage_reaches_the_record(room: Room) -> None:
    """A site's frame declared publish=True comes to reports as ``published``, by plugin and frame."""
    plugin(room.site, "summer", SUMMER, sums=SUMS)
    plugin(room.site, "tells", TELLS)
    room.set_site('timezone = "UTC"\nplugin_folders = ["mine"]\n')
    result = room.run(("lab.csv", csv(*ROWS)))
    assert have(result, "report.failed") == []
    assert room.bytes()["extra/B-1.json"] == b'{"summer": {"double": [394.0]}}'


def installed(monkeypatch: pytest.MonkeyPatch, folder: Path, name: str, source: str) -> None:
    """Let a module be installed as a plugin by an entry point, beside the toy plugin."""
    path = folder / f"installed_{name}.py"
    path.write_text(textwrap.dedent(source), "utf-8")
    spec = importlib.util.spec_from_file_location(f"installed_{name}", path)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    found = [("toy", FakeEntry(toy_plugin), True), (name, FakeEntry(module), False)]
    monkeypatch.setattr("pipeline.site.loading._entry_points", lambda: found)


def test_what_an_installed_plugin_publishes_reaches_the_record(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """By an entry point as from a folder: its frame is ``published`` under its name; it can be left out, too."""
    alone = SUMMER.replace("from vatting_site.summer.sums import doubled\n", "doubled = (lambda values: values * 2)\n")
    installed(monkeypatch, tmp_path, "summer", alone)
    here = Room(tmp_path, 'timezone = "UTC"\nplugin_folders = ["mine"]\n')
    plugin(here.site, "tells", TELLS)
    result = here.run(("lab.csv", csv(*ROWS)))
    assert have(result, "report.failed") == [] and result.run.problems == []
    assert here.bytes()["extra/B-1.json"] == b'{"summer": {"double": [394.0]}}'
    with without(["summer"]):
        left = here.run(anew=True)
    assert "double" not in left.worked.frames and here.bytes()["extra/B-1.json"] == b"{}"


def test_an_installed_plugin_cannot_take_a_built_in_ones_name(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever the order in which packages are found; it is named, and the built-in one works."""

    def entry(name: str, package: str) -> Any:
        about = SimpleNamespace(metadata={"Name": package, "Version": "1"})
        return SimpleNamespace(name=name, dist=about, load=lambda: toy_plugin)

    found = [entry("toy", "another"), entry("toy", "vatting"), entry("toy", "vatting")]
    monkeypatch.setattr("pipeline.site.loading.metadata.entry_points", lambda group: found)
    monkeypatch.setattr("pipeline.site.loading.name_and_version", lambda dist: tuple(dist.metadata.values()))
    plugins = load_plugins()
    assert plugins.names == ["toy"] and plugins.places == {"toy": "built in"} and not plugins.foreign
    assert plugins.problems == ["Plugin toy was left out: another plugin has that name."]
