"""What an inspector asks of a record (27 CFR 19.598-19.600, 19.618, 30.21): held there, and printed in few pages."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from datetime import UTC, date, datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from pipeline.testing import site_with
from plugins.records.pages import paper
from plugins.records.record import months, papers
from plugins.records.record.retention import retention
from plugins.records.record.serials import due_by, late_entries
from tests.audit.room import READINGS, SITE, Room
from tests.made_once import demo, made_once

CASKS = 12
MORE = """
[plugins.records]
producer = "Fold & Sons"
plant_numbers = {US = "DSP-ZZ-0"}
bonded_statement = "Bottled in bond under supervision"
home_country = "USA"
"""


def twelve(folder: Path) -> None:
    """Twelve casks into one vat, water, a bottling with cases, tests on the line; read and bottled as sheets say."""
    room = Room(folder, SITE + MORE)
    names = [f"K{n:02d}" for n in range(1, CASKS + 1)]
    room.table("casks.csv", "cask,filled_on,as_of,spirit,country,distillery,wood use",
               [(n, "2018-03-01", "2026-01-01", "Bourbon", "Elsewhere" if n == "K02" else "USA", "Fold", "virgin")
                for n in names])  # fmt: skip
    room.table("briefs.csv", "batch,product,market,vessel,vessel_empty,bottling_proof,bottle_size,formula",
               [("B1", "P", "US", "V1", "yes", 110, "750 mL", "F-77")])  # fmt: skip
    drawn = [("B1", n, "150 kg", f"2026-01-10T{8 + i:02d}:00", "") for i, n in enumerate(names)]
    room.table("blends.csv", "batch,component,drawn_weight,drawn_at,line",
               [*drawn, ("B1", "water", "201.7 kg", "2026-01-10T22:00", "13")])  # fmt: skip
    gauges = [(n, "2026-01-09T10:00", 120, "proof", "as read", "65 °F", "H-1", "", "150 kg", "dump") for n in names]
    vat = ("V1", "2026-01-11", 109.9, "proof", "at 60 °F", "60 °F", "H-1", "", "1998 kg", "after water")
    room.table("readings.csv", READINGS, [*gauges, vat])
    heads = "batch,bottled_on,bottle_size,bottles,run,bottles_per_case,cases,case_serials,lot_code,destroyed"
    room.table("bottled.csv", heads,
               [("B1", "2026-01-20", "750 mL", 2800, "1", 12, 233, "5001-5233", "L1", 4)])  # fmt: skip
    room.table("checks.csv", "batch,checked_at,bottle_size,net_volume,proof,line,tank,action",
               [("B1", f"2026-01-20T09:0{n}", "750 mL", f"{749 + n} mL", "109.8 proof", n, "V1", "none")
                for n in range(4)])  # fmt: skip
    room.run()


@pytest.fixture(scope="module")
def out() -> Path:
    return made_once("twelve-casks", twelve)[0] / "out"


@pytest.fixture(scope="module")
def record(out: Path) -> Any:
    return json.loads((out / "batches/B1/record.json").read_text("utf-8"))


def test_each_demand_of_the_sections_is_in_the_record(record: Any) -> None:
    """Serial, producer, plant, formula; kind and note of each spirit; day, source, destination of each transaction."""
    own = record["identity"]
    assert (own["serial"], own["producer"], own["plant_numbers"], own["formula"]) == (
        "B1", "Fold & Sons", {"US": "DSP-ZZ-0"}, "F-77")  # fmt: skip
    notes = {part["component"]: part["spirit"]["note"] for part in record["components"]}
    assert notes["K02"] == "imported from Elsewhere" and notes["K01"] is None
    assert {part["spirit"]["spirit"] for part in record["components"] if part["kind"] == "cask"} == {"Bourbon"}
    into = [row for row in record["transactions"] if row["way"] == "in"]
    assert len(into) == CASKS + 1 and {row["to"] for row in into} == {"V1"}
    assert all(row["at"] and row["serial"].startswith("D-") for row in into)
    assert all(row["gauges"] for row in into if row["from"] != "water")
    (out_of,) = [row for row in record["transactions"] if row["way"] == "out"]
    assert (out_of["from"], out_of["to"], out_of["serial"][:2]) == ("V1", "L1", "B-")
    (run,) = record["bottlings"]
    assert (run["cases"], run["case_serials"], run["lot_code"], run["destroyed"]) == (233, "5001-5233", "L1", 4)
    assert [row["net_volume_L"] for row in record["tests"]] == pytest.approx([0.749, 0.750, 0.751, 0.752])


def test_every_gauge_has_its_serial_and_what_was_read(record: Any) -> None:
    """Each that a figure rests on; numbers that no two rows share, and that the components name."""
    gauges = {row["serial"]: row for row in record["gauges"]}
    assert len(gauges) == len(record["gauges"]) == CASKS + 1
    named = {serial for part in record["components"] for serial in part["gauges"]}
    assert named == {name for name, row in gauges.items() if row["vessel"] != "V1"}
    for part in record["components"]:
        for name in part["gauges"]:
            row = gauges[name]
            assert row["vessel"] == part["component"] and row["purpose"] == "dump" and row["instrument"] == "H-1"
            assert (row["reading"], row["scale"]) == (120.0, "proof") and row["proof_uncertainty"] > 0
            assert row["temperature_degC"] == pytest.approx(65 / 1.8 - 32 / 1.8)
            assert row["proof_60F"] == pytest.approx(part["proof_60F"], abs=1e-9) and row["proof_60F"] < 119.5
    serials = [row["serial"] for name in ("gauges", "bottlings", "tests") for row in record[name]]
    assert len(set(serials)) == len(serials)


def test_losses_have_mass_strength_and_ethanol(record: Any) -> None:
    """Ethanol is that of the litres of pure alcohol; a loss of more alcohol than mass has no strength."""
    steps = [step for step in record["balance"]["loss"].values() if step]
    assert steps
    for step in steps:
        assert step["ethanol_kg"] == pytest.approx(step["lpa"] * 0.78924, rel=1e-4)
    assert papers.loss({"mass_kg": 10.0, "proof_gallons": 1.0, "lpa": 0.0})["proof_60F"] == pytest.approx(0.0, abs=1e-6)
    assert papers.loss({"mass_kg": -1.0, "proof_gallons": 1.0, "lpa": 5.0})["proof_60F"] is None
    assert papers.loss({"mass_kg": None, "proof_gallons": None, "lpa": None})["ethanol_kg"] is None


def test_figures_stand_side_by_side_and_none_is_filled_in(record: Any) -> None:
    """No proposal and no glass on any sheet: nothing there."""
    found = {row["of"]: row for row in record["figures"]}
    assert found["proposed"]["proof_60F"] is None and found["glass"]["proof_60F"] is None
    assert found["gauged"]["proof_60F"] == record["balance"]["gauged"]["proof_60F"]
    assert found["tested in bottle"]["proof_60F"] == pytest.approx(109.8)


def test_what_nobody_states_is_said_so(out: Path) -> None:
    """The example's site states no plant number, its briefs no formula, its log no case serials."""
    page = (demo()[0] / "batches/B-26-01/record.html").read_text("utf-8")
    paper = page.split('<section class="paper"')[1]
    assert (
        "<dt>Plant or premises numbers</dt><dd>not stated" in paper and "<dt>Formula number</dt><dd>not stated" in paper
    )
    assert "the statement is not set" in paper


