"""From glass to casks: shares, draws, contraction, water in steps, level, and the sheet that comes back."""

from __future__ import annotations

import io
from datetime import datetime
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import load_workbook

from pipeline.runs.run import Result
from plugins import proof
from plugins.proposals.sets.pour import HOLD_BACK, Pour, accepted_trial, pour_steps, scale_trial, vat_of
from plugins.proposals.taste.taste_stages import alcohol_shares
from tests.proposals.sheets import Cellar, brief, codes

W58, W62 = (float(proof.mass_fraction_from_abv(abv)) for abv in (58.0, 62.0))


def glass(ml: list[float], abv: list[float | None]) -> pd.DataFrame:
    return pd.DataFrame({"ml": ml, "strength": [np.nan if a is None else a for a in abv], "strength_unit": "%vol"})


def test_one_strength_makes_millilitres_shares_of_alcohol() -> None:
    """40, 30, 20 and 10 ml of samples cut to one strength are 1,140, 855, 570 and 285 of 2,850 (row SCALE)."""
    shares = alcohol_shares(glass([40, 30, 20, 10], [24.0] * 4))
    assert shares is not None and shares * 2850.0 == pytest.approx([1140.0, 855.0, 570.0, 285.0])


def test_cask_strength_makes_millilitres_shares_of_volume() -> None:
    """Poured at cask strength, half and half of 50 and 65 % vol is 50:65 of alcohol and half and half of volume."""
    shares = alcohol_shares(glass([10, 10], [50.0, 65.0]))
    assert shares is not None and shares == pytest.approx([50 / 115, 65 / 115])


def test_without_a_strength_nothing_is_scaled() -> None:
    """One strength missing: no shares at all."""
    assert alcohol_shares(glass([10, 10], [50.0, None])) is None


def test_a_cask_that_holds_too_little_bounds_the_batch() -> None:
    """Shares stay and the batch shrinks to what the scarcest cask gives; with enough it is whole."""
    draws, part = scale_trial(np.array([0.5, 0.5]), np.array([40.0, 100.0]), 100.0, whole=False)
    assert draws == pytest.approx([1.0, 0.4]) and part == pytest.approx(0.8)
    draws, part = scale_trial(np.array([0.5, 0.5]), np.array([100.0, 200.0]), 100.0, whole=False)
    assert draws == pytest.approx([0.5, 0.25]) and part == 1.0


def test_whole_casks_are_emptied_or_left() -> None:
    """From half a cask on it is emptied; the part of the batch that this makes is told."""
    draws, part = scale_trial(np.array([0.7, 0.3]), np.array([80.0, 90.0]), 100.0, whole=True)
    assert list(draws) == [1.0, 0.0] and part == pytest.approx(0.8)


def pour(masses: list[float], fractions: list[float], target: float = 46.0) -> Pour:
    names = [f"C-{at}" for at in range(len(masses))]
    rows = [
        {"component": name, "mass_kg": mass, "mass_fraction": w, "whole": True}
        for name, mass, w in zip(names, masses, fractions, strict=True)
    ]
    return Pour("proposal", rows, float(proof.mass_fraction_from_abv(target)))


@pytest.mark.long
@given(st.lists(st.tuples(st.floats(20, 300), st.floats(0.45, 0.65)), min_size=1, max_size=6))
def test_steps_conserve_mass_and_alcohol(parts: list[tuple[float, float]]) -> None:
    """After all water the vat is at the target; alcohol never changes by water; volumes contract."""
    made = pour([mass for mass, _ in parts], [w for _, w in parts])
    steps = pour_steps(made)
    assert steps[-1]["running_abv"] == pytest.approx(46.0, abs=1e-6)
    lpa = sum(float(proof.quantities(mass, w)["lpa"]) for mass, w in parts)
    assert steps[-1]["running_lpa"] == pytest.approx(lpa) == steps[len(parts) - 1]["running_lpa"]
    assert sum(step["volume_20C_L"] for step in steps) > steps[-1]["running_L"]


def test_published_contraction() -> None:
    """100 L of 65 % vol to 40 % vol: 64.4 L of water, not 62.5 (trade notes, worked from the OIML coefficients)."""
    w = float(proof.mass_fraction_from_abv(65.0))
    made = pour([float(proof.mass_from_volume(100.0, w, 20.0))], [w], 40.0)
    water = sum(step["volume_20C_L"] for step in pour_steps(made) if step["component"] == "water")
    assert water == pytest.approx(64.4, abs=0.05)


def test_the_last_water_is_held_back() -> None:
    """Water comes in steps and the last part waits for the gauge."""
    steps = [step for step in pour_steps(pour([150.0, 120.0], [W58, W62])) if step["component"] == "water"]
    assert len(steps) == 4 and "HELD BACK" in steps[-1]["note"] and "GAUGE" in steps[-2]["note"]
    total = sum(step["volume_20C_L"] for step in steps)
    assert steps[-1]["volume_20C_L"] == pytest.approx(HOLD_BACK * total)


def test_levels_come_from_the_dip_table() -> None:
    """Litres between two points of the table are read off between them; beyond it there is none."""
    table = {"vessel": ["V-1"] * 3, "capacity_L": [900.0, np.nan, np.nan], "depth_cm": [np.nan, 0.0, 100.0],
             "volume_at_depth_L": [np.nan, 10.0, 810.0]}  # fmt: skip
    level, capacity = vat_of("v-1", pd.DataFrame(table))
    assert capacity == 900.0 and level(410.0) == pytest.approx(50.0) and level(900.0) is None


