"""``vatting check`` runs fewer stages than a run does, and says the same."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from pipeline.book.book import Book
from pipeline.contract.findings import Finding, Place
from pipeline.inbox.judging import judge
from pipeline.runs import checking
from pipeline.sheets.judged import Judged
from pipeline.site.graph import Graph
from pipeline.site.house import House, build_house, open_house
from pipeline.site.source import Source
from pipeline.stages.work import work
from tests.bad_input.kit import run_in

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


def _said(house: House, judged: dict[Path, Judged], now: datetime, folder: Path) -> list[Finding]:
    """What is said of files by themselves."""
    with checking._trial(house, folder / "nowhere", folder) as (place, _):
        return checking._entered(house, judged, now, place)[0]


@pytest.mark.long
@pytest.mark.parametrize("name", SETS)
def test_the_stages_left_out_say_nothing_of_a_file(
    name: str, house: House, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """With all stages the findings are the same, in the same order."""
    paths = [EXAMPLE / file for file in SETS[name]]
    judged = {path: judge(path.name, path.read_bytes(), house.site, house, DAY) for path in paths}
    now = datetime(2026, 6, 1, tzinfo=UTC)
    few = _said(house, judged, now, tmp_path / "few")
    monkeypatch.setattr(checking, "graph_that_speaks", lambda house: house.graph)
    assert few == _said(house, judged, now, tmp_path / "all")
    assert few, "the set would show nothing"


@pytest.mark.long
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


HEAD = "Cask,Date,Observed Proof,Temp (°F),Instrument\n"
EARLIER = HEAD + "C-1,2026-02-03,121.0,68,H-9\nC-2,2026-02-03,119.0,68,H-9\n"


@pytest.mark.long
@pytest.mark.parametrize(
    "later",
    [
        HEAD + "C-1,2026-03-02,120.6,68,H-9\n",
        HEAD + "C-1,2026-03-02,98.6,68,H-9\nC-2,2026-03-02,x,68,H-9\n",
        HEAD + "C-2,2026-02-03,117.0,68,H-9\n",
        HEAD + "C-1,2026-03-02,62.4,68,H-9\nC-7,2026-03-02,131.0,68,H-1\n",
    ],
)
def test_with_the_book_a_check_says_what_a_run_says_and_no_more(later: str, tmp_path: Path) -> None:
    """The findings that a run opens are those that the check told, whatever file they stand in."""
    out, path = tmp_path / "out", tmp_path / "march.csv"
    before = {finding.id: finding for finding in run_in(tmp_path, {"feb.csv": EARLIER}).worked.findings}
    path.write_text(later, "utf-8")
    lying = {file: file.read_bytes() for file in out.rglob("*") if file.is_file()}
    checked, against = checking.check_files([path], out)
    assert against.startswith("Held against the book")
    assert {file: file.read_bytes() for file in out.rglob("*") if file.is_file()} == lying
    (item,) = checked.values()
    told = [*item.findings, *item.others, *(finding for rows in item.sheets for finding in rows.findings)]
    result = run_in(tmp_path, {"march.csv": later})
    opened = [f for f in result.worked.findings if f.id not in before or _is_new(before[f.id], f)]
    assert sorted((f.code, str(f.place), f.message) for f in told) == sorted(
        (f.code, str(f.place), f.message) for f in opened
    )
    assert item.read == next(fate.read for fate in result.run.files if fate.name == "march.csv")


def _is_new(before: Finding, now: Finding) -> bool:
    """Whether a person would learn something; a note on three readings that was one on two is nothing new."""
    return before.severity != now.severity or (now.severity != "note" and before.message != now.message)


@pytest.mark.long
def test_a_file_taken_before_is_said_to_be_known(tmp_path: Path) -> None:
    run_in(tmp_path, {"feb.csv": EARLIER})
    path = tmp_path / "again.csv"
    path.write_text(EARLIER, "utf-8")
    ((item,), _) = (list(checking.check_files([path], tmp_path / "out")[0].values()), None)
    assert "taken before as feb.csv" in item.known and not item.findings


@pytest.mark.long
def test_a_book_that_cannot_be_used_is_said(tmp_path: Path) -> None:
    run_in(tmp_path, {"feb.csv": EARLIER})
    (tmp_path / "out" / "book.sqlite").write_bytes(b"SQLite format 3\0" + b"x" * 4000)
    path = tmp_path / "march.csv"
    path.write_text(EARLIER, "utf-8")
    assert "by themselves" in checking.check_files([path], tmp_path / "out")[1]
