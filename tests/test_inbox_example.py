"""inbox_example is what its script makes, and the tool finds in it the three stories that it tells."""

from __future__ import annotations

import io
import json
import shutil
import zipfile
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook

from pipeline.runs.run import Result, run
from tests.made_once import INBOX, NOW, demo
from tests.make_inbox import files
from tests.make_inbox_batches import MISKEYED, TOO_YOUNG
from tests.make_inbox_world import apparent_proof, casks
from tests.proposals.test_pour import filled


@pytest.fixture(scope="module")
def out() -> Path:
    return demo()[0]


@pytest.fixture(scope="module")
def result() -> Result:
    return demo()[1]


@pytest.fixture(scope="module")
def made() -> dict[str, bytes]:
    return files()


def record(out: Path, batch: str) -> dict[str, Any]:
    return json.loads((out / "batches" / batch / "record.json").read_text("utf-8"))


def parts(data: bytes) -> list[tuple[str, bytes]]:
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        return [(info.filename, packed.read(info)) for info in packed.infolist()]


def test_script_makes_the_committed_files(made: dict[str, bytes]) -> None:
    """The script's output equals the committed files: texts to the byte, workbooks part by part.

    A workbook's parts are compared unpacked, as how tightly they are packed is up to the zlib at hand.
    """
    committed = {path.name: path.read_bytes() for path in INBOX.iterdir()}
    assert sorted(made) == sorted(committed)
    for name, data in made.items():
        if name.endswith(".xlsx"):
            assert parts(data) == parts(committed[name]), name
        else:
            assert data == committed[name], name


@pytest.mark.long
def test_script_gives_the_same_bytes_twice(made: dict[str, bytes]) -> None:
    """A second call gives the same bytes, workbooks as packed included."""
    assert files() == made


@pytest.mark.long
def test_no_file_is_returned_and_no_row_left_out(result: Result, out: Path) -> None:
    """Every file is taken, no row of one is unusable, and a checkout stays clean."""
    assert {fate.outcome for fate in result.fates} == {"taken"}
    assert len(result.fates) == len(list(INBOX.glob("*.csv"))) + len(list(INBOX.glob("*.xlsx")))
    codes = {finding.code for finding in result.worked.findings}
    assert not codes & {"sheet.unusable-row", "sheet.columns-not-used", "sheet.unit-assumed", "file.returned"}
    assert not (out / "returned").exists()
    assert {path.name for path in INBOX.iterdir()} == set(files())


def test_it_is_as_large_and_as_varied_as_told(result: Result) -> None:
    """About 40 casks with two years of readings by three instruments, 240 more in the north store, four tasters."""
    rows = {kind: sum(fate.rows for fate in result.fates if fate.kinds == kind) for kind in ("casks", "readings")}
    assert {fate.name: fate.rows for fate in result.fates if fate.kinds == "casks"} == {
        "north_store_2026-01-09.csv": 240,
        "warehouse_2026-01-09.xlsx": 42,
    }
    assert 300 <= rows["readings"] <= 500
    woods = {(c.wood.species, c.wood.toast, c.wood.char, c.wood.use) for c in casks()}
    assert len(woods) >= 8
    proofs = result.worked.frames["proofs"]
    assert set(proofs["instrument"]) == {"H-1", "H-2", "DM-1"}
    assert len(proofs) == rows["readings"]
    span = proofs["taken_at"].max() - proofs["taken_at"].min()
    assert 700 <= span.days <= 760
    assert result.worked.frames["notes"]["taster"].nunique() == 4
    tasted = result.worked.frames["tasted"]["sample"]
    assert tasted[~tasted.str.startswith("T-")].nunique() == 300  # and the trials of one bench card
    assert tasted[tasted.str.startswith("T-")].nunique() == 8


def test_regauges_come_out_at_the_hidden_truth(result: Result) -> None:
    """Corrected strengths lie within 0.5 proof of what was truly in the cask, the mis-keyed one aside."""
    stored = {cask.name: cask for cask in casks()}
    proofs = result.worked.frames["proofs"]
    checked = 0
    for row in proofs[proofs["vessel"].isin(list(stored))].itertuples():
        day = row.taken_at.date()
        if (row.vessel, day) == (MISKEYED, date(2026, 2, 10)):
            assert abs(row.proof_apparent_60F - apparent_proof(stored[row.vessel].on(day))) > 10
            continue
        assert abs(row.proof_apparent_60F - apparent_proof(stored[row.vessel].on(day))) < 0.5, row
        checked += 1
    assert checked > 300


def test_first_batch_reconciles(result: Result, out: Path) -> None:
    """B-26-01 closes step by step within the house's limits and is held up by nothing."""
    made = record(out, "B-26-01")
    assert [finding for finding in made["findings"] if finding["severity"] != "note"] == []
    assert made["status"] == "reconciled"
    balance = made["balance"]
    assert abs(balance["expected"]["proof_60F"] - balance["gauged"]["proof_60F"]) < 0.3
    for step in ("dump", "process", "filter", "bottling"):
        assert 0 < balance["loss"][step]["proof_gallons"] < 0.011 * balance["drawn"]["proof_gallons"], step
    assert {label["verdict"] for label in made["label"]} == {"met"}
    assert "bottled in bond" in {label["claim"] for label in made["label"]}


