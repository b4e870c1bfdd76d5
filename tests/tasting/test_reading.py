"""What stands around a term: comparisons, words after it, misspellings, words that mean something else."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plugins.tasting.words.matching import Lexicon, Term, find_terms
from plugins.tasting.words.parts_of_notes import parts
from plugins.tasting.words.spelling import Speller, sound
from tests.tasting.test_words import LEXICON, said


def compared(text: str) -> list[tuple[str, str, str]]:
    return [(hit.term.term, hit.compared, hit.reference) for hit in find_terms(text, LEXICON)]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("drier than 14", [("dry", "more", "14")]),
        ("sweeter and fruitier than C-0204, less oak", [("sweet", "more", "c-0204"), ("fruity", "more", "c-0204"),
                                                        ("oak", "less", "")]),
        ("more smoke than the cask beside it; oak", [("smoke", "more", "the cask beside it"), ("oak", "", "")]),
        ("less smoke than expected", [("smoke", "less", "expected")]),
        ("as oily as 7", [("oily", "same", "7")]),
        ("not as smoky as 12", [("smoky", "less", "12")]),
        ("more dry than sweet", [("dry", "", ""), ("sweet", "", "")]),
        ("oak and more oak", [("oak", "", ""), ("oak", "", "")]),
    ],
)  # fmt: skip
def test_comparisons(text: str, expected: list[tuple[str, str, str]]) -> None:
    """What is set against what, with the other glass as written; two families of one glass are no comparison."""
    assert compared(text) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("smoke is subtle, oak", ["smoke*0.3", "oak"]),
        ("the wood dominates", ["wood*1.3"]),
        ("the fruit does not", ["~fruit"]),
        ("smoke low", ["smoke*0.3"]),
        ("light, sweet", ["light", "sweet"]),
        ("light smoke", ["smoke*0.6"]),
        ("rubber? no.", ["~rubber"]),
        ("long? no short", ["long?", "short"]),
        ("no smoke, peat or tar; oak", ["~smoke", "~peat", "~tar", "oak"]),
        ("no smoke, oak and tar", ["~smoke", "oak", "tar"]),
        ("not too dry", ["~too dry"]),
        ("unsure: geranium", ["geranium?"]),
        ("doesn't lack spice", ["spice"]),
        ("I can't find the honey", ["~honey"]),
        ("plum instead of cherry", ["plum", "~cherry"]),
        ("not really smoky", ["~smoky"]),
        ("low astringency, high esters", ["astringency*0.3", "ester*1.3"]),
        ("has lost its smoke", ["~smoke"]),
        # words that mean something else
        ("sweet spot now, short of time", []),
        ("glass was warm, bottle half full", []),
        ("put into a sherry cask", []),
        ("out of date, date on label wrong", []),
        ("currently in store, better weather", []),
        ("off the still, hold", []),
    ],
)
def test_around_a_term(text: str, expected: list[str]) -> None:
    """Degree and denial after a term count; words about the glass, the sample or the cask are none."""
    assert said(text) == expected


@pytest.mark.parametrize(
    ("written", "term"),
    [
        ("vanila", "vanilla"), ("carmel", "caramel"), ("raisen", "raisin"), ("lether", "leather"),
        ("marmelade", "marmalade"), ("dryed fruit", "dried fruit"), ("liquorise", "liquorice"),
        ("cinammon", "cinnamon"), ("medecinal", "medicinal"), ("sulpher", "sulphur"), ("butter scotch", "butterscotch"),
        ("peardrops", "pear drops"), ("astringant", "astringent"),
    ],
)  # fmt: skip
def test_misspelt_words_are_read(written: str, term: str) -> None:
    """A misspelt word, or one written apart or together, is read as the term it was meant for."""
    assert [hit.term.term for hit in find_terms(written, LEXICON)] == [term]


@pytest.mark.parametrize(
    "word", ["better", "bring", "weather", "current", "charm", "store", "plenty", "spine", "smirk"]
)
def test_english_is_not_taken_for_misspelt(word: str) -> None:
    """Words that English has, and short ones, are not made into terms."""
    assert find_terms(word, LEXICON) == []


def test_a_word_that_may_be_two_things_is_left() -> None:
    """Two candidates of unlike families, equally near, give nothing."""
    speller = Speller({"peach", "peath"}, (), {"peach", "peath"})
    assert set(speller.meant("peaxh")) == {"peach", "peath"} and speller.meant("peechy") == ()
    lexicon = Lexicon((Term("peach", "fresh_fruit"), Term("peath", "smoke_peat")))
    assert find_terms("peaxh", lexicon) == []
    assert sound("phenollic") == sound("fenolic")


@pytest.mark.parametrize(
    ("text", "column", "expected"),
    [
        ("N: smoke. P: sweet. F: long", "remark", ["nose", "palate", "finish"]),
        ("Nose - grass; Palate - thin; Finish - abrupt", "nose", ["nose", "palate", "finish"]),
        ("On the nose raisin, on the palate dry, with a long finish of oak", "remark", ["nose", "palate", "finish"]),
        ("smoke", "nose", ["nose"]),
        ("a lovely dry finish", "finish", ["finish"]),
        ("longer than the nose promised", "finish", ["finish"]),
        ("finishing cask: red wine", "palate", ["palate"]),
        ("first impression good. Palate: thin", "nose", ["nose", "palate"]),
        ("T minus five, P-26-03", "remark", ["remark"]),
    ],
)
def test_stages_in_one_text(text: str, column: str, expected: list[str]) -> None:
    """Marked stages part a text; unmarked ones, single letters alone and other uses of the words do not."""
    assert [stage for stage, _, _ in parts(text, column)] == expected


@given(st.text(alphabet="NPF:nosepalt finish-–.;\n", max_size=60))
def test_parts_lie_in_the_text_and_in_order(text: str) -> None:
    """For any text the parts are inside it, in order, and do not overlap."""
    at = 0
    for _, start, end in parts(text, "nose"):
        assert at <= start <= end <= len(text)
        at = end
