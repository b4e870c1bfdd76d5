"""Records first: what can wait is made after them, is left off for a new file, and is never lost."""

from __future__ import annotations

import threading
from types import ModuleType
from typing import Any

import pandas as pd
import pytest

from pipeline import Column, Finding, Frame, hookimpl, report, stage, unite
from pipeline.runs.run import run
from pipeline.runs.session import opened
from pipeline.site.graph import build_graph
from pipeline.site.house import open_house
from pipeline.site.later import later_frames
from tests.make_docs import ROOT
from tests.pipeline import kit, toy_plugin
from tests.watch.kit import Watched, until

COUNTS = Frame("counts", key=("vessel",), columns=(Column("vessel", "text"), Column("rows", "int")))
runs: list[int] = []
pages: list[str] = []
entered, gate = threading.Event(), threading.Event()


@stage(gives=COUNTS)
def count(warm: pd.DataFrame) -> tuple[pd.DataFrame, list[Finding]]:
    """Readings of each vessel, with a finding on what was read often."""
    runs.append(len(warm))
    groups = warm.groupby("vessel", sort=True)
    sizes, facts = groups.size(), unite(warm["facts"], by=warm["vessel"])
    findings = [
        Finding("toy.often", "review", f"{name} was read {number} times.", subject=str(name), facts=facts[name])
        for name, number in sizes.items()
        if number > 2
    ]
    return COUNTS.build({"vessel": list(sizes.index), "rows": sizes.to_numpy()}, list(facts)), findings


@report(path="vessels/{vessel}.txt", per="counts.vessel", later=True, link="how often {vessel} was read")
def vessel_text(vessel: str, counts: pd.DataFrame) -> bytes:
    """A page of a vessel."""
    pages.append(vessel)
    entered.set()
    gate.wait(20)
    return f"{vessel}: {counts['rows'].iloc[0]}\n".encode()


@report(path="links.txt", last=True)
def links_text(run: Any) -> bytes:
    """What a first page would link."""
    return "".join(f"{path} {words}\n" for path, words in run.links).encode()


leisurely = ModuleType("leisurely_plugin")
leisurely.api = 1  # type: ignore[attr-defined]
leisurely.stages = hookimpl(lambda: [count], specname="stages")  # type: ignore[attr-defined]
leisurely.reports = hookimpl(lambda: [vessel_text, links_text], specname="reports")  # type: ignore[attr-defined]


class LeisureRoom(kit.Room):
    """A room whose files are texts."""

    def put(self, name: str, text: str) -> None:
        self.drop(name, text.encode("utf-8"))

    def read(self, path: str) -> str:
        return (self.out / path).read_text("utf-8")


@pytest.fixture
def room(tmp_path: Any, monkeypatch: pytest.MonkeyPatch) -> LeisureRoom:
    """An inbox and outputs, with the toy plugin that has reports which can wait."""
    kit.use(monkeypatch, toy_plugin, leisurely)
    runs.clear()
    pages.clear()
    gate.set()
    return LeisureRoom(tmp_path)


def sheet(vessel: str, *days: int, batch: str = "") -> str:
    rows = "".join(f"{vessel},2026-03-{day:02d},100,20,{batch}\n" for day in days)
    return "Cask No,Date,Reading,Temp (degC),Batch\n" + rows


def test_which_stages_can_wait() -> None:
    """A stage can wait if only reports that can wait rest on it, or if it gives findings on such a stage."""
    frames = {name: Frame(name, (), (Column("x"),)) for name in ("sheet", "a", "b", "c", "d", "e")}

    def made(gives: str, *needs: str) -> Any:
        namespace: dict[str, Any] = {}
        exec(f"def f({', '.join(needs)}): return None", namespace)
        return stage(gives=frames[gives])(namespace["f"])

    def shown(path: str, later: bool, need: str) -> Any:
        namespace: dict[str, Any] = {}
        exec(f"def f({need}): return b''", namespace)
        return report(path=path, later=later)(namespace["f"])

    graph = build_graph(
        [made("a", "sheet"), made("b", "a"), made("c", "b"), made("d", "a"), made("e", "sheet")], [frames["sheet"]]
    )
    reports = [shown("first", False, "a"), shown("waits", True, "b")]
    assert later_frames(graph, reports, []) == {"b", "c"}  # c rests on b; d and e give findings alone
    assert later_frames(graph, [*reports, shown("also first", False, "c")], []) == frozenset()


def test_a_stage_that_says_that_it_can_wait_does_unless_something_first_rests_on_it() -> None:
    """d says so and no report rests on it; a says so too, but the first report rests on it."""
    frames = {name: Frame(name, (), (Column("x"),)) for name in ("sheet", "a", "d", "e")}

    def made(gives: str, need: str, later: bool = False) -> Any:
        namespace: dict[str, Any] = {}
        exec(f"def f({need}): return None", namespace)
        return stage(gives=frames[gives], later=later)(namespace["f"])

    graph = build_graph([made("a", "sheet", True), made("d", "sheet", True), made("e", "d")], [frames["sheet"]])

    @report(path="first")
    def first(a: Any) -> bytes:
        return b""

    assert later_frames(graph, [first], []) == {"d", "e"}


