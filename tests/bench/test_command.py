"""``vatting sheet trials`` and ``vatting card``: every design, what is refused, and codes that change."""

from __future__ import annotations

import json
from datetime import datetime
from io import BytesIO
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from click.testing import CliRunner, Result
from openpyxl import load_workbook

from pipeline.testing import site_with
from plugins.bench.cards.card_stage import issue_cards
from plugins.bench.cards.command import DESIGNS, card, trials
from plugins.bench.cards.tasters import tasters_of
from tests.proposals.sheets import Cellar, brief

CASKS = "C-1=62.3%vol,C-2=116proof,C-3=58"


def asked(folder: Path, *more: str, casks: str = CASKS, flight: str = "X-1") -> Result:
    given = ["--casks", casks, "--flight", flight, "-o", str(folder), "--out", str(folder / "none")]
    return CliRunner().invoke(trials, [*given, "--tasters", "Ada; Ben", *more])


@pytest.mark.long
@pytest.mark.parametrize("design", DESIGNS)
def test_every_design_makes_a_card(tmp_path: Path, design: str) -> None:
    """Two workbooks, and each trial's parts add up to its total."""
    made = asked(tmp_path, "--design", design, "--parts", "60,30,10", "--best", "C-3", "--least", "5")
    assert made.exit_code == 0, made.output
    assert {path.name for path in tmp_path.iterdir()} == {"bench_card_X-1.xlsx", "bench_tasting_X-1.xlsx"}
    rows = list(load_workbook(tmp_path / "bench_card_X-1.xlsx")["Pour"].iter_rows(min_row=7, values_only=True))
    sheet = pd.DataFrame(rows).iloc[:, [0, 2, 3, 5]].set_axis(["trial", "component", "ml", "total"], axis=1)
    whole = sheet.groupby("trial").agg({"ml": "sum", "total": "first"})
    assert (whole["ml"].astype(float) - whole["total"].astype(float)).abs().max() < 1e-9
    best = sheet[sheet["component"] == "C-3"].groupby("trial")["trial"].first()
    assert "X-1-C-3" in set(best)


@pytest.mark.parametrize(
    ("more", "why"),
    [
        (("--design", "cox"), "starts from parts"),
        (("--design", "cox", "--parts", "60,40"), "2 parts for 3 casks"),
        (("--design", "cox", "--parts", "a,b,c"), "are no parts"),
        (("--design", "base", "--steps", "0"), "between 0 and 1"),
        (("--design", "optimal", "--least", "50"), "No mixture keeps these bounds"),
        (("--design", "optimal", "--runs", "2"), "cannot tell"),
        (("--design", "ladder", "--strengths", "70,40"), "above the weakest sample"),
        (("--design", "ladder", "--rungs", "9"), "3 to 5 strengths"),
        (("--best", "C-8"), "not among the casks"),
        (("--tasters", "Ada,ada"), "named twice"),
    ],
)
def test_what_cannot_be_made_is_said_and_nothing_is_written(tmp_path: Path, more: tuple[str, ...], why: str) -> None:
    """One sentence, status 1, and no file."""
    made = asked(tmp_path, *more)
    assert made.exit_code == 1 and why in made.output and "Traceback" not in made.output
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("casks", "why"),
    [
        ("C-1=62,C-1=60", "named twice"),
        ("C-1=hot", "names no cask"),
        ("C-1=0,C-2=50", "no strength"),
        ("C-1,C-2", "No gauge"),
    ],
)
def test_casks_without_a_usable_strength_are_refused(tmp_path: Path, casks: str, why: str) -> None:
    """Twice the same cask, a word for a strength, nought, and a cask that was never gauged."""
    made = asked(tmp_path, casks=casks)
    assert made.exit_code == 1 and why in made.output


def test_strengths_come_from_the_last_gauge(tmp_path: Path) -> None:
    """A cask without a strength has that of its last gauge in the outputs, and the card says which."""
    folder = tmp_path / "out" / "casks"
    folder.mkdir(parents=True)
    (folder / "gauges.csv").write_text(
        "vessel,taken_at,abv_20C\nC-1,2026-01-02 09:00,61.5\nC-1,2025-03-04,63.0\nC-2,2026-01-02,\n", "utf-8"
    )
    made = CliRunner().invoke(
        trials, ["--casks", "c-1,C-2=55", "--flight", "X", "-o", str(tmp_path), "--out", str(tmp_path / "out")]
    )
    assert made.exit_code == 0 and "c-1 61.5 % vol of 2026-01-02" in made.output


