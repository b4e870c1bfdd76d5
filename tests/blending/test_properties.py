"""What must hold for any blend sheet."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from plugins import proof
from plugins.blending.common.amounts import ethanol_masses, quantities
from plugins.blending.slips.digits import transposed, written
from tests.blending.sheets import KINDS, Room, brief, cask, draw, frame, reading, work
from tests.sets import search

LITRES_PER_GALLON = 3.785411784
POUND = 0.45359237
FEW = search(10)

amounts = st.floats(20.0, 180.0).map(lambda value: round(value, 1))
strengths = st.floats(90.0, 135.0).map(lambda value: round(value, 1))
lines = st.lists(st.tuples(amounts, strengths), min_size=1, max_size=6)
TOTALS = ["mass_kg", "ethanol_kg", "volume_60F_gal", "volume_20C_L", "proof_gallons", "lpa"]


def room(parts: list[tuple[float, float]]) -> Room:
    names = [f"C-{n:04d}" for n in range(len(parts))]
    made = Room(
        blends=[draw(name, drawn_weight=f"{kg} kg", line="1") for name, (kg, _) in zip(names, parts, strict=True)],
        briefs=[brief()],
        casks=[cask(name, capacity="400 L") for name in names],
        readings=[reading(name, value, "2026-03-01") for name, (_, value) in zip(names, parts, strict=True)],
    )
    made.blends.append(draw("water", "2026-03-03", drawn_weight="40 kg"))
    made.readings.append(reading("VAT-1", 100, "2026-03-05", net_weight=f"{40 + sum(kg for kg, _ in parts):.1f} kg"))
    return made


@pytest.mark.long
@FEW
@given(lines, st.randoms(use_true_random=False))
def test_the_order_of_rows_does_not_matter(parts: list[tuple[float, float]], random: Any) -> None:
    """Every frame of reconciliation is equal to the last bit, and so are the findings, however rows are shuffled."""
    made = room(parts)
    frames = {name: frame(kind, getattr(made, name)) for name, kind in KINDS.items()}
    shuffled = {}
    for name, table in frames.items():
        order = list(range(len(table)))
        random.shuffle(order)
        shuffled[name] = table.iloc[order].reset_index(drop=True)
    one, other = work(frames, made.site()), work(shuffled, made.site())
    for name in ("components", "balances", "losses", "imbalances", "figures_to_check"):
        pd.testing.assert_frame_equal(one[name], other[name], check_exact=True)
    assert one.findings == other.findings


@pytest.mark.long
@FEW
@given(lines, st.floats(0.1, 0.9))
def test_splitting_a_draw_conserves_every_total(parts: list[tuple[float, float]], share: float) -> None:
    """One cask drawn on two days is as much as drawn at once."""
    whole = room(parts)
    split = room(parts)
    kg = parts[0][0]
    split.blends[0] = draw("C-0000", drawn_weight=f"{kg * share!r} kg", line="1")
    split.blends.append(draw("C-0000", "2026-03-03", drawn_weight=f"{kg - kg * share!r} kg", line="2"))
    one, other = whole.work().entry("expected"), split.work().entry("expected")
    for name in TOTALS:
        assert np.isclose(one[name], other[name], rtol=1e-12)


@pytest.mark.long
@FEW
@given(amounts, strengths, st.floats(5.0, 30.0))
def test_units_do_not_matter(amount: float, strength: float, degC: float) -> None:
    """Gallons or litres, pounds or kilograms, °F or °C, proof or % vol: one spirit, one account."""
    abv = float(proof.abv_from_mass_fraction(proof.mass_fraction_from_proof(strength)))
    degF = degC * 1.8 + 32
    pairs = [
        (
            {"drawn_volume": f"{amount!r} gal", "temperature": f"{degF!r} degF", "drawn_proof": f"{strength!r} proof"},
            {
                "drawn_volume": f"{amount * LITRES_PER_GALLON!r} L",
                "temperature": f"{degC!r} degC",
                "drawn_proof": f"{abv!r} %vol",
            },
        ),
        (
            {"drawn_weight": f"{amount!r} lb", "drawn_proof": f"{strength!r} proof"},
            {"drawn_weight": f"{amount * POUND!r} kg", "drawn_proof": f"{abv!r} %vol"},
        ),
    ]
    for one, other in pairs:
        entries = [
            Room(blends=[draw("T-1", **line)], briefs=[brief()], vessels=[{"vessel": "T-1"}]).work().entry("drawn")
            for line in (one, other)
        ]
        for name in [*TOTALS, "proof_60F", "abv_20C"]:
            assert np.isclose(entries[0][name], entries[1][name], rtol=1e-9)


@given(st.floats(0.1, 1e5), st.floats(0.0, 195.0), st.floats(0.0, 4.0))
def test_the_three_masses_give_back_the_strengths(mass: float, apparent: float, hidden: float) -> None:
    """Mass, ethanol and apparent ethanol are all that an account needs: true and apparent proof come back."""
    true = apparent + hidden
    made = quantities(mass, *ethanol_masses(mass, true, apparent))
    assert np.isclose(made["proof_60F"], true, rtol=0, atol=1e-8)
    assert np.isclose(made["proof_apparent_60F"], apparent, rtol=0, atol=1e-8)
    assert np.isclose(made["proof_gallons"], made["volume_60F_gal"] * true / 100, rtol=1e-9, atol=1e-12)
    assert np.isclose(made["lpa"], made["volume_20C_L"] * made["abv_20C"] / 100, rtol=1e-9, atol=1e-12)


@given(st.floats(1.0, 100.0), st.floats(1.0, 100.0), st.floats(1.0, 190.0), st.floats(1.0, 190.0))
def test_mixing_spirit_and_water_never_makes_room(kg: float, other_kg: float, strength: float, other: float) -> None:
    """Proof gallons of the mix are those of the parts; the strength lies between theirs."""
    parts = [(kg, strength), (other_kg, other)]
    masses = [ethanol_masses(mass, value, value) for mass, value in parts]
    mixed = quantities(kg + other_kg, sum(m[0] for m in masses), sum(m[1] for m in masses))
    alone = [quantities(mass, *both) for (mass, _), both in zip(parts, masses, strict=True)]
    assert np.isclose(mixed["proof_gallons"], sum(part["proof_gallons"] for part in alone), rtol=1e-9)
    assert min(strength, other) - 1e-6 <= mixed["proof_60F"] <= max(strength, other) + 1e-6


@given(st.integers(1, 99999).map(lambda value: value / 10))
def test_a_transposition_can_be_undone(value: float) -> None:
    """Exchanging the same two digits again gives the figure back, unless a zero at an end fell away."""
    for figure in transposed(value):
        assert figure != value
        assert value in transposed(figure) or len(written(figure)) != len(written(value))
