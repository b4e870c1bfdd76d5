"""Which reading gauges a batch, and what the vat itself tells."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from tests.blending.sheets import FIRST_FACT, Room, brief, cask, close, draw, reading

BOTTLING = {"batch": "B-1", "bottled_on": "2026-03-10", "bottle_size": "700 mL", "bottles": 10}


def room(readings: list[dict[str, Any]], *, water_at: str = "2026-03-03", **more: Any) -> Room:
    made = Room(
        blends=[
            draw("C-0101", drawn_weight="150 kg", drawn_proof="120 proof"),
            draw("water", water_at, drawn_weight="40 kg"),
        ],
        briefs=[brief()],
        casks=[cask("C-0101")],
        readings=readings,
        bottlings=[BOTTLING],
    )
    for name, value in more.items():
        setattr(made, name, value)
    return made


def gauge(proof: float, at: str, **more: Any) -> dict[str, Any]:
    return reading("VAT-1", proof, at, **{"net_weight": "190 kg", **more})


def gauged(made: Room) -> float | None:
    table = made.work()["balances"]
    found = table.loc[table["entry"] == "gauged", "proof_60F"]
    return float(found.iloc[0]) if len(found) else None


def test_the_last_reading_after_the_last_water_and_before_bottling_counts() -> None:
    """Neither the gauge before water nor one after the bottles were filled."""
    readings = [
        gauge(119, "2026-03-02T18:00"),
        gauge(95, "2026-03-04"),
        gauge(96, "2026-03-06"),
        gauge(97, "2026-03-12"),
    ]
    assert close(gauged(room(readings)) or 0, 96, 1e-6)


def test_a_reading_before_the_last_water_is_no_gauge_of_the_batch() -> None:
    """Gauged is null rather than of something else."""
    assert gauged(room([gauge(119, "2026-03-02T18:00")])) is None


def test_on_the_day_of_bottling_the_tank_may_still_be_gauged() -> None:
    """Bottled that day counts as after that day's readings."""
    assert close(gauged(room([gauge(96, "2026-03-10")])) or 0, 96, 1e-6)


def test_a_line_check_is_no_gauge_of_the_vat() -> None:
    """It is taken while bottles are filled."""
    assert gauged(room([gauge(95, "2026-03-10", purpose="line")])) is None


@pytest.mark.long
@pytest.mark.parametrize(
    ("readings", "counts"),
    [
        ([("2026-03-06", None), ("2026-03-10T18:00", None)], 0),
        ([("2026-03-06", None), ("2026-03-10T18:00", "regauge")], 0),
        ([("2026-03-06", None), ("2026-03-10", None)], 1),
        ([("2026-03-06", None), ("2026-03-10", "check")], 1),
        ([("2026-03-06", None), ("2026-03-10T07:00", "bottling tank")], 1),
        ([("2026-03-06", None), ("2026-03-10T07:00", "after filter")], 1),
        ([("2026-03-06", None), ("2026-03-10T07:00", "after water")], 1),
        ([("2026-03-06", None), ("2026-03-10T07:00", "check")], 0),
        ([("2026-03-06", None), ("2026-03-10T07:00", "line")], 0),
        ([("2026-03-09T18:00", "check"), ("2026-03-10T18:00", "check")], 0),
        ([("2026-03-10T07:00", None)], 0),
        ([("2026-03-10T07:00", "check")], None),
        ([("2026-03-10T07:00", None), ("2026-03-10T18:00", None)], 0),
        ([("2026-03-10", None), ("2026-03-10T18:00", None)], 0),
        ([("2026-03-10T09:00", "line"), ("2026-03-10T18:00", None)], None),
        ([("2026-03-02T18:00", None), ("2026-03-10T07:00", None)], 1),
    ],
)
def test_on_the_day_of_bottling_a_timed_reading_may_be_of_the_remainder(
    readings: list[tuple[str, str | None]], counts: int | None
) -> None:
    """Which of them gauges the batch: a timed one of that day by its purpose, or as the first since the last water."""
    made = [gauge(90 + place, at, purpose=purpose) for place, (at, purpose) in enumerate(readings)]
    found = gauged(room(made))
    assert (found is None) if counts is None else close(found or 0, 90 + counts, 1e-6)


