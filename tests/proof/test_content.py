"""What a vessel holds, by weight, by volume and by dip."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from plugins.proof import (
    LITRES_PER_GALLON,
    T_20C,
    T_60F,
    density,
    mass_fraction_from_proof,
    mass_from_volume,
    mass_from_weight,
    volume_L,
)
from tests.proof.sheets import codes, corrected, readings, vessels

W = mass_fraction_from_proof(120.0)
PLAIN: dict[str, Any] = {"reading": 120.0, "scale": "proof", "state": "at 60 °F"}
# 20 L for each cm up to 50 cm, 30 L above.
POINTS = ((100.0, 2500.0), (0.0, 0.0), (50.0, 1000.0))
TABLE = vessels(*({"vessel": "VAT-1", "depth_cm": depth, "volume_at_depth_L": volume} for depth, volume in POINTS))


def held(row: dict[str, Any], table: Any = None) -> tuple[Any, list[str]]:
    frame, findings = corrected(readings(PLAIN | row), None, table)
    return frame.iloc[0], [code for code in codes(findings) if code != "proof.no-certificate"]


@pytest.mark.parametrize(
    "row",
    [
        {"net_weight_kg": 200.0},
        {"gross_weight_kg": 250.0, "tare_weight_kg": 50.0},
        {"net_weight_kg": 200.0, "gross_weight_kg": 250.3, "tare_weight_kg": 50.0},
        {"net_weight_kg": 200.0, "gross_weight_kg": 250.0},
        {"net_weight_kg": 200.0, "volume_L": float(volume_L(200.2, W, T_20C)), "volume_unit": "L"},
    ],
)
def test_content_by_weight(row: dict[str, Any]) -> None:
    """Net weight, or gross less tare, in air, goes before a stated volume."""
    content, said = held(row)
    mass = mass_from_weight(200.0, density(W, T_20C))
    assert content["content_mass_kg"] == pytest.approx(mass, rel=1e-12)
    assert content["content_volume_60F_gal"] == pytest.approx(volume_L(mass, W, T_60F) / LITRES_PER_GALLON, rel=1e-12)
    assert content["content_volume_20C_L"] == pytest.approx(volume_L(mass, W, T_20C), rel=1e-12)
    assert content["content_basis"] == "weighed" and said == []
    assert content["content_uncertainty_kg"] == pytest.approx(0.002 * mass)


@pytest.mark.parametrize(
    ("share", "temperature", "said"),
    [(1.0, 18.0, False), (1.008, 18.0, False), (1.01, 18.0, True), (1.01, None, False), (1.014, None, True)],
)
def test_weight_and_volume_that_differ(share: float, temperature: float | None, said: bool) -> None:
    """Twice the root of 0.2 %² and 0.4 %² is 0.9 %; 0.45 % more enters where the volume has no temperature (1.3 %)."""
    mass = mass_from_weight(200.0, density(W, T_20C))
    litres = share * volume_L(mass, W, T_20C if temperature is None else temperature)
    content, found = held(
        {"net_weight_kg": 200.0, "volume_L": litres, "volume_unit": "L", "volume_temperature_degC": temperature}
    )
    assert content["content_mass_kg"] == pytest.approx(mass, rel=1e-12) and content["content_basis"] == "weighed"
    assert found == (["proof.weight-and-volume-differ"] if said else [])


def test_150_kg_and_80_gallons_are_said() -> None:
    """A weight and a volume nearly twice as much on one row draw a review finding; the weight counts."""
    row = {"net_weight_kg": 150.0, "volume_L": 80 * LITRES_PER_GALLON, "volume_unit": "gal"}
    frame, findings = corrected(readings(PLAIN | row))
    finding = next(finding for finding in findings if finding.code == "proof.weight-and-volume-differ")
    assert (finding.severity, finding.column) == ("review", "volume")
    assert finding.expected.startswith("150.2 kg") and finding.observed.startswith("27")
    assert frame["content_mass_kg"].item() == pytest.approx(150.2, abs=0.05)


def test_one_volume_is_singular() -> None:
    """One volume was taken, not were."""
    _, findings = corrected(readings(PLAIN | {"volume_L": 200.0, "volume_unit": "L"}))
    assert "one volume in litres without a temperature was taken at 20 °C." in [finding.message for finding in findings]


def test_content_by_volume_at_its_own_temperature() -> None:
    """The vessel's temperature corrects its volume, whatever the jar's was (trade notes 1A.8)."""
    content, said = held(
        {"volume_L": 1000.0, "volume_unit": "L", "volume_temperature_degC": 29.4, "temperature_degC": 15.6}
    )
    assert content["content_mass_kg"] == pytest.approx(mass_from_volume(1000.0, W, 29.4), rel=1e-12)
    assert content["content_basis"] == "metered" and said == []
    assert content["content_volume_20C_L"] < 1000.0


def test_1000_gallons_at_85F_are_12_fewer_at_60F() -> None:
    """1,000 gallons of 120 proof at 85 °F are 12.3 gallons fewer at 60 °F (trade notes 1A.8)."""
    row = {"volume_L": 1000 * LITRES_PER_GALLON, "volume_unit": "gal", "volume_temperature_degC": (85 - 32) / 1.8}
    assert held(row)[0]["content_volume_60F_gal"] == pytest.approx(1000 - 12.3, abs=0.1)


@pytest.mark.parametrize(("unit", "temperature"), [("gal", T_60F), ("impgal", T_60F), ("L", T_20C), ("hL", T_20C)])
def test_volume_without_temperature(unit: str, temperature: float) -> None:
    """Gallons without a temperature are at 60 °F, litres at 20 °C, with a note."""
    content, said = held({"volume_L": 1000.0, "volume_unit": unit})
    assert content["content_mass_kg"] == pytest.approx(mass_from_volume(1000.0, W, temperature), rel=1e-12)
    assert said == ["proof.volume-temperature-assumed"]


def test_one_note_for_many_volumes() -> None:
    """Many volumes without a temperature give one note for each unit."""
    rows = [PLAIN | {"vessel": f"C-{n}", "volume_L": 200.0, "volume_unit": "gal" if n % 2 else "L"} for n in range(6)]
    _, findings = corrected(readings(*rows))
    notes = [finding for finding in findings if finding.code == "proof.volume-temperature-assumed"]
    assert [note.message.split(" without")[0] for note in notes] == ["3 volumes in gallons", "3 volumes in litres"]


@pytest.mark.parametrize(
    ("depth", "litres"), [(0.0, 0.0), (25.0, 500.0), (50.0, 1000.0), (60.0, 1300.0), (100.0, 2500.0)]
)
def test_content_by_dip(depth: float, litres: float) -> None:
    """A dip is interpolated in the vessel's table, and its facts are kept."""
    content, said = held({"vessel": "vat-1", "depth_cm": depth, "volume_temperature_degC": 18.0}, TABLE)
    assert content["content_mass_kg"] == pytest.approx(mass_from_volume(litres, W, 18.0), rel=1e-12, abs=1e-12)
    assert content["content_basis"] == "dipped" and said == []
    assert content["facts"] == (1, 2000, 2001, 2002)


