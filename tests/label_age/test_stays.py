"""Ages through movements: recasking, finishing, tanks, gaps, topping, heels, remainders, batches of batches."""

from __future__ import annotations

from datetime import date
from typing import Any

import pandas as pd
import pytest
from dateutil.relativedelta import relativedelta

from plugins.label_age import stages
from tests.label_age.kit import Room, brief, cask, line

USED = {"new_oak": False, "wood_use": "refill"}


def moved(day: str, source: str, target: str, reason: str, **more: Any) -> dict[str, Any]:
    return {"moved_at": day, "from": source, "to": target, "reason": reason, **more}


def age(room: Room, batch: str = "B-1") -> tuple[int, int, int] | None:
    ages = stages.age_of_batches(room.component_ages).set_index("batch")
    row = ages.loc[batch]
    return None if pd.isna(row["years"]) else (int(row["years"]), int(row["months"]), int(row["days"]))


def between(start: str, end: str) -> tuple[int, int, int]:
    """An age by an independent calendar."""
    apart = relativedelta(date.fromisoformat(end), date.fromisoformat(start))
    return apart.years, apart.months, apart.days


def path(room: Room, component: str = "C-1") -> list[tuple[str, str, str]]:
    found = room.stays[room.stays["component"] == component]
    return [
        (c, str(s.date()), str(u.date())) for c, s, u in zip(found["cask"], found["since"], found["until"], strict=True)
    ]


def test_a_recask_goes_on_with_the_age() -> None:
    """Racked from C-1 into C-9 on one day: the age counts from the first filling, and both stays are told."""
    stock = [cask("C-1", filled_on="2018-03-01"), cask("C-9", filled_on="2022-05-02", **USED)]
    room = Room(stock, [line("C-9", filled_on="2022-05-02")], movements=[moved("2022-05-02", "C-1", "C-9", "recask")])
    assert age(room) == between("2018-03-01", "2026-02-10")
    assert path(room, "C-9") == [("C-1", "2018-03-01", "2022-05-02"), ("C-9", "2022-05-02", "2026-02-10")]


def test_a_carried_over_date_is_the_same_spirit() -> None:
    """An inventory that keeps the first filling date on the new cask does not make a second spirit of it."""
    stock = [cask("C-1", filled_on="2018-03-01"), cask("C-9", filled_on="2018-03-01", **USED)]
    room = Room(stock, [line("C-9", filled_on="2018-03-01")], movements=[moved("2022-05-02", "C-1", "C-9", "recask")])
    assert [cask for cask, _, _ in path(room, "C-9")] == ["C-1", "C-9"]
    assert age(room) == between("2018-03-01", "2026-02-10")


def test_time_in_a_tank_does_not_count() -> None:
    """Out of C-1 into a tank for a year, then into C-9: the year is left out of the age."""
    stock = [cask("C-1", filled_on="2018-03-01"), cask("C-9", filled_on="2023-05-02")]
    moves = [moved("2022-05-02", "C-1", "T-1", "tank hold"), moved("2023-05-02", "T-1", "C-9", "recask")]
    asked = [brief(), brief(batch="B-0", vessel="T-1", vessel_empty=True)]
    lines = [line("C-9", filled_on="2023-05-02"), line("C-1", batch="B-0", drawn_at="2022-05-01")]
    room = Room(stock, lines, asked, movements=moves)
    days = (date(2022, 5, 2) - date(2018, 3, 1)).days + (date(2026, 2, 10) - date(2023, 5, 2)).days
    ages = room.component_ages.set_index("batch")
    assert ages.loc["B-1", "age_days"] in (days, days - 1)  # B-0 took some of it a day before
    assert age(room) is not None and age(room) <= between("2019-03-01", "2026-02-10")


def test_a_vessel_is_as_old_as_what_went_into_it() -> None:
    """A batch drawn from a vat that was empty: its spirit has the age it had when it left wood."""
    stock = [cask("C-1", filled_on="2018-03-01"), cask("C-2", filled_on="2019-04-01")]
    lines = [
        line("C-1", batch="B-0", drawn_at="2024-06-01"), line("C-2", batch="B-0", drawn_at="2024-06-03"),
        {"batch": "B-1", "component": "VAT-9", "kind": "vessel", "drawn_at": "2026-02-10"},
    ]  # fmt: skip
    briefs = [brief(batch="B-0", vessel="VAT-9", vessel_empty=True), brief()]
    assert age(Room(stock, lines, briefs)) == between("2019-04-01", "2024-06-03")


def test_a_vessel_never_said_to_be_empty_has_no_age() -> None:
    """Without a word that the vat was empty, what lay in it before is not known, and the reason asks for it."""
    lines = [
        line("C-1", batch="B-0", drawn_at="2024-06-01"),
        {"batch": "B-1", "component": "VAT-9", "kind": "vessel", "drawn_at": "2026-02-10"},
    ]
    room = Room([cask("C-1")], lines, [brief(batch="B-0", vessel="VAT-9"), brief(claims="straight", market="EU")])
    assert age(room) is None
    assert "vessel_empty" in room.row("minimum age", "EU")["reason"]


