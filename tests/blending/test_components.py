"""Which strength and which quantity count for a line of a blend sheet."""

from __future__ import annotations

import math

import numpy as np
import pytest

from plugins import proof
from tests.blending.sheets import FIRST_FACT, Room, brief, cask, close, draw, reading


def room(*lines: dict, readings: list[dict] | None = None, **more: object) -> Room:
    made = Room(blends=list(lines), briefs=[brief()], casks=[cask("C-0101")], readings=readings or [])
    for name, value in more.items():
        setattr(made, name, value)
    return made


def one(made: Room) -> dict:
    table = made.work()["components"]
    assert len(table) == 1
    return table.iloc[0].to_dict()


def test_the_last_reading_at_or_before_the_draw_counts() -> None:
    """Not the latest of all, not the first: the last one up to the draw."""
    readings = [reading("C-0101", p, at) for p, at in ((121, "2026-01-05"), (120, "2026-02-20"), (118, "2026-03-10"))]
    row = one(room(draw("C-0101", "2026-03-02", drawn_weight="150 kg"), readings=readings))
    assert close(row["proof_60F"], 120, 1e-9)
    assert row["strength_source"] == "reading M-1 2026-02-20"


def test_what_is_drawn_without_a_time_is_after_that_days_readings() -> None:
    """A cask read at 09:40 and drawn that day was drawn after it was read."""
    readings = [reading("C-0101", 121, "2026-02-20"), reading("C-0101", 119, "2026-03-02T09:40")]
    assert close(
        one(room(draw("C-0101", "2026-03-02", drawn_weight="1 kg"), readings=readings))["proof_60F"], 119, 1e-9
    )
    before = one(room(draw("C-0101", "2026-03-02T09:00", drawn_weight="1 kg"), readings=readings))
    assert close(before["proof_60F"], 121, 1e-9)


def test_a_reading_without_a_time_is_before_that_days_timed_draw() -> None:
    """The date alone counts as the start of its day."""
    readings = [reading("C-0101", 121, "2026-03-02")]
    assert close(
        one(room(draw("C-0101", "2026-03-02T08:00", drawn_weight="1 kg"), readings=readings))["proof_60F"], 121, 1e-9
    )


def test_several_instruments_at_one_time_give_the_mean_weighted_by_uncertainty() -> None:
    """Weights are 1/u²; repeats by one instrument together weigh as one reading of it."""
    readings = [
        reading("C-0101", 120.0, "2026-03-02", instrument="M-1"),
        reading("C-0101", 120.0, "2026-03-02", instrument="M-1", reading_no="2"),
        reading("C-0101", 121.2, "2026-03-02", instrument="H-1", method="hydrometer"),
    ]
    made = room(draw("C-0101", "2026-03-02", drawn_weight="150 kg"), readings=readings).work()
    u = made["proofs"].groupby("instrument")["proof_uncertainty"].first()
    weights = 1 / u["M-1"] ** 2, 1 / u["H-1"] ** 2
    row = made["components"].iloc[0]
    assert close(row["proof_60F"], (120.0 * weights[0] + 121.2 * weights[1]) / sum(weights), 1e-9)
    assert close(row["proof_uncertainty"], 1 / math.sqrt(sum(weights)), 1e-9)
    assert row["strength_source"] == "reading H-1 2026-03-02 and reading M-1 2026-03-02"


def test_readings_of_an_earlier_filling_are_not_this_spirits() -> None:
    """The number on the head is reused: a reading before filled_on is of other spirit."""
    made = room(draw("C-0101", "2026-03-02", drawn_weight="150 kg"), readings=[reading("C-0101", 110, "2024-05-01")])
    made.casks = [cask("C-0101", filled_on="2015-03-01"), cask("C-0101", filled_on="2024-06-01", proof="126 proof")]
    row = one(made)
    assert row["filling"] == "C-0101 2024-06-01"
    assert close(row["proof_60F"], 126, 1e-9)
    assert row["strength_source"] == "inventory of 2026-02-01"


def test_a_draw_before_the_refill_is_of_the_earlier_filling() -> None:
    """Which filling counts is settled on the day of the draw."""
    made = room(draw("C-0101", "2024-05-20", drawn_weight="150 kg"), readings=[reading("C-0101", 110, "2024-05-01")])
    made.casks = [cask("C-0101", filled_on="2015-03-01"), cask("C-0101", filled_on="2024-06-01")]
    row = one(made)
    assert row["filling"] == "C-0101 2015-03-01"
    assert close(row["proof_60F"], 110, 1e-9)