@pytest.mark.parametrize(("ullage", "litres"), [(120.0, 0.0), (95.0, 500.0), (60.0, 1300.0), (20.0, 2500.0)])
def test_content_by_ullage(ullage: float, litres: float) -> None:
    """The dip is the vessel's height less the ullage; the row that states the height is among its facts."""
    points = ({"vessel": "VAT-1", "depth_cm": depth, "volume_at_depth_L": volume} for depth, volume in POINTS)
    table = vessels(*points, {"vessel": "VAT-1", "height_cm": 120.0})
    content, said = held({"vessel": "VAT-1", "ullage_cm": ullage, "volume_temperature_degC": 18.0}, table)
    assert content["content_mass_kg"] == pytest.approx(mass_from_volume(litres, W, 18.0), rel=1e-12, abs=1e-9)
    assert content["content_basis"] == "dipped" and said == [] and len(content["facts"]) == 5


def test_two_heights_are_none() -> None:
    """Which of two heights an ullage was measured from nobody knows."""
    heights = [{"vessel": "VAT-1", "height_cm": 120.0}, {"vessel": "VAT-1", "height_cm": 121.0}]
    table = pd.concat([TABLE, vessels(*heights)], ignore_index=True)
    content, said = held({"vessel": "VAT-1", "ullage_cm": 60.0}, table)
    assert np.isnan(content["content_mass_kg"]) and said == ["proof.no-height-for-ullage"]