def test_blends_of_blends_to_any_depth() -> None:
    """Ten batches, each holding the one before: the age of the last is that of the youngest cask of the first."""
    lines, briefs = (
        [line("C-1", batch="B-0", drawn_at="2020-01-01")],
        [brief(batch="B-0", vessel="V-0", vessel_empty=True)],
    )
    for number in range(1, 11):
        day = f"2020-{number:02d}-15"
        lines.append({"batch": f"B-{number}", "component": f"V-{number - 1}", "kind": "vessel", "drawn_at": day})
        lines.append(line("C-2", batch=f"B-{number}", drawn_at=day))
        briefs.append(brief(batch=f"B-{number}", vessel=f"V-{number}", vessel_empty=True))
    stock = [cask("C-1", filled_on="2016-05-01"), cask("C-2", filled_on="2010-01-01")]
    room = Room(stock, lines, briefs)
    assert age(room, "B-10") == between("2016-05-01", "2020-01-01")


def test_a_heel_is_what_the_last_batch_left() -> None:
    """The heel on the blend sheet is what the vat was given since it was last empty."""
    stock = [cask("C-1", filled_on="2015-03-01"), cask("C-2", filled_on="2019-04-01")]
    lines = [
        line("C-2", batch="B-0", drawn_at="2022-04-05"),
        {"batch": "B-1", "component": "heel", "kind": "heel", "drawn_at": "2026-02-10"}, line("C-1"),
    ]  # fmt: skip
    briefs = [brief(batch="B-0", vessel_empty=True), brief()]
    assert age(Room(stock, lines, briefs)) == between("2019-04-01", "2022-04-05")


def test_a_remainder_moved_on_after_bottling() -> None:
    """What a bottling left in another tank has the ages of its batch."""
    stock = [cask("C-1", filled_on="2015-03-01"), cask("C-2", filled_on="2019-04-01")]
    lines = [
        line("C-2", batch="B-0", drawn_at="2022-04-05"), line("C-1"),
        {"batch": "B-1", "component": "T-7", "kind": "vessel", "drawn_at": "2026-02-10"},
    ]  # fmt: skip
    left = [{"batch": "B-0", "bottled_on": "2022-05-01", "bottle_size_L": 0.7, "bottles": 10, "remainder_to": "T-7"}]
    briefs = [brief(batch="B-0", vessel_empty=True), brief(batch="B-9", vessel="T-7", vessel_empty=True), brief()]
    lines.append(line("C-1", batch="B-9", drawn_at="2022-05-01"))
    room = Room(stock, lines, briefs, bottlings=left)
    assert age(room) == between("2019-04-01", "2022-04-05")


def test_topping_up_brings_the_younger_spirit() -> None:
    """A cask topped up from a younger one is as old as the younger."""
    stock = [cask("C-1", filled_on="2015-03-01"), cask("C-2", filled_on="2019-04-01")]
    room = Room(stock, [line("C-1")], movements=[moved("2023-01-01", "C-2", "C-1", "top up", volume_L=10.0)])
    assert age(room) == between("2019-04-01", "2026-02-10")


def test_several_fillings_of_one_cask() -> None:
    """A movement into an earlier filling of the cask says nothing of the later one."""
    stock = [cask("C-1", filled_on="2010-03-01", as_of="2015-01-01"), cask("C-1", filled_on="2019-04-01"), cask("C-2")]
    room = Room(stock, [line("C-1", filled_on="2019-04-01")], movements=[moved("2012-01-01", "C-2", "C-1", "top up")])
    assert age(room) == between("2019-04-01", "2026-02-10")


def test_moved_before_it_was_drawn() -> None:
    """Emptied into a tank before the blend sheet draws from it: the earlier day counts, and a person must look."""
    room = Room([cask("C-1", filled_on="2019-04-01")], movements=[moved("2025-01-05", "C-1", "T-1", "tank hold")])
    made, findings = stages.follow_stays(room.components, room.casks, room.movements, room.briefs, room.bottlings)
    assert [finding.code for finding in findings] == ["label.moved-before-drawn"]
    assert findings[0].column == "drawn_at" and set(findings[0].facts) <= room.facts()
    assert age(room) == between("2019-04-01", "2025-01-05")


def test_sampling_and_leaking_end_nothing() -> None:
    """A sample, a leak and a spill leave the rest where it was."""
    moves = [moved("2025-01-05", "C-1", "lab", "sample"), moved("2025-02-05", "C-1", "floor", "leak")]
    assert age(Room([cask("C-1", filled_on="2019-04-01")], movements=moves)) == between("2019-04-01", "2026-02-10")


def test_movements_in_a_circle_are_no_age() -> None:
    """Two tanks that each hold what the other held at one moment: not known, and no endless search."""
    moves = [moved("2025-01-05", "T-1", "T-2", "tank hold"), moved("2025-01-05", "T-2", "T-1", "tank hold")]
    lines = [{"batch": "B-1", "component": "T-1", "kind": "vessel", "drawn_at": "2026-02-10"}]
    assert age(Room([cask()], lines, movements=moves)) is None