def test_without_a_reading_the_sheets_strength_counts_then_the_inventorys() -> None:
    """drawn_proof before the inventory's proof; neither in units of the other."""
    listed = [cask("C-0101", proof="119 proof", gauged_on="2025-11-01")]
    sheet = one(room(draw("C-0101", drawn_weight="1 kg", drawn_proof="60.0 %vol"), casks=listed))
    assert close(sheet["abv_20C"], 60.0, 1e-9)
    assert sheet["strength_source"] == "drawn proof on the blend sheet"
    paper = one(room(draw("C-0101", drawn_weight="1 kg"), casks=listed))
    assert close(paper["proof_60F"], 119, 1e-9)
    assert paper["strength_source"] == "inventory of 2025-11-01"
    assert str(paper["gauged_at"])[:10] == "2025-11-01"


def test_an_inventory_of_after_the_draw_gives_no_strength() -> None:
    """Its proof is of that later day, not of the draw; gauged_on before the draw does count."""
    later = [cask("C-0101", as_of="2026-06-01", proof="119 proof")]
    assert np.isnan(one(room(draw("C-0101", "2026-03-02", drawn_weight="1 kg"), casks=later))["proof_60F"])
    gauged = [cask("C-0101", as_of="2026-06-01", proof="119 proof", gauged_on="2026-02-01")]
    assert close(one(room(draw("C-0101", "2026-03-02", drawn_weight="1 kg"), casks=gauged))["proof_60F"], 119, 1e-9)


def test_true_and_apparent_strength_are_kept_apart() -> None:
    """With 250 mg/100 mL of solids 1.0 proof is hidden (27 CFR 30.32: 0.4 proof per 100 mg/100 mL, 80 to
    100 proof): volume is by the apparent density, proof gallons by the true proof."""
    readings = [reading("C-0101", 90, "2026-03-02", solids=250.0)]
    made = room(draw("C-0101", drawn_weight="150 kg"), readings=readings).work()
    row, read = made["components"].iloc[0], made["proofs"].iloc[0]
    assert row["strength_basis"] == read["strength_basis"] == "true"
    assert close(row["obscuration_proof"], 1.0, 1e-9)
    apparent = proof.mass_fraction_from_proof(90.0)
    gallons = proof.volume_L(row["mass_kg"], apparent, proof.T_60F) / proof.LITRES_PER_GALLON
    assert close(row["volume_60F_gal"], gallons, 1e-9)
    assert close(row["proof_gallons"], gallons * 0.91, 1e-9)


def test_a_weight_is_made_true_for_the_buoyancy_of_air() -> None:
    """mass = weight × (1 − 1.2/8000) / (1 − 1.2/ρ), the contract's formula."""
    row = one(room(draw("C-0101", drawn_weight="150 kg", drawn_proof="124 proof", temperature="20 degC")))
    rho = proof.density(proof.mass_fraction_from_proof(124.0), 20.0)
    assert close(row["mass_kg"], 150 * (1 - 1.2 / 8000) / (1 - 1.2 / rho), 1e-9)


@pytest.mark.parametrize(("volume", "degC"), [("50 gal", proof.T_60F), ("189.27 L", 20.0)])
def test_a_volume_without_a_temperature_is_at_its_units_reference(volume: str, degC: float) -> None:
    """60 °F when stated in gallons, 20 °C when in litres, and one note says so."""
    made = room(draw("C-0101", drawn_volume=volume, drawn_proof="124 proof")).work()
    litres = 50 * 3.785411784 if "gal" in volume else 189.27
    expected = proof.mass_from_volume(litres, proof.mass_fraction_from_proof(124.0), degC)
    assert close(made["components"]["mass_kg"][0], expected, 1e-9)
    assert made.only("blend.volume-temperature-assumed").severity == "note"


def test_a_volume_with_its_temperature_needs_no_note() -> None:
    """A stated temperature counts, whatever the unit."""
    made = room(draw("C-0101", drawn_volume="50 gal", temperature="85 degF", drawn_proof="124 proof")).work()
    litres, fraction = 50 * 3.785411784, proof.mass_fraction_from_proof(124.0)
    assert close(made["components"]["mass_kg"][0], proof.mass_from_volume(litres, fraction, (85 - 32) / 1.8), 1e-9)
    assert not made.found("blend.volume-temperature-assumed")