def test_only_the_last_accepted_trial_counts() -> None:
    """Of two accepted trials the later is poured; without one none."""
    days = pd.to_datetime(["2026-01-01", "2026-02-01"])
    rows = pd.DataFrame(
        {"trial": ["T-1", "T-2"], "component": ["C-1", "C-2"], "accepted": [True, True], "made_at": days}
    )
    found = accepted_trial(rows)
    assert found is not None and list(found["component"]) == ["C-2"]
    assert accepted_trial(rows.assign(accepted=pd.NA)) is None


def sheet(cellar: Cellar, name: str = "blend_sheet.xlsx") -> Path:
    return cellar.out / "proposals" / "B-1" / name


def filled(data: bytes, day: datetime, temperature: float = 20.0) -> bytes:
    """The pour-day sheet as the cellar fills it in: poured as planned, the held-back water not used."""
    book = load_workbook(io.BytesIO(data))
    page = book["Blend sheet"]
    heads = {str(cell.value): cell.column for cell in page[4] if cell.value}
    for row in range(5, page.max_row + 1):
        planned = page.cell(row, 4).value
        if planned is None:
            continue
        page.cell(row, heads["Drawn volume (litres)"]).value = planned
        page.cell(row, heads["Temperature (°C)"]).value = temperature
        page.cell(row, heads["Basis"]).value = "metered"
        page.cell(row, heads["Drawn at"]).value = day.replace(minute=row)
        if page.cell(row, 3).value != "water":
            page.cell(row, heads["Cask emptied"]).value = "yes"
    made = io.BytesIO()
    book.save(made)
    return made.getvalue()


@pytest.mark.long
def test_the_filled_sheet_becomes_the_record(tmp_path: Path) -> None:
    """The pour-day sheet comes back as kind blends, every row taken, and its batch has a record and a lineage."""
    cellar = Cellar(tmp_path)
    cellar.stocked(brief=brief(whole_casks="yes", volume="784 L"))
    (cellar.inbox / "returned sheet.xlsx").write_bytes(filled(sheet(cellar).read_bytes(), datetime(2026, 5, 20, 9, 0)))
    result: Result = cellar.run()
    fate = next(fate for fate in result.fates if fate.name == "returned sheet.xlsx")
    assert fate.outcome == "taken" and fate.kinds == "blends"
    assert not {"sheet.unusable-row", "sheet.columns-not-used"} & {finding.code for finding in result.worked.findings}
    assert (cellar.out / "batches" / "B-1" / "record.json").exists()
    expected = result.worked.frames["balances"].set_index("entry").loc["expected"]
    assert expected["abv_20C"] == pytest.approx(46.0, abs=0.05)
    proposal = result.worked.frames["proposals"].iloc[0]
    assert expected["mass_kg"] == pytest.approx(proposal["mass_kg"], rel=0.001)
    lineage = result.worked.frames["lineage"]
    assert set(lineage["proposal"]) == {proposal["id"]} and lineage["shared"].min() > 0.99
    assert codes(result) == [] and sheet(cellar).exists()


@pytest.mark.long
def test_an_accepted_trial_is_what_is_poured(tmp_path: Path) -> None:
    """With a trial accepted the pour-day sheet is its scaling; without strengths it is told and the proposal stays."""
    cellar = Cellar(tmp_path)
    trial = b"trial,batch,component,ml,strength,made_at,accepted\n"
    trial += b"T-1,B-1,C-01,60,24 %vol,2026-05-01,yes\nT-1,B-1,C-02,40,24 %vol,2026-05-01,yes\n"
    cellar.stocked(brief=brief(volume="300 L"), trials=trial)
    page = load_workbook(sheet(cellar))["Blend sheet"]
    rows = [(page.cell(row, 3).value, page.cell(row, 4).value) for row in range(5, 7)]
    assert [name for name, _ in rows] == ["C-01", "C-02"] and rows[0][1] / rows[1][1] == pytest.approx(1.5, rel=0.01)
    assert "trial T-1, accepted" in str(page.cell(2, 1).value)
    result = cellar.run(again=trial.replace(b"24 %vol", b"").replace(b"T-1", b"T-2").replace(b"05-01", b"05-02"))
    assert "trials.no-strength" in codes(result)


@pytest.mark.long
def test_the_bench_card_comes_back_as_trials(tmp_path: Path) -> None:
    """Dropped as it is, the bench card is a sheet of trials of which every row is usable, and adds up."""
    cellar = Cellar(tmp_path)
    cellar.stocked(brief=brief())
    (cellar.inbox / "card.xlsx").write_bytes(sheet(cellar, "bench_card.xlsx").read_bytes())
    result = cellar.run()
    fate = next(fate for fate in result.fates if fate.name == "card.xlsx")
    assert fate.outcome == "taken" and "trials" in fate.kinds and fate.rows > 4
    assert "sheet.unusable-row" not in {finding.code for finding in result.worked.findings}
    rows = result.worked.frames["trials"].groupby("trial")
    assert ((rows["ml"].sum() - rows["total_ml"].first()).abs() < 1e-9).all()