def test_a_remainder_gauged_in_the_evening_makes_no_loss() -> None:
    """12 kg left in the tank after bottling are not the batch."""
    entry = room([gauge(96, "2026-03-06"), gauge(95.5, "2026-03-10T18:00", net_weight="12 kg")]).work().entry("gauged")
    assert entry["mass_kg"] > 189


def test_every_basis_says_that_official_figures_are_computed() -> None:
    """Once in each entry, and not in the sentences of findings."""
    made = room([gauge(96, "2026-03-05", net_weight=None)]).work()
    assert len(made["balances"]) == 5
    assert (made["balances"]["basis"].str.count("official figures computed") == 1).all()
    assert "computed" not in made.only("gauge.no-quantity").message


@pytest.mark.long
@pytest.mark.parametrize(("solids", "hidden"), [(None, None), (700.0, None), (500.0, 2.0)])
def test_what_distilling_leaves_unmeasured_stays_empty(solids: float | None, hidden: float | None) -> None:
    """Apparent strength and obscuration of a distilled cask and of its vat are known up to 600 mg/100 mL only."""
    more = {"method": "distilled", "solids": None if solids is None else f"{solids} mg/100mL"}
    made = room([reading("C-0101", 120, "2026-03-01", **more), gauge(94.5, "2026-03-05", **more)]).work()
    part = made["components"].set_index("component").loc["C-0101"]
    assert part["strength_basis"] == "true" and part["mass_kg"] > 149
    for row in (part, made.entry("gauged"), made.entry("drawn"), made.entry("expected")):
        assert np.isnan(row["obscuration_proof"]) == np.isnan(row["proof_apparent_60F"]) == (hidden is None)
    assert made.entry("gauged")["proof_gallons"] > 0
    assert np.isfinite(made["imbalances"]["strength_z"]).all()
    if hidden is not None:
        assert part["obscuration_proof"] == pytest.approx(hidden)


@pytest.mark.long
def test_before_and_after_water_on_one_day_without_times_stay_apart() -> None:
    """The purpose tells which came first; they are never averaged."""
    readings = [
        gauge(119, "2026-03-03", purpose="before water", reading_no="1"),
        gauge(95, "2026-03-03", purpose="after water", reading_no="2"),
    ]
    assert close(gauged(room(readings)) or 0, 95, 1e-6)
    assert gauged(room(readings[:1])) is None


@pytest.mark.long
@pytest.mark.parametrize(("purpose", "counts"), [("after water", True), ("before water", False), (None, False)])
def test_a_gauge_by_date_on_the_day_of_timed_water_counts_by_its_purpose(purpose: str | None, counts: bool) -> None:
    """A date alone is before that day's timed rows, unless the purpose says that it is after them."""
    made = room([gauge(95, "2026-03-03", purpose=purpose)], water_at="2026-03-03T11:00")
    assert (gauged(made) is not None) is counts


def test_the_next_batchs_gauge_is_not_this_batchs() -> None:
    """Without a bottling the next batch in the same vessel ends the search."""
    made = room([gauge(70, "2026-04-05")], bottlings=[])
    made.blends.append(draw("C-0102", "2026-04-01", batch="B-2", drawn_weight="100 kg", drawn_proof="110 proof"))
    made.briefs.append(brief("B-2"))
    made.casks.append(cask("C-0102"))
    table = made.work()["balances"]
    assert table.loc[table["entry"] == "gauged", "batch"].tolist() == ["B-2"]


@pytest.mark.long
def test_another_vessels_reading_does_not_gauge_the_batch() -> None:
    """Only the brief's vessel counts."""
    assert gauged(room([reading("VAT-2", 95, "2026-03-05")])) is None


def test_two_instruments_at_one_time_are_one_gauge() -> None:
    """Their mean, and both are named."""
    readings = [gauge(95.0, "2026-03-05T09:00"), gauge(95.1, "2026-03-05T09:00", instrument="M-2")]
    made = room(readings).work()
    assert close(made.entry("gauged")["proof_60F"], 95.05, 0.05)
    assert "M-1" in made.entry("gauged")["basis"] and "M-2" in made.entry("gauged")["basis"]


