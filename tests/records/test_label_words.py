"""The label page shows a label's own words with their results, quoted and escaped."""

from __future__ import annotations

from typing import Any

import pytest

from plugins.label_age.comparing.result import RESULTS
from plugins.records import reports
from plugins.records.pages import page_label
from tests.made_once import demo
from tests.records.fake import World, world
from tests.records.fake_tables import table

HOSTILE = "</p><script>alert(1)</script>\u202e"
ROW = {
    "batch": "B-26-03", "market": "UK", "number": 1, "panel": "front", "statement": "age", "words": "Aged 6 years",
    "reads": "6 years", "result": "not allowed", "reason": "The youngest is 4 years old.", "rule": "Act 1 s. 2",
    "unverified": True, "facts": (1,),
}  # fmt: skip


def page(*rows: dict[str, Any]) -> str:
    made = world()
    made.frames["label_words"] = table([{**ROW, "number": number, **row} for number, row in enumerate(rows, start=1)])
    return _html(made)


def _html(made: World) -> str:
    return made.call(reports.label_html, "B-26-03", record=made.records()).decode("utf-8")


def test_the_pages_results_are_those_of_the_proof() -> None:
    """Two plugins meet in the frame alone: the page knows each result, in the same order."""
    assert list(page_label.RESULTS) == list(RESULTS)


@pytest.mark.parametrize("result", RESULTS)
def test_each_result_has_its_mark(result: str) -> None:
    """Word, shape and colour of each result are there."""
    text = page({"result": result, "words": None if result == "missing" else "Aged 6 years"})
    word = result.replace(" ", "-")
    assert f'class="mark is-{word}"' in text and f".is-{word}" in text
    shape = text.split(f'class="mark is-{word}"', 1)[1].split("</use>", 1)[0].split('href="#', 1)[1].split('"', 1)[0]
    assert f'id="{shape}"' in text


def test_words_are_quoted_with_what_they_were_read_as() -> None:
    """The words, their reading, panel, section and reason stand together; unverified rules say so."""
    text = page({})
    part = text.split("The label's own words", 1)[1]
    for said in (
        "“<bdi>Aged 6 years</bdi>”",
        "read as 6 years",
        "front",
        "Act 1 s. 2",
        "rule unverified",
        "4 years old",
    ):
        assert said in part


def test_the_gravest_stands_first_and_what_was_not_read_last() -> None:
    """Results in order of weight; text in which nothing was read is listed, never left out."""
    text = page(
        {"result": "agrees", "words": "one"}, {"result": "not judged", "statement": "words", "words": "two"},
        {"result": "contradicts", "words": "three"},
    )  # fmt: skip
    part = text.split("The label's own words", 1)[1]
    assert part.index(">three<") < part.index(">one<") < part.index(">two<")
    assert "no statement was read: read them yourself" in part


def test_hostile_words_are_escaped() -> None:
    """Words of a sheet never become markup, nor turn the writing of the page around."""
    text = page({"words": HOSTILE, "reason": HOSTILE, "statement": HOSTILE, "reads": HOSTILE, "panel": HOSTILE})
    assert "<script>alert" not in text and "&lt;script&gt;" in text


def test_without_words_the_page_has_no_such_part() -> None:
    """A batch of whose label nothing was dropped shows nothing of it."""
    assert "The label's own words" not in _html(world())


@pytest.mark.long
def test_the_example_shows_the_slips_of_its_label() -> None:
    """B-26-03's European label: the age that its youngest cask has not reached, and the turned batch number."""
    text = (demo()[0] / "batches" / "B-26-03" / "label.html").read_text("utf-8")
    part = text.split("The label's own words", 1)[1]
    assert part.index("Aged 5 years") < part.index("Batch 26-30") < part.index("Honey, orange peel")
    said = {(f.code, f.severity) for f in demo()[1].worked.findings if f.code.startswith("label.words")}
    assert said == {
        ("label.words-not-allowed", "stop"), ("label.words-contradict", "stop"), ("label.words-not-judged", "note")
    }  # fmt: skip