def test_weight_goes_before_volume() -> None:
    """Where a line has both, the scale counts: it needs no temperature."""
    row = one(room(draw("C-0101", drawn_weight="150 kg", drawn_volume="50 gal", drawn_proof="124 proof")))
    assert close(row["mass_kg"], 150.18, 0.02)
    assert row["drawn_basis"] == "weighed"


def test_pounds_and_kilograms_are_one_weight() -> None:
    """330.693 lb and 150 kg give the same mass to the sheet's last digit."""
    pounds = one(room(draw("C-0101", drawn_weight="330.6934 lb", drawn_proof="124 proof")))
    kilograms = one(room(draw("C-0101", drawn_weight="150 kg", drawn_proof="124 proof")))
    assert close(pounds["mass_kg"], kilograms["mass_kg"], 2e-5)


def test_the_dump_gauge_gives_the_quantity_where_the_sheet_states_none() -> None:
    """A cask dumped whole holds what its dump gauge says; the plan is never taken for it."""
    dump = [reading("C-0101", 124, "2026-03-02", purpose="dump", net_weight="151 kg")]
    row = one(room(draw("C-0101", planned_volume="50 gal"), readings=dump))
    assert close(row["mass_kg"], 151.18, 0.02)
    assert row["drawn_basis"] == "dump gauge, weighed"
    planned = one(room(draw("C-0101", planned_volume="50 gal", drawn_proof="124 proof")))
    assert np.isnan(planned["mass_kg"])
    assert close(planned["planned_volume_60F_gal"], 50.0, 1e-9)


@pytest.mark.parametrize("more", [{"emptied": False}, {"remaining_volume": "20 L"}])
def test_the_dump_gauge_is_not_the_quantity_of_a_part_draw(more: dict) -> None:
    """If something stayed in the cask, its whole content was not drawn."""
    dump = [reading("C-0101", 124, "2026-03-02", purpose="dump", net_weight="151 kg")]
    assert np.isnan(one(room(draw("C-0101", **more), readings=dump))["mass_kg"])


def test_the_dump_gauge_counts_for_one_draw_only() -> None:
    """A second line of the cask without a quantity is not the same content again."""
    dump = [reading("C-0101", 124, "2026-03-02", purpose="dump", net_weight="151 kg")]
    made = room(draw("C-0101", line="1"), draw("C-0101", line="2"), readings=dump).work()
    assert made["components"]["mass_kg"].notna().tolist() == [True, False]
    assert made.only("blend.no-quantity").facts == (FIRST_FACT["blends"] + 1,)


def test_a_heel_has_the_strength_of_its_vat_before_the_first_draw() -> None:
    """Not that of the gauge which the finished batch got on the same vessel."""
    readings = [
        reading("VAT-1", 88, "2026-02-27"),
        reading("VAT-1", 110, "2026-03-04", purpose="bottling tank"),
        reading("C-0101", 120, "2026-03-02"),
    ]
    lines = draw("heel", "2026-03-02", drawn_volume="12 gal"), draw("C-0101", drawn_weight="150 kg")
    table = room(*lines, readings=readings).work()["components"].set_index("component")
    assert table.loc["heel", "kind"] == "heel"
    assert close(table.loc["heel", "proof_60F"], 88, 1e-9)


def test_the_briefs_own_vessel_among_the_components_is_a_heel() -> None:
    """What comes from the vat into the vat was in it."""
    readings = [reading("VAT-1", 88, "2026-02-27")]
    assert one(room(draw("VAT-1", drawn_volume="12 gal"), readings=readings))["kind"] == "heel"


@pytest.mark.long
def test_a_vessel_of_the_list_or_of_the_readings_is_a_vessel() -> None:
    """A tank needs no inventory to be known."""
    listed = room(draw("Tank 2", drawn_volume="100 gal", drawn_proof="120 proof"), vessels=[{"vessel": "TANK 2"}])
    assert one(listed)["kind"] == "vessel"
    assert one(listed)["component"] == "TANK 2"
    read = room(draw("T-9", drawn_volume="100 gal"), readings=[reading("T-9", 120, "2026-03-01")])
    assert one(read)["kind"] == "vessel"


