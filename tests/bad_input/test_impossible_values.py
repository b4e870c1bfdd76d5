"""Figures that no spirit has: in a finding, out of the sums, and the others stand."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.bad_input.kit import csv, found, run_in

CASKS = csv("C-1,2020-01-01,125,53,2026-01-01", header="Cask,Filled,Entry Proof,Entry volume (gal),As of")


@pytest.mark.long
def test_strengths_and_temperatures_outside_all_scales(tmp_path: Path) -> None:
    """Negative proof, proof over 200, a jar beyond the formula: each a finding with its cell, none a gauge."""
    rows = [
        "C-1,2026-03-02,-5,68",
        "C-2,2026-03-02,201,68",
        "C-3,2026-03-02,1205,68",
        "C-4,2026-03-02,120,-20",
        "C-5,2026-03-02,120,130",
        "C-6,2026-03-02,120,400",
        "C-7,2026-03-02,120,-60",
        "C-8,2026-03-02,120,",
        "C-9,2026-03-02,120,68",
    ]
    result = run_in(tmp_path, {"a.csv": csv(*rows)})
    assert result.worked.frames["proofs"]["vessel"].tolist() == ["C-9"]
    open_on = {f.subject: f.place.cell for f in result.worked.findings if f.severity in ("stop", "review")}
    wanted = {"C-1": "C2", "C-2": "C3", "C-3": "C4", "C-4": "D5", "C-5": "D6", "C-6": "D7", "C-7": "D8"}
    assert open_on == {**wanted, "C-8": open_on["C-8"]}


@pytest.mark.long
def test_strengths_of_the_wrong_scale(tmp_path: Path) -> None:
    """124.6 under ABV, 898.2 under specific gravity, 0.9 under kg/m3 fit no mixture: findings, no gauges."""
    result = run_in(
        tmp_path,
        {
            "abv.csv": csv("C-1,2026-03-02,124.6,20", "C-2,2026-03-02,62.3,20", header="Cask,Date,ABV,Temp (°C)"),
            "sg.csv": csv("C-3,2026-03-02,898.2,20", "C-4,2026-03-02,0.9,20", header="Cask,Date,SG,Temp (°C)"),
            "d.csv": csv(
                "C-5,2026-03-02,0.9,20", "C-6,2026-03-02,900,20", header="Cask,Date,Density (kg/m3),Temp (°C)"
            ),
        },
    )
    assert sorted(result.worked.frames["proofs"]["vessel"]) == ["C-2", "C-4", "C-6"]
    assert {"proof.reading-outside-scale", "proof.no-such-strength"} <= found(result)


@pytest.mark.long
def test_a_blend_sheet_without_quantities_holds_its_batch(tmp_path: Path) -> None:
    """Lab readings that name a batch look like a blend sheet without quantities: stop findings say so."""
    sheet = csv("B-1,C-1,2026-03-02,120,68", header="Batch,Cask,Date,Proof,Temp (F)")
    result = run_in(tmp_path, {"casks.csv": CASKS, "lab.csv": sheet})
    assert result.statuses["B-1"] == "held" and "blend.no-quantity" in found(result)


@pytest.mark.long
def test_an_absurd_quantity_stops_no_page(tmp_path: Path) -> None:
    """1E300 gallons are a finding of their row; record and index are made."""
    sheet = csv("B-1,C-1,50,120,2026-03-02", "B-1,C-2,1E300,120,2026-03-02", header="Batch,Cask,WG,Proof,Date")
    result = run_in(tmp_path, {"casks.csv": CASKS, "blend.csv": sheet})
    assert "sheet.unusable-row" in found(result) and not found(result) & {"report.failed", "stage.failed"}
    assert (tmp_path / "out" / "index.html").is_file()


@pytest.mark.long
def test_rows_of_one_key_in_one_file(tmp_path: Path) -> None:
    """Equal rows count once with a note; unequal ones stop until ruled on, and neither counts."""
    rows = ["C-1,2026-03-02,120,68", "C-1,2026-03-02,120,68", "C-2,2026-03-02,121,68", "C-2,2026-03-02,122,68"]
    result = run_in(tmp_path, {"a.csv": csv(*rows)})
    assert result.worked.frames["proofs"]["vessel"].tolist() == ["C-1"]
    severities = {f.code: f.severity for f in result.worked.findings}
    assert severities["sheet.row-repeated"] == "note" and severities["sheet.key-disputed"] == "stop"
