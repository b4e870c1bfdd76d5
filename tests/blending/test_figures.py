"""Which figure to check, where a balance does not close."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from plugins import proof
from tests.blending.sheets import FIRST_FACT, Room, brief, cask, close, draw, reading

WATER = 120.0


def observed(true_proof: float, degF: float, scale: str = "proof") -> float:
    """What a hydrometer of a scale shows at a temperature in spirit of a proof, to the tenth that is read."""
    grid = np.arange(0.0, 200.05 if scale == "proof" else 100.05, 0.1)
    shown = proof.read_strength(grid, scale, (degF - 32.0) / 1.8)
    return round(float(grid[np.nanargmin(np.abs(shown - proof.mass_fraction_from_proof(true_proof)))]), 1)


def hydrometer(name: str, true_proof: float, degF: float, at: str = "2026-03-02", **more: Any) -> dict[str, Any]:
    base = {"method": "hydrometer", "instrument": "H-1", "temperature": f"{degF} degF", "purpose": "dump"}
    return reading(name, observed(true_proof, degF), at, **{**base, **more})


STRENGTHS = (124.0, 119.0, 122.0, 117.0)
JARS = (68.0, 61.0, 64.0, 75.0)


def room(
    strengths: tuple[float, ...] = STRENGTHS, jars: tuple[float, ...] = JARS, history: bool = True, **more: Any
) -> Room:
    """Casks read by one hydrometer, weighed into a vat that is gauged at what they truly make."""
    names = [f"C-{n:04d}" for n in range(len(strengths))]
    made = Room(
        blends=[draw(name, drawn_weight=f"{150 + 2 * n} kg") for n, name in enumerate(names)],
        briefs=[brief()],
        casks=[cask(name, entry_proof="118 proof" if history else None) for name in names],
        readings=[hydrometer(name, strength, jar) for name, strength, jar in zip(names, strengths, jars, strict=True)],
    )
    made.blends.append(draw("water", "2026-03-03", drawn_weight=f"{WATER} kg"))
    expected = made.work().entry("expected")
    weight = proof.weight_from_mass(
        0.997 * expected["mass_kg"], proof.density(expected["ethanol_kg"] / expected["mass_kg"], 20.0)
    )
    made.readings.append(reading("VAT-1", round(expected["proof_60F"], 1), "2026-03-05", net_weight=f"{weight:.1f} kg"))
    for name, value in more.items():
        setattr(made, name, value)
    return made


def first(made: Room) -> dict[str, Any]:
    table = made.work()["figures_to_check"]
    assert len(table), "no figure to check"
    return table.iloc[0].to_dict()


@pytest.mark.long
def test_a_batch_that_closes_has_no_figure_to_check() -> None:
    """Nothing is suspected where nothing is open."""
    made = room().work()
    assert made["imbalances"]["agrees"][0]
    assert len(made["figures_to_check"]) == 0
    assert not made.found("balance.figure-to-check")


@pytest.mark.long
def test_celsius_keyed_into_a_fahrenheit_column_is_named_first() -> None:
    """68 °F was 20 °C, and 20 was typed in the °F column: the cask, the figure and its remedy come first."""
    made = room()
    made.readings[0]["temperature"] = "20 degF"
    row = first(made)
    assert (row["components"], row["quantity"], row["unit"]) == ("C-0000", "temperature", "degF")
    assert close(row["as_read"], 20.0, 1e-6) and close(row["as_corrected"], 68.0, 1e-6)
    assert row["fact"] == FIRST_FACT["readings"]
    assert row["z_before"] > 2 > row["z_after"]
    assert "°C" in row["slip"]
    found = made.work().only("balance.figure-to-check")
    assert (found.severity, found.subject, found.column) == ("review", "C-0000", "temperature")
    assert found.facts == (FIRST_FACT["readings"],)


@pytest.mark.long
def test_fahrenheit_keyed_into_a_celsius_column_is_named_first() -> None:
    """A jar of 36 °F typed in a °C column, the highest at which the density formula still answers."""
    made = room(jars=(36.0, 61.0, 64.0, 75.0))
    made.readings[0]["temperature"] = "36 degC"
    row = first(made)
    assert (row["components"], row["quantity"], row["unit"]) == ("C-0000", "temperature", "degC")
    assert close(row["as_read"], 36.0, 1e-6) and close(row["as_corrected"], 20 / 9, 1e-3)


@pytest.mark.long
def test_percent_taken_for_proof_is_found() -> None:
    """The figure of a % vol hydrometer entered in the proof column."""
    made = room()
    made.readings[0]["reading"] = f"{observed(124.0, 68.0, '%vol')} proof"
    row = first(made)
    assert (row["components"], row["quantity"], row["unit"]) == ("C-0000", "reading", "proof")
    assert close(row["as_corrected"], 2 * row["as_read"], 1e-6)


@pytest.mark.long
def test_transposed_digits_of_a_reading_are_found() -> None:
    """The second and the third digit exchanged, as in 162.9 for 126.9."""
    made = room()
    true = observed(124.0, 68.0)
    first_digit, second, third, *rest = f"{true}"
    assert second != third
    made.readings[0]["reading"] = f"{first_digit}{third}{second}{''.join(rest)} proof"
    row = first(made)
    assert (row["components"], row["quantity"]) == ("C-0000", "reading")
    assert close(row["as_corrected"], true, 1e-6)
    assert row["slip"].startswith("digits exchanged")


@pytest.mark.long
def test_transposed_digits_of_a_weight_are_found_in_the_sheets_unit() -> None:
    """336.2 lb written as 363.2 lb: 12 kg too much of one cask."""
    made = room()
    made.blends[1]["drawn_weight"] = "336.20 lb"
    sound = made.work()
    assert sound["imbalances"]["agrees"][0]
    made.blends[1]["drawn_weight"] = "363.20 lb"
    table = made.work()["figures_to_check"]
    hits = table[(table["quantity"] == "drawn_weight") & table["components"].str.contains("C-0001")]
    assert len(hits) == 1
    assert hits.iloc[0]["unit"] == "lb"
    assert hits.iloc[0]["rank"] <= 3


@pytest.mark.long
@pytest.mark.parametrize(
    ("written", "meant", "slip"),
    [
        ("1520 kg", 152.0, "a decimal place"),
        ("15.2 kg", 152.0, "a decimal place"),
        ("152 lb", 152 / 0.45359237, "152 stands as lb; if kg was meant"),
        ("335.1 kg", 335.1 * 0.45359237, "335.1 stands as kg; if lb was meant"),
    ],
)
def test_a_weight_off_by_a_decimal_place_or_in_the_other_unit_is_found(written: str, meant: float, slip: str) -> None:
    """One of four casks of 152 kg has its weight ten times too large or small, or in the other unit: named first."""
    made = room()
    made.blends[1]["drawn_weight"] = written
    row = first(made)
    assert (row["components"], row["quantity"], row["unit"]) == ("C-0001", "drawn_weight", written.split()[1])
    assert close(row["as_corrected"], meant, 1e-3)
    assert row["slip"].startswith(slip)


@pytest.mark.long
@pytest.mark.parametrize(("written", "meant"), [("45 L", 45 * 3.785411784), ("170.3 gal", 170.3 / 3.785411784)])
def test_gallons_for_litres_and_the_reverse_are_found(written: str, meant: float) -> None:
    """A metered volume of 45 gallons of one cask in the other unit is named first, in the unit that was stated."""
    made = room()
    sound = "45 gal" if written == "45 L" else "170.3 L"
    made.blends[1] = draw("C-0001", drawn_volume=sound, temperature="60 degF", basis="metered")
    assert len(made.work()["figures_to_check"]) == 0
    made.blends[1]["drawn_volume"] = written
    row = first(made)
    assert (row["components"], row["quantity"]) == ("C-0001", "drawn_volume")
    assert close(row["as_corrected"], meant, 1e-3) and "was meant" in row["slip"]


@pytest.mark.long
def test_a_reading_off_by_a_decimal_place_is_found() -> None:
    """12.4 for 124: found, and named first."""
    made = room()
    true = float(made.readings[0]["reading"].split()[0])
    made.readings[0]["reading"] = f"{true / 10:.2f} proof"
    row = first(made)
    assert (row["components"], row["quantity"]) == ("C-0000", "reading")
    assert close(row["as_corrected"], true, 1e-6)


@pytest.mark.long
def test_the_vats_own_gauge_is_tried_too() -> None:
    """The wrong figure may be the last one: 20 for 68 in the jar of the vat."""
    made = room()
    expected = made.work().entry("expected")
    weight = made.readings[-1]["net_weight"]
    made.readings[-1] = hydrometer(
        "VAT-1", float(expected["proof_60F"]), 68.0, "2026-03-05", net_weight=weight, purpose="after water"
    )
    assert made.work()["imbalances"]["agrees"][0]
    made.readings[-1]["temperature"] = "20 degF"
    table = made.work()["figures_to_check"]
    vat = table[table["components"] == "VAT-1"]
    assert len(vat) == 1
    assert (vat.iloc[0]["quantity"], vat.iloc[0]["fact"]) == ("temperature", FIRST_FACT["readings"] + 4)


@pytest.mark.long
def test_equal_weights_that_fit_alike_are_named_together() -> None:
    """Four casks of 153 kg of which one was truly 135: all four fit, and stand in one line."""
    made = room((120.0,) * 4, (68.0,) * 4)
    for line in made.blends[:4]:
        line["drawn_weight"] = "153 kg"
    true = 153 * 3 + 135
    strength = made.work().entry("drawn")["proof_60F"]
    made.blends.pop()
    made.readings[-1] = reading("VAT-1", float(strength), "2026-03-05", net_weight=f"{true} kg")
    row = first(made)
    assert row["quantity"] == "drawn_weight"
    assert row["components"] == "C-0000, C-0001, C-0002, C-0003"
    assert close(row["as_corrected"], 135.0, 1e-6)


@pytest.mark.long
@pytest.mark.parametrize(("history", "named"), [(False, "C-0000, C-0001"), (True, "C-0001")])
def test_history_tells_which_of_two_like_casks_it_was(history: bool, named: str) -> None:
    """Two casks read 121.3 of which one was 112.3: alike by the balance, told apart by last year's gauge."""
    casks = ("C-0000", "C-0001")
    made = Room(
        blends=[draw(name, drawn_weight="150 kg") for name in casks],
        briefs=[brief()],
        casks=[cask(name) for name in casks],
        readings=[reading(name, strength, "2026-03-02") for name, strength in zip(casks, (121.3, 112.3), strict=True)],
    )
    expected = made.work().entry("expected")["proof_60F"]
    made.readings[1] = reading("C-0001", 121.3, "2026-03-02")
    made.readings.append(reading("VAT-1", float(expected), "2026-03-04", net_weight="299 kg"))
    if history:
        made.readings += [reading("C-0000", 121.0, "2025-06-01"), reading("C-0001", 112.6, "2025-06-01")]
    row = first(made)
    assert (row["components"], row["quantity"]) == (named, "reading")
    assert close(row["as_read"], 121.3, 1e-9) and close(row["as_corrected"], 112.3, 1e-9)


