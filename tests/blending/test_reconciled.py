"""Reconciled figures of a batch, its tests, and slips with whole lines, weights and bottles."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from plugins import proof
from tests.blending.sheets import FIRST_FACT, Room, Worked, cask, close, draw, reading
from tests.blending.test_figures import hydrometer, room


def fractions(rows: Any, column: str) -> np.ndarray:
    return np.asarray(proof.mass_fraction_from_proof(rows[column].to_numpy("float64")))


@pytest.mark.long
def test_reconciled_figures_close_mass_and_alcohol() -> None:
    """What was drawn and added, less what was lost, is what the vat holds: in kilograms and in kilograms of ethanol."""
    rows = room().work()["reconciled"]
    mass, strength = (rows[rows["quantity"] == name] for name in ("mass", "strength"))
    drawn = mass["side"] == "drawn"
    lost, vat = (float(mass.loc[mass["side"] == side, "reconciled"].iloc[0]) for side in ("lost", "gauged"))
    assert close(mass.loc[drawn, "reconciled"].sum(), vat + lost, 1e-6)
    pure = mass.loc[drawn, "reconciled"].to_numpy() @ fractions(strength[strength["side"] == "drawn"], "reconciled")
    in_vat = vat * fractions(strength[strength["side"] == "gauged"], "reconciled")[0]
    assert lost >= 0 and close(pure, in_vat, lost)


@pytest.mark.long
def test_reconciling_makes_surer() -> None:
    """No figure is less certain after than before; the one that was least certain gains most."""
    rows = room().work()["reconciled"]
    known = rows[rows["uncertainty"] > 0]
    assert (known["reconciled_uncertainty"] <= known["uncertainty"] * (1 + 1e-9)).all()
    assert not known["beyond_chance"].fillna(False).any()
    assert (known["smallest_visible"].dropna() > 0).all()


@pytest.mark.long
def test_the_test_of_the_whole_account_is_in_the_frame() -> None:
    """Two balances for a gauged vat; a slip makes it impossible, and the account does not close."""
    made = room()
    row = made.work()["imbalances"].iloc[0]
    assert (row["degrees"], row["closes"]) == (2, True) and row["p_value"] > 0.02
    made.readings[0]["temperature"] = "20 degF"
    row = made.work()["imbalances"].iloc[0]
    assert not row["closes"] and row["p_value"] < 1e-6 and not row["house_lets_pass"]


@pytest.mark.long
def test_a_bottling_adds_a_balance() -> None:
    """Mass gauged less mass bottled is a third balance, with a loss of its own."""
    made = room(bottlings=[{"batch": "B-1", "bottled_on": "2026-03-09", "bottle_size": "700 mL", "bottles": 1108}])
    worked = made.work()
    assert worked["imbalances"]["degrees"][0] == 3
    lost = worked["reconciled"].query("side == 'lost'")
    assert lost["component"].tolist() == ["process", "bottling"] and (lost["reconciled"] >= 0).all()


def first(worked: Worked) -> dict[str, Any]:
    table = worked["figures_to_check"]
    assert len(table), "no figure to check"
    return dict(table.iloc[0])


@pytest.mark.long
def test_a_cask_entered_twice_is_named_first() -> None:
    """The same cask and weight on a second line: that line is none."""
    made = room()
    made.blends.insert(2, {**made.blends[1], "line": "2"})
    row = first(made.work())
    assert (row["components"], row["as_corrected"]) == ("C-0001", 0.0)
    assert "twice" in row["slip"]


@pytest.mark.long
def test_a_cask_left_out_is_named_by_its_dump_gauge() -> None:
    """It was gauged for dumping with the others, and is on no line."""
    made = room()
    made.blends.pop(1)
    row = first(made.work())
    assert (row["components"], row["quantity"]) == ("C-0001", "component")
    assert row["fact"] == FIRST_FACT["readings"] + 1
    assert close(row["as_corrected"], 152.0, 20.0)


@pytest.mark.long
def test_water_that_is_not_on_the_sheet_is_named_with_its_amount() -> None:
    """120 kg of water were not written down."""
    made = room()
    made.blends.pop()
    row = first(made.work())
    assert (row["components"], row["unit"]) == ("water", "kg")
    assert close(row["as_corrected"], 120.0, 5.0)


@pytest.mark.long
@pytest.mark.parametrize(("written", "slip"), [("202 kg", "gross for net"), ("167 kg", "tare of another day")])
def test_tares_tell_gross_from_net_and_an_old_tare(written: str, slip: str) -> None:
    """The cask's tare was 50 kg, and 65 kg before it was mended: 202 is gross, 167 has the wrong tare."""
    made = room()
    tare = {"gross_weight": "190 kg", "purpose": "regauge"}
    made.readings.insert(0, reading("C-0001", 118.5, "2024-03-02", **tare, tare_weight="65 kg"))
    made.readings.insert(1, reading("C-0001", 118.5, "2025-03-02", **tare, tare_weight="50 kg"))
    made.blends[1]["drawn_weight"] = written
    table = made.work()["figures_to_check"]
    row = next(row for row in table.to_dict("records") if row["slip"].startswith(slip) or slip in row["slip"])
    assert row["rank"] <= 3 and row["components"] == "C-0001" and close(row["as_corrected"], 152.0, 0.01)


@pytest.mark.long
def test_digits_of_the_bottles_are_tried() -> None:
    """1081 bottles written 1801 for 1081."""
    run = {"batch": "B-1", "bottled_on": "2026-03-09", "bottle_size": "700 mL", "bottles": 1810}
    row = first(room(bottlings=[run]).work())
    assert (row["quantity"], row["as_read"], row["components"]) == ("bottles", 1810.0, "B-1")


@pytest.mark.long
def test_a_figure_that_is_no_usual_slip_is_given_its_size() -> None:
    """Vat read 3 proof too low: the reading is named with about what it would have to be."""
    made = room()
    made.readings[-1]["reading"] = f"{float(made.readings[-1]['reading'].split()[0]) - 3:.1f} proof"
    table = made.work()["figures_to_check"]
    vat = table[(table["components"] == "VAT-1") & (table["quantity"] == "reading")].iloc[0]
    assert vat["rank"] <= 3 and close(vat["as_corrected"] - vat["as_read"], 3.0, 0.3)


@pytest.mark.long
def test_a_batch_of_nothing_but_paper_closes_widely() -> None:
    """Quantities on paper are known to 3 %: 2 % of mass amiss is no misfit."""
    made = Room(
        blends=[draw(f"C-{n}", drawn_volume="150 L", basis="regauge on paper") for n in range(3)],
        briefs=[{"batch": "B-1", "vessel": "VAT-1", "vessel_empty": True, "market": "EU"}],
        casks=[cask(f"C-{n}") for n in range(3)],
        readings=[hydrometer(f"C-{n}", 120.0, 60.0) for n in range(3)],
    )
    mass = made.work().entry("expected")["mass_kg"]
    made.readings.append(reading("VAT-1", 120.0, "2026-03-05", net_weight=f"{mass * 1.02:.1f} kg"))
    assert made.work()["imbalances"]["closes"][0]