@pytest.mark.long
def test_water_weighs_what_water_of_its_temperature_weighs() -> None:
    """Cold water by the meter is heavier: 0.9999 against 0.9982 kg/L (density of water, OIML R 22)."""
    cold = one(room(draw("water", drawn_volume="100 L", temperature="5 degC")))
    warm = one(room(draw("water", drawn_volume="100 L", temperature="20 degC")))
    assert close(cold["mass_kg"], 99.997, 0.01)
    assert close(warm["mass_kg"], 99.820, 0.01)
    assert cold["kind"] == "water"
    assert cold["ethanol_kg"] == 0


def test_rinse_water_brings_its_alcohol() -> None:
    """An addition with a strength counts with it."""
    row = one(room(draw("barrel rinse", drawn_volume="20 L", drawn_proof="12 proof")))
    assert row["kind"] == "addition"
    assert close(row["proof_60F"], 12, 1e-9)
    assert row["proof_gallons"] > 0


@pytest.mark.long
def test_uncertainty_follows_how_a_quantity_was_had() -> None:
    """Defaults by basis, common practice: weighed 0.2 %, metered 0.4 %, cask by dip 3 %, share 5 %."""
    shares = {"weighed": 0.2, "metered": 0.4, "dipped": 3.0, "regauge on paper": 3.0, "share of dump": 5.0}
    for basis, percent in shares.items():
        row = one(room(draw("C-0101", drawn_volume="50 gal", basis=basis, drawn_proof="124 proof")))
        assert close(row["mass_uncertainty_kg"] / row["mass_kg"], percent / 100, 1e-12)
        assert row["drawn_basis"] == basis
    tank = room(
        draw("T-9", drawn_volume="50 gal", basis="dipped", drawn_proof="124 proof"), vessels=[{"vessel": "T-9"}]
    )
    row = one(tank)
    assert close(row["mass_uncertainty_kg"] / row["mass_kg"], 0.005, 1e-12)


def test_an_old_gauge_is_less_certain() -> None:
    """A cask's strength drifts, by default 1 proof a year: half a year adds half a proof."""
    fresh = one(room(draw("C-0101", drawn_weight="1 kg"), readings=[reading("C-0101", 120, "2026-03-02")]))
    old = one(room(draw("C-0101", drawn_weight="1 kg"), readings=[reading("C-0101", 120, "2025-09-01")]))
    drift = 182 / 365.25
    assert close(old["proof_uncertainty"], math.hypot(fresh["proof_uncertainty"], drift), 1e-9)


def test_a_row_rests_on_its_line_its_reading_and_its_cask() -> None:
    """Every figure of a component can be walked back to the three sheets."""
    row = one(room(draw("C-0101", drawn_weight="1 kg"), readings=[reading("C-0101", 120, "2026-03-02")]))
    assert row["facts"] == (FIRST_FACT["blends"], FIRST_FACT["casks"], FIRST_FACT["readings"])


def test_names_are_shown_in_the_spelling_of_inventory_and_brief() -> None:
    """c-0101 of b-1 is C-0101 of B-1."""
    row = one(room(draw("c-0101 ", batch="b-1", drawn_weight="1 kg", drawn_proof="120 proof")))
    assert (row["batch"], row["component"], row["kind"]) == ("B-1", "C-0101", "cask")


def test_no_blends_give_no_components() -> None:
    """Empty sheets go through every stage."""
    made = Room().work()
    assert all(len(made[name]) == 0 for name in ("components", "balances", "losses", "imbalances", "figures_to_check"))
    assert not made.findings


def test_two_draws_of_a_cask_on_different_days_each_have_their_own_strength() -> None:
    """Tuesday's and Friday's draw are two lines, each with its own last reading."""
    readings = [reading("C-0101", 121, "2026-03-03"), reading("C-0101", 119, "2026-03-06")]
    lines = [draw("C-0101", "2026-03-03", drawn_weight="60 kg"), draw("C-0101", "2026-03-06", drawn_weight="50 kg")]
    made = room(*lines, readings=readings).work()
    assert np.allclose(made["components"]["proof_60F"], [121, 119])
    assert not made.found("blend.same-component-twice")
    total = made.entry("drawn")
    assert close(total["mass_kg"], made["components"]["mass_kg"].sum(), 1e-9)