def test_the_built_in_records_do_not_wait_for_pages_of_casks_or_for_proposals() -> None:
    """The demo's house: proofs, balances and verdicts come first; the search for proposals and the cellar can wait."""
    later = open_house(ROOT / "inbox_example").later
    assert {"proposal_sets", "cask_rates", "cask_table", "month_accounts", "reading_checks"} <= later
    assert not later & {"proofs", "balances", "labels", "doubtful_readings", "figures_to_check", "profiles"}


def test_first_then_the_rest(room: LeisureRoom) -> None:
    """What comes first is out before; findings of what waits stand as they were; the rest brings all up to the book."""
    room.put("a.csv", sheet("C-1", 1, 2, 3, batch="B-1"))
    with opened(room.inbox, room.out, lambda *_: None) as session:
        session.take(session.look().whole)
        session.publish_first()
        assert (room.out / "batches/B-1/record.json").exists() and not (room.out / "vessels").exists()
        assert "toy.often" in room.read("open.json") and room.read("links.txt") == ""
        assert session.publish_rest(lambda: False) is not None
        assert room.read("vessels/C-1.txt") == "C-1: 3\n"
        assert room.read("links.txt") == "vessels/C-1.txt how often C-1 was read\n"
        counted = list(runs)
        room.put("b.csv", sheet("C-2", 1, 2, 3, batch="B-1"))
        session.take(session.look().whole)
        session.publish_first()
        assert runs == counted and '"C-2"' in room.read("batches/B-1/record.json")
        assert "C-2 was read" not in room.read("open.json") and "C-1 was read" in room.read("open.json")
        assert room.read("links.txt") == "vessels/C-1.txt how often C-1 was read\n"
        assert session.publish_rest(lambda: True) is None and session.rest_due
        assert session.publish_rest(lambda: False) is not None and not session.rest_due
        assert "C-2 was read" in room.read("open.json") and room.read("vessels/C-2.txt") == "C-2: 3\n"


def test_of_a_page_that_lies_there_only_its_digest_is_kept(room: LeisureRoom) -> None:
    """A page that was spoilt or removed by hand is made again, one that lies there as written is not."""
    room.put("a.csv", sheet("C-1", 1) + sheet("C-2", 1).split("\n", 1)[1] + sheet("C-3", 1).split("\n", 1)[1])
    with opened(room.inbox, room.out, lambda *_: None) as session:
        session.take(session.look().whole)
        session.publish()
        assert pages == ["C-1", "C-2", "C-3"]
        kept = [call.result for call in session.memory._calls.values()]
        assert b"C-1: 1\n" not in [result for result in kept if isinstance(result, bytes)]
        (room.out / "vessels/C-1.txt").write_text("spoilt", "utf-8")
        (room.out / "vessels/C-2.txt").unlink()
        result = session.publish()
        assert pages == ["C-1", "C-2", "C-3", "C-1", "C-2"] and result.changed == 2
        assert [room.read(f"vessels/C-{number}.txt") for number in (1, 2, 3)] == ["C-1: 1\n", "C-2: 1\n", "C-3: 1\n"]


def test_what_was_left_off_is_made_at_the_next_run(room: LeisureRoom) -> None:
    """A session that ends before the rest loses nothing: a run makes it, and what is no longer wanted goes."""
    room.put("a.csv", sheet("C-1", 1))
    run(room.inbox, room.out)
    room.put("a.csv", sheet("C-2", 1))
    room.put("void.csv", "Cask No,Date,Reading,Temp (degC),Batch,void\nC-1,2026-03-01,100,20,,yes\n")
    with opened(room.inbox, room.out, lambda *_: None) as session:
        session.take(session.look().whole)
        session.publish_first()
    assert (room.out / "vessels/C-1.txt").exists() and not (room.out / "vessels/C-2.txt").exists()
    run(room.inbox, room.out)
    assert not (room.out / "vessels/C-1.txt").exists() and room.read("vessels/C-2.txt") == "C-2: 1\n"


def test_a_file_that_comes_in_between_is_taken_before_the_pages(room: LeisureRoom) -> None:
    """While pages are being written a new file is taken and its record is out; the pages follow."""
    watched = Watched(room)
    watched.settings()
    room.put("a.csv", sheet("C-1", 1) + sheet("C-2", 1).split("\n", 1)[1] + sheet("C-3", 1).split("\n", 1)[1])
    gate.clear()  # the first page of a vessel now takes as long as we like
    try:
        entered.clear()
        watched.start()
        assert entered.wait(20)
        room.put("b.csv", sheet("C-4", 1, batch="B-4"))
        until(lambda: watched.watcher.stop.bell.rung)
        assert not (room.out / "batches/B-4").exists()
        gate.set()
        until(lambda: (room.out / "batches/B-4/record.json").exists())
        until(lambda: watched.told("Pages of casks"))
        assert {path.stem for path in (room.out / "vessels").iterdir()} == {"C-1", "C-2", "C-3", "C-4"}
        first = next(place for place, said in enumerate(watched.said) if said.startswith("Pages"))
        assert sum(said.startswith("Outputs written") for said in watched.said[:first]) == 2
    finally:
        gate.set()
        watched.stop()
