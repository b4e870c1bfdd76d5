"""What a batch may be called, what it nearly may, what the label states, and from which day a claim is met."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pandas as pd
import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from plugins.label_age import stages
from tests.label_age.kit import Room, brief, cask, line


def named(room: Room, stage: Any = stages.find_designations) -> pd.DataFrame:
    needs = {need.name: getattr(room, need.name) for need in stage.needs if hasattr(room, need.name)}
    return stage.frame.check(stage(**needs), stage.name, room.facts())


def test_all_that_holds_is_listed() -> None:
    """A batch of bourbon of four years may be called all that it is, whatever the brief claims."""
    made = named(Room([cask(filled_on="2021-02-03")], briefs=[brief(claims="whisky")]))
    met = set(made.loc[made["verdict"] == "met", "claim"])
    assert {"bourbon", "straight", "straight bourbon", "bottled in bond", "whisky"} <= met
    assert "rye whisky" not in met


def test_what_stops_a_claim_is_named() -> None:
    """Five casks answer for straight, one does not: the claim nearly holds, and the cask is named with its day."""
    stock = [cask(f"C-{n}") for n in range(5)] + [cask("C-9", filled_on="2024-03-01", distilled_on="2024-02-01")]
    made = named(Room(stock)).set_index("claim")
    row = made.loc["straight"]
    assert (row["verdict"], row["stopped_by"], row["components"], row["stops"]) == ("not met", 1, 6, "cask C-9")
    assert row["met_from"] == pd.Timestamp("2026-03-01")
    assert "rye whisky" not in made.index


@pytest.mark.long
def test_undrawn_briefs_show_what_the_stock_allows() -> None:
    """With nothing drawn each claim that some cask allows is listed with how many do not."""
    stock = [cask("C-1"), cask("C-2", filled_on="2025-06-01", distilled_on="2025-05-01")]
    made = named(Room(stock, [], [brief(claims="straight", due="2026-03-15")])).set_index("claim")
    assert made.loc["straight", ["components", "stopped_by"]].tolist() == [2, 1]
    assert pd.isna(made.loc["straight", "verdict"])
    assert "rye whisky" not in made.index


def test_eligible_casks_say_from_when() -> None:
    """A cask too young for a claim says from which day it would answer."""
    stock = [cask("C-1", filled_on="2023-03-04", distilled_on="2023-03-01")]
    room = Room(stock, [], [brief(claims="bottled in bond", due="2026-03-15")])
    made = room.planned(stages.find_eligible)
    row = made[made["claim"] == "bottled in bond"].iloc[0]
    assert (row["verdict"], row["met_from"]) == ("not met", pd.Timestamp("2027-03-04"))


def test_a_label_says_from_when() -> None:
    """Too young a batch says from which draw on the claim would be met; what no time mends says nothing."""
    room = Room(
        [cask(filled_on="2024-03-04", distilled_on="2024-03-01")], briefs=[brief(claims="straight; rye whisky")]
    )
    assert room.row("straight")["met_from"] == pd.Timestamp("2026-03-04")
    assert "Drawn on or after 2026-03-04, it would be met." in room.row("straight")["reason"]
    assert pd.isna(room.row("rye whisky")["met_from"])


@given(st.dates(date(2015, 1, 1), date(2025, 12, 31)), st.integers(1, 30))
def test_the_first_day_is_the_first(filled: date, years: int) -> None:
    """On the first day the age is reached and on the day before it is not, by an independent calendar."""
    import numpy as np

    from plugins.label_age.facts.ages import anniversary

    found = anniversary(np.array([filled], dtype="datetime64[D]"), np.array([years * 12.0]))[0].item()
    expected = filled + relativedelta(years=years)
    assert found == (expected if expected.day == filled.day else expected + timedelta(days=1))


def stated(room: Room) -> dict[str, str]:
    made = named(room, stages.find_statements)
    return {row.statement: row.says for row in made.itertuples() if row.applies == "met"}


def test_percentages_beside_neutral_spirits() -> None:
    """A blend of 30 percent young straight whisky with neutral spirits states both percentages."""
    young = {"filled_on": "2023-02-01", "distilled_on": "2023-01-20"}
    neutral = {"distilled_proof": 190.0, "grain": "corn 100", "new_oak": False, "wood_use": "refill"}
    stock = [cask("C-1", **young), cask("N-1", **neutral)]
    lines = [line("C-1", proof_gallons=30.0, volume_60F_gal=30.0), line("N-1", proof_gallons=70.0, volume_60F_gal=70.0)]
    said = stated(Room(stock, lines, [brief(claims="blended whisky")]))
    text = said["age and percentage of whiskies in a blend with neutral spirits"]
    assert "“30 percent straight whisky”" in text and "“70 percent neutral spirits”" in text


def test_storage_in_reused_cooperage() -> None:
    """Whisky of the United States from reused oak states its age as storage in reused cooperage."""
    said = stated(Room([cask(new_oak=False, wood_use="refill")], briefs=[brief(age_statement="4 years")]))
    assert "5 years in reused cooperage" in said["storage in reused cooperage"]


def test_nothing_is_stated_that_does_not_apply() -> None:
    """Bourbon from charred new oak states neither neutral spirits nor reused cooperage."""
    said = stated(Room([cask()]))
    assert "storage in reused cooperage" not in said and not any("neutral" in name for name in said)
    assert said["State of distillation"].endswith("“Distilled in Northmark”.")


def test_grounds_lead_from_claim_to_cask() -> None:
    """Each demand of a claim has its section, its verdict and the cask that it hangs on, with the cask's own row."""
    stock = [cask("C-1"), cask("C-2", filled_on="2024-03-04", distilled_on="2024-03-01")]
    room = Room(stock, briefs=[brief(claims="bottled in bond")])
    made = named(room, stages.find_grounds)
    rows = made[made["claim"] == "bottled in bond"].set_index("says")
    wood = rows.loc["all of it lay at least 4 years in wood"]
    assert (wood["section"], wood["holds"], wood["subject"]) == ("27 CFR 5.88(a)(3)", "not met", "cask C-2")
    assert wood["facts"] == (1001,)
    assert rows.loc["it has 100 proof", "holds"] == "met"


def test_grounds_say_what_is_missing_first_and_which_law_was_read() -> None:
    """A missing fact has its column and how many casks it costs; the demands of another rule stand under that it be
    met; then follow the text that was read, with its day, and of what is met the figures."""
    stock = [cask(f"C-{n}", distilled_proof=None if n < 5 else 140.0) for n in range(8)]
    made = named(Room(stock, briefs=[brief(claims="straight bourbon")]), stages.find_grounds)
    open_ = made[made["claim"] == "straight bourbon"].reset_index(drop=True)
    first = open_.iloc[0]
    assert first[["part", "says", "lacking"]].tolist() == ["missing", "proof of distillation of 5 casks", 5]
    assert first["looked_at"] == "column distilled_proof of the inventory"
    demands = open_[open_["part"] == "demand"]
    assert set(demands["under"].dropna()) <= set(demands["says"]) and demands["under"].isna().any()
    assert (open_.loc[open_["part"] == "law", "read_on"] == pd.Timestamp("2026-11-30")).all()
    assert set(open_["part"]) >= {"missing", "demand", "given", "law", "unverified", "assumed"}
    met = made[made["claim"] == "minimum strength"]
    assert met.loc[met["part"] == "figure", "says"].str.startswith("the vat as gauged: 100").any()