@pytest.mark.long
def test_what_the_house_lets_pass_is_listed_but_is_no_finding() -> None:
    """A slip that a sharp balance shows, in a batch within the house's tolerance, holds nobody up."""
    made = room()
    made.readings[0]["temperature"] = "20 degF"
    made.settings = {"tolerances.expected_proof": 20.0, "tolerances.process_loss_percent": 30.0}
    worked = made.work()
    assert worked["imbalances"]["agrees"][0]
    assert len(worked["figures_to_check"]) > 0
    assert not worked.found("balance.figure-to-check")


@pytest.mark.long
def test_a_slip_too_small_for_the_batch_stays_silent_and_its_size_is_printed() -> None:
    """1 °F (0.4 proof) in one of four casks moves the vat by less than can be seen: no figure is named."""
    made = room()
    made.readings[0]["temperature"] = "69 degF"
    worked = made.work()
    assert len(worked["figures_to_check"]) == 0
    assert worked["imbalances"]["smallest_visible_proof"][0] > 0.4


@pytest.mark.long
def test_the_same_slip_is_invisible_among_many_casks() -> None:
    """Found among four casks; among 400 it moves the vat less than its gauge is known."""
    made = room(STRENGTHS * 100, JARS * 100)
    made.readings[0]["temperature"] = "20 degF"
    worked = made.work()
    assert len(worked["figures_to_check"]) == 0
    slip = worked["components"].set_index("component").loc["C-0000", "proof_60F"] - 124.0
    assert worked["imbalances"]["smallest_visible_proof"][0] > slip > 10


