"""For tests of a site's plugin: fixtures for pytest, and the functions behind them.

Write ``pytest_plugins = ["pipeline.testing"]`` into the test file; nothing is registered for those who do not ask. A
test that lies in the plugin's folder, or in one inside it, has that plugin in its house beside the built-in ones.
Nothing here is needed to run vatting, and nothing in vatting imports this module. It says in full what it finds
wrong, so pytest need not rewrite it (PYTEST_DONT_REWRITE).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from types import ModuleType
from typing import TYPE_CHECKING

import pytest

from pipeline.contract.findings import Finding
from pipeline.contract.site import Site
from pipeline.contract.stages import Stage
from pipeline.site.house import House
from pipeline.trying.calls import HASHER, call_stage, run_stages, split_differs
from pipeline.trying.made import MadeFrames, plugin_above, site_with
from pipeline.trying.made import assert_provenance as rests_on
from pipeline.trying.made import workbook as workbook_bytes
from pipeline.trying.tried_house import SMALL_HOUSE, TriedHouse, built_house, run_house

if TYPE_CHECKING:
    import pandas as pd

__all__ = [
    "HASHER",
    "SMALL_HOUSE",
    "MadeFrames",
    "TriedHouse",
    "call_stage",
    "rests_on",
    "run_house",
    "run_stages",
    "site_with",
    "split_differs",
    "workbook_bytes",
]


@pytest.fixture(scope="module")
def tried_plugin(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> House:
    """The house of the test's plugin, built once for the test file; without a ``plugin.py`` above, the built-in one."""
    return built_house(tmp_path_factory.mktemp("house"), plugin_above(Path(str(request.path)).parent))


@pytest.fixture
def plugin(tried_plugin: House, request: pytest.FixtureRequest) -> ModuleType:
    """The module ``plugin.py`` of the test's plugin, as the house loaded it."""
    import sys

    folder = plugin_above(Path(str(request.path)).parent)
    assert folder is not None, "no folder above this test holds a plugin.py"
    return sys.modules[f"vatting_site.{folder.name}.plugin"]


@pytest.fixture
def site(tried_plugin: House) -> Site:
    """All settings as they are by default, the plugin's too; ``site.having({"plugins.x.y": 3})`` changes some."""
    return site_with(declared=tried_plugin.plugins.settings, data=tried_plugin.site.data)


@pytest.fixture
def frames(tried_plugin: House) -> MadeFrames:
    """``frames("casks", {"cask": "C-1"}, …)``: a frame as a stage gets it, typed as declared, each row with a fact."""
    return MadeFrames(tried_plugin.frame)


@pytest.fixture
def run_stage(tried_plugin: House, site: Site) -> Callable[..., tuple[pd.DataFrame, list[Finding]]]:
    """``run_stage(stage, casks=…, components=…)``: what a stage gives of frames, and its findings.

    ``stage`` is the stage, or the name of the frame that it gives. A frame that it needs and is not given is empty,
    one that it can do without is left out; ``site=…`` gives other settings. It is held against what it declares as in
    a run (BrokenPromise), called twice, and where it is ``per`` something, for its subjects apart: all must be alike.
    """

    def call(stage: Stage | str, site: Site = site, **given: pd.DataFrame) -> tuple[pd.DataFrame, list[Finding]]:
        if isinstance(stage, str):
            stage = next(one for one in tried_plugin.graph.order if one.gives == stage)
        needed = {need.name for need in stage.needs}
        assert set(given) <= needed, f"{stage.name} does not take {', '.join(sorted(set(given) - needed))}"
        made = {
            need.name: given[need.name] if need.name in given else tried_plugin.frame(need.name).empty()
            for need in stage.needs
            if need.name != "site" and (need.name in given or not need.optional)
        }
        table, findings = call_stage(stage, made, site)
        again, told = call_stage(stage, made, site)
        assert table.equals(again) and findings == told, f"{stage.name} gives something else when it is called again"
        assert not split_differs(stage, made, site), f"{stage.name} {split_differs(stage, made, site)[0]}"
        return table, findings

    return call


@pytest.fixture
def house(tmp_path: Path, request: pytest.FixtureRequest) -> Callable[..., TriedHouse]:
    """``house({"casks.csv": "Cask,Filled…"}, site="…")``: a whole run over files by name, texts or bytes.

    What it gives has ``frames``, ``findings(code)``, ``file(path)``, ``record(batch)`` and ``result``.
    """
    above = plugin_above(Path(str(request.path)).parent)

    def dropped(files: Mapping[str, str | bytes], site: str = "") -> TriedHouse:
        place = tmp_path / f"house-{len(list(tmp_path.glob('house-*')))}"
        place.mkdir()
        return run_house(files, place, above, site)

    return dropped


@pytest.fixture
def workbook() -> Callable[..., bytes]:
    """``workbook({"Sheet1": [["Cask", "Filled"], ["C-1", "2020-03-01"]]})``: the bytes of a workbook."""
    return workbook_bytes


@pytest.fixture
def assert_provenance() -> Callable[..., None]:
    """``assert_provenance(made, casks, components)``: each row rests on facts of the inputs, and on at least one."""
    return rests_on
