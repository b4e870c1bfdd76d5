"""Every built-in stage that is ``per`` something keeps that: on the demo each batch or row comes out the same to the
bit, however its frames are cut and however their rows lie."""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np
import pandas as pd
import pytest

from pipeline import Finding
from pipeline.contract.frames import FACTS
from pipeline.contract.stages import Stage
from pipeline.site.house import build_house
from pipeline.site.source import site_text
from pipeline.testing import call_stage, split_differs
from tests.made_once import INBOX, demo

HOUSE = build_house(site_text(INBOX), INBOX)
STAGES = [stage for stage in HOUSE.graph.order if stage.per]
IN_ORDER_OF_LINES = ("balance_batches", "compare_with_gauge", "account_for_losses", "reconcile_batches")
Frames = dict[str, pd.DataFrame]
each_stage = pytest.mark.parametrize("stage", STAGES, ids=[f"{stage.plugin}.{stage.name}" for stage in STAGES])


@pytest.fixture(scope="module")
def frames() -> Frames:
    return dict(demo()[1].worked.frames)


@pytest.fixture(scope="module")
def site() -> Any:
    day = demo()[1].book_date
    return HOUSE.site.on(date.fromisoformat(day) if day else None)


def given(stage: Stage, frames: Frames) -> Frames:
    return {need.name: frames[need.name] for need in stage.needs if need.name in frames}


def told(findings: list[Finding]) -> list[str]:
    """Findings in any order, each resting on facts in any order."""
    return sorted(repr((finding, sorted(finding.facts))).replace(repr(finding.facts), "") for finding in findings)


def shuffled(table: pd.DataFrame, random: np.random.Generator, within: bool) -> pd.DataFrame:
    """Rows in any order; unless ``within``, the rows of one batch stay in theirs between those of the others."""
    order = random.permutation(len(table))
    if not within and "batch" in table:
        batch = pd.factorize(table["batch"])[0]
        places = np.argsort(batch[order], kind="stable")
        order[places] = np.argsort(batch, kind="stable")
    return table.iloc[order].reset_index(drop=True)


def lying(table: pd.DataFrame, stage: Stage) -> pd.DataFrame:
    """Rows in order of the key; what a row rests on in order of the facts."""
    assert stage.frame is not None
    facts = table[FACTS].map(lambda ids: tuple(sorted(ids)))
    return table.assign(**{FACTS: facts}).sort_values(list(stage.frame.key), ignore_index=True)


@pytest.mark.long
def test_the_demo_has_work_for_them(frames: Frames) -> None:
    """More than one batch or row for each of them, of stages of several plugins. One batch alone is filtered there:

    tests/blending/test_losses.py holds ``filter_gauges`` to it with three.
    """
    assert len({stage.plugin for stage in STAGES}) >= 3
    for stage in STAGES:
        assert len(frames[stage.gives]) > (stage.gives != "filter_gauges"), stage.gives


@pytest.mark.long
@each_stage
def test_a_stage_gives_the_same_bits_when_its_subjects_come_apart(stage: Stage, frames: Frames, site: Any) -> None:
    """Whole, in two halves and one by one."""
    assert split_differs(stage, given(stage, frames), site) == []


@pytest.mark.long
@each_stage
def test_a_stage_gives_the_same_bits_when_rows_lie_otherwise(stage: Stage, frames: Frames, site: Any) -> None:
    """All frames shuffled; where a batch's lines are added up in their order, that order is kept."""
    random, within = np.random.default_rng(7), stage.name not in IN_ORDER_OF_LINES
    otherwise = {name: shuffled(table, random, within) for name, table in given(stage, frames).items()}
    table, findings = call_stage(stage, given(stage, frames), site)
    again, found = call_stage(stage, otherwise, site)
    pd.testing.assert_frame_equal(lying(table, stage), lying(again, stage), check_exact=True)
    assert told(findings) == told(found)
