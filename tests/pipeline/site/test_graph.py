"""The stage graph: order from names, mistakes in words, failures as findings."""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations
from typing import Any

import pandas as pd
import pytest

from pipeline.common.errors import PluginError
from pipeline.contract.findings import Finding
from pipeline.contract.frames import Column, Frame
from pipeline.contract.stages import Stage, stage
from pipeline.site.graph import build_graph
from pipeline.stages.graph_run import Outcome
from pipeline.testing import run_stages, site_with

SHEET = Frame("sheet", (), (Column("x"),))
A, B, C = (Frame(name, (), (Column("x"),)) for name in "abc")


def made_by(plugin: str, made: Stage) -> Stage:
    return replace(made, plugin=plugin)


def rows(*values: float) -> pd.DataFrame:
    return SHEET.build({"x": list(values)}, [(n + 1,) for n in range(len(values))])


def run(stages: list[Stage], settled: dict[str, str] | None = None, **site: Any) -> Outcome:
    return run_stages(stages, {"sheet": rows(1.0, 2.0)}, [SHEET], site_with(site), settled=settled)


@stage(gives=A)
def make_a(sheet: pd.DataFrame) -> pd.DataFrame:
    """Doubles."""
    return sheet.assign(x=sheet["x"] * 2)


@stage(gives=B)
def make_b(a: pd.DataFrame) -> Any:
    """Adds one."""
    return a.assign(x=a["x"] + 1), [Finding("b.said", "note", "B was made.")]


@stage(gives=C)
def make_c(b: pd.DataFrame, a: pd.DataFrame, sheet: pd.DataFrame) -> pd.DataFrame:
    """Sums."""
    return a.assign(x=a["x"] + b["x"] + sheet["x"])


@stage(gives=A)
def fail_a(sheet: pd.DataFrame) -> pd.DataFrame:
    """Fails."""
    raise ZeroDivisionError("a stone in the way")


THREE = [made_by("p", make_a), made_by("p", make_b), made_by("q", make_c)]


def test_order_follows_from_names_not_from_registration() -> None:
    """Whatever the order of registration, the order of running and the frames are the same."""
    seen = set()
    for order in permutations(THREE):
        graph = build_graph(list(order), [SHEET])
        seen.add(tuple(made.gives for made in graph.order))
        outcome = run(list(order))
        assert outcome.frames["c"]["x"].tolist() == [1 + 2 + 3, 2 + 4 + 5]
        assert [(plugin, finding.code) for plugin, finding in outcome.findings] == [("p", "b.said")]
    assert seen == {("a", "b", "c")}


def test_a_frame_nobody_makes() -> None:
    """Named with the stage, its plugin and the frames there are."""
    with pytest.raises(PluginError, match="make_b of plugin p needs a frame a, which nobody makes.*sheet"):
        build_graph([made_by("p", make_b)], [SHEET])


def test_an_optional_frame_that_nobody_makes_is_none() -> None:
    """A parameter with a default may name a frame that no plugin gives."""

    @stage(gives=B)
    def alone(sheet: pd.DataFrame, a: pd.DataFrame | None = None) -> pd.DataFrame:
        assert a is None
        return sheet

    assert run([made_by("p", alone)]).frames["b"]["x"].tolist() == [1.0, 2.0]


def test_two_makers_of_one_frame() -> None:
    """Both are named with their plugins."""
    with pytest.raises(PluginError, match="frame a has two makers: stage make_a of plugin p and stage fail_a of plugi"):
        build_graph([made_by("p", make_a), made_by("q", fail_a)], [SHEET])


def test_a_stage_may_not_give_a_kind_of_sheet() -> None:
    """A frame of facts is nobody's to make."""
    with pytest.raises(PluginError, match="gives sheet, which is a kind of sheet"):
        build_graph([made_by("p", stage(gives=SHEET)(lambda: None))], [SHEET])  # type: ignore[arg-type, return-value]


