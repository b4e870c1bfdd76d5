"""The outputs' promised shape, the settings' errors, and files that cannot be taken."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from openpyxl import load_workbook

from pipeline.book.book import Book
from pipeline.commands.cli import main
from pipeline.common.errors import SettingsError
from pipeline.runs.run import run
from tests.audit.room import NOW, READINGS, Room, simple_batch, vat_gauge
from tests.formulas import is_ours

KEYS = (
    "schema batch product market status components balance age label profile findings sources extra made_by head "
    "rulings releases signing identity gauges bottlings tests transactions figures late retention "
    "step step_why next"
).split()
COMPONENT = (
    "component kind filling strength_basis proof_60F proof_apparent_60F obscuration_proof abv_20C mass_kg ethanol_kg "
    "volume_60F_gal volume_20C_L proof_gallons lpa planned_volume_60F_gal filled_on age_days drawn_basis sources "
    "corrected serial gauges spirit vessel"
).split()
BALANCE = "drawn water expected gauged bottled loss contraction_60F_gal imbalance reconciled".split()
ENTRY = (
    "mass_kg ethanol_kg volume_60F_gal volume_20C_L proof_60F abv_20C proof_gallons proof_gallons_official lpa"
).split()
LOSS = "dump process filter bottling samples unexplained".split()
LABEL = "claim market verdict reason rule unverified facts corrected".split()
FINDING = "id code severity message observed expected subject place rule remedy ruling".split()
GAUGES = (
    "vessel,taken_at,reading,scale,temperature_degC,instrument,proof_60F,abv_20C,density_kg_m3,proof_official,"
    "proof_uncertainty,place"
)
RUN = re.compile(r"^[=+\-@\t\r]")
NUMBER = re.compile(r"^-?\d+(\.\d+)?$")


@pytest.fixture(scope="module")
def room(tmp_path_factory: pytest.TempPathFactory) -> Room:
    room = Room(tmp_path_factory.mktemp("formats"), 'house = "=1+1"\nmarkets = ["US"]\ntimezone = "UTC"\n')
    simple_batch(room)
    row = ("+K é", "2026-01-06", 119, "proof", "at 60 °F", "60 °F", "=H", "", "", "")
    minus = ("-K2", "2026-01-06", 119, "proof", "at 60 °F", "60 °F", "@H", "", "", "")
    room.table("odd.csv", READINGS, [row, minus])
    briefs = [("../evil", "=P", "US", "V7"), ("CON", "+P", "US", "V8")]
    room.table("briefs2.csv", "batch,product,market,vessel", briefs)
    lines = [("../evil", "K1", "1 kg", "2026-01-10"), ("CON", "K1", "1 kg", "2026-01-10")]
    room.table("blends2.csv", "batch,component,drawn_weight,drawn_at", lines)
    room.run()
    return room


@pytest.mark.long
def test_record_has_the_contract_s_keys_in_its_order(room: Room) -> None:
    """Top level, components, balance, entries, losses, label and findings, each in the stated order."""
    record = room.record("B1")
    assert list(record) == KEYS
    assert list(record["components"][0]) == COMPONENT
    assert list(record["balance"]) == BALANCE
    assert list(record["balance"]["gauged"])[: len(ENTRY)] == ENTRY
    assert list(record["balance"]["gauged"]["uncertainty"])[:3] == ["mass_kg", "ethanol_kg", "proof_60F"]
    assert list(record["balance"]["loss"]) == LOSS
    assert list(record["label"][0]) == LABEL
    assert list(record["findings"][0]) == FINDING
    assert list(record["sources"][0]) == ["file", "sha256", "sheet", "rows"]
    assert record["schema"] == "vatting.record/1" and record["balance"]["water"] is None


@pytest.mark.long
def test_json_is_plain_utf8_of_twelve_digits(room: Room) -> None:
    """No escapes, no carriage returns, no NaN, and no number of more than twelve significant digits."""
    data = (room.out / "batches/B1/record.json").read_bytes()
    assert b"\r" not in data and b"\\u" not in data and b"NaN" not in data and "°".encode() in data
    found = re.findall(rb"[ \[](-?\d+\.\d+)(?:e[+-]?\d+)?[,\n]", data)
    assert len(found) > 30
    assert max(len(number.decode().lstrip("-0.").replace(".", "")) for number in found) <= 12


def test_tables_have_their_columns_and_plain_line_ends(room: Room) -> None:
    """gauges.csv and profiles.csv carry the columns of the contract, in UTF-8 with LF."""
    data = (room.out / "casks/gauges.csv").read_bytes()
    assert data.decode("utf-8").splitlines()[0] == GAUGES and b"\r" not in data
    first = (room.out / "casks/profiles.csv").read_text("utf-8").splitlines()[0]
    assert first == "sample,family,stage,mean,low,high,notes,tasters"


def test_no_csv_cell_runs_in_a_spreadsheet(room: Room) -> None:
    """Names that begin with + or - come out as text; what begins with = never came in."""
    cells = [cell for path in room.out.rglob("*.csv") if "originals" not in path.parts for cell in _cells(room, path)]
    assert any("K é" in cell for cell in cells)
    assert not [cell for cell in cells if RUN.match(cell) and not NUMBER.match(cell)]


def _cells(room: Room, path: Path) -> list[str]:
    rows = room.csv(path.relative_to(room.out).as_posix())
    return [cell for row in rows for cell in row.values()]


def test_no_workbook_cell_is_a_formula(room: Room) -> None:
    """Text that begins with = is kept as text, in every workbook of the outputs."""
    books = [path for path in room.out.rglob("*.xlsx")]
    assert books
    for path in books:
        cells = [cell for sheet in load_workbook(path) for row in sheet.iter_rows() for cell in row]
        assert all(cell.data_type != "f" or is_ours(cell) for cell in cells), path


def test_batch_names_never_lead_out_of_the_outputs(room: Room) -> None:
    """``../evil`` and a name that Windows reserves get folders of their own under batches/."""
    names = {path.parent.name: json.loads(path.read_text("utf-8"))["batch"] for path in room.out.rglob("record.json")}
    assert set(names.values()) == {"B1", "../evil", "CON"}
    assert not (room.out / "evil").exists() and "CON" not in names


# --- settings ----------------------------------------------------------------------------------

WRONG = {  # site.toml: what the message must hold
    'house = "A"\ntimezon = "UTC"\n': ("line 2", "timezon", "timezone"),
    'house = "A"\n[tolerances]\ngauge_day = 3\n': ("line 3", "tolerances.gauge_day", "tolerances.gauge_days"),
    "[tolerance]\ngauge_days = 3\n": ("line 2", "tolerance.gauge_days", "tolerances.gauge_days"),
    '[tolerances]\ngauge_days = "ninety"\n': ("line 2", "whole number", "ninety"),
    'timezone = "Mars/Olympus"\n': ("line 1", "Mars/Olympus", "IANA"),
    'date_order = "ymd"\n': ("line 1", "dmy", "mdy"),
    'decimal = ";"\n': ("line 1", "decimal", ","),
    'after_taking = "delete"\n': ("line 1", "move", "leave"),
    '[units]\ntemprature = "degF"\n': ("line 2", "temprature", "temperature"),
    '[units]\ntemperature = "kg"\n': ("line 2", "kg", "degF"),
    'markets = "US"\n': ("line 1", "markets", "list"),
    'house = "A\n': ("line 1", "site.toml", ""),
}


@pytest.mark.parametrize("site", WRONG, ids=[" ".join(parts[:2]) for parts in WRONG.values()])
def test_a_wrong_setting_is_an_error_with_its_line_and_the_nearest_word(tmp_path: Path, site: str) -> None:
    """Nothing is taken; the message names line, key and what is known."""
    room = Room(tmp_path, site)
    simple_batch(room)
    with pytest.raises(SettingsError) as told:
        run(room.inbox, room.out, now=NOW)
    assert all(part in str(told.value) for part in WRONG[site]), told.value
    assert (room.inbox / "blends.csv").exists() and not (room.out / "originals").exists()


# --- the door and the rows ---------------------------------------------------------------------


@pytest.mark.long
def test_what_cannot_be_taken_goes_back_with_the_reason(tmp_path: Path) -> None:
    """Empty, no workbook, headers only or doubled, no temperature: returned with NAME.why.txt; the rest goes on."""
    room = Room(tmp_path / "room")
    simple_batch(room)
    (room.inbox / "bin.xlsx").write_bytes(b"\x00\x01" * 99)
    room.write("empty.csv", "")
    room.write("headers.csv", "cask,filled_on\n")
    room.write("doubled.csv", "cask,filled_on,filled_on\nK9,2018-01-01,2018-01-02\n")
    room.write("warm.csv", "vessel,taken_at,reading\nK1,2026-01-01,120\n")
    (room.inbox / "folder").mkdir()
    outside = tmp_path / "outside.csv"
    outside.write_text("cask,filled_on\nKOUT,2018-01-01\n", encoding="utf-8")
    (room.inbox / "link.csv").symlink_to(outside)
    result = room.run()
    returned = {"bin.xlsx", "empty.csv", "headers.csv", "doubled.csv", "warm.csv"}
    assert {fate.name for fate in result.fates if fate.outcome == "returned"} == returned
    reasons = {path.name: path.read_text("utf-8") for path in (room.out / "returned").glob("*.why.txt")}
    assert set(reasons) == {f"{name}.why.txt" for name in (*returned, "folder", "link.csv")}
    assert "lab readings" in reasons["warm.csv.why.txt"] and "temperature" in reasons["warm.csv.why.txt"]
    assert room.record("B1")["status"] == "reconciled"
    assert (room.inbox / "folder").is_dir() and (room.inbox / "link.csv").is_symlink() and outside.exists()


BAD_ROWS: dict[str, tuple[Any, ...]] = {  # row of readings: code and cell of its finding
    "nan": ("2026-01-05", "nan", "proof", "60 °F", "sheet.unusable-row", "C"),
    "inf": ("2026-01-05", "inf", "proof", "60 °F", "sheet.unusable-row", "C"),
    "negative": ("2026-01-05", -5, "proof", "60 °F", "proof.reading-outside-scale", "C"),
    "over 200": ("2026-01-05", 201, "proof", "60 °F", "proof.reading-outside-scale", "C"),
    "too cold": ("2026-01-05", 120, "proof", "-60 °C", "sheet.unusable-row", "E"),
    "too hot": ("2026-01-05", 120, "proof", "400 °F", "sheet.unusable-row", "E"),
    "two ways": ("03/04/2026", 120, "proof", "60 °F", "sheet.unusable-row", "B"),
    "no month": ("2026-13-01", 120, "proof", "60 °F", "sheet.unusable-row", "B"),
    "future": ("2027-01-05", 120, "proof", "60 °F", "sheet.unusable-row", "B"),
    "scale": ("2026-01-05", 120, "brix", "60 °F", "sheet.unusable-row", "D"),
    "no temperature": ("2026-01-05", 120, "proof", "", "proof.no-temperature", "E"),
}


@pytest.mark.long
def test_a_row_that_cannot_be_used_is_a_finding_at_its_cell(tmp_path: Path) -> None:
    """Each bad row is named with its cell, none gives a strength, and the good rows of the file count."""
    room = Room(tmp_path)
    rows = [(name, *row[:4]) for name, row in BAD_ROWS.items()]
    rows += [("good", "2026-01-05", 120, "proof", "60 °F"), ("007", "2026-01-05", 120, "proof", "60 °F")]
    room.table("r.csv", "vessel,taken_at,reading,scale,temperature", rows)
    room.run()
    said = {finding["place"]["cell"]: finding["code"] for finding in room.open() if finding["place"]}
    for number, row in enumerate(BAD_ROWS.values(), start=2):
        assert said.get(f"{row[5]}{number}") == row[4], row
    assert set(room.gauges()) == {"good", "007"}


def test_explain_names_the_cells_that_a_label_verdict_rests_on(room: Room) -> None:
    """The label's 60 % vol is the brief's bottling_proof in F2; the standard of fill is its bottle_size in G2."""
    told = CliRunner().invoke(main, ["explain", "B1", "--out", str(room.out)], terminal_width=200)
    assert told.exit_code == 0
    strength = told.output.split("bottling strength\n", 1)[1].split("rule_version", 1)[0]
    assert "F2 (bottling_proof: 120)" in " ".join(strength.split())
    fill = told.output.split("standard of fill\n", 1)[1].split("rule_version", 1)[0]
    assert "G2 (bottle_size: 750 mL)" in " ".join(fill.split())


@pytest.mark.long
def test_a_full_disk_enters_nothing_by_half(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The run stops with the true cause; with room again the next run takes all, each file once."""
    room = Room(tmp_path)
    simple_batch(room)
    entered = Book.enter

    def on_a_full_disk(self: Book, line: dict[str, Any], *rest: Any) -> None:
        pages = 0 if line["name"] == "readings.csv" else 2**30  # as few as there are, or plenty
        self.sql.execute(f"PRAGMA max_page_count = {pages or 1}")
        entered(self, line, *rest)

    rows = [(f"X{n}", "2026-01-06", 119, "proof", "at 60 °F", "60 °F", "H-1", "", "", "") for n in range(3000)]
    text = (room.inbox / "readings.csv").read_text("utf-8")
    room.table("readings.csv", READINGS, rows)
    room.write("readings.csv", text + (room.inbox / "readings.csv").read_text("utf-8").split("\n", 1)[1])
    with monkeypatch.context() as patched:
        patched.setattr(Book, "enter", on_a_full_disk)
        with pytest.raises(Exception, match="full"):
            run(room.inbox, room.out, now=NOW)
    run(room.inbox, room.out, now=NOW)
    gauges = room.csv("casks/gauges.csv")
    assert len(gauges) == 3002
    assert room.record("B1")["status"] == "reconciled"


def test_check_judges_a_file_as_a_run_would(tmp_path: Path) -> None:
    """A reading of -5 proof is a finding of the run, and so of check."""
    row = ("K1", "2026-01-05", -5, "proof", "as read", "60 °F", "H-1", "", "", "")
    room = Room(tmp_path)
    room.table("r.csv", READINGS, [row, ("K2", *row[1:2], 120, *row[3:])])
    told = CliRunner().invoke(main, ["check", "--json", str(room.inbox / "r.csv")])
    assert "proof.reading-outside-scale" in told.output


@pytest.mark.long
def test_every_open_finding_can_be_explained(tmp_path: Path) -> None:
    """contract.md: explain ID for a batch, cask or finding."""
    room = Room(tmp_path)
    simple_batch(room)
    room.run()
    room.table("r2.csv", READINGS, [vat_gauge(120.2)])
    room.run()
    codes = {
        finding["code"]: CliRunner().invoke(main, ["explain", finding["id"], "--out", str(room.out)]).exit_code
        for finding in room.open()
    }
    assert codes == dict.fromkeys(codes, 0)
