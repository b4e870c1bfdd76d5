"""Lineage both ways, in the frame, in the CSV and with vatting explain; the cellar's pages."""

from __future__ import annotations

import re
from pathlib import Path

import pandas as pd
import pytest

from pipeline.runs.explain import explain
from pipeline.runs.run import Result
from pipeline.writing.pages import figure
from plugins.cellar.pages.charts import Dot, Forecast, course, ticks
from tests.cellar.house import cask
from tests.cellar.house import run as run_stages
from tests.made_once import demo


@pytest.fixture(scope="module")
def out() -> Path:
    return demo()[0]


@pytest.fixture(scope="module")
def result() -> Result:
    return demo()[1]


@pytest.mark.long
def test_a_cask_leads_to_every_batch_and_a_batch_to_its_casks() -> None:
    """C-1 went into two batches; the shares of a batch's lines add up to 100 %."""
    draw = {"drawn_weight": "50 kg", "drawn_proof": "122 proof", "basis": "weighed"}
    blends = [
        draw | {"batch": "B-1", "component": "C-1", "drawn_at": "2025-03-03"},
        draw | {"batch": "B-1", "component": "C-2", "drawn_at": "2025-03-03"},
        draw | {"batch": "B-2", "component": "C-1", "drawn_at": "2025-05-03"},
    ]
    bottled = [
        {
            "batch": "B-1",
            "bottled_on": "2025-03-20",
            "bottle_size": "750 mL",
            "bottles": 60,
            "run": "1",
            "lot_code": "L-77",
        }
    ]
    made, _ = run_stages([cask("C-1"), cask("C-2")], blends=blends, bottlings=bottled)
    rows = made["lineages"]
    assert rows[rows["cask"] == "C-1"]["batch"].tolist() == ["B-1", "B-2"]
    assert rows.groupby("batch")["share_percent"].sum().to_numpy() == pytest.approx([100.0, 100.0])
    assert "L-77" in rows["bottled"].iloc[0] and pd.isna(rows[rows["batch"] == "B-2"]["bottled"]).all()


@pytest.mark.long
def test_explain_walks_both_ways(result: Result, out: Path) -> None:
    """vatting explain of a cask names its batch's lineage, and of a batch its casks, with cells."""
    for name, wanted in (("C-0101", "B-26-01"), ("B-26-01", "C-0101")):
        answer = explain(name, out)
        part = next(part for part in answer.parts if part.title.startswith("lineages"))
        assert any(wanted in line.text for line in part.lines), name


def test_lineage_csv_has_every_cask_of_every_batch(result: Result, out: Path) -> None:
    """Twenty casks in three batches, each with the gauge that counts."""
    rows = pd.read_csv(out / "accounts" / "lineage.csv")
    assert rows.groupby("batch")["cask"].nunique().to_dict() == {"B-26-01": 10, "B-26-02": 4, "B-26-03": 6}
    assert rows["gauge"].notna().all()


def test_the_demo_closes_and_no_stage_of_the_cellar_fails(result: Result, out: Path) -> None:
    """Month totals of the example close to the tenth; nothing honest in it is told as a leak or as missing."""
    codes = {finding.code for finding in result.worked.findings}
    assert not codes & {"stage.failed", "stage.left-out", "report.failed"}
    assert not [code for code in codes if code.startswith(("stock.", "account."))]
    assert "cask.loses-more-than-neighbours" not in codes and "cask.gains-volume" not in codes
    table = pd.read_csv(out / "accounts" / "months.csv")
    for _, own in table.groupby(["month", "account", "spirit"]):
        values = own.set_index("entry")["proof_gallons_official"]
        assert round(values["opening"] + values.drop(["opening", "on hand"]).sum(), 1) == round(values["on hand"], 1)
    lines = pd.read_csv(out / "accounts" / "lines.csv")
    assert lines[["file", "cell"]].notna().all().all()


@pytest.mark.parametrize("name", ["casks/C-0206/history.html", "casks/cellar.html", "accounts/months.html"])
def test_pages_need_no_network_and_link_to_what_is_there(result: Result, out: Path, name: str) -> None:
    """Nothing is loaded; every link leads to a file in the outputs; headings and tables are there to be read aloud."""
    page = out / name
    text = page.read_text("utf-8")
    assert not re.search(r"(?:src|href)=\"(?:https?:)?//", text)
    for link in set(re.findall(r'href="([^"#]+)"', text)):
        assert (page.parent / link).resolve().exists(), link
    assert text.count("<h1") == 1 and "<th scope" in text and "None" not in text


def test_a_cask_s_page_has_its_history_and_forecast_as_pictures(result: Result, out: Path) -> None:
    """Two pictures with a name each, points by shape, a band; and the same figures in tables."""
    text = (out / "casks/C-0206/history.html").read_text("utf-8")
    assert text.count('class="course"') == 2 and text.count('role="img"') == 2
    assert '<rect class="dot"' in text and '<circle class="dot"' in text and 'class="band"' in text
    assert "not in 40 years" in text and "What is known" in text


def test_a_picture_holds_what_it_is_given() -> None:
    """Every point is drawn within the frame, levels only where they lie in it, names are escaped."""
    made = str(
        course(
            [Dot(737000, 50.0, 20.0, "gauged", "<a>")],
            [Forecast(738000, 30.0, 40.0, 45.0)],
            [(35.0, "a level"), (900.0, "far")],
            "L",
            "x & y",
        )
    )
    assert "&lt;a&gt;" in made and "x &amp; y" in made and "a level" in made and "far" not in made
    assert all(0 <= float(value) <= 290 for value in re.findall(r'cy="([\d.-]+)"|y[12]="([\d.-]+)"', made)[0] if value)
    assert course([], [], [], "L", "nothing") == ""


@pytest.mark.parametrize(("low", "high"), [(0.0, 1.0), (98.7, 123.4), (0.01, 0.02), (5.0, 5.0)])
def test_ticks_are_round_and_in_range(low: float, high: float) -> None:
    """At least one tick, none outside."""
    found = ticks(low, high)
    assert all(low - 1e-6 <= one <= high + 1e-6 for one in found)
    assert len(found) <= 12


def test_figures_have_a_minus_and_no_minus_nought() -> None:
    """A dash for nothing, thousands apart, −0.04 to one place is 0.0."""
    assert [figure(None), figure(-1234.56), figure(-0.04)] == ["–", "−1,234.6", "0.0"]
