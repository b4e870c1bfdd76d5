"""The fault budget: a cask with off notes is in no proposal or stand-in, unless the brief says yes; then it is told."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from pipeline.testing import site_with
from plugins.bench.cards.serving import codes
from plugins.proposals.taste.off_notes import budget_of, may_exceed
from tests.proposals.sheets import Cellar, brief, stock

FAULTY = "C-03"
NOTES = f'sample,taster,tasted_at,notes\n{FAULTY},Cy,2026-02-02,"lovely, then sulphur and rubber"\n'


def profiles(*rows: tuple[str, float, float]) -> pd.DataFrame:
    """Samples with the mean of their off notes and the strongest word of one taster."""
    columns = {"sample": [row[0] for row in rows], "mean": [row[1] for row in rows], "peak": [row[2] for row in rows]}
    return pd.DataFrame({**columns, "family": "off_notes", "stage": "all"})


@pytest.mark.parametrize(
    ("mean", "peak", "budget", "barred"),
    [(0.0, 0.0, 0.0, False), (0.9, 2.5, 0.0, False), (1.0, 2.5, 0.0, True), (0.8, 5.0, 0.0, True),
     (2.0, 5.0, 2.0, False), (3.1, 6.0, 2.0, True), (0.9, 7.0, 2.0, True)],
)  # fmt: skip
def test_what_may_exceed_a_budget(mean: float, peak: float, budget: float, barred: bool) -> None:
    casks = pd.Series(["C-1", "C-2"])
    assert may_exceed(profiles(("c-1", mean, peak)), casks, budget).tolist() == [barred, False]


def test_the_brief_goes_before_the_house() -> None:
    site = site_with({"plugins.proposals.fault_budget": 1.5})
    assert budget_of({"faults": None, "fault_budget": np.nan}, site) == 1.5
    assert budget_of({"faults": False, "fault_budget": 0.5}, site) == 0.5
    assert budget_of({"faults": True, "fault_budget": 0.5}, site) is None


def proposed(folder: Path, **given: Any) -> dict[str, Any]:
    cellar = Cellar(folder)
    cellar.run(**stock(noses=NOTES.encode(), brief=brief(**given)))
    document: dict[str, Any] = json.loads((cellar.out / "proposals" / "B-1" / "proposals.json").read_text("utf-8"))
    document["page"] = (cellar.out / "proposals" / "B-1" / "proposals.html").read_text("utf-8")
    return document


@pytest.mark.long
def test_a_faulty_cask_is_in_no_proposal_and_no_stand_in(tmp_path: Path) -> None:
    made = proposed(tmp_path)
    drawn = {part["component"] for item in made["proposals"] for part in item["components"]}
    instead = {row["with"] for item in made["proposals"] for rows in item["swaps"].values() for row in rows}
    assert drawn and FAULTY not in drawn | instead
    assert [row["reason"] for row in made["left_out"] if row["component"] == FAULTY] == ["does not answer: no faults"]
    assert "no faults" in [row["demand"] for row in made["brief"]["demands"]]


@pytest.mark.long
def test_where_the_brief_says_yes_it_is_told_first(tmp_path: Path) -> None:
    """All ten casks are needed, so that the faulty one is drawn, and every proposal with it says so."""
    made = proposed(tmp_path, faults="yes", volume="2600 L", max_casks="10", whole_casks="yes")
    with_it = [item for item in made["proposals"] if FAULTY in {part["component"] for part in item["components"]}]
    assert with_it and all(item["faults"][0]["component"] == FAULTY for item in with_it)
    assert all(item["faults"][0]["off_notes"] >= 4.0 for item in with_it)
    assert f"off notes in {FAULTY}" in made["page"]


def test_codes_are_no_names_of_the_stock() -> None:
    """The same codes as ever where none is a name; else another in its place, no two alike."""
    plain = codes("F-1", 9)
    made = codes("F-1", 9, taken=frozenset(plain[:3]))
    assert made[:6] == plain[3:] and not set(made) & set(plain[:3]) and len(set(made)) == 9
    with pytest.raises(ValueError, match="are left"):
        codes("F-1", 9, taken=frozenset(map(str, range(100, 995))))