@pytest.mark.long
@pytest.mark.parametrize("place", range(4))
def test_whichever_cask_it_was_it_is_named_first(place: int) -> None:
    """Each cask in turn has its jar's temperature in the other scale."""
    made = room()
    celsius = round((JARS[place] - 32) / 1.8)
    made.readings[place]["temperature"] = f"{celsius} degF"
    row = first(made)
    assert row["components"] == f"C-{place:04d}"
    assert row["quantity"] == "temperature"
    assert close(row["as_corrected"], celsius * 1.8 + 32, 1e-6)


@pytest.mark.long
def test_ranks_are_few_and_in_order() -> None:
    """At most ten a batch, 1 first, every one closing the balance."""
    made = room()
    made.readings[0]["temperature"] = "20 degF"
    table = made.work()["figures_to_check"]
    assert table["rank"].tolist() == list(range(1, len(table) + 1)) and len(table) <= 10
    assert (table["z_after"] < 2).all() and (table["z_before"] > 2).all()


@pytest.mark.long
def test_a_strength_from_the_blend_sheet_is_tried_too() -> None:
    """drawn_proof 62 for 124: % vol in the proof column of the blend sheet."""
    made = room()
    made.readings.pop(0)
    made.blends[0]["drawn_proof"] = "62 proof"
    made.settings = {"uncertainty.paper_proof": 0.2}
    table = made.work()["figures_to_check"]
    row = table[table["quantity"] == "drawn_proof"].iloc[0]
    assert (row["components"], row["unit"]) == ("C-0000", "proof")
    assert close(row["as_corrected"], 124.0, 1e-6)


@pytest.mark.long
def test_a_reading_that_two_draws_rest_on_is_corrected_for_both() -> None:
    """One cask drawn on two days by one reading: the slip closes the balance only if both are mended."""
    made = room()
    made.blends[0]["drawn_weight"] = "80 kg"
    made.blends.append(draw("C-0000", "2026-03-03", drawn_weight="70 kg"))
    made.readings[0]["temperature"] = "20 degF"
    row = first(made)
    assert (row["components"], row["quantity"]) == ("C-0000", "temperature")
    assert close(row["as_corrected"], 68.0, 1e-6)
