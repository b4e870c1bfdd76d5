"""``pipeline.testing``: what a plugin's tests are given, and that it finds what is wrong."""

from __future__ import annotations

from datetime import date
from typing import Any

import pandas as pd
import pytest

from pipeline import Column, Finding, Frame, stage
from pipeline.contract.frames import BrokenPromise

pytest_plugins = ["pipeline.testing"]
BIG = Frame("big", ("cask",), (Column("cask", "text"), Column("capacity_L", "float", "L")))
CASKS = {"cask": "C-1", "as_of": "2026-03-02", "capacity_L": 200.0}


@stage(gives=BIG)
def big_casks(casks: pd.DataFrame, site: Any) -> Any:
    """Casks of more than a number of litres."""
    held = casks[casks["capacity_L"] > site["plugins.proposals.least_draw_L"]]
    told = [
        Finding("cask.big", "note", f"Cask {row.cask} is big.", row.cask, facts=row.facts) for row in held.itertuples()
    ]
    return BIG.build({"cask": held["cask"], "capacity_L": held["capacity_L"]}, held["facts"]), told


def test_frames_are_typed_and_rest_on_facts(frames: Any) -> None:
    """As a stage gets them: columns and types as declared, blanks missing, each row with a fact of its own."""
    casks = frames("casks", CASKS, {"cask": "C-2", "facts": (7, 9)}, {"cask": "C-3"})
    assert casks["as_of"].iloc[0] == pd.Timestamp("2026-03-02") and casks["capacity_L"].isna().tolist() == [
        False,
        True,
        True,
    ]
    assert casks["facts"].tolist() == [(1,), (7, 9), (10,)]
    assert frames("components", {"batch": "B-1"})["facts"].tolist() == [(11,)]
    with pytest.raises(BrokenPromise, match="declares no column vessl"):
        frames("readings", {"vessl": "C-1"})


def test_settings_by_default_and_changed(site: Any) -> None:
    changed = site.having({"house": "Ours"}).on(date(2026, 3, 2))
    assert (changed["house"], changed.book_date) == ("Ours", date(2026, 3, 2)) and site["house"] != "Ours"
    with pytest.raises(KeyError, match="no plugin declares the setting hose; did you mean house"):
        site.having({"hose": "Ours"})


def test_a_stage_is_called_and_held_to_what_it_declares(run_stage: Any, frames: Any, assert_provenance: Any) -> None:
    casks = frames("casks", CASKS, {"cask": "C-2", "capacity_L": 0.0})
    made, told = run_stage(big_casks, casks=casks)
    assert made["cask"].tolist() == ["C-1"] and [found.subject for found in told] == ["C-1"]
    assert_provenance(made, casks)
    with pytest.raises(AssertionError, match="row 0 rests on \\[1\\], which no input has"):
        assert_provenance(made, frames("casks", {"cask": "C-1"}))
    with pytest.raises(AssertionError, match="row 0 rests on nothing"):
        assert_provenance(BIG.build({"cask": ["C-1"]}, [()]))
    with pytest.raises(AssertionError, match="big_casks does not take readings"):
        run_stage(big_casks, readings=casks)
    assert run_stage(big_casks)[0].empty and run_stage("proofs")[0].empty


def test_a_stage_that_remembers_is_found(run_stage: Any, frames: Any) -> None:
    """One that gives something else when it is called again is not pure."""
    calls: list[int] = []

    @stage(gives=BIG)
    def remembers(casks: pd.DataFrame) -> Any:
        calls.append(1)
        return BIG.build({"cask": casks["cask"], "capacity_L": [float(len(calls))] * len(casks)}, casks["facts"])

    with pytest.raises(AssertionError, match="remembers gives something else when it is called again"):
        run_stage(remembers, casks=frames("casks", CASKS))


def test_a_small_house_is_run(house: Any, workbook: Any) -> None:
    """Files as they are dropped, a text and a workbook: frames, findings and files of it."""
    rows = [["Cask", "Filled", "Spirit", "Capacity (L)", "As of"], ["C-9", "2020-03-01", "Malt", 200, "2026-01-05"]]
    text = "Cask No.,Date,Observed Proof,Temp (°F)\nC-9,2026-03-02,124.6,68\nC-8,2026-03-02,strong,68\n"
    made = house({"lab.csv": text, "casks.xlsx": workbook({"Stock": rows})})
    assert {fate.name: fate.outcome for fate in made.result.fates} == {"lab.csv": "taken", "casks.xlsx": "taken"}
    assert made.frames["readings"]["vessel"].tolist() == ["C-9"] and made.frames["casks"]["capacity_L"].tolist() == [
        200.0
    ]
    assert [found.place.cell for found in made.findings("sheet.unusable-row")] == ["C3"]
    assert b"<html" in made.file("index.html")