def test_a_finish_takes_bourbon_out_of_its_type() -> None:
    """Straight bourbon finished in a wine cask: not met, and the stated age counts charred new oak only."""
    stock = [
        cask("C-1", filled_on="2019-02-10", distilled_on="2019-02-09"),
        cask("W-1", filled_on="2025-02-10", distilled_on="2019-02-09", **USED),
    ]
    moves = [moved("2025-02-10", "C-1", "W-1", "finish")]
    asked = brief(claims="straight bourbon", age_statement="7 years")
    room = Room(stock, [line("W-1", filled_on="2025-02-10")], [asked], movements=moves)
    row = room.row("straight bourbon")
    assert row["verdict"] == "not met" and "was finished in other wood" in row["reason"]
    stated = room.row("age statement")
    assert stated["verdict"] == "not met" and "age in charred new oak 6 years" in stated["reason"]


@pytest.mark.parametrize(("capacity", "verdict"), [(700.0, "met"), (701.0, "not met")])
def test_a_large_tun_stops_the_time(capacity: float, verdict: str) -> None:
    """Married for a year in a tun above 700 L, spirit of 3 years and some has not its 3 years in small wood."""
    stock = [cask("C-1", filled_on="2022-06-10"), cask("TUN", filled_on="2025-02-10", capacity_L=capacity)]
    moves = [moved("2025-02-10", "C-1", "TUN", "marry")]
    room = Room(stock, [line("TUN", filled_on="2025-02-10")], [brief(market="EU")], movements=moves)
    assert room.verdict("minimum age", "EU") == verdict


def test_caramel_that_came_with_a_vat_is_not_hidden() -> None:
    """An addition made in an earlier batch stands against the claims of the one that uses it."""
    lines = [
        line("C-1", batch="B-0", drawn_at="2024-06-01"),
        {"batch": "B-0", "component": "caramel", "kind": "addition", "ethanol_kg": 0.0, "drawn_at": "2024-06-01"},
        {"batch": "B-1", "component": "VAT-9", "kind": "vessel", "drawn_at": "2026-02-10"},
    ]
    briefs = [brief(batch="B-0", vessel="VAT-9", vessel_empty=True), brief(claims="straight bourbon")]
    row = Room([cask("C-1")], lines, briefs).row("straight bourbon")
    assert row["verdict"] == "not met" and "caramel" in row["reason"]


@pytest.mark.long
def test_ten_years_of_heels_are_followed() -> None:
    """A vat with a heel each week, said to be empty once: every cask since then is found, in no endless time."""
    lines, briefs = [], []
    for week in range(300):
        day = str(date(2018, 1, 1) + relativedelta(weeks=week))
        lines.append({"batch": f"B-{week}", "component": "heel", "kind": "heel", "drawn_at": day})
        lines.append(line("C-1", batch=f"B-{week}", drawn_at=day))
        briefs.append(brief(batch=f"B-{week}", vessel_empty=True if week == 1 else None))
    room = Room([cask("C-1", filled_on="2010-01-01")], lines, briefs)
    ages = stages.age_of_batches(room.component_ages).set_index("batch")
    assert pd.isna(ages.loc["B-1", "years"])  # said to be empty, and yet with a heel of the week before
    assert ages.loc["B-299", "age_days"] == (date(2018, 1, 8) - date(2010, 1, 1)).days


@pytest.mark.long
def test_two_vats_that_fill_each_other() -> None:
    """Two vats pumped to and fro three hundred times: the chain is followed to its end."""
    moves = []
    for week in range(300):
        source, target = ("V-1", "V-2") if week % 2 else ("V-2", "V-1")
        moves.append(moved(str(date(2000, 1, 2) + relativedelta(weeks=week)), source, target, "tank hold"))
    lines = [line("C-1", batch="B-0", drawn_at="2000-01-01")]
    lines.append({"batch": "B-1", "component": "V-2", "kind": "vessel", "drawn_at": "2026-02-10"})
    briefs = [brief(batch="B-0", vessel="V-2", vessel_empty=True), brief(batch="B-9", vessel="V-1"), brief()]
    room = Room([cask("C-1", filled_on="1990-01-01")], lines, briefs, movements=moves)
    assert "C-1" in set(room.stays["cask"].dropna())


def test_an_interval_of_whole_years_is_not_a_day_short() -> None:
    """Two years to the day in charred new oak are two years, however many leap days lie between them and the draw."""
    stock = [
        cask("C-1", filled_on="2021-02-10", distilled_on="2021-02-01"),
        cask("W-1", filled_on="2023-02-10", **USED),
    ]
    into_used = [moved("2023-02-10", "C-1", "W-1", "recask")]
    for stated, verdict in (("2 years", "met"), ("25 months", "not met")):
        asked = brief(claims="bourbon", age_statement=stated)
        room = Room(stock, [line("W-1", filled_on="2023-02-10")], [asked], movements=into_used)
        assert room.verdict("age statement") == verdict
