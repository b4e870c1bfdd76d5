"""Hostile words in every column: no output runs them, escapes its folder or mixes up two batches."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from openpyxl import load_workbook

from pipeline.runs.run import Result, rebuild
from tests.bad_input.kit import NOW, run_in
from tests.formulas import is_ours

EVIL = [
    "+1",
    "-1",
    "@x",
    "=x",
    "'=1+1",
    "\tlead",
    "<script>alert(1)</script>",
    "a&b<c>\"d'",
    "{{7*7}}",
    "%s",
    "../../x",
    "..",
    ".",
    "a/b",
    "a\\b",
    "a_b",
    "C:\\x",
    "CON",
    "nul.txt",
    "x" * 300,
    "b-1",
    "B-1",
    "\u00e9",
    "e\u0301",
    "🥃",
    "1",
    "01",
]
HEADERS = {
    "briefs": "Batch,Product,Market,Claims,Vessel",
    "blends": "Batch,Component,Drawn volume (gal),Drawn at,Remark,Drawn proof",
    "casks": "Cask,Filled on,Spirit,Distillery,Proof,As of,Volume (gal)",
    "readings": "Vessel,Date,Observed Proof,Temp (F),Instrument,Remark,Analyst",
    "tastings": "Sample,Taster,Date,Nose,Palate,Finish,Score,Remark",
    "bottlings": "Batch,Bottled on,Bottle size (mL),Bottles,Label ABV,Lot code,Run",
    "rulings": "Finding,Ruling,Reason,By",
}
ROWS = {
    "briefs": "{0},{0},US,{0},{0}",
    "blends": "{0},{1},50,2026-03-02,{0},120",
    "casks": "{0},2020-01-01,{0},{0},120,2026-03-01,53",
    "readings": "{0},2026-03-02,120,68,{0},{0},{0}",
    "tastings": "{0},{0},2026-03-02,{0},{0},vanilla,7,{0}",
    "bottlings": "{0},2026-03-05,750,100,46,{0},{0}",
    "rulings": "{0},accept,{0},{0}",
}


def files() -> dict[str, str]:
    """A CSV of each kind with the words in every column; a word that is another in other letters adds cask K-2."""
    quoted = ['"' + word.replace('"', '""') + '"' for word in EVIL]
    components = ["K-2" if word in ("B-1", "e\u0301") else name for word, name in zip(EVIL, quoted, strict=True)]
    made = {}
    for kind, row in ROWS.items():
        lines = [row.format(word, component) for word, component in zip(quoted, components, strict=True)]
        made[f"{kind}.csv"] = "\n".join([HEADERS[kind], *lines]) + "\n"
    return made


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("evil")


@pytest.fixture(scope="module")
def result(folder: Path) -> Result:
    return run_in(folder, files(), 'timezone = "UTC"\nhouse = "<b>=House</b>"\n')


def outputs(folder: Path, ending: str) -> Iterator[Path]:
    for path in sorted((folder / "out").rglob(f"*{ending}")):
        if "originals" not in path.parts:
            yield path


def test_all_of_it_is_taken_and_every_page_made(result: Result) -> None:
    """Only what begins with = is refused, row by row; no stage and no report fails."""
    assert {fate.outcome for fate in result.fates} == {"taken"}
    codes = {finding.code for finding in result.worked.findings}
    assert "sheet.unusable-row" in codes and not codes & {"stage.failed", "report.failed"}


def test_no_cell_of_a_csv_output_can_be_run(result: Result, folder: Path) -> None:
    """A text never begins with a character that a spreadsheet would run; numbers may be negative."""
    cells = 0
    for path in outputs(folder, ".csv"):
        with path.open(newline="", encoding="utf-8-sig") as stream:
            for row in csv.reader(stream):
                for cell in row:
                    cells += 1
                    if cell[:1] in ("=", "+", "-", "@", "\t", "\r"):
                        float(cell)
    assert cells > 500


@pytest.mark.long
def test_no_cell_of_a_workbook_output_is_a_formula(result: Result, folder: Path) -> None:
    """Texts are texts, whatever they begin with."""
    cells = 0
    for path in outputs(folder, ".xlsx"):
        book = load_workbook(path)
        for sheet in book.worksheets:
            for row in sheet.iter_rows():
                for cell in row:
                    cells += 1
                    assert cell.data_type != "f" or is_ours(cell), (path, cell.coordinate)
    assert cells > 500


def test_no_page_holds_a_tag_that_somebody_typed(result: Result, folder: Path) -> None:
    """Names are shown, not interpreted."""
    pages = [path.read_text("utf-8") for path in outputs(folder, ".html")]
    assert len(pages) > 10
    for page in pages:
        assert not any(typed in page for typed in ("<script>alert", "<b>=House", "a&b<c>"))
    assert any("{{7*7}}" in page for page in pages)


def batches(folder: Path) -> dict[str, Path]:
    """Batch → its folder, as the records say it."""
    return {
        json.loads(path.read_text("utf-8"))["batch"]: path.parent
        for path in (folder / "out/batches").rglob("record.json")
    }


def test_every_batch_has_a_folder_of_its_own_within_the_outputs(result: Result, folder: Path) -> None:
    """../../x, CON, a/b and 300 letters each get a folder that every system takes; a/b, a\\b and a_b stay apart."""
    made = batches(folder)
    assert {"../../x", "CON", "a/b", "a\\b", "a_b", ".", "..", "x" * 300} <= set(made)
    paths = list(made.values())
    assert all(path.parent == folder / "out" / "batches" for path in paths)
    assert len({path.name.casefold() for path in paths}) == len(paths)
    for path in paths:
        assert len(path.name.encode()) <= 255 and not set(path.name) & set('<>:"/\\|?*')
        assert path.name.split(".")[0].casefold() not in ("con", "nul") and path.name.strip(" .") == path.name
    assert not (folder.parent / "x").exists()


def test_names_that_differ_in_case_or_form_only_are_one_batch(result: Result, folder: Path) -> None:
    """b-1 and B-1, é in its two forms: one batch each, with both components; 1 and 01 are two."""
    made = batches(folder)
    assert len({"b-1", "B-1"} & set(made)) == 1 and {"1", "01"} <= set(made)
    assert [name for name in made if name in ("\u00e9", "e\u0301")] == ["\u00e9"]
    for name in ({"b-1", "B-1"} & set(made)).pop(), "\u00e9":
        components = json.loads((made[name] / "record.json").read_text("utf-8"))["components"]
        assert sorted(item["component"] for item in components) == sorted(["K-2", name])


@pytest.mark.long
def test_a_rebuild_gives_the_same_records_to_the_byte(result: Result, folder: Path) -> None:
    """Hostile names survive the journal: records before and after are equal."""
    before = {path: path.read_bytes() for path in outputs(folder, "record.json")}
    rebuild(folder / "out", now=NOW)
    assert before == {path: path.read_bytes() for path in outputs(folder, "record.json")} and len(before) > 20