def test_second_batch_shows_the_cell_of_the_mis_keyed_temperature(result: Result, out: Path) -> None:
    """Both the cask's history and the vat's balance point at one cell, and say what was meant."""
    name = "dump_and_vat_gauges_2026.xlsx"
    sheet = load_workbook(INBOX / name)["B-26-02 dump"]
    row = next(cells for cells in sheet.iter_rows() if cells[0].value == MISKEYED)
    assert sheet.cell(row[4].row, 5).value is not None
    place = {"file": name, "sheet": "B-26-02 dump", "cell": row[4].coordinate}

    made = record(out, "B-26-02")
    assert made["status"] in ("held", "in review")
    found = {finding["code"]: finding for finding in made["findings"]}
    by_history = found["reading.temperature-other-scale"]
    assert (by_history["subject"], by_history["place"]) == (MISKEYED, place)
    assert "°C" in by_history["remedy"] + by_history["expected"]
    assert "balance.strength-differs" in found
    first = made["balance"]["imbalance"]["figures_to_check"][0]
    assert (first["components"], first["quantity"], first["place"]) == ([MISKEYED], "temperature", place)
    assert first["as_read"] == row[4].value
    assert first["as_corrected"] == pytest.approx(row[4].value * 1.8 + 32)
    assert first["z_after"] < 2 < first["z_before"]
    assert {label["verdict"] for label in made["label"]} == {"met"}


@pytest.mark.long
def test_second_batch_closes_when_the_cell_is_corrected(tmp_path: Path) -> None:
    """With the temperature put right, and nothing else, the second batch reconciles."""
    inbox = tmp_path / "inbox"
    inbox.mkdir()
    for path in INBOX.iterdir():
        (inbox / path.name).write_bytes(path.read_bytes())
    path = inbox / "dump_and_vat_gauges_2026.xlsx"
    book = load_workbook(path)
    for cells in book["B-26-02 dump"].iter_rows():
        if cells[0].value == MISKEYED:
            cells[4].value = round(cells[4].value * 1.8 + 32, 1)
    book.save(path)
    run(inbox, tmp_path / "out", now=NOW)
    assert record(tmp_path / "out", "B-26-02")["status"] == "reconciled"


def test_third_batch_fails_its_age_claim(result: Result, out: Path) -> None:
    """B-26-03 closes, but its youngest cask is days short of the stated 5 years."""
    made = record(out, "B-26-03")
    assert made["age"] == {"youngest_component": TOO_YOUNG, "years": 4, "months": 11, "days": 12}
    ages = [label for label in made["label"] if label["claim"] == "age statement"]
    assert {label["market"] for label in ages} == {"US", "EU"}
    for label in ages:
        assert label["verdict"] == "not met"
        assert TOO_YOUNG in label["reason"]
    assert {label["verdict"] for label in made["label"] if label["claim"] != "age statement"} == {"met"}
    assert {finding["code"] for finding in made["findings"] if finding["severity"] != "note"} == {
        *("label.age-overstated", "label.words-not-allowed", "label.words-contradict")
    }
    assert made["balance"]["bottled"] is None
    assert abs(made["balance"]["expected"]["proof_60F"] - made["balance"]["gauged"]["proof_60F"]) < 0.3


@pytest.mark.long
def test_the_brief_yields_proposals_and_its_filled_sheet_a_record(tmp_path: Path) -> None:
    """B-27-01 is proposed from the north store; its pour-day sheet, filled in and dropped, becomes its record."""
    inbox, out = tmp_path / "inbox", tmp_path / "out"
    shutil.copytree(INBOX, inbox)
    shutil.copytree(demo()[0], out)
    folder = out / "proposals" / "B-27-01"
    document = json.loads((folder / "proposals.json").read_bytes())
    assert document["status"] == "proposed" and len(document["proposals"]) == 5
    assert {path.name for path in folder.iterdir()} == {
        *("proposals.json", "proposals.html", "bench_card.xlsx", "bench_tasting.xlsx", "blend_sheet.xlsx")
    }
    assert document["proposals"][0]["draw_from"] <= "2026-10-05"
    others = {
        batch: (out / "batches" / batch / "record.json").read_bytes() for batch in ("B-26-01", "B-26-02", "B-26-03")
    }
    sheet = filled((folder / "blend_sheet.xlsx").read_bytes(), datetime(2026, 10, 5, 9, 0))
    (inbox / "blend_sheet_B-27-01.xlsx").write_bytes(sheet)
    result = run(inbox, out, now=NOW)
    assert {fate.kinds for fate in result.fates if fate.outcome == "taken"} == {"blends"}
    made = record(out, "B-27-01")
    casks_proposed = {part["component"] for part in document["proposals"][0]["components"]}
    assert {part["component"].replace("W", "w") for part in made["components"]} == {*casks_proposed, "water"}
    expected = document["proposals"][0]["expected"]
    assert made["balance"]["expected"]["abv_20C"] == pytest.approx(expected["abv_20C"], abs=0.1)
    assert made["balance"]["expected"]["volume_20C_L"] == pytest.approx(expected["volume_20C_L"], rel=0.002)
    assert {"single malt": "met", "age statement": "met"}.items() <= {
        r["claim"]: r["verdict"] for r in made["label"]
    }.items()
    assert json.loads((folder / "proposals.json").read_bytes()) == document
    assert others == {batch: (out / "batches" / batch / "record.json").read_bytes() for batch in others}
