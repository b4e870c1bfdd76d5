"""What a card takes of each sample against the shelf, and a card that cannot be made."""

from __future__ import annotations

import json

import pandas as pd

from plugins.bench.cards.needs import find_needs
from plugins.bench.declared.frames import CARDS
from plugins.tasting.declared.kinds import SAMPLES


def shelf(*rows: tuple[str, str, float, str | None]) -> pd.DataFrame:
    columns = {
        "sample": [row[0] for row in rows], "source": [row[1] for row in rows],
        "volume_L": [row[2] for row in rows], "fate": [row[3] for row in rows],
    }  # fmt: skip
    return SAMPLES.frame().build(columns, [(10 + at,) for at in range(len(rows))])


def cards(**document: object) -> pd.DataFrame:
    return CARDS.build({"batch": ["B-1"], "issue": [1], "document": [json.dumps(document)]}, [(1,)])


NEEDED = [{"component": "C-1", "ml": 120.0}, {"component": "C-2", "ml": 40.0}, {"component": "C-3", "ml": 9.0}]


def test_bottles_on_the_shelf_are_added_up() -> None:
    """Two bottles of one cask count together, one that is gone does not, and a cask without bottles is no finding."""
    samples = shelf(("S-1", "c-1", 0.05, None), ("S-2", "C-1", 0.05, None), ("S-3", "C-1", 0.2, "destroyed"),
                    ("S-4", "C-2", 0.2, None))  # fmt: skip
    made, findings = find_needs(cards(trials=[1], needed=NEEDED), samples)
    assert made["needed_ml"].tolist() == [120.0, 40.0, 9.0]
    assert made["on_shelf_ml"].round(6).tolist()[:2] == [100.0, 200.0] and pd.isna(made["on_shelf_ml"][2])
    assert [finding.code for finding in findings] == ["bench.sample-too-little"]
    assert "C-1 120 ml of 100" in findings[0].message and "C-2" not in findings[0].message
    assert set(findings[0].facts) == {1, 10, 11}


def test_a_card_that_could_not_be_made_is_a_finding() -> None:
    """It says why and what to do, and there are no needs."""
    made, findings = find_needs(cards(trials=[], cannot="The strength of C-9 is not known."), shelf())
    assert len(made) == 0 and [finding.code for finding in findings] == ["bench.card-not-made"]
    assert "C-9" in findings[0].message and "vatting card B-1" in findings[0].remedy
