"""A cask's number misread, two slips at once, and what no figure explains."""

from __future__ import annotations

import pytest

from plugins import proof
from plugins.blending.common.names import one_digit_off
from tests.blending.sheets import cask, close, reading
from tests.blending.test_figures import JARS, STRENGTHS, observed, room

TWO = ("no single usual slip closes the account", "No single usual slip explains batch B-1; these two together would")


def test_near_names_differ_by_one_digit_or_two_exchanged() -> None:
    """Letters are never misread; equal neighbours give nothing new."""
    found = list(one_digit_off("c-011"))
    assert {"c-101", "c-012", "c-911", "c-021"} <= set(found) and "c-011" not in found
    assert len(found) == 27 + 1 and all(name.startswith("c-") and len(name) == 5 for name in found)


@pytest.mark.long
def test_the_number_of_another_cask_is_named() -> None:
    """The sheet says C-0013 of 101 proof, C-0003 of 117 was poured: the line and the other cask's strength."""
    made = room()
    made.readings = [row for row in made.readings if row["vessel"] != "C-0003"]
    for name, strength in (("C-0003", 117.0), ("C-0013", 101.0)):
        made.readings.insert(0, reading(name, strength, "2026-01-20", purpose="regauge"))
    made.casks.append(cask("C-0013", entry_proof="102 proof"))
    assert made.work()["imbalances"]["closes"][0]
    made.blends[3]["component"] = "C-0013"
    table = made.work()["figures_to_check"]
    row = table[table["quantity"] == "component"].iloc[0]
    assert row["rank"] <= 3 and row["components"] == "C-0013" and close(row["as_corrected"], 117.0, 0.01)
    assert "C-0013 may be C-0003 misread, which has 117.0 proof as read on 2026-01-20" in row["slip"]


@pytest.mark.long
def test_a_cask_gauged_as_it_was_drawn_stood_there() -> None:
    """With its own dump gauge on the day of the draw the number would have to be misread twice: it is not tried."""
    made = room()
    made.readings[0]["temperature"] = "20 degF"
    made.casks.append(cask("C-0010", proof="130 proof"))
    table = made.work()["figures_to_check"]
    assert len(table) and not table["slip"].str.contains("misread").any()


@pytest.mark.long
def test_two_slips_at_once_are_said_together() -> None:
    """One weight in the other unit, one strength read on the % vol scale: neither alone closes the account."""
    made = room()
    made.blends[1]["drawn_weight"] = "152 lb"
    made.readings[2]["reading"] = f"{observed(STRENGTHS[2], JARS[2], '%vol')} proof"
    worked = made.work()
    table = worked["figures_to_check"]
    both = table.iloc[:2]
    assert set(both["components"]) == {"C-0001", "C-0002"} and set(both["quantity"]) == {"drawn_weight", "reading"}
    assert both["slip"].str.contains(TWO[0]).all() and (both["z_after"] < 2.3).all()
    assert both["z_after"].nunique() == 1
    found = worked.only("balance.figure-to-check")
    assert found.message.startswith(TWO[1]) and "drawn weight of C-0001" in found.message


@pytest.mark.long
def test_bottles_weigh_what_the_corrected_gauge_means() -> None:
    """The vat read on the % vol scale, and bottled: with the right strength the bottles' mass closes too."""
    made = room(bottlings=[{"batch": "B-1", "bottled_on": "2026-03-09", "bottle_size": "700 mL", "bottles": 1108}])
    assert made.work()["imbalances"]["closes"][0]
    vat = made.readings[-1]
    value = float(vat["reading"].split()[0])
    vat["reading"] = f"{mark_of(value)} proof"
    first = made.work()["figures_to_check"].iloc[0]
    assert (first["components"], first["quantity"]) == ("VAT-1", "reading") and "% vol" in first["slip"]


def mark_of(value: float) -> float:
    """% vol at 20 °C of a proof at 60 °F."""
    return round(float(proof.abv_from_mass_fraction(proof.mass_fraction_from_proof(value))), 1)


@pytest.mark.long
def test_one_slip_is_never_made_two() -> None:
    """Where a usual slip explains the account alone, no pair is named."""
    made = room()
    made.readings[0]["temperature"] = "20 degF"
    worked = made.work()
    assert not worked["figures_to_check"]["slip"].str.contains(TWO[0]).any()
    assert "would close if one figure were corrected" in worked.only("balance.figure-to-check").message


@pytest.mark.long
def test_what_no_figure_explains_is_said() -> None:
    """Three casks' strengths and the vat's own content wrong at once: nothing is named, and that is a finding."""
    made = room()
    for place in (0, 1, 2):
        made.readings[place]["reading"] = f"{observed(STRENGTHS[place], JARS[place], '%vol')} proof"
    made.blends[3]["drawn_weight"] = "15.6 kg"
    worked = made.work()
    assert not len(worked["figures_to_check"])
    found = worked.only("balance.no-figure-explains")
    assert (found.severity, found.batch) == ("review", "B-1") and "Gauge the vat again" in (found.remedy or "")


@pytest.mark.long
@pytest.mark.parametrize("name", ["C-0009", "c-9"])
def test_an_unknown_neighbour_is_not_tried(name: str) -> None:
    """A number in nobody's inventory, or one with another length, is nobody's cask."""
    made = room()
    made.readings[3] = reading("C-0003", 101.0, "2026-01-20", purpose="regauge")
    made.readings.append(reading(name, 117.0, "2026-01-20", purpose="regauge"))
    slips = made.work()["figures_to_check"]["slip"]
    assert len(slips) and not slips.str.contains(f"{name} misread").any()
