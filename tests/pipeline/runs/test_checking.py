"""``vatting check`` runs fewer stages than a run does, and says the same."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from pipeline.book.book import Book
from pipeline.contract.findings import Place
from pipeline.inbox.judging import judge
from pipeline.runs import checking
from pipeline.site.graph import Graph
from pipeline.site.house import House, build_house, open_house
from pipeline.site.source import Source
from pipeline.stages.work import work

EXAMPLE = Path(__file__).parents[3] / "inbox_example"
DAY = date(2026, 6, 1)
SETS = {
    "readings": ("density_meter_export.csv",),
    "a draw": ("blend_sheet_B-26-01.xlsx",),
    "a draw of known casks": ("blend_B-26-03.csv", "warehouse_2026-01-09.xlsx", "lab_book_2026.xlsx"),
    "a brief and stock": ("brief_B-27-01.csv", "north_store_2026-01-09.csv", "house_profiles.csv"),
    "bottlings and notes": ("bottling_log_2026.xlsx", "tastings_2026.csv", "sample_register.csv"),
}


@pytest.fixture(scope="module")
def house() -> House:
    return open_house(Source(EXAMPLE, True))


@pytest.mark.long
@pytest.mark.parametrize("name", SETS)
def test_the_stages_left_out_say_nothing_of_a_file(name: str, house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    """With all stages the findings are the same, in the same order."""
    paths = [EXAMPLE / file for file in SETS[name]]
    judged = {path: judge(path.name, path.read_bytes(), house.site, house, DAY) for path in paths}
    now = datetime(2026, 6, 1, tzinfo=UTC)
    few = checking._by_stages(house, judged, now)
    monkeypatch.setattr(checking, "graph_that_speaks", lambda house: house.graph)
    assert few == checking._by_stages(house, judged, now)
    assert few, "the set would show nothing"


def test_of_no_fact_stages_make_no_row_and_no_place(house: House, tmp_path: Path) -> None:
    """What is left out where nothing is given would give nothing: in an empty book all frames are empty."""
    with Book(tmp_path / "book.sqlite", house.kinds) as book:
        worked = work(house, book)
    assert not worked.missing and len(worked.frames) == len(house.kinds) + len(house.graph.order)
    assert [name for name, frame in worked.frames.items() if len(frame)] == []
    assert [finding for finding in worked.findings if finding.place != Place()] == []


def test_fewer_stages_are_run(house: House) -> None:
    """What nobody's finding rests on is left out, and what they rest on is not."""
    graph = checking.graph_that_speaks(house)
    names = {stage.gives for stage in graph.order}
    assert {"proofs", "components", "cask_histories", "labels"} <= names
    assert names.isdisjoint({"cask_likeness", "month_accounts", "grounds"}) and len(names) < len(house.graph.order)


SILENT = """
from pipeline import Column, Frame, hookimpl, stage
api = 1
MINE = Frame("mine", key=(), columns=(Column("cask", "text"),))

@stage(gives=MINE)
def mine(site) -> "pd.DataFrame":
    return MINE.empty()

@hookimpl
def stages():
    return [mine]
"""


def test_a_sites_stages_are_always_run(tmp_path: Path) -> None:
    """Nobody sees to what a site's stage says that it returns, so it is run as it stands."""
    (tmp_path / "mine" / "silent").mkdir(parents=True)
    (tmp_path / "mine" / "silent" / "plugin.py").write_text(SILENT, "utf-8")
    house = build_house('plugin_folders = ["mine"]\n', tmp_path)
    graph: Graph = checking.graph_that_speaks(house)
    (mine,) = [stage for stage in graph.order if stage.gives == "mine"]
    assert mine in house.graph.order and mine.plugin == "silent"