def test_stated_volume_goes_before_dip() -> None:
    """A metered volume beside a depth counts, and rests on no dip table."""
    row = {"vessel": "VAT-1", "depth_cm": 25.0, "volume_L": 505.0, "volume_unit": "L", "volume_temperature_degC": 18.0}
    content, _ = held(row, TABLE)
    assert content["content_mass_kg"] == pytest.approx(mass_from_volume(505.0, W, 18.0), rel=1e-12)
    assert content["facts"] == (1,)


def test_contents_go_by_the_apparent_density() -> None:
    """Solids make the liquid denser: its volume goes by the apparent strength (27 CFR 30.41, Rev. Rul. 70-209)."""
    content, _ = held({"net_weight_kg": 200.0, "solids_mg_100mL": 500.0})
    plain, _ = held({"net_weight_kg": 200.0})
    assert content["content_volume_60F_gal"] == plain["content_volume_60F_gal"]
    assert content["proof_60F"] == pytest.approx(plain["proof_60F"] + 2.0, abs=1e-9)


def test_no_content_stated() -> None:
    """A reading that states no content has none."""
    content, said = held({})
    assert np.isnan(content["content_mass_kg"]) and content.isna()["content_basis"] and said == []


def test_a_warm_shell_holds_more_than_its_table_says() -> None:
    """Steel of 48e-6 per K, 15 K above its table's temperature: 0.072 % more; its facts come along."""
    steel = vessels(
        *({"vessel": "VAT-1", "depth_cm": depth, "volume_at_depth_L": volume} for depth, volume in POINTS),
        {"vessel": "VAT-1", "base_temperature_degC": 15.0, "shell_expansion_per_K": 48e-6},
    )
    warm = {"vessel": "VAT-1", "depth_cm": 50.0, "volume_temperature_degC": 30.0}
    content, said = held(warm, steel)
    assert content["content_mass_kg"] == pytest.approx(mass_from_volume(1000.0 * (1 + 48e-6 * 15), W, 30.0), rel=1e-12)
    assert said == [] and len(content["facts"]) == 5
    plain, _ = held(warm, TABLE)
    assert content["content_mass_kg"] / plain["content_mass_kg"] == pytest.approx(1.00072)


@pytest.mark.parametrize(("unit", "base"), [("L", T_20C), ("gal", T_60F)])
def test_a_table_without_a_temperature_holds_at_its_unit_s(unit: str, base: float) -> None:
    """20 °C for litres, 60 °F for gallons; without a temperature of the content the table stands as it is."""
    steel = vessels(
        *({"vessel": "VAT-1", "depth_cm": depth, "volume_at_depth_L": volume, "volume_at_depth_unit": unit,
           "shell_expansion_per_K": 48e-6} for depth, volume in POINTS)
    )  # fmt: skip
    content, _ = held({"vessel": "VAT-1", "depth_cm": 50.0, "volume_temperature_degC": 30.0}, steel)
    grown = 1000.0 * (1 + 48e-6 * (30.0 - base))
    assert content["content_mass_kg"] == pytest.approx(mass_from_volume(grown, W, 30.0), rel=1e-12)
    cold, _ = held({"vessel": "VAT-1", "depth_cm": 50.0}, steel)
    assert cold["content_mass_kg"] == pytest.approx(mass_from_volume(1000.0, W, base), rel=1e-12)