def test_the_site_says_what_the_bench_measures_and_who_tastes(tmp_path: Path) -> None:
    """Step, base and tasters come from site.toml; what is asked for counts before it; a broken one is said."""
    (tmp_path / "site.toml").write_text(
        '[plugins.bench]\nstep_ml = 0.5\nbase_ml = 40.0\ntasters = ["Ida", "Jon"]\n', "utf-8"
    )
    given = ["--casks", CASKS, "--flight", "X", "-o", str(tmp_path), "--inbox", str(tmp_path)]
    made = CliRunner().invoke(trials, given)
    assert made.exit_code == 0, made.output
    book = load_workbook(tmp_path / "bench_card_X.xlsx")
    ml = [float(str(book["Pour"].cell(row, 4).value)) for row in range(7, 10)]
    assert max(ml) >= 40.0 and all((2.0 * value).is_integer() for value in ml)
    assert {book["Tasting"].cell(row, 2).value for row in range(7, 11)} == {"Ida", "Jon"}
    (tmp_path / "site.toml").write_text("[plugins.bench]\nstep_ml = -1\n", "utf-8")
    broken = CliRunner().invoke(trials, [*given[:-1], str(tmp_path), "--flight", "Y"])
    assert broken.exit_code == 1 and "step_ml" in broken.output


def test_no_file_is_written_over(tmp_path: Path) -> None:
    """A second card of one name is refused; the first stays as it was."""
    assert asked(tmp_path).exit_code == 0
    before = (tmp_path / "bench_card_X-1.xlsx").read_bytes()
    again = asked(tmp_path, "--nosing", "25")
    assert again.exit_code == 1 and "is there already" in again.output
    assert (tmp_path / "bench_card_X-1.xlsx").read_bytes() == before


@pytest.mark.long
def test_a_card_made_anew_has_other_codes_and_the_first_stays_good(tmp_path: Path) -> None:
    """The next issue is another flight with other codes; without proposals nothing is made, in words."""
    cellar = Cellar(tmp_path)
    cellar.stocked(brief=brief())
    path = cellar.out / "proposals" / "B-1" / "bench_card.xlsx"
    before = load_workbook(BytesIO(path.read_bytes()))["Glasses"]
    made = CliRunner().invoke(card, ["B-1", "--out", str(cellar.out)])
    assert made.exit_code == 0, made.output
    after = load_workbook(BytesIO(path.read_bytes()))["Glasses"]
    assert (before["A5"].value, after["A5"].value) == ("B-1-F1", "B-1-F2")
    assert {before.cell(row, 3).value for row in range(5, 9)} != {after.cell(row, 3).value for row in range(5, 9)}
    none = CliRunner().invoke(card, ["B-7", "--out", str(cellar.out), "--json"])
    assert none.exit_code == 1 and json.loads(none.output)["status"] == "nothing"


def issued(target: str | None, scores: pd.DataFrame | None) -> dict[str, Any]:
    parts = [{"component": name, "share": share, "abv_20C": 60.0} for name, share in (("C-1", 0.7), ("C-2", 0.3))]
    item = {"id": "B-1-P1A", "aim": "closest", "components": parts, "profile": {"body": {"target": 4.0}}}
    sets = pd.DataFrame({"batch": ["B-1"], "document": [json.dumps({"proposals": [item]})]})
    briefs = pd.DataFrame({"batch": ["B-1"], "target": [target], "bottling_abv": [46.0], "bottling_proof": [None]})
    tastings = pd.DataFrame({"taster": ["Ada"], "tasted_at": [datetime(2026, 1, 1)]})
    due = {"batch": "B-1"}
    made = issue_cards(due, 1, site_with(), sets, briefs, tastings, scores)
    found: dict[str, Any] = json.loads(made)
    return found


def test_the_best_single_is_named_before_tasting_and_the_standard_served_blind() -> None:
    """The highest scored cask of the proposals; without scores the largest part; like a batch brings its sample."""
    scores = pd.DataFrame({"sample": ["c-2", "C-1", "C-9"], "mean_score": [8.0, 7.0, 9.9]})
    made = issued("like B-25-01", scores)
    roles = {glass["role"]: glass["trial"] for glass in made["glasses"]}
    assert roles["best single"] == "T-B-1-F1-C-2" and roles["standard"] == "T-B-1-F1-STD" and made["standard"]
    standard = next(trial for trial in made["trials"] if trial["role"] == "standard")
    assert [(part["component"], part["strength_abv"]) for part in standard["parts"]] == [("B-25-01", 46.0)]
    plain = issued("HOUSE-1", None)
    assert {glass["role"] for glass in plain["glasses"]} == {"trial", "best single", "duplicate"}
    assert next(g for g in plain["glasses"] if g["role"] == "best single")["trial"] == "T-B-1-F1-C-1"


def test_who_tastes_is_what_the_site_says_else_who_tasted_last() -> None:
    """Six at most, by name, each once however spelt."""
    days = [datetime(2026, 1, day) for day in range(1, 10)]
    tastings = pd.DataFrame({"taster": ["Ada", "ada ", *"BCDEFGH"], "tasted_at": days})
    assert tasters_of(site_with(), tastings) == ("C", "D", "E", "F", "G", "H")
    assert tasters_of(site_with({"plugins.bench.tasters": ["Zoe", "Ada", "zoe"]}), tastings) == ("Zoe", "Ada")
    assert tasters_of(site_with(), None) == ()
