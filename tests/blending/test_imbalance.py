"""Whether expected and gauged agree, and how small a slip could have been seen."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from plugins.blending.reconciling.imbalance import beyond
from plugins.blending.reconciling.levels import seen_in_half
from tests.blending.sheets import FIRST_FACT, Room, brief, cask, close, draw, reading


def room(gauge_proof: float = 100.0, gauge: str | None = "598 kg", casks: int = 4, **more: Any) -> Room:
    """Equal weighed draws of 120 proof with water to about 100 proof; gauged as told."""
    names = [f"C-{n:04d}" for n in range(casks)]
    made = Room(
        blends=[draw(name, drawn_weight=f"{480 / casks} kg") for name in names],
        briefs=[brief()],
        casks=[cask(name) for name in names],
        readings=[reading(name, 120, "2026-03-02") for name in names],
    )
    made.blends.append(draw("water", "2026-03-03", drawn_weight="120 kg"))
    made.readings.append(reading("VAT-1", gauge_proof, "2026-03-05", net_weight=gauge))
    for name, value in more.items():
        setattr(made, name, value)
    return made


def expected_proof() -> float:
    return float(room().work().entry("expected")["proof_60F"])


@pytest.mark.long
def test_a_batch_that_closes_agrees() -> None:
    """A normal loss is excused, so that mass and ethanol score nought; strength is as expected."""
    made = room(expected_proof()).work()
    row = made["imbalances"].iloc[0]
    assert row["agrees"]
    assert row["mass_z"] == 0 and row["ethanol_z"] == 0 and abs(row["strength_z"]) < 1e-6
    assert made.codes() == []


@pytest.mark.long
def test_scores_are_differences_over_their_standard_uncertainty() -> None:
    """A gain of 9 kg over the uncertainties of both sides in squares; a loss only beyond the normal 1 %."""
    made = room(expected_proof(), "609.5 kg").work()
    expected, gauged, row = made.entry("expected"), made.entry("gauged"), made["imbalances"].iloc[0]
    spread = np.hypot(expected["mass_uncertainty_kg"], gauged["mass_uncertainty_kg"])
    assert close(row["mass_z"], (expected["mass_kg"] - gauged["mass_kg"]) / spread, 1e-9)
    lost = room(expected_proof(), "588 kg").work()
    expected, gauged, row = lost.entry("expected"), lost.entry("gauged"), lost["imbalances"].iloc[0]
    spread = np.hypot(expected["mass_uncertainty_kg"], gauged["mass_uncertainty_kg"])
    assert close(row["mass_z"], (0.99 * expected["mass_kg"] - gauged["mass_kg"]) / spread, 1e-9)


@pytest.mark.parametrize(("gauged", "score"), [(100.0, 0.0), (99.5, 0.0), (99.0, 0.0), (98.0, 1.0), (101.0, -1.0)])
def test_losses_are_one_sided(gauged: float, score: float) -> None:
    """Of 100 expected, 1 may be lost; gains have no such allowance."""
    assert close(beyond(np.array([100.0]), np.array([gauged]), 0.01)[0], score, 1e-9)


def test_without_a_gauged_quantity_only_strength_is_compared() -> None:
    """Mass has no score, ethanol has that of strength."""
    row = room(95.0, None).work()["imbalances"].iloc[0]
    assert np.isnan(row["mass_z"])
    assert row["ethanol_z"] == row["strength_z"] != 0


def test_a_batch_that_is_not_gauged_neither_agrees_nor_differs() -> None:
    """Agreement is unknown, contraction is known."""
    made = room(readings=[reading(f"C-{n:04d}", 120, "2026-03-02") for n in range(4)]).work()
    row = made["imbalances"].iloc[0]
    assert row.isna()["agrees"] and np.isnan(row["strength_z"]) and np.isnan(row["smallest_visible_proof"])
    assert row["contraction_60F_gal"] > 0


@pytest.mark.long
def test_a_strength_that_differs_is_shown_and_points_at_the_gauge() -> None:
    """Two proof weaker than what was drawn and added."""
    made = room(expected_proof() - 2).work()
    found = made.only("balance.strength-differs")
    assert (found.severity, found.column) == ("review", "reading")
    assert found.facts[0] == FIRST_FACT["readings"] + 4
    assert "weaker" in found.message
    assert not made["imbalances"]["agrees"][0]


@pytest.mark.long
def test_a_strength_within_the_houses_tolerance_is_let_pass() -> None:
    """0.4 proof of 0.5."""
    made = room(expected_proof() - 0.4).work()
    assert not made.found("balance.strength-differs")
    assert made["imbalances"]["agrees"][0]


@pytest.mark.long
def test_water_that_was_not_written_down_shows_as_mass_while_alcohol_closes() -> None:
    """30 kg of water more than on the sheet: weaker and heavier, with all its alcohol."""
    full = room().work().entry("expected")
    weak = (
        room(blends=[*room().blends[:-1], draw("water", "2026-03-03", drawn_weight="150 kg")]).work().entry("expected")
    )
    made = room(float(weak["proof_60F"]), "629.5 kg").work()
    assert weak["mass_kg"] > full["mass_kg"] + 29
    assert made.only("balance.quantity-differs").remedy == "Look for water that was not written down."
    assert made.found("balance.strength-differs")
    assert not made.found("balance.gain") and not made.found("balance.loss-above-house-limit")


@pytest.mark.long
def test_the_smallest_visible_slip_is_seen_in_half_of_the_cases() -> None:
    """A cask misread by just that much moves strength by about the score of even odds.

    By somewhat more: what may be lost before the water goes in makes the vat weaker, and the test allows for it.
    """
    base = room(expected_proof(), None).work()
    slip = base["imbalances"]["smallest_visible_proof"][0]
    moved = room(expected_proof(), None)
    moved.readings[0] = reading("C-0000", 120 + slip, "2026-03-02")
    score = abs(moved.work()["imbalances"]["strength_z"][0])
    assert seen_in_half(0.02, 1) < score < 1.15 * seen_in_half(0.02, 1)


@pytest.mark.long
def test_a_slip_is_harder_to_see_among_many_casks() -> None:
    """One of 40 casks has to be ten times as wrong as one of 4, about: silence is not correctness."""
    few = room(expected_proof()).work()["imbalances"]["smallest_visible_proof"][0]
    many = room(expected_proof(), casks=40).work()["imbalances"]["smallest_visible_proof"][0]
    assert 7 < many / few < 11


@pytest.mark.long
def test_the_smallest_visible_quantity_is_a_few_times_the_uncertainty_of_the_vat() -> None:
    """A kilogram of one draw is as a kilogram of the vat; of water it shows sooner, by the strength."""
    made = room(expected_proof(), "600 kg").work()
    expected, row = made.entry("expected"), made["imbalances"].iloc[0]
    spread = np.hypot(expected["mass_uncertainty_kg"], made.entry("gauged")["mass_uncertainty_kg"])
    assert spread < row["smallest_visible_kg"] < 5 * spread


def test_like_strengths_are_compared() -> None:
    """Casks with known solids, a vat without: apparent is compared with apparent, and agrees."""
    names = [f"C-{n:04d}" for n in range(4)]
    made = room()
    made.readings = [reading(name, 99, "2026-03-02", solids=400.0) for name in names]
    made.blends = [draw(name, drawn_weight="120 kg") for name in names]
    made.readings.append(reading("VAT-1", 99, "2026-03-05", net_weight="479 kg"))
    row = made.work()["imbalances"].iloc[0]
    assert abs(row["strength_z"]) < 1e-6
    assert row["agrees"]


@pytest.mark.long
def test_a_batch_with_a_line_left_out_is_not_compared() -> None:
    """Its sums are too small by what was left out: no difference, loss or suspect is made of that."""
    made = room(expected_proof())
    made.blends[0] = draw("C-0000")
    worked = made.work()
    row = worked["imbalances"].iloc[0]
    assert row.isna()["agrees"] and np.isnan(row["mass_z"]) and np.isnan(row["strength_z"])
    assert worked.codes() == ["blend.no-quantity"]
    assert len(worked["losses"]) == 0 and len(worked["figures_to_check"]) == 0
    assert close(worked.entry("gauged")["proof_60F"], expected_proof(), 1e-6)
