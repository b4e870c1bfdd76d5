"""The exception tables: harmless to open, complete, in a stated order."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace

import pytest

from pipeline.contract.findings import Place
from plugins.records import plugin, reports
from plugins.records.record.finding_tables import harmless
from tests.records.fake import World, finding, world


@pytest.fixture
def made() -> World:
    return world()


def lines_of(data: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(data.decode("utf-8"), newline="")))


@pytest.mark.parametrize("text", ["=1+1", "+A1", "-A1", "@now", "\tx", "\rx", "\nx", "-5 °C", "＝1", "+1-2", "--1"])
def test_text_that_a_spreadsheet_would_run_is_made_harmless(text: str) -> None:
    """A text that begins with a sign of a formula gets an apostrophe before it."""
    assert harmless(text) == "'" + text


@pytest.mark.parametrize("text", ["-0.02", "+12", "-1e5", "-.5", "5-3", "C-0101", "", "a=b", "63.5 °F"])
def test_numbers_and_other_text_stay_as_they_are(text: str) -> None:
    """A text that is a number, or that no spreadsheet runs, is not touched."""
    assert harmless(text) == text


def test_no_cell_of_a_table_is_run(made: World) -> None:
    """Hostile text in any field, and in a ruling, is harmless in both tables."""
    bad = "=cmd|' /C calc'!A0"
    made.findings = [
        finding(
            "a.b",
            "stop",
            bad,
            subject=bad,
            batch=bad,
            observed=bad,
            expected=bad,
            rule=bad,
            remedy=bad,
            place=Place(bad, bad, "A1"),
        )
    ]
    ruled = made.run.history[0]
    made.run.history = [
        replace(
            ruled, subject=bad, message=bad, evidence=bad, file=bad, ruling=replace(ruled.ruling, reason=bad, by=bad)
        )
    ]
    cells = [
        cell
        for data in (made.call(reports.open_csv), made.call(reports.history_csv))
        for line in lines_of(data)
        for cell in line.values()
    ]
    assert sum(cell == "'" + bad for cell in cells) == 9 + 6
    assert not any(cell.startswith("=") for cell in cells)


def test_open_table_has_the_open_findings_in_order(made: World) -> None:
    """Open findings by severity, batch, code, subject and id; ruled ones are left to history."""
    lines = lines_of(made.call(reports.open_csv))
    assert [line["severity"] for line in lines] == ["stop", "stop", "stop", "review", "note", "note"]
    assert [line["code"] for line in lines[:2]] == ["blend.does-not-balance", "proof.temperature-scale"]
    assert lines[1]["cell"] == "F203" and lines[1]["observed"] == "17.5 °F"
    assert "blend.stale-gauge" not in [line["code"] for line in lines]


def test_order_does_not_hang_on_the_order_given(made: World) -> None:
    """The tables are equal to the byte whichever way round the findings come."""
    before = made.call(reports.open_csv), made.call(reports.open_json)
    made.findings.reverse()
    assert (made.call(reports.open_csv), made.call(reports.open_json)) == before


def test_open_json_is_the_same_findings(made: World) -> None:
    """open.json holds the findings of open.csv with their places, as objects."""
    data = json.loads(made.call(reports.open_json))
    assert data["schema"] == "vatting.findings/1"
    assert [found["id"] for found in data["findings"]] == [
        line["finding"] for line in lines_of(made.call(reports.open_csv))
    ]
    assert data["findings"][1]["place"] == {"file": "gauges february.xlsx", "sheet": "Lab", "cell": "F203"}
    assert data["findings"][1]["batch"] == "B-26-02"


def test_history_tells_who_ruled_what_and_how_it_stands(made: World) -> None:
    """Every ruling is in history with its reason, signer, evidence and present state."""
    (line,) = lines_of(made.call(reports.history_csv))
    assert line["code"] == "blend.stale-gauge" and line["ruling"] == "accept"
    assert (line["by"], line["ruled_on"], line["evidence"], line["state"]) == (
        "M. Orrin",
        "2026-02-10",
        "dip book p. 12",
        "in force",
    )


def test_tables_of_nothing_have_their_header(made: World) -> None:
    """With nothing open and nothing ruled the tables have a header and no row."""
    made.findings, made.run.history = [], []
    assert made.call(reports.open_csv).count(b"\n") == 1 and lines_of(made.call(reports.history_csv)) == []
    assert json.loads(made.call(reports.open_json))["findings"] == []


def test_the_door_offers_every_file_of_the_contract() -> None:
    """The plugin's hook gives the document, the reports that the contract names, the label sheet, the checker."""
    paths = [made.path for made in plugin.reports() if hasattr(made, "path")]
    assert paths == [
        "batches/{batch}/record.json",
        "batches/{batch}/record.html",
        "batches/{batch}/label.html",
        "batches/{batch}/record.xlsx",
        "check_dossier.py",
        "exceptions/open.xlsx",
        "exceptions/open.csv",
        "exceptions/open.json",
        "exceptions/history.csv",
        "index.html",
        *(f"records/{sort}/{{month}}.html" for sort in ("gauges", "samples", "destructions", "tests", "bottlings")),
        "records/records.html",
    ]
    assert [made.path for made in plugin.reports() if getattr(made, "last", False)] == ["index.html"]
    assert [made.earlier for made in plugin.reports() if getattr(made, "earlier", None)] == [
        ("made_by", "head", "late", "retention", "step", "step_why", "next")
    ]
