"""Batches without spirit, or without anything: no share of nothing is taken, and none of them is said to agree."""

from __future__ import annotations

from typing import Any

import pytest

from tests.blending.sheets import Room, Row, Worked, brief, draw, reading

WATER, NOTHING, BOTH, NOUGHT, ALL_NOUGHT = BATCHES = ("B-water", "B-nothing", "B-both", "B-nought", "B-all-nought")


def drawn(batch: str, component: str, kg: int, **more: Any) -> Row:
    return draw(component, batch=batch, drawn_weight=f"{kg} kg", **more)


@pytest.fixture(scope="module", params=["190 kg", None], ids=["weighed", "strength alone"])
def made(request: pytest.FixtureRequest) -> Worked:
    """Water alone; a draw of 0 kg, alone and with water; a draw of 0 proof whose vat has 96 proof, or none either."""
    blends = [
        drawn(WATER, "water", 40),
        drawn(NOTHING, "C-1", 0, drawn_proof="120 proof"),
        drawn(BOTH, "C-2", 0, drawn_proof="120 proof"),
        drawn(BOTH, "water", 40),
        drawn(NOUGHT, "C-3", 150, drawn_proof="0 proof"),
        drawn(ALL_NOUGHT, "C-4", 150, drawn_proof="0 proof"),
    ]
    readings = [
        reading(f"VAT {batch}", 0 if batch == ALL_NOUGHT else 96, "2026-03-06", net_weight=request.param)
        for batch in BATCHES
    ]
    filled = {"bottled_on": "2026-03-10", "bottle_size": "700 mL", "bottles": 10}
    return Room(
        blends=blends,
        briefs=[brief(batch, vessel=f"VAT {batch}") for batch in BATCHES],
        readings=readings,
        bottlings=[{"batch": batch, **filled} for batch in BATCHES],
    ).work()


def codes(made: Worked, batch: str) -> set[str]:
    return {finding.code for finding in made.findings if finding.batch == batch}


@pytest.mark.long
def test_spirit_in_a_vat_that_none_was_drawn_into_is_told(made: Worked) -> None:
    """Every stage has worked: a stage that divides by nothing raises here, as warnings are errors."""
    agrees = made["imbalances"].set_index("batch")["agrees"]
    for batch in (WATER, BOTH, NOUGHT):
        assert not agrees[batch]
        assert "balance.strength-differs" in codes(made, batch)
    weighed = made.entry("gauged", WATER)["mass_kg"] > 0
    assert ("balance.quantity-differs" in codes(made, WATER)) == weighed


@pytest.mark.long
def test_a_batch_that_nothing_went_into_is_not_compared(made: Worked) -> None:
    assert made["imbalances"].set_index("batch")["agrees"].isna()[NOTHING]
    assert not {code for code in codes(made, NOTHING) if code.endswith("differs")}


@pytest.mark.long
def test_no_alcohol_of_no_alcohol_is_no_difference(made: Worked) -> None:
    """The vat of water gauged at 0 proof has the strength that was expected of it."""
    assert "balance.strength-differs" not in codes(made, ALL_NOUGHT)
