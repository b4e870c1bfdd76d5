"""Before pouring: which components a claim allows and which bounds the claims set."""

from __future__ import annotations

import pandas as pd

from plugins.label_age import stages
from tests.label_age.kit import Room, brief, cask, line


def eligible(room: Room, claim: str) -> dict[str, tuple[str, str | None]]:
    made = room.planned(stages.find_eligible)
    chosen = made[made["claim"] == claim]
    groups = chosen["group"].astype(object).where(chosen["group"].notna(), None)
    return {
        name: (verdict, group)
        for name, verdict, group in zip(chosen["component"], chosen["verdict"], groups, strict=True)
    }


def test_stock_is_judged_for_an_undrawn_brief() -> None:
    """With nothing drawn every cask in stock is judged as if drawn on the day due."""
    stock = [cask("C-1", filled_on="2024-03-15"), cask("C-2", filled_on="2024-03-16"), cask("C-3", entry_proof=None)]
    room = Room(stock, [], [brief(claims="straight", due="2026-03-15")])
    assert {name: verdict for name, (verdict, _) in eligible(room, "straight").items()} == {
        "C-1": "met",
        "C-2": "not met",
        "C-3": "cannot tell",
    }


def test_the_book_date_stands_for_a_missing_due() -> None:
    """Without a due date the stock is judged on the book date."""
    room = Room(
        [cask("C-1", filled_on="2024-03-01"), cask("C-2", filled_on="2024-03-02")], [], [brief(claims="straight")]
    )
    assert {name: verdict for name, (verdict, _) in eligible(room, "straight").items()} == {
        "C-1": "met",
        "C-2": "not met",
    }


def test_only_the_latest_filling_is_in_stock() -> None:
    """A refilled cask is judged by what is in it now."""
    stock = [cask("C-1", filled_on="2015-01-01", as_of="2020-01-01"), cask("C-1", filled_on="2025-01-01")]
    assert eligible(Room(stock, [], [brief(claims="straight")]), "straight")["C-1"][0] == "not met"


def test_groups_that_may_not_be_mixed() -> None:
    """Bottled in bond: a cask alone meets its part, and its season and distillery are its group."""
    stock = [cask("C-1"), cask("C-2", distilled_on="2020-11-01"), cask("C-3", distillery=None)]
    found = eligible(Room(stock, [], [brief(claims="bottled in bond")]), "bottled in bond")
    making = "type by its grain, still strength and wood whisky corn in charred new oak"
    assert found["C-1"] == ("met", f"{making}; distilling season spring 2021; distillery Alder Hollow")
    assert found["C-2"] == ("met", f"{making}; distilling season fall 2020; distillery Alder Hollow")
    assert found["C-3"][1] == f"{making}; distilling season spring 2021; distillery not known"


def test_a_drawn_batch_is_judged_by_its_components() -> None:
    """Once drawn, a batch's own components are judged, one row for a cask drawn twice."""
    lines = [line("C-1", line="1"), line("C-1", line="2"), line("C-2")]
    room = Room([cask("C-1"), cask("C-2", charred=False), cask("C-3")], lines, [brief(claims="straight")])
    assert {n: v for n, (v, _) in eligible(room, "straight").items()} == {"C-1": "met", "C-2": "not met"}


def bounds(room: Room) -> dict[tuple[str, str], tuple[float, float]]:
    made = room.planned(stages.find_limits)
    return {(row.claim, row.quantity): (row.low, row.high) for row in made.itertuples()}


def same(found: tuple[float, float], low: float | None, high: float | None) -> bool:
    return all(pd.isna(f) if w is None else f == w for f, w in zip(found, (low, high), strict=True))


def test_bounds_of_claims() -> None:
    """The bounds of strength, age and entry proof come out of the rules, through the rules they rest on."""
    found = bounds(Room([], [], [brief(claims="straight bourbon; bottled in bond", age_statement="51 months")]))
    assert same(found["minimum strength", "proof_60F"], 80.0, None)
    assert same(found["bottled in bond", "proof_60F"], 100.0, 100.0)
    assert same(found["bottled in bond", "age_months"], 48.0, None)
    assert same(found["straight bourbon", "age_months"], 24.0, None)
    assert same(found["straight bourbon", "entry_proof"], None, 125.0)
    assert same(found["age statement", "age_months"], 51.0, None)


def test_bounds_of_an_undrawn_brief_with_stock() -> None:
    """The bounds do not hang on what is in stock."""
    asked = brief(claims="bottled in bond", market="US, UK")
    assert bounds(Room([cask()], [], [asked])).keys() == bounds(Room([], [], [asked])).keys()


def test_shares_of_a_claim_and_who_counts() -> None:
    """A blend's least share of straight whisky, and that something else is in it, are said with who counts."""
    young = cask("C-2", filled_on="2025-10-01", distilled_on="2025-09-01")
    room = Room([cask("C-1"), young], [], [brief(claims="blended whisky", due="2026-03-15")])
    made = room.planned(stages.find_shares)
    straight = made[made["low"] == 20.0].set_index("component")
    assert straight["verdict"].to_dict() == {"C-1": "met", "C-2": "not met"}
    assert set(straight["by"]) == {"proof_gallons"} and not straight["beyond"].any()
    other = made[(made["by"] == "lpa") & (made["low"] == 0.0)].set_index("component")
    assert other["verdict"].to_dict() == {"C-1": "not met", "C-2": "met"} and other["beyond"].all()


def test_who_answers_already_says_since_when() -> None:
    """A cask that is old enough on the day due says from which day it was; each of several rules counts."""
    stock = [cask("C-1", filled_on="2020-03-04", distilled_on="2020-03-01")]
    room = Room(stock, [], [brief(claims="straight", age_statement="4 years", due="2026-03-15")])
    made = room.planned(stages.find_eligible).set_index("claim")
    assert made.loc["straight", "met_from"] == pd.Timestamp("2022-03-04")
    assert made.loc["age statement", "met_from"] == pd.Timestamp("2024-03-04")
