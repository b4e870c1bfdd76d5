"""One proposed correction, and the findings that it would close: only what can be reckoned is folded."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook

from pipeline.contract.findings import Place, Ruling
from pipeline.runs.run import run
from plugins.records.pages.page_index import as_cards
from plugins.records.record.causes import explained
from tests.made_once import INBOX, demo
from tests.records.fake_findings import finding

SITE: Any = {
    "tolerances.gain_percent": 0.5,
    "tolerances.process_loss_percent": 1.0,
    "tolerances.expected_proof": 0.5,
}
CELL = Place("gauges.xlsx", "Dump", "E6")
VAT = Place("gauges.xlsx", "Vats", "D9")
LOST = "Batch B-1 lost 10.2 proof gallons between what was drawn and the vat's gauge, above the house's 1 %."


def found(code: str, place: Place, message: str = "It differs.", severity: str = "review", **more: Any) -> Any:
    return replace(finding(code, severity, message, batch="B-1", subject=code, **more), place=place)


CAUSE = found("balance.figure-to-check", CELL)
READING = found("reading.temperature-other-scale", CELL, severity="stop")
DIFFERS = found("balance.strength-differs", VAT)
LOSS = found("balance.loss-above-house-limit", VAT, LOST)
OTHER = found("balance.loss-above-house-limit", VAT, "Batch B-1 lost 5 proof gallons between two filters.", facts=(7,))
ALL = [READING, CAUSE, DIFFERS, LOSS, OTHER]


def record(change: float = -13.0, **changed: Any) -> dict[str, dict[str, Any]]:
    """A batch that is expected 13 kg of alcohol stronger than it was gauged."""
    figure = {
        "components": ["C-1"],
        "quantity": "temperature",
        "slip": "18.2 stands as °F; if °C was meant it is 64.8 °F",
        "place": {"file": CELL.file, "sheet": CELL.sheet, "cell": CELL.cell},
        "mass_change_kg": 0.0,
        "ethanol_change_kg": change,
    }
    balance = {
        "expected": {"mass_kg": 800.0, "ethanol_kg": 320.0},
        "gauged": {"mass_kg": 799.0, "ethanol_kg": 306.6},
        "loss": {"filter": None},
        "imbalance": {"figures_to_check": [figure | changed]},
    }
    return {"B-1": {"balance": balance}}


def test_what_the_correction_closes_is_folded() -> None:
    """The same cell read in the same way, the vat's strength and its loss; not a loss of another step."""
    assert explained(ALL, record(), SITE) == {CAUSE.id: [READING.id, DIFFERS.id, LOSS.id]}


@pytest.mark.parametrize(
    ("records", "folded"),
    [
        (record(-4.0), [READING.id]),
        (record(-30.0), [READING.id]),
        (record(slip="digits exchanged: 18.2 for 81.2"), [DIFFERS.id, LOSS.id]),
        (record(components=["C-1", "C-2"]), []),
        (record(place={"file": "other.xlsx", "sheet": "", "cell": "A1"}), []),
        (record(None), []),  # type: ignore[arg-type]
        ({}, []),
    ],
)
def test_what_is_not_certain_stands_by_itself(records: Any, folded: list[str]) -> None:
    """Too little, too much, another slip, one of two casks, another cell, a pair of figures, no record."""
    assert explained(ALL, records, SITE).get(CAUSE.id, []) == folded


def test_a_second_gauge_at_the_filter_folds_nothing_of_the_vat() -> None:
    """What the record compares is then not what was corrected."""
    records = record()
    records["B-1"]["balance"]["loss"]["filter"] = {"mass_kg": 1.0}
    assert explained(ALL, records, SITE) == {CAUSE.id: [READING.id]}


def test_a_ruled_finding_is_not_folded() -> None:
    """It is closed already."""
    ruled = replace(LOSS, ruling=Ruling("accept", "spilt", "M. Orrin", "2026-02-10", number=3))
    assert explained([CAUSE, ruled, DIFFERS], record(), SITE) == {CAUSE.id: [DIFFERS.id]}


def test_the_card_stands_where_the_gravest_would() -> None:
    """A stop that is folded takes its card to the top with it; each finding is told once."""
    cards = as_cards([READING, DIFFERS, OTHER, CAUSE, LOSS], explained(ALL, record(), SITE))
    assert cards == [CAUSE, OTHER]


@pytest.mark.long
def test_the_demo_s_slip_is_one_card_and_mending_it_closes_what_is_folded(tmp_path: Path) -> None:
    """Mended in the workbook, as proposed, every finding that was folded is gone."""
    out, _ = demo()
    before = json.loads((out / "exceptions/open.json").read_bytes())["findings"]
    (card,) = (one for one in before if one["explains"])
    assert card["place"]["cell"] == "E6" and len(card["explains"]) == 3
    shutil.copytree(INBOX, tmp_path / "inbox")
    path = tmp_path / "inbox" / card["place"]["file"]
    book = load_workbook(path)
    book[card["place"]["sheet"]]["E6"] = 64.8
    book.save(path)
    run(tmp_path / "inbox", tmp_path / "out", now=datetime(2026, 11, 1, tzinfo=UTC))
    after = {one["id"] for one in json.loads((tmp_path / "out/exceptions/open.json").read_bytes())["findings"]}
    assert after.isdisjoint([card["id"], *card["explains"]])
