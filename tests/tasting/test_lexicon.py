"""The lexicon: a site's own words, and entries that cannot be used."""

from __future__ import annotations

from pipeline.contract.site import DataFile
from plugins.tasting.words.lexicon import read_lexicon
from plugins.tasting.words.matching import find_terms
from tests.tasting.frames_for_tests import Tasted, own_words, tasting_site, tastings


def file(text: str, name: str = "own.csv") -> DataFile:
    return DataFile("vatting_site.house", name, text, "")


def test_a_site_adds_words_in_site_toml() -> None:
    """A word of [lexicon.words] is found, and one that was there goes to the site's family."""
    site = tasting_site({"lexicon.words": {"wet slate": "marine_medicinal", "tobacco": "smoke_peat"}})
    tasted = Tasted(tastings({"nose": "wet slate, tobacco"}), site)
    assert list(tasted.mentions["family"]) == ["marine_medicinal", "smoke_peat"]
    assert tasted.lexicon_findings == []


def test_a_site_adds_a_file() -> None:
    """A file with term and family only is enough; the later entry for one word wins."""
    lexicon, problems = read_lexicon([file("term,family\nrose,spice\n"), file("term,family\nRose,honey_wax\n")], [], {})
    assert problems == []
    assert [hit.term.family for hit in find_terms("roses", lexicon)] == ["honey_wax"]


def test_an_unknown_family_is_a_finding() -> None:
    """A word whose family does not exist is left out and named with the families that do."""
    tasted = Tasted(tastings({"nose": "roof tile"}), tasting_site({"lexicon.words": {"roof tile": "stones"}}))
    assert [finding.code for finding in tasted.lexicon_findings] == ["tasting.lexicon-entry"]
    assert "'stones'" in tasted.lexicon_findings[0].message
    assert len(tasted.mentions) == 0


def test_a_file_without_its_columns_is_a_finding() -> None:
    """Wrong headers, poles and modifiers each give one sentence that names file and line."""
    _, problems = read_lexicon([file("word,group\nrose,spice\n"), file("term,family,pole\nrose,spice,up\n")], [], {})
    assert [problem.split(";")[0] for problem in problems] == [
        "vatting_site.house: own.csv has no column term, family",
        "vatting_site.house: own.csv line 2: the word 'rose' has the unknown pole 'up'",
    ]
    _, problems = read_lexicon([], [file("term,kind,value\nmuch,intensity,lots\nso,emphasis,1\n")], {})
    assert len(problems) == 2


def test_a_site_adds_words_in_a_sheet() -> None:
    """A word of a sheet is found, wins over the shipped one, and may say what it says of maturity."""
    words = own_words(
        {"word": "roof tile", "word_family": "Marine medicinal", "polarity": "fault"},
        {"word": "tobacco", "word_family": "smoke_peat"},
        {"word": "unready oak", "word_family": "oak_wood", "maturity": "young"},
        {"word": "blue", "word_family": "colours"},
    )
    made = Tasted(tastings({"nose": "roof tile, tobacco, unready oak, blue"}), words=words)
    assert made.mentions["family"].tolist() == ["marine_medicinal", "smoke_peat", "oak_wood"]
    assert made.mentions["polarity"].iloc[0] == "fault" and made.mentions["maturity"].iloc[2] == "young"
    assert [finding.code for finding in made.lexicon_findings] == ["tasting.lexicon-entry"]
    assert "'colours'" in made.lexicon_findings[0].message
