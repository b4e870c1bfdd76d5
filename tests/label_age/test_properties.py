"""What must hold of any batch: ages fall only to younger components, order of rows is no matter."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from plugins.label_age import stages
from tests.label_age.kit import Room, brief, cask, line, malt
from tests.sets import search

DRAWN = date(2026, 2, 10)
FILLED = st.dates(date(2005, 1, 1), DRAWN)
ORDER = {"not met": 0, "cannot tell": 1, "met": 2}
QUICK = search(25)


def age_of(filled: list[date]) -> float:
    casks = [cask(f"C-{number}", filled_on=str(day)) for number, day in enumerate(filled)]
    ages = stages.age_of_batches(Room(casks).component_ages)
    return float(ages["age_days"].iloc[0])


@QUICK
@given(st.lists(FILLED, min_size=1, max_size=5), FILLED)
def test_a_further_component(filled: list[date], more: date) -> None:
    """An older component never lowers the batch's age, a younger one never raises it, and sets it."""
    before, after = age_of(filled), age_of([*filled, more])
    if more <= max(filled):
        assert after == before
    else:
        assert after == (DRAWN - more).days <= before


CHANGES = st.fixed_dictionaries(
    {},
    optional={
        "filled_on": FILLED.map(str),
        "distilled_on": st.sampled_from(["2021-02-01", "2021-08-01", None]),
        "distillery": st.sampled_from(["Alder Hollow", "Stony Ford", None]),
        "state": st.sampled_from(["Northmark", "Southmark", None]),
        "country": st.sampled_from(["US", "Scotland", "UK", None]),
        "grain": st.sampled_from(["corn 70, rye 20", "malted barley 100", "corn 85, rye 15", "malt", None]),
        "entry_proof": st.sampled_from([125.0, 125.1, 110.0, None]),
        "distilled_proof": st.sampled_from([140.0, 160.1, 190.0, None]),
        "new_oak": st.sampled_from([True, False, None]),
        "charred": st.sampled_from([True, False, None]),
        "species": st.sampled_from(["oak", "chestnut", "who knows", None]),
        "capacity_L": st.sampled_from([200.0, 701.0, None]),
    },
)
CLAIMS = "straight; bottled in bond; straight bourbon; bourbon; single malt; whisky; corn whisky; scotch"
ASKED = {"market": "US, EU, UK", "claims": CLAIMS, "bottling_abv": 50.0, "bottle_size_L": 0.7}


def shuffled(table: pd.DataFrame, seed: int) -> pd.DataFrame:
    return table.iloc[np.random.default_rng(seed).permutation(len(table))].reset_index(drop=True)


@pytest.mark.long
@QUICK
@given(st.lists(CHANGES, min_size=2, max_size=4), st.integers(0, 99), st.sampled_from([None, "4 years", "40 months"]))
def test_no_verdict_depends_on_the_order_of_rows(changes: list[dict[str, Any]], seed: int, age: str | None) -> None:
    """Shuffled sheets give the same verdicts with the same reasons."""
    base = cask if seed % 2 else malt
    stock = [base(f"C-{number}", **change) for number, change in enumerate(changes)]
    lines = [*(line(row["cask"]) for row in stock), line("water", kind="water")]
    room = Room(stock, lines, [brief(**ASKED, age_statement=age), brief(batch="B-2", market="US")])
    first = room.judged()[0].drop(columns="facts")
    for name in ("casks", "components", "briefs", "balances"):
        setattr(room, name, shuffled(getattr(room, name), seed))
    second = room.judged()[0].drop(columns="facts")
    keys = ["batch", "market", "claim"]
    pd.testing.assert_frame_equal(
        first.sort_values(keys, ignore_index=True), second.sort_values(keys, ignore_index=True)
    )


@pytest.mark.long
@QUICK
@given(st.lists(CHANGES, min_size=1, max_size=3), CHANGES)
def test_a_further_component_never_makes_a_claim_hold(changes: list[dict[str, Any]], more: dict[str, Any]) -> None:
    """Adding a component can only worsen what is asked of every component: minimum age and stated age.

    But in the US: neutral spirits have no age to state, alone; beside whisky they are left aside (27 CFR 5.74).
    """
    asked = brief(market="US, EU", age_statement="3 years", bottling_abv=50.0)
    few = [cask(f"C-{number}", **change) for number, change in enumerate(changes)]
    before = Room(few, briefs=[asked]).verdicts()
    after = Room([*few, cask("C-9", **more)], briefs=[asked]).verdicts()
    neutral = any((change.get("distilled_proof") or 0) >= 190 for change in changes)
    for key in (("EU", "minimum age"), ("EU", "age statement"), *([] if neutral else [("US", "age statement")])):
        assert ORDER[after[key]] <= ORDER[before[key]]


MAY_BE_BLANK = (
    "grain entry_proof distilled_proof new_oak charred species filled_on distillery state country distilled_on "
    "capacity_L wood_use spirit"
)
BLANKS = st.sets(st.sampled_from(MAY_BE_BLANK.split()))


@pytest.mark.long
@QUICK
@given(CHANGES, BLANKS)
@example({"filled_on": "2023-01-01", "distilled_proof": 190.0}, {"distilled_proof"})
@example({"spirit": "rye"}, {"spirit"})
def test_less_known_is_never_met(change: dict[str, Any], blanks: set[str]) -> None:
    """Blanking cells of one of two casks makes no verdict met that was not: it can only leave it, or take it away.

    What is known to be neutral spirits is left aside as having no age; what is no longer known to be is whisky that
    is too young, so that met may become not met. The other way about never.
    """
    full = {"wood_use": None, **change}
    known = Room([cask("C-1", **full), cask("C-2")], briefs=[brief(**ASKED)]).verdicts()
    less = Room([cask("C-1", **(full | dict.fromkeys(blanks))), cask("C-2")], briefs=[brief(**ASKED)]).verdicts()
    for key, verdict in less.items():
        assert verdict != "met" or known.get(key) == "met", key


def test_neutral_spirit_is_left_aside_only_where_it_is_known_to_be_one() -> None:
    """Young spirit distilled at 190 proof needs no age statement; of an unknown proof it is taken for whisky."""
    young = cask(filled_on="2023-01-01", distilled_proof=190.0)
    asked = brief(**ASKED | {"claims": "straight bourbon"})  # bottled in bond need state no age
    assert Room([young], briefs=[asked]).verdicts()["US", "age statement"] == "met"
    unknown = Room([{**young, "distilled_proof": None}], briefs=[asked])
    assert unknown.verdicts()["US", "age statement"] == "not met"


@pytest.mark.long
@QUICK
@given(FILLED, st.integers(1, 240))
def test_an_age_is_never_overstated(filled: date, months: int) -> None:
    """A stated age is met exactly when its last anniversary has been reached; one month more than the age never is."""
    stock = [cask(filled_on=str(filled), distilled_on=str(filled))]
    room = Room(stock, briefs=[brief(market="EU", age_statement=f"{months} months")])
    row = stages.age_of_batches(room.component_ages).iloc[0]
    reached = row["years"] * 12 + row["months"]
    assert room.verdict("age statement", "EU") == ("met" if months <= reached else "not met")
    assert timedelta(days=row["age_days"]) == DRAWN - filled
