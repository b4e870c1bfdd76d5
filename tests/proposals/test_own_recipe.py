"""A blender's own recipe and questions to the stock: read, reckoned by hand, and asked at the prompt."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner

from plugins import proof
from plugins.proposals.ask_commands import find, taste
from plugins.proposals.stock.find import NoQuestion, asked, found_in
from plugins.proposals.stock.recipes import NoRecipe, recipe_of
from tests.proposals.sheets import NAMES, Cellar, brief, stock

KNOWN = ["C-0124", "C-0150", "C-0158", "N-0158", "124/2", "Vat 7"]


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("124 52, 150 22, C-0158 8 %", {"C-0124": 52 / 82, "C-0150": 22 / 82, "C-0158": 8 / 82}),
        ("c-0124 50 ml; C-0150 50 ml", {"C-0124": 0.5, "C-0150": 0.5}),
        ("C-0124: 12,5\nC-0150 = 12.5", {"C-0124": 0.5, "C-0150": 0.5}),
        ("124/2 30, Vat 7 10", {"124/2": 0.75, "Vat 7": 0.25}),
        ("C-0124 1", {"C-0124": 1.0}),
    ],
)
def test_recipes_as_blenders_say_them(text: str, parts: dict[str, float]) -> None:
    assert recipe_of(text, KNOWN).parts == pytest.approx(parts)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("158 8, 124 52", "158 may be C-0158 or N-0158"),
        ("C-0129 8", "C-0129 is no cask of the stock. Did you mean"),
        ("C-0124 52, c-0124 8", "stands in the recipe twice"),
        ("C-0124 52 ml, C-0150 3 L", "mixes L and ml"),
        ("C-0124", "no part of a recipe"),
        ("C-0124 0", "above nought"),
        (" , ", "No part was named"),
        ("C-0124 1,500 ml, C-0150 500 ml", "can be read as thousands or as a decimal"),
        ("C-0124 1.2.3 ml", "is no number"),
        ("C-0124 -5", "no part of a recipe"),
    ],
)
def test_what_is_no_recipe_is_said(text: str, said: str) -> None:
    with pytest.raises(NoRecipe) as caught:
        recipe_of(text, KNOWN)
    assert said in str(caught.value)


STOCK = pd.DataFrame(
    {
        "cask": ["C-1", "C-2", "C-3", "C-4"],
        "spirit": ["Single malt", "Rye", None, "Peated malt"],
        "location": ["W1-2", "W2-1", "W1-9", "W1-1"],
        "owner": [None] * 4,
        "filling": [None] * 4,
        "volume_20C_L": [150.0, 90.0, np.nan, 99.0],
        "volume_60F_gal": [39.6, 23.8, np.nan, 26.2],
        "proof_60F": [120.0, 118.0, 122.0, 119.0],
        "abv_20C": [60.0, 59.0, 61.0, 59.5],
        "lpa": [90.0, 53.0, np.nan, 59.0],
        "cost": [np.nan] * 4,
        "age_years": [10.0, 12.0, 9.0, 11.0],
        "free": [True, False, True, True],
        "why_not": [None, "held", None, None],
        "tasted": [True, True, False, True],
    }
)
TASTES = pd.DataFrame({"smoke_peat": [5.0, 4.0, np.nan, 6.0], "dry_grip": [2.0, 3.0, np.nan, 3.5]})
ELIGIBLE = pd.DataFrame(
    {
        "claim": ["single malt"] * 3,
        "market": ["EU"] * 3,
        "component": ["C-1", "C-2", "C-4"],
        "verdict": ["met", "not met", "cannot tell"],
    }
)


def ask(question: str) -> dict[str, Any]:
    conditions, like = asked(question, STOCK, TASTES, ELIGIBLE)
    return found_in(conditions, like, STOCK, TASTES, near=10)


def names(rows: list[dict[str, Any]]) -> list[str]:
    return [row["cask"] for row in rows]


@pytest.mark.parametrize(
    ("question", "casks", "near"),
    [
        ("smoke peat >= 4, age >= 10 years, litres >= 100", ["C-1"], ["C-4", "C-2"]),
        ("smoke >= 5, dry grip <= 3", ["C-1"], ["C-2", "C-4"]),
        ("litres > 10", ["C-1", "C-2", "C-4"], ["C-3"]),
        ("spirit = malt, location = w1", ["C-1", "C-4"], ["C-3"]),
        ("free, abv < 60.5", ["C-1", "C-4"], ["C-2", "C-3"]),
        ("may be single malt EU, tasted", ["C-1"], ["C-2", "C-4"]),
        ("may be straight US", [], ["C-1", "C-2", "C-3", "C-4"]),
        ("like 4, litres >= 80", ["C-1", "C-2"], ["C-3"]),
    ],
)
def test_who_answers_and_who_nearly(question: str, casks: list[str], near: list[str]) -> None:
    """What is not known is never met; a near miss fails one condition; likeness ranks and leaves nobody out."""
    made = ask(question)
    assert names(made["casks"]) == casks and names(made["near"]) == near


def test_a_near_miss_says_by_what() -> None:
    made = ask("smoke peat >= 4, litres >= 100")
    assert made["near"][0]["why"] == "litres >= 100: 99 L"
    assert ask("litres >= 80, free")["near"][0]["why_not_free"] == "held"


@pytest.mark.parametrize(
    "question", ["smoke", "smokey >= 4", "age >= old", "litres >= 10 kg", "like C-9", "proof ~ 4", "litres >= 1,000"]
)
def test_what_is_no_question_is_said(question: str) -> None:
    with pytest.raises((NoQuestion, NoRecipe)) as caught:
        ask(question)
    assert str(caught.value)


@pytest.fixture(scope="module")
def cellar(tmp_path_factory: pytest.TempPathFactory) -> Cellar:
    made = Cellar(tmp_path_factory.mktemp("own"))
    made.run(**stock(brief=brief()))
    return made


def said(cellar: Cellar, command: Any, *asked: str) -> Any:
    result = CliRunner().invoke(command, [*asked, "--out", str(cellar.out)])
    assert result.exit_code == 0, result.output
    return result.output


@pytest.mark.long
def test_a_recipe_held_against_its_brief(cellar: Cellar) -> None:
    """Two equal casks of 120 proof for 700 L at 46 %: alcohol and water by hand, and all claims of the brief."""
    made = json.loads(said(cellar, taste, "C-00 60, C-01 40", "--batch", "b-1", "--json"))
    w = float(proof.mass_fraction_from_abv(46.0))
    ethanol = float(proof.mass_from_volume(700.0, w, proof.T_20C)) * w
    strong = float(proof.mass_fraction_from_proof(120.0))
    litres = float(proof.quantities(ethanol / strong, strong)["volume_20C_L"])
    assert made["casks"][0]["draw_L"] == pytest.approx(0.6 * litres, rel=1e-6)
    assert made["casks"][0]["left_L"] == pytest.approx(made["casks"][0]["holds_L"] - 0.6 * litres, abs=1e-6)
    assert made["casks"][0]["enough"] is False and made["casks"][1]["enough"] is False
    assert made["bottling"]["volume_20C_L"] == pytest.approx(700.0, rel=1e-6) and made["bottling"]["bottles"] == 1000
    assert {row["verdict"] for row in made["claims"]} == {"met"}
    assert made["distance"] >= 0.0 and made["proposals"] and made["age"]["years"] == 11
    assert set(made["one_point_more"]) == {"C-00", "C-01"}


@pytest.mark.long
def test_a_claim_that_the_bottling_strength_breaks_is_not_met(tmp_path: Path) -> None:
    """Every cask is a single malt; at 39 % vol no whisky is one in the EU, whatever the casks are."""
    made = Cellar(tmp_path)
    made.run(**stock(brief=brief(bottling_abv="39")))
    answer = json.loads(said(made, taste, "C-00 60, C-01 40", "--batch", "B-1", "--json"))
    broken = [row for row in answer["claims"] if row["verdict"] == "not met"]
    assert broken and all("40" in row["why"] for row in broken)


@pytest.mark.long
def test_a_recipe_of_one_cask_tastes_of_it(cellar: Cellar) -> None:
    made = json.loads(said(cellar, taste, "C-03 1", "--json"))
    assert made["profile"]["smoke_peat"]["mean"] == pytest.approx(6.0, abs=1e-6)
    assert made["one_point_more"] == {} and made["distance"] is None
    assert made["casks"][0]["left_L"] == pytest.approx(0.0, abs=1e-6)


@pytest.mark.long
def test_the_prompt_speaks_plainly(cellar: Cellar) -> None:
    shown = said(cellar, taste, "C-00 52, C-01 22")
    assert "Parts are by volume at cask strength." in shown and "One point more of C-00" in shown
    shown = said(cellar, find, "smoke peat >= 4, litres >= 100, age >= 8 years")
    assert shown.startswith("4 casks answer.") and "C-02" in shown
    wrong = CliRunner().invoke(find, ["smokey >= 4", "--out", str(cellar.out)])
    assert wrong.exit_code == 1 and "nothing that can be asked" in wrong.output
    nobody = CliRunner().invoke(taste, ["C-00 1", "--batch", "B-9", "--out", str(cellar.out)])
    assert nobody.exit_code == 1 and "no open, complete brief" in nobody.output


@pytest.mark.long
def test_nothing_is_written(cellar: Cellar) -> None:
    def state() -> dict[Path, float]:
        return {path: path.stat().st_mtime for path in cellar.out.rglob("*") if path.is_file()}

    before = state()
    said(cellar, taste, f"{NAMES[0]} 1")
    said(cellar, find, "free")
    assert state() == before