def test_a_circle_is_told_as_one() -> None:
    """Frames that need each other are named; so is one that needs itself."""

    @stage(gives=A)
    def first(b: pd.DataFrame) -> pd.DataFrame:
        return b

    @stage(gives=B)
    def second(a: pd.DataFrame) -> pd.DataFrame:
        return a

    @stage(gives=C)
    def itself(c: pd.DataFrame) -> pd.DataFrame:
        return c

    with pytest.raises(PluginError, match="circle: a needs b; b needs a"):
        build_graph([first, second], [SHEET])
    with pytest.raises(PluginError, match="circle: c needs c"):
        build_graph([itself], [SHEET])


def test_a_maker_without_a_declared_frame() -> None:
    """A name alone declares nothing."""
    with pytest.raises(PluginError, match=r"names frame a but does not declare it with Frame"):
        build_graph([stage(gives="a")(lambda sheet: sheet)], [SHEET])  # type: ignore[arg-type, return-value]


def test_stages_never_take_findings_or_stars() -> None:
    """Only reports see findings; a star names no frame."""
    with pytest.raises(ValueError, match="takes findings"):
        stage(gives=A)(lambda findings: findings)  # type: ignore[arg-type, return-value]
    with pytest.raises(ValueError, match="cannot name a frame"):
        stage(gives=A)(lambda *sheets: sheets)  # type: ignore[arg-type, return-value]


# --- replacing --------------------------------------------------------------------------------------


@stage(gives="a", replaces=True)
def adjust_a(a: pd.DataFrame) -> pd.DataFrame:
    """Takes what the replaced one gave."""
    return a.assign(x=a["x"] + 100)


@stage(gives="a", replaces=True)
def other_a(sheet: pd.DataFrame) -> pd.DataFrame:
    """Does not look at what the replaced one gave."""
    return sheet.assign(x=-1.0)


def test_a_replacer_that_names_its_frame_adjusts_what_the_replaced_one_gave() -> None:
    """The adjusted frame is what the others get."""
    outcome = run([*THREE, made_by("mine", adjust_a)])
    assert outcome.frames["a"]["x"].tolist() == [102.0, 104.0]
    assert outcome.frames["b"]["x"].tolist() == [103.0, 105.0]


def test_a_replacer_that_does_not_name_its_frame_takes_its_place() -> None:
    """The replaced stage is not run: neither its failure nor its findings are anyone's concern."""

    @stage(gives=A)
    def talks(sheet: pd.DataFrame) -> Any:
        return sheet, [Finding("a.said", "stop", "The replaced stage speaks.")]

    for replaced in (fail_a, talks):
        outcome = run([made_by("p", replaced), made_by("mine", other_a)])
        assert outcome.frames["a"]["x"].tolist() == [-1.0, -1.0]
        assert outcome.findings == []


def test_a_replacer_keeps_to_the_declared_frame() -> None:
    """The frame stays as it was declared."""

    @stage(gives="a", replaces=True)
    def wrong(sheet: pd.DataFrame) -> pd.DataFrame:
        return sheet.rename(columns={"x": "y"})

    outcome = run([made_by("p", make_a), made_by("mine", wrong)])
    assert "without column x" in outcome.findings[0][1].message and "mine.wrong" in outcome.findings[0][1].message


def test_nothing_to_replace() -> None:
    """A replacer of a frame that nobody makes is an error at start."""
    with pytest.raises(PluginError, match="replaces the maker of a, but nobody makes that frame"):
        build_graph([made_by("mine", adjust_a)], [SHEET])


def test_two_replacers_are_settled_in_site_toml() -> None:
    """Two of them are an error that names the setting; the setting picks one."""
    stages = [*THREE, made_by("mine", adjust_a), made_by("theirs", other_a)]
    with pytest.raises(PluginError, match=r"plugin mine and .*plugin theirs both replace.*\[replacing\] a ="):
        build_graph(stages, [SHEET])
    assert run(stages, {"a": "mine"}).frames["a"]["x"].tolist() == [102.0, 104.0]
    assert run(stages, {"a": "theirs"}).frames["a"]["x"].tolist() == [-1.0, -1.0]


def test_a_replacer_waits_for_what_the_replaced_one_needs() -> None:
    """Where the adjusted stage's frame is missing, the replacer is left out, not failed."""

    @stage(gives="b", replaces=True)
    def adjust_b(b: pd.DataFrame) -> pd.DataFrame:
        return b

    outcome = run([made_by("p", fail_a), made_by("p", make_b), made_by("mine", adjust_b)])
    assert outcome.missing == {"a": "a", "b": "a"}
    assert [finding.code for _, finding in outcome.findings] == ["stage.failed", "stage.left-out"]