DAYS = {  # event → the day by whose close it is entered: Monday to Friday, over a weekend, over a day off
    "2026-01-05": "2026-01-06",
    "2026-01-09": "2026-01-12",
    "2026-01-10": "2026-01-12",
    "2026-01-11": "2026-01-12",
    "2026-01-14": "2026-01-16",
}


@pytest.mark.parametrize("day", DAYS)
def test_the_next_working_day(day: str) -> None:
    """Saturdays, Sundays and the house's days off are none."""
    assert due_by(date.fromisoformat(day), ["2026-01-15"]).isoformat() == DAYS[day]


@pytest.mark.parametrize(
    ("taken", "late"),
    [("2026-01-12T23:00:00Z", False), ("2026-01-13T04:59:00Z", False), ("2026-01-13T05:01:00Z", True)],
)
def test_late_is_after_the_close_of_that_day_in_the_site_s_own_time(taken: str, late: bool) -> None:
    """A Friday's sheet taken on Monday is in time until midnight in New York, five hours after London's."""
    sources = SimpleNamespace(
        spot=lambda fact: SimpleNamespace(kind="readings", number=1),
        last_day=lambda facts: "2026-01-09",
        file=lambda number: {"name": "a.csv", "taken_at": taken},
    )
    found = late_entries([7], sources, site_with({"timezone": "America/New_York"}))
    assert [row["serials"] for row in found] == ([["G-000007"]] if late else [])


def test_late_rows_are_named_with_file_and_days(record: Any) -> None:
    """Sheets of January that were taken in June."""
    assert {(row["kind"], row["dated"]) for row in record["late"]} >= {
        ("blends", "2026-01-10"),
        ("bottlings", "2026-01-20"),
    }
    assert {row["taken_on"] for row in record["late"]} == {datetime(2026, 6, 1, tzinfo=UTC).date().isoformat()}
    assert all(row["dated"] < row["due_by"] < row["taken_on"] for row in record["late"])


def test_retention_by_market() -> None:
    """Three years and a day in the US, none where no rule was read; 29 February."""
    us, eu = retention(["US", "EU"], "2026-06-01T12:00:00Z")
    assert us["not_before"] == "2029-06-02" and "19.575" in us["rule"]
    assert eu["not_before"] is None and "keep it" in eu["rule"]
    assert retention(["US"], "2028-02-29")[0]["not_before"] == "2031-03-02"
    assert retention(["US", "US", ""], "")[0]["not_before"] is None


