"""The first rows of a file are read back in words that a person can hold against the paper."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.testing import site_with
from plugins.proof.declared.in_words import reading_in_words
from tests.bad_input.kit import run_in

HEAD = "Cask,Date,ABV,Temp (°C)\n"


@pytest.mark.long
def test_a_reading_is_said_with_its_strength_and_the_one_before(tmp_path: Path) -> None:
    run_in(tmp_path, {"feb.csv": HEAD + "HB-104,2026-02-03,62.9,18\n"})
    result = run_in(tmp_path, {"march.csv": HEAD + "HB-104,2026-03-02,62.4,18\nHB-105,2026-03-02,60.0,20\n"})
    read = {fate.name: fate.read for fate in result.run.files}
    proofs = {(row.vessel, row.taken_at.month): row.proof_60F for row in result.worked.frames["proofs"].itertuples()}
    assert read["march.csv"] == [
        f"HB-104 on 2 Mar 2026: 62.4 % vol at 18 °C is {proofs['HB-104', 3]:.1f} proof; "
        f"last {proofs['HB-104', 2]:.1f} on 3 Feb 2026",
        f"HB-105 on 2 Mar 2026: 60 % vol at 20 °C is {proofs['HB-105', 3]:.1f} proof; no reading before it",
    ]
    page = (tmp_path / "out" / "index.html").read_text("utf-8")
    assert read["march.csv"][0] in page.replace("&#39;", "'")
    assert "HB-104 on 2 Mar 2026" in (tmp_path / "out" / "door.csv").read_text("utf-8")


@pytest.mark.long
def test_what_no_plugin_says_is_said_column_by_column_in_the_units_of_the_paper(tmp_path: Path) -> None:
    rows = "Vessel,Kind,Capacity (gal),Expires\nVAT-1,blending vat,760,2028-06-30\n"
    (fate,) = run_in(tmp_path, {"vats.csv": rows}).run.files
    assert fate.read == ["vessel VAT-1, kind blending vat, capacity 760 gal, valid until 2028-06-30"]


def test_the_strength_is_said_as_the_market_states_it() -> None:
    row = {
        **{"vessel": "V", "taken_at": "2026-03-02T09:05", "reading": 125.0, "scale": "proof"},
        **{"temperature_degC": 20.0, "temperature_unit": "degF", "proof_60F": 121.56, "abv_20C": None},
    }
    said = reading_in_words(row, None, site_with(markets=("UK",)))
    assert said == "V on 2 Mar 2026 09:05: 125 proof at 68 °F is not known % vol at 20 °C; no reading before it"


@pytest.mark.long
def test_words_that_fail_are_no_reason_to_stop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("plugins.proof.declared.in_words.MONTHS", ())
    (fate,) = run_in(tmp_path, {"feb.csv": HEAD + "HB-104,2026-02-03,62.9,18\n"}).run.files
    assert fate.read == ["vessel HB-104, taken at 2026-02-03, reading 62.9 %vol, temperature 18 degC"]
