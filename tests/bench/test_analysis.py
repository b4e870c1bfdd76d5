"""The analysis as data and page: its keys, honest words, cards that can be poured, and what the model taught."""

from __future__ import annotations

import io
import json
import re
from typing import Any

import openpyxl
import pandas as pd
import pytest

from plugins.bench.answers import answer_stages as stages
from plugins.bench.answers import words
from plugins.bench.answers.analysis import BEATS, LOSES, NO_BETTER, TOO_FEW, analysis, taught
from plugins.bench.answers.answer_reports import list_trial_batches, plain
from plugins.bench.answers.next_card import next_card
from plugins.bench.answers.page import page
from plugins.bench.cards.card_workbook import card_bytes
from plugins.bench.cards.measure import Bench as Measure
from plugins.bench.returned.parts import read_parts
from plugins.proposals.taste.taste_stages import model_pairs, model_taste
from tests.bench.kit import BATCH, Bench, aim, brief, flight_rows
from tests.bench.test_answer import SCORES

WORDS = {"T-2": "too dry, smoke gone", "T-1": "thin"}
MORE = {"T-1#2": [7, 7, 8, 6, 7.0], "T-3": [6, 6, 6, 6, 6.0], "T-4": [5, 5, 5, 5, 5.0], "C-3": [5, 5, 5, 5, 5.0]}


def analysed(bench: Bench) -> dict[str, Any]:
    """The document of a bench, through its stages."""
    like, target = brief(), aim(vanilla_cream=4.0)
    parts = read_parts(bench.trials, bench.site)[0]
    flights = (bench.tasted, bench.trials, bench.impressions, like)
    faults = stages.find_faults(bench.tasted, bench.mentions, bench.trials, like, target, bench.profiles, parts)
    taste = (bench.trials, bench.profiles, bench.noise)
    frames: dict[str, pd.DataFrame | None] = {
        "trial_comparisons": stages.compare_with_singles(*flights),
        "trial_orders": stages.order_flights(*flights),
        "flight_noise": stages.measure_flights(*flights),
        "trial_matches": stages.match_standard(*flights, bench.site, None, None, bench.noise),
        "trial_faults": faults,
        "remedies": stages.find_remedies(faults, bench.moves, bench.trials, parts),
        "trial_parts": parts, "profiles": bench.profiles, "scores": None, "lineage": None,
        "taste_exponents": model_taste(target, *taste)[0], "taste_terms": model_pairs(*taste),
        "taste_left_out": bench.left_out,
    }  # fmt: skip
    made: dict[str, Any] = plain(analysis(BATCH, frames))
    return made


@pytest.fixture(scope="module")
def document() -> dict[str, Any]:
    return analysed(Bench(flight_rows({**SCORES, **MORE}, words=WORDS)))


def test_keys_of_the_contract(document: dict[str, Any]) -> None:
    """The keys that the contract names are there, and the data is JSON without NaN."""
    json.dumps(document, allow_nan=False)
    assert document["schema"] == "vatting.trials/1" and document["batch"] == BATCH
    trial = document["trials"][0]
    assert {"trial", "components", "profile", "against_best_single", "rank"} <= set(trial)
    assert {"component", "preferred", "of", "p_value"} <= set(trial["against_best_single"])
    assert {"coefficients", "error_left_out"} <= set(document["model"]["dry_grip"])
    assert all({"fault", "change", "moves", "card"} <= set(row) for row in document["remedies"])


def test_the_honest_sentence(document: dict[str, Any]) -> None:
    """Five tasters, four of four for the leading blend: not shown either way, and how many would settle it."""
    assert document["leading"] == "T-2"
    assert "not shown either way: 4 of 4 preferred it, 1 put both alike" in words.lead(document)
    row = document["trials"][0]["against_best_single"]
    assert re.fullmatch(r"4 tasters can never show it; about \d+ tasters in a fresh flight, .*", words.settles(row))


def test_the_page_says_it(document: dict[str, Any]) -> None:
    """The page has the sentence, the duplicate, the remedies and links to cards; names are escaped; bytes repeat."""
    text = page(document, "House <b>", []).decode()
    for said in (
        "not shown either way",
        "Blind duplicate.",
        "too much dry grip",
        "next_card_1.xlsx",
        "House &lt;b&gt;",
    ):
        assert said in text
    assert "://" not in text and "<script" not in text
    assert page(document, "House <b>", []) == page(json.loads(json.dumps(document)), "House <b>", [])


