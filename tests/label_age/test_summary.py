"""What a verdict's facts come to in short: of whom something is not known, however the rows lie."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from plugins.label_age.facts.catalogue import BY_NAME
from plugins.label_age.facts.logic import FALSE, TRUE, UNKNOWN
from plugins.label_age.facts.tables import Table, objects
from plugins.label_age.telling.summary import MOST_UNKNOWN, summarise

NAMES = ["heel", "cask C-2", "heel", "cask C-1", "cask C-3"]
UNKNOWN_OF = ["cask C-1", "heel"]
AGES = [np.nan, 5.0, np.nan, np.nan, 5.0]
TRUTHS = [UNKNOWN, TRUE, UNKNOWN, UNKNOWN, FALSE]
STATES = [None, "Northmark", None, None, "Southmark"]


def table(order: list[int]) -> Table:
    """One batch of five rows, two of them called alike, three of which nothing is known."""
    made = Table(np.array([0, len(order)]), objects(NAMES)[order], objects([(n,) for n in range(len(order))]))
    made.set_number("distilled_proof", np.array(AGES)[order])
    made.flags["new_oak"] = np.array(TRUTHS, dtype=np.int8)[order]
    made.texts["state"] = objects(STATES)[order]
    return made


@pytest.mark.parametrize(
    ("fact", "known"),
    [("distilled_proof", 5.0), ("new_oak", [True, False]), ("state", ["Northmark", "Southmark"])],
)
@pytest.mark.parametrize("order", [[0, 1, 2, 3, 4], [4, 3, 2, 1, 0], [3, 0, 4, 2, 1]])
def test_of_whom_a_fact_is_not_known_stands_once_and_in_order(fact: str, known: Any, order: list[int]) -> None:
    assert summarise(BY_NAME[fact], table(order)) == [{"known": known, "not known of": UNKNOWN_OF}]


def test_of_very_many_the_first_by_name_are_told() -> None:
    names = [f"cask C-{number:02d}" for number in range(30, 0, -1)]
    made = Table(np.array([0, 30]), objects(names), objects([(n,) for n in range(30)]))
    made.flags["new_oak"] = np.array([UNKNOWN] * 29 + [TRUE], dtype=np.int8)
    said = summarise(BY_NAME["new_oak"], made)[0]["not known of"]
    assert said == [f"cask C-{number:02d}" for number in range(2, 2 + MOST_UNKNOWN)]
