"""Errors that readings have in common: they do not average out, and they drop out of a difference."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from plugins.blending.components import shared_errors as shared
from tests.blending.sheets import close, draw, reading
from tests.blending.test_balances import room


def casks(count: int, instruments: list[str]) -> object:
    """A batch of equal casks, each read with an instrument of the list in turn, and the vat by the first."""
    lines = [draw(f"T-{n}", drawn_volume="50 gal", basis="metered") for n in range(count)]
    readings = [
        reading(f"T-{n}", 120, "2026-03-01", instrument=instruments[n % len(instruments)]) for n in range(count)
    ]
    vessels = [{"vessel": f"T-{n}"} for n in range(count)]
    return room(*lines, readings=readings, vessels=vessels).work()


@pytest.mark.long
def test_one_instrument_does_not_average_away() -> None:
    """The strength of a hundred casks read with one meter is no surer than the meter; by many meters it is."""
    few, many = (casks(100, names).entry("expected") for names in (["M-1"], [f"M-{n}" for n in range(100)]))
    one = casks(1, ["M-1"])["components"].iloc[0]
    assert few["proof_uncertainty"] > 0.99 * abs(one["proof_by_instrument"])
    assert many["proof_uncertainty"] < 0.15 * one["proof_uncertainty"]


def test_unknown_solids_do_not_average_away() -> None:
    """The guess of solids is one for all casks: upwards the expected strength is as unsure as one cask's."""
    made = casks(50, [f"M-{n}" for n in range(50)])
    entry, hides = made.entry("expected"), made["components"]["proof_may_hide"].iloc[0]
    assert hides == pytest.approx(1.0)
    assert close(entry["proof_uncertainty_up"], np.hypot(entry["proof_uncertainty"], hides / np.sqrt(3)), 1e-9)


def test_uncertainties_of_quantities_are_carried() -> None:
    """Volume and proof gallons have theirs; that of proof gallons is that of ethanol, relative to it."""
    entry = casks(3, ["M-1"]).entry("expected")
    relative = entry["ethanol_uncertainty_kg"] / entry["ethanol_kg"]
    assert close(entry["proof_gallons_uncertainty"], relative * entry["proof_gallons"], 1e-9)
    by_mass = entry["mass_uncertainty_kg"] / entry["mass_kg"] * entry["volume_60F_gal"]
    assert by_mass * 0.9 < entry["volume_uncertainty_gal"] < by_mass * 1.2


def table(**columns: list) -> pd.DataFrame:
    return pd.DataFrame(columns)


def test_a_reading_that_states_no_uncertainty() -> None:
    """It has that of the setting, all of it its own; so has one that states none but not its parts."""
    parts = {"instrument": ["H"] * 3, "thermometer": [None] * 3, "proof_by_thermometer": [0.1, 0.1, np.nan]}
    rows = table(
        proof_uncertainty=[0.0, np.nan, 0.2], proof_uncertainty_own=[0.0, 0.1, np.nan],
        proof_by_instrument=[0.1, 0.1, 0.1], proof_may_hide=[np.nan, 1.0, 0.0], **parts,
    )  # fmt: skip
    made = shared.filled_in(rows, 0.3)
    assert made["proof_uncertainty"].tolist() == made["proof_uncertainty_own"].tolist() == [0.3, 0.3, 0.2]
    assert (made[["proof_by_instrument", "proof_by_thermometer"]] == 0.0).all(axis=None)
    assert made["proof_may_hide"].tolist() == [0.0, 1.0, 0.0] and made["thermometer"].tolist() == [""] * 3


def test_repeats_with_one_instrument_share_its_error() -> None:
    """Two readings with one hydrometer: its error stays whole; with two it falls by the root of two."""
    one = table(
        key=["V", "V"], proof_uncertainty_own=[0.1, 0.1], instrument=["H", "H"], proof_by_instrument=[0.2, 0.2],
        thermometer=["T", "T"], proof_by_thermometer=[-0.1, -0.1], proof_may_hide=[1.0, 1.0],
    )  # fmt: skip
    half = pd.Series([0.5, 0.5])
    made = shared.of_group(one, ["key"], half).iloc[0]
    assert made["proof_uncertainty_own"] == pytest.approx(0.1 / np.sqrt(2))
    assert (made["proof_by_instrument"], made["proof_by_thermometer"]) == (pytest.approx(0.2), pytest.approx(-0.1))
    assert made["instrument"] == "H" and made["proof_may_hide"] == 1.0
    made = shared.of_group(one.assign(instrument=["H", "K"]), ["key"], half).iloc[0]
    assert made["proof_by_instrument"] == pytest.approx(0.2 / np.sqrt(2)) and made["instrument"] == "H and K"