# --- failing ----------------------------------------------------------------------------------------


def test_a_stage_that_raises_is_a_finding_and_the_others_run() -> None:
    """One stop finding with plugin, stage and cause; one that names what was left out; the rest runs."""

    @stage(gives=Frame("d", (), (Column("x"),)))
    def apart(sheet: pd.DataFrame) -> pd.DataFrame:
        return sheet

    outcome = run([made_by("p", fail_a), THREE[1], THREE[2], made_by("r", apart)])
    assert outcome.missing == {"a": "a", "b": "a", "c": "a"}
    assert set(outcome.frames) == {"sheet", "d"}
    failed, left_out = [finding for _, finding in outcome.findings]
    assert failed.code == "stage.failed" and failed.severity == "stop" and failed.subject == "p.fail_a"
    assert "fail_a of plugin p" in failed.message and "ZeroDivisionError: a stone in the way" in failed.message
    assert left_out.code == "stage.left-out" and left_out.severity == "stop"
    assert "b, c" in left_out.message and left_out.subject == "a"


def test_a_stage_with_a_default_runs_without_the_missing_frame() -> None:
    """profiles=None: the stage runs and gets None."""

    @stage(gives=B)
    def copes(sheet: pd.DataFrame, a: pd.DataFrame | None = None) -> pd.DataFrame:
        return sheet.assign(x=0.0 if a is None else 1.0)

    assert run([made_by("p", fail_a), made_by("p", copes)]).frames["b"]["x"].tolist() == [0.0, 0.0]
    assert run([made_by("p", make_a), made_by("p", copes)]).frames["b"]["x"].tolist() == [1.0, 1.0]


def test_broken_promises_name_plugin_stage_and_column() -> None:
    """A frame that is not as declared is a finding, not a crash."""

    @stage(gives=A)
    def sloppy(sheet: pd.DataFrame) -> pd.DataFrame:
        return sheet.drop(columns="x")

    (finding,) = [finding for _, finding in run([made_by("p", sloppy)]).findings]
    assert finding.code == "stage.failed" and "p.sloppy gives frame a without column x" in finding.message


@pytest.mark.parametrize(
    ("result", "word"),
    [
        (None, "NoneType"),
        ("frame", "str"),
        ((rows(1.0), ["told"]), "str among its findings"),
        ((rows(1.0), [Finding("a.b", "note", "m", facts=(99,))]), "99"),
        ((rows(1.0), [Finding("a.b", "note", "m", facts=("one",))]), "one"),  # type: ignore[arg-type]
    ],
)
def test_results_that_are_none(result: Any, word: str) -> None:
    """None, a text, a finding that is none or one that rests on facts nobody knows: a finding in words."""

    @stage(gives=A)
    def odd(sheet: pd.DataFrame) -> Any:
        return result

    outcome = run([made_by("p", odd)])
    assert [finding.code for _, finding in outcome.findings] == ["stage.failed"]
    assert word in outcome.findings[0][1].message


def test_the_findings_of_a_stage_that_broke_its_promise_are_not_kept() -> None:
    """A result counts whole or not at all."""

    @stage(gives=A)
    def half(sheet: pd.DataFrame) -> Any:
        return sheet.drop(columns="x"), [Finding("a.half", "note", "half done")]

    assert [finding.code for _, finding in run([made_by("p", half)]).findings] == ["stage.failed"]


def test_site_is_the_settings() -> None:
    """The reserved parameter site gives settings by their path."""

    @stage(gives=A)
    def reads(sheet: pd.DataFrame, site: Any) -> pd.DataFrame:
        return sheet.assign(x=site["limits.columns"])

    assert run([made_by("p", reads)], **{"limits.columns": 7}).frames["a"]["x"].tolist() == [7.0, 7.0]


def test_a_decorated_function_can_be_called_alone() -> None:
    """A stage is tried in a notebook like any function."""
    assert make_a(rows(1.0))["x"].tolist() == [2.0]
    assert (make_a.name, make_a.summary) == ("make_a", "Doubles.")