@pytest.mark.long
def test_a_gauge_of_strength_only_has_no_quantities() -> None:
    """Strength stands, mass and gallons stay empty, and a person is told."""
    made = room([gauge(96, "2026-03-05", net_weight=None)]).work()
    entry = made.entry("gauged")
    assert close(entry["proof_60F"], 96, 1e-6) and close(entry["abv_20C"], 48.07, 0.02)
    assert np.isnan(entry["mass_kg"]) and np.isnan(entry["proof_gallons"]) and np.isnan(entry["proof_gallons_official"])
    found = made.only("gauge.no-quantity")
    assert (found.severity, found.facts[0]) == ("review", FIRST_FACT["readings"])
    assert not room([gauge(96, "2026-03-05")]).work().found("gauge.no-quantity")


def test_a_dip_gives_the_gauged_quantity() -> None:
    """Depth and dip table: 50 cm are 200 L here."""
    table = [
        {"vessel": "VAT-1", "depth": "0 cm", "volume_at_depth": "0 L"},
        {"vessel": "VAT-1", "depth": "100 cm", "volume_at_depth": "400 L"},
    ]
    made = room(
        [gauge(96, "2026-03-05", net_weight=None, depth="50 cm", volume_temperature="20 degC")], vessels=table
    ).work()
    assert close(made.entry("gauged")["volume_20C_L"], 200.0, 0.01)
    assert "dipped" in made.entry("gauged")["basis"]


@pytest.mark.long
@pytest.mark.parametrize(
    ("empty", "heel", "code"),
    [(True, False, ""), (None, True, ""), (None, False, "stop"), (False, False, "stop"), (False, True, "")],
)
def test_a_vat_is_empty_by_word_or_has_a_heel(empty: bool | None, heel: bool, code: str) -> None:
    """Unsaid is a stop: a heel would bring other age and origin, and a gain."""
    made = room([], briefs=[brief(vessel_empty=empty)])
    if heel:
        made.blends.append(draw("heel", "2026-03-01", drawn_volume="10 gal", drawn_proof="90 proof"))
    found = made.work().found("vat.heel-unknown")
    assert [finding.severity for finding in found] == ([code] if code else [])
    if code:
        assert (found[0].column, found[0].facts) == ("vessel_empty", (FIRST_FACT["briefs"],))


@pytest.mark.long
@pytest.mark.parametrize(("briefs", "found"), [([], True), ([brief(vessel=None)], True), ([brief()], False)])
def test_a_batch_whose_vessel_no_brief_names_is_shown(briefs: list[dict[str, Any]], found: bool) -> None:
    """Without it no gauge can be found."""
    assert bool(room([], briefs=briefs).work().found("vat.not-named")) is found


@pytest.mark.long
@pytest.mark.parametrize(("capacity", "shown"), [("150 L", True), ("400 L", False)])
def test_more_than_the_vat_holds_is_shown(capacity: str, shown: bool) -> None:
    """Draws and water together against the capacity of the brief's vessel."""
    made = room([], vessels=[{"vessel": "vat-1", "capacity": capacity}]).work()
    assert bool(made.found("vat.over-capacity")) is shown


@pytest.mark.long
@pytest.mark.parametrize(
    ("water_at", "gauge_at", "shown"),
    [
        ("2026-03-03T16:00", "2026-03-03T21:00", True),
        ("2026-03-03T16:00", "2026-03-04T09:00", False),
        ("2026-03-03", "2026-03-03T09:00", False),
    ],
)
def test_a_vat_gauged_before_it_rested_is_shown(water_at: str, gauge_at: str, shown: bool) -> None:
    """Five hours after water are too few, seventeen are enough; without a time nothing can be said."""
    found = room([gauge(96, gauge_at)], water_at=water_at).work().found("gauge.too-soon")
    assert bool(found) is shown
    if shown:
        assert (found[0].severity, found[0].column, found[0].observed) == ("review", "taken_at", "5.0 h")


def test_the_rest_of_a_vat_is_the_sites_to_say() -> None:
    """[tolerances] rest_hours counts."""
    made = room([gauge(96, "2026-03-03T21:00")], water_at="2026-03-03T16:00", settings={"tolerances.rest_hours": 4.0})
    assert not made.work().found("gauge.too-soon")
