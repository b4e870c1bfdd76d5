"""A bench card as data and as a workbook: codes, orders, duplicates, amounts, and what must not be given away."""

from __future__ import annotations

from collections import Counter
from io import BytesIO
from typing import Any

import pytest
from openpyxl import load_workbook

from plugins.bench.cards.card import Asked, Recipe, plan_card
from plugins.bench.cards.card_workbook import card_bytes, tasting_bytes
from plugins.bench.cards.measure import Bench, CannotMake
from plugins.bench.cards.serving import balanced, codes

STRENGTHS = {"C-1": 61.0, "C-2": 56.0, "C-3": 64.0, "B-25-09": 46.0}
TASTERS = ("Ada", "Ben", "Cleo", "Dov")


def recipes(trials: int = 4) -> list[Recipe]:
    made = [Recipe(f"T-{at}", {"C-1": 10.0 + at, "C-2": 5.0, "C-3": 1.0}, STRENGTHS) for at in range(trials)]
    made.append(Recipe("T-best", {"C-1": 1.0}, STRENGTHS, "best single"))
    return [*made, Recipe("T-std", {"B-25-09": 1.0}, STRENGTHS, "standard")]


def card(trials: int = 4, **given: Any) -> dict[str, Any]:
    asked = Asked("F-1", "B-26-07", given.pop("tasters", TASTERS), ("smoke_peat", "body"))
    return plan_card(asked, recipes(trials), Bench(**given))


@pytest.mark.parametrize("glasses", range(2, 13))
def test_serving_orders_are_balanced(glasses: int) -> None:
    """Every glass stands in every place, and follows every other, equally often (Williams 1949)."""
    rows = balanced(glasses)
    for place in range(glasses):
        assert set(Counter(row[place] for row in rows).values()) == {len(rows) // glasses}
    after = Counter(pair for row in rows for pair in zip(row, row[1:], strict=False))
    assert len(after) == glasses * (glasses - 1) and len(set(after.values())) == 1


def test_each_flight_has_a_blind_duplicate_under_a_code_of_its_own() -> None:
    """Codes are three digits and unlike; the first trial stands twice, everything else once."""
    made = card()
    assert len({glass["code"] for glass in made["glasses"]}) == len(made["glasses"]) == 7
    assert all(len(glass["code"]) == 3 for glass in made["glasses"])
    roles = Counter(glass["role"] for glass in made["glasses"])
    assert roles == {"trial": 4, "best single": 1, "standard": 1, "duplicate": 1}
    assert Counter(glass["trial"] for glass in made["glasses"])["T-0"] == 2
    for served in made["orders"]:
        assert sorted(served["codes"]) == sorted(glass["code"] for glass in made["glasses"])
    assert [served["taster"] for served in made["orders"]] == list(TASTERS)


def test_equal_questions_give_equal_cards_and_other_flights_other_codes() -> None:
    """The card's bytes hang on what is asked alone; another flight's codes are others."""
    assert card_bytes(card()) == card_bytes(card())
    assert codes("F-1", 7) != codes("F-2", 7)


def test_many_trials_are_split_into_flights() -> None:
    """Twelve trials make flights of nine glasses at most, each with best single, standard and duplicate."""
    made = card(12)
    assert len(made["flights"]) == 2
    for flight in made["flights"]:
        own = [glass for glass in made["glasses"] if glass["flight"] == flight]
        assert len(own) <= 9
        assert {"best single", "standard", "duplicate"} <= {glass["role"] for glass in own}
    assert sum(glass["role"] == "trial" for glass in made["glasses"]) == 12


def test_enough_is_made_for_every_glass_and_the_needs_add_up() -> None:
    """What is made of a trial covers its glasses of all tasters; the liquid needed is the sum of its parts."""
    made = card(pour_ml=45.0)
    for trial in made["trials"]:
        poured = sum(glass["spirit_ml"] for glass in made["glasses"] if glass["trial"] == trial["trial"])
        assert trial["total_ml"] >= poured * len(TASTERS)
        assert trial["total_ml"] == pytest.approx(sum(part["ml"] for part in trial["parts"]))
    total = sum(trial["total_ml"] for trial in made["trials"])
    assert sum(item["ml"] for item in made["needed"]) == pytest.approx(total)


def test_parts_too_small_say_how_to_measure_them() -> None:
    """With a step of half a millilitre a tenth of the blend is under ten steps where no more may be made."""
    made = card(step_ml=0.5, most_ml=40.0)
    small = [part for trial in made["trials"] for part in trial["parts"] if part["small"]]
    assert small and all("ten steps of 0.5 ml" in part["how"] for part in small)
    assert any("scales to the vat" in note for note in made["notes"])


def test_the_tasters_pages_give_nothing_away() -> None:
    """The workbook for tasters names no trial, cask or role."""
    book = load_workbook(BytesIO(tasting_bytes(card(), "Ben")))
    words = {str(cell) for row in book.worksheets[0].iter_rows(values_only=True) for cell in row if cell is not None}
    assert len(book.worksheets) == 1 and "Ben" in words and "Ada" not in words
    text = " ".join(words)
    assert not [name for name in ("T-0", "C-1", "T-best", "best single", "duplicate", "B-25-09") if name in text]


def test_no_cell_of_a_card_is_a_formula() -> None:
    """Names that begin with = or + are text in every page."""
    parts = {"=cmd|' /C calc'!A0": 2.0, "+C-2": 1.0}
    made = plan_card(Asked("=F", "@B", ("-Ada",)), [Recipe("=T", parts, dict.fromkeys(parts, 60.0))], Bench())
    book = load_workbook(BytesIO(card_bytes(made)))
    kinds = {cell.data_type for page in book for row in page.iter_rows() for cell in row}
    assert kinds <= {"s", "inlineStr", "n"}  # never f


@pytest.mark.parametrize(
    ("asked", "trials", "why"),
    [
        (Asked(" "), recipes(), "needs a name"),
        (Asked("F-1"), recipes(0), "at least one trial"),
        (Asked("F-1"), [*recipes(), Recipe("t-0", {"C-1": 1.0}, STRENGTHS)], "Two trials are called"),
        (Asked("F-1", tasters=("Ada", "ada")), recipes(), "named twice"),
        (Asked("F-1"), [Recipe("T-9", {"C-9": 1.0, "C-1": 1.0}, STRENGTHS)], "strength of C-9 is not known"),
    ],
)
def test_a_card_that_cannot_be_made_says_why(asked: Asked, trials: list[Recipe], why: str) -> None:
    """A sentence, never a traceback of another kind."""
    with pytest.raises(CannotMake, match=why):
        plan_card(asked, trials, Bench())