def test_each_remedy_has_its_card(document: dict[str, Any]) -> None:
    """At most three; each card pours the blend as it is, steps of the change, and the duplicate; it opens."""
    cards = [row["card"] for row in document["remedies"] if row["card"]]
    assert cards == [f"next_card_{at}.xlsx" for at in range(1, len(cards) + 1)] and 1 <= len(cards) <= 3
    for name in cards:
        card = next_card(document, name, Measure(), ("Ada", "Ben"))
        assert card is not None and card["trials"][0]["about"] == "T-2 as it is"
        assert sum(glass["role"] == "duplicate" for glass in card["glasses"]) == 1
        remedy = next(row for row in document["remedies"] if row["card"] == name)
        tried = [{part["component"]: part["share"] for part in trial["parts"]} for trial in card["trials"]]
        assert any(shares == pytest.approx(remedy["change"], abs=0.02) for shares in tried)
        assert openpyxl.load_workbook(io.BytesIO(card_bytes(card))).sheetnames
    assert next_card(document, "next_card_9.xlsx", Measure(), ()) is None


def test_a_strength_ladder_is_a_card_too() -> None:
    """A hot blend is mended with water where that is the least side effect, tried at several strengths."""
    rows = [{**row, "heat": 8.0} for row in flight_rows({**SCORES, **MORE}, words={"T-2": "far too hot"})]
    made = analysed(Bench(rows))
    water = [row for row in made["remedies"] if row["component"] == "water" and row["fault"] == "heat"]
    assert water and water[0]["moves_fault"]["mean"] <= -0.5
    card = next_card(made, water[0]["card"], Measure(), ("Ada",))
    assert card is not None
    strengths = [trial["nosing_abv"] for trial in card["trials"]]
    assert (
        strengths[0] == Measure().nosing_abv
        and 3 <= len(strengths) <= 5
        and strengths == sorted(strengths, reverse=True)
        and len(set(strengths)) == len(strengths)
    )


def left(model: float, naive: float, trials: int, wobble: float = 0.1) -> list[dict[str, Any]]:
    """Rows of trials left out: errors of the model and of the guess about as stated."""
    return [
        {"trial": f"T-{at}", "family": family, "tasted": 5.0, "predicted": 5.0 + model + wobble * (-1) ** at,
         "naive": 5.0 + naive + wobble * (-1) ** (at + 1), "low": 4.0, "high": 6.0}
        for at in range(trials)
        for family in ("body", "heat")
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("model", "naive", "trials", "verdict", "said"),
    [
        (0.3, 2.0, 6, BEATS, "beats the plain guess"),
        (1.0, 1.0, 6, NO_BETTER, "no better than the plain guess"),
        (2.0, 0.3, 6, LOSES, "worse than the plain guess"),
        (0.3, 2.0, 2, TOO_FEW, "too few to judge"),
    ],
)
def test_whether_the_model_beats_the_guess(model: float, naive: float, trials: int, verdict: str, said: str) -> None:
    """Said as it is: beats it, no better, worse, or too few trials."""
    made = taught(left(model, naive, trials, 0.6 if verdict == NO_BETTER else 0.1))
    assert made["verdict"] == verdict and said in words.model(made)


def test_batches_with_tasted_trials() -> None:
    """A batch is there once one of its trials was tasted, and not before."""
    bench = Bench(flight_rows({"T-1": [6.0]}))
    assert list_trial_batches(bench.trials, bench.tasted)["trials"].tolist() == [1]
    assert not len(list_trial_batches(bench.trials, Bench(flight_rows({"C-1": [6.0]})).tasted))


def test_a_duplicate_by_lot_is_said() -> None:
    """Where tasters put two glasses of the same as far apart as lots would, the order is said to say little."""
    row = {"sample": "T-1", "tasters": 4, "places_apart": 3.0, "by_lot": 3.3, "score_spread": None}
    assert "says little" in words.duplicate(row) and "says little" not in words.duplicate({**row, "places_apart": 1.0})
