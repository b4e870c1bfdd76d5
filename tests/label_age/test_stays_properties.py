"""What must hold of any book of movements: no endless search, no age beyond the calendar, no weight of row order."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from plugins.label_age import stages
from plugins.label_age.facts.ageing import keys_of
from plugins.label_age.facts.ages import whole_ages
from tests.label_age.kit import Room, brief, cask, line
from tests.sets import search

NAMES = ("C-1", "C-2", "C-3", "T-1", "T-2", "VAT-1")
REASONS = ("recask", "finish", "top up", "marry", "tank hold", "sample", "return", "fill", "ship")
FIRST, DRAWN = date(2015, 1, 1), date(2026, 2, 10)
MOVES = st.lists(
    st.fixed_dictionaries(
        {
            "moved_at": st.dates(FIRST, date(2026, 6, 1)).map(str),
            "from": st.sampled_from((*NAMES, "still")),
            "to": st.sampled_from((*NAMES, "lab")),
            "reason": st.sampled_from(REASONS),
            "volume_L": st.sampled_from([None, 5.0, 190.0]),
        }
    ),
    max_size=8,
)
FILLED = st.lists(st.dates(FIRST, DRAWN).map(str), min_size=3, max_size=3)
QUICK = search(40)


def moved(day: str, source: str, target: str, reason: str) -> dict[str, Any]:
    return {"moved_at": day, "from": source, "to": target, "reason": reason, "volume_L": None}


ROUND = [moved("2025-05-05", "C-1", "C-2", "top up"), moved("2025-05-05", "C-2", "C-1", "ship")]
INTO_ITSELF = [{"moved_at": "2025-06-01", "from": "T-1", "to": "T-1", "reason": "recask", "volume_L": None}]
ROUND_BY_TANKS = [
    moved("2025-05-05", "T-2", "C-2", "tank hold"),
    moved("2025-05-05", "T-1", "T-2", "top up"),
    moved("2025-05-05", "C-2", "T-1", "recask"),
]
THERE_AND_BACK = [moved("2020-05-05", "C-2", "C-1", "return"), moved("2020-05-05", "C-1", "C-2", "return")]


def house(moves: list[dict[str, Any]], filled: list[str]) -> Room:
    stock = [cask(f"C-{number}", filled_on=day, distilled_on=day) for number, day in enumerate(filled, start=1)]
    lines = [
        line("C-1"),
        line("T-1", kind="vessel"),
        line("C-2", batch="B-0", drawn_at="2025-05-05"),
        line("heel", batch="B-0", kind="heel", drawn_at="2025-05-05"),
    ]
    asked = [brief(market="EU", claims="whisky"), brief(batch="B-0", vessel="T-1", vessel_empty=True)]
    return Room(stock, lines, asked, movements=[{**move, "line": str(n)} for n, move in enumerate(moves)])


def shuffled(table: pd.DataFrame, seed: int) -> pd.DataFrame:
    return table.iloc[np.random.default_rng(seed).permutation(len(table))].reset_index(drop=True)


@pytest.mark.long
@QUICK
@given(MOVES, FILLED, st.integers(0, 99))
@example(ROUND, ["2025-05-05", "2018-03-01", "2018-03-01"], 0)
@example(ROUND_BY_TANKS, ["2025-05-05", "2018-03-01", "2026-02-10"], 0)
@example(THERE_AND_BACK, ["2018-03-01", "2020-05-05", "2026-02-10"], 0)
@example(INTO_ITSELF, ["2015-01-01"] * 3, 2)
def test_the_order_of_rows_is_no_matter(moves: list[dict[str, Any]], filled: list[str], seed: int) -> None:
    """Shuffled movements, casks and lines give the same ages and the same verdicts."""
    room = house(moves, filled)
    keys = ["batch", "component"]
    ages = room.component_ages.sort_values(keys, ignore_index=True).drop(columns="facts")
    labels = room.judged()[0].sort_values(["batch", "market", "claim"], ignore_index=True).drop(columns="facts")
    for name in ("movements", "casks", "components", "briefs"):
        setattr(room, name, shuffled(getattr(room, name), seed))
    again = room.component_ages.sort_values(keys, ignore_index=True).drop(columns="facts")
    pd.testing.assert_frame_equal(ages, again)
    relabelled = room.judged()[0].sort_values(["batch", "market", "claim"], ignore_index=True).drop(columns="facts")
    pd.testing.assert_frame_equal(labels, relabelled)


@QUICK
@given(MOVES, FILLED)
def test_no_age_goes_beyond_the_calendar(moves: list[dict[str, Any]], filled: list[str]) -> None:
    """No origin is older than the days from its filling to the draw, and no stay ends before it begins."""
    room = house(moves, filled)
    stays = room.stays
    known = stays[stays["since"].notna() & stays["doubt"].isna()]
    assert (known["since"] <= known["until"]).all()
    assert (known["until"] <= pd.Timestamp(DRAWN)).all()
    ages = stages.age_of_components(stays)
    span = (ages["counted_to"] - ages["counted_from"]).dt.days
    assert (ages["age_days"].dropna() <= span[ages["age_days"].notna()]).all()


@given(st.dates(FIRST, DRAWN), st.integers(0, 4000), st.integers(0, 4000))
def test_a_gap_never_adds_age(filled: date, span: int, gap: int) -> None:
    """With days left out the age is at most that of either way of counting, and less than without the gap."""
    total = max(0, span - gap)
    first = np.array([filled], dtype="datetime64[D]")
    last = np.array([filled + timedelta(days=span)], dtype="datetime64[D]")
    found = keys_of(np.array([float(total)]), first, last)[0]
    forward = whole_ages(first, first + np.timedelta64(total, "D"))["key"][0]
    back = whole_ages(last - np.timedelta64(total, "D"), last)["key"][0]
    assert found == min(forward, back) <= whole_ages(first, last)["key"][0]
