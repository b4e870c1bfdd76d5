"""The page: everything in one file, nothing run, pictures said in words too."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from tests.proposals.sheets import Cellar, brief

KEPT = "C-03; <b onclick=x>C-01</b>"


def page(cellar: Cellar) -> str:
    return (cellar.out / "proposals" / "B-1" / "proposals.html").read_text("utf-8")


@pytest.mark.long
def test_the_page_says_what_the_data_say(tmp_path: Path) -> None:
    """Every cask, bottle count, demand and left-out cask of proposals.json stands on the page; it loads nothing."""
    cellar = Cellar(tmp_path)
    cellar.stocked(brief=brief(keep=KEPT))
    text = page(cellar)
    document = json.loads((cellar.out / "proposals" / "B-1" / "proposals.json").read_bytes())
    for item in document["proposals"]:
        assert f'id="{item["id"]}"' in text
        assert all(part["component"] in text for part in item["components"])
    assert all(row["component"] in text for row in document["left_out"])
    assert "default-src 'none'" in text and not re.search(r"<script|<link|src=|url\(", text)
    assert "A proposal, not an instruction to pour" in text and "Spirit vapour" not in text


def test_pictures_are_said_in_words(tmp_path: Path) -> None:
    """Each picture of taste has a label with prediction, interval and what is wanted; a figure stands beside it."""
    cellar = Cellar(tmp_path)
    cellar.stocked(brief=brief())
    pictures = re.findall(r'<svg class="taste"[^>]*aria-label="([^"]*)"', page(cellar))
    document = json.loads((cellar.out / "proposals" / "B-1" / "proposals.json").read_bytes())
    assert len(pictures) == 3 * len(document["proposals"])
    said = r"untried; the law alone has it between [\d.]+ and [\d.]+; wanted [\d.]+ to [\d.]+"
    assert all(re.fullmatch(said, words) for words in pictures)


@pytest.mark.long
def test_words_of_sheets_are_never_run(tmp_path: Path) -> None:
    """Names from sheets are shown as text."""
    cellar = Cellar(tmp_path)
    cellar.stocked(brief=brief(keep=KEPT))
    assert "<b onclick" not in page(cellar) and "&lt;b onclick" in page(cellar)


@pytest.mark.long
def test_a_page_without_proposals_says_what_conflicts(tmp_path: Path) -> None:
    """Nothing to propose: the conflicting demand and its release are on the page."""
    cellar = Cellar(tmp_path)
    cellar.stocked(brief=brief(volume="9000 L", max_casks=""))
    assert "nothing to propose" in page(cellar) and "at most" in page(cellar)