@pytest.mark.long
@pytest.mark.parametrize("size", ["A4", "letter"])
def test_twelve_casks_print_on_five_pages(out: Path, tmp_path: Path, size: str) -> None:
    """Page x of y with batch and head on each, as a browser prints them."""
    browser = next((name for name in ("chromium", "chromium-browser", "google-chrome") if shutil.which(name)), None)
    if browser is None or shutil.which("pdftotext") is None:
        pytest.skip("no browser that prints, or no pdftotext, on this machine")
    page = (out / "batches/B1/record.html").read_text("utf-8")
    (tmp_path / "r.html").write_text(page.replace("@page {", f"@page {{ size: {size};", 1), "utf-8")
    words = [browser, "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer",
             f"--print-to-pdf={tmp_path / 'r.pdf'}", (tmp_path / "r.html").as_uri()]  # fmt: skip
    subprocess.run(words, check=True, capture_output=True, timeout=120)
    text = subprocess.run(["pdftotext", "-layout", tmp_path / "r.pdf", "-"], check=True, capture_output=True, text=True)
    pages = text.stdout.rstrip("\f").split("\f")
    assert 1 < len(pages) <= 5
    record = json.loads((out / "batches/B1/record.json").read_text("utf-8"))
    for number, one in enumerate(pages, start=1):
        assert f"Page {number} of {len(pages)}" in one and "Batch B1" in one
        assert re.search(rf"Head {record['head'].partition(':')[0]}: ", one)


def rows_of(page: str) -> list[list[str]]:
    """Cells of a page's table as texts."""
    lines = re.findall(r"<tr>(.*?)</tr>", page.split("<tbody>")[1], re.DOTALL)
    return [[re.sub(r"<[^>]*>", " ", cell).strip() for cell in re.findall(r"<t[hd].*?</t[hd]>", line, re.DOTALL)]
            for line in lines]  # fmt: skip


def test_each_gauge_test_and_run_is_a_record_of_its_month(out: Path, record: Any) -> None:
    """With its serial, circumstance, what was read, its batch, and whether it came late."""
    gauges = rows_of((out / "records/gauges/2026-01.html").read_text("utf-8"))
    assert [row[0].split()[0] for row in gauges] == [row["serial"] for row in record["gauges"]]
    assert gauges[0][2:6] == ["K01", "dump", "120 proof", "65.0 °F"] and gauges[0][-1] == "B1"
    assert "late" in gauges[0][1] and "2026-06-01" in gauges[0][1]
    tests = rows_of((out / "records/tests/2026-01.html").read_text("utf-8"))
    assert [row[7] for row in tests] == ["−0.13 %", "0.00 %", "+0.13 %", "+0.27 %"]
    (run,) = rows_of((out / "records/bottlings/2026-01.html").read_text("utf-8"))
    assert run[2:9] == ["B1", "L1", "750 mL", "2,800", "12", "233", "5001-5233"] and run[9] == "not stated"
    (broken,) = rows_of((out / "records/destructions/2026-01.html").read_text("utf-8"))
    assert broken[3:5] == ["broken at bottling", "4 bottles"] and broken[6] == "not stated"
    assert not (out / "records/samples/2026-01.html").exists()


def test_samples_and_destructions_say_what_sheets_state() -> None:
    """Purpose, account, recipient; place, manner, witness; what a sheet leaves out is None."""
    moved = {"from": "C-1", "to": "drain", "reason": "destroy", "volume_L": 12.5, "proof": 110.0, "proof_unit": "proof",
             "place": "yard", "manner": "poured away", "witness": "Ola", "by": "Per", "remark": None}  # fmt: skip
    ((sort, cells),) = months.RECORDS["movements"](moved, {})
    assert sort == "destructions"
    assert cells == ["C-1", "destroy", "12.5 L", "110 proof", "yard", "poured away", "Ola", "Per", None]
    assert not list(months.RECORDS["movements"]({**moved, "reason": "recask"}, {}))
    bottle = {"sample": "S-1", "source": "C-1", "volume_L": 0.1, "account": "storage", "purpose": "analysis",
              "recipient": "laboratory", "place": "shelf", "kept_until": "2027-01-01", "fate": None}  # fmt: skip
    ((sort, cells),) = months.RECORDS["samples"](bottle, {})
    assert (sort, len(cells)) == ("samples", len(months.HEADS["samples"]))
    assert cells[2:] == ["1 of 100 mL", "storage", "analysis", "laboratory", "shelf, until 2027-01-01", None]
    gone = {"lot_code": "L1", "cause": "breakage", "cases": 1.0, "bottles": 2.0, "place": None, "manner": None,
            "witness": None, "by": None, "remark": "fork lift"}  # fmt: skip
    ((sort, cells),) = months.RECORDS["removals"](gone, {})
    assert sort == "destructions" and cells[:3] == ["lot L1", "breakage", "1 case, 2 bottles"]


def test_breakage_samples_and_dump_backs_are_told_beside_the_losses() -> None:
    """Broken bottles are a part of the loss at bottling; what is poured back is none; blank is not stated."""
    run = {"bottle_size_L": 0.75, "destroyed": 4.0, "samples": None, "dumped_back": 1.0}
    assert paper.counted([run, run | {"destroyed": None}]) == (
        "4 bottles broken (3.00 L): counted in the loss at bottling; 2 bottles poured back (1.50 L): no loss"
    )
    assert paper.counted([run | dict.fromkeys(("destroyed", "dumped_back"))]) == ""
