"""Words found in notes: the traps of the trade, spans, and speed."""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plugins.tasting.words.lexicon import KINDS_OF_MODIFIER, read_lexicon
from plugins.tasting.words.matching import Lexicon, Modifier, Term, find_all, find_terms, other_number
from tests.tasting.frames_for_tests import tasting_site

SITE = tasting_site()
LEXICON, PROBLEMS = read_lexicon(
    SITE.data["lexicon"], SITE.data["lexicon_modifiers"], {}, SITE.data["lexicon_plain_words"]
)


def said(text: str, lexicon: Lexicon = LEXICON) -> list[str]:
    """Each hit as its term with marks: ``~`` negated, ``?`` doubtful, ``!`` striking, ``*0.3`` the degree."""
    return [
        "~" * hit.negated
        + hit.term.term
        + "?" * hit.doubtful
        + "!" * hit.striking
        + (f"*{hit.weight:g}" if hit.weight != 1 else "")
        for hit in find_terms(text, lexicon)
    ]


def test_shipped_lexicon_is_read_whole() -> None:
    """No entry of the shipped lexicon or modifiers is left out, and every kind of modifier is there."""
    assert PROBLEMS == []
    assert len(LEXICON.terms) > 390
    assert set(KINDS_OF_MODIFIER) == {m.kind for m in LEXICON.modifiers}


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # traps listed in the project's sensory notes
        ("not smoky", ["~smoky"]),
        ("lacks body", ["~body"]),
        ("too dry", ["too dry"]),
        ("dry hay", ["dry hay"]),
        ("dark chocolate", ["dark chocolate"]),
        ("chocolate", ["chocolate"]),
        ("burnt sugar", ["burnt sugar"]),
        ("burnt rubber", ["burnt rubber"]),
        ("light smoke", ["smoke*0.6"]),
        ("light body", ["light body"]),
        ("sherry-free and smoke-free", ["~sherry", "~smoke"]),
        ("no off notes", ["~off notes"]),
        ("sour milk, sour", ["sour milk", "sour"]),
        ("hot buttered toast", ["hot buttered toast"]),
        ("unbalanced", ["unbalanced"]),
        ("sweaty", ["sweaty"]),
        ("off-dry", ["off-dry"]),
        ("dead leaves and burnt sugar", ["dead leaves", "burnt sugar"]),
        # negation and lack
        ("not tannic", ["~tannic"]),
        ("no smoke", ["~smoke"]),
        ("less smoke than expected", ["~smoke"]),
        ("no smoke or peat, but oak", ["~smoke", "~peat", "oak"]),
        ("no smoke, oak", ["~smoke", "oak"]),
        ("without much smoke", ["~smoke"]),
        ("isn't tannic", ["~tannic"]),
        ("smoke missing", ["~smoke"]),
        ("smoke: none", ["~smoke"]),
        ("oak lacking smoke", ["oak", "~smoke"]),
        ("not only smoky but salty", ["smoky", "salty"]),
        ("not very sweet", ["sweet*0.3"]),
        ("no hint of smoke", ["~smoke*0.3"]),
        # degree
        ("a touch of vanilla", ["vanilla*0.3"]),
        ("huge raisins", ["raisin*1.3"]),
        ("almost medicinal", ["medicinal*0.3"]),
        ("over-sweet", ["oversweet"]),
        ("carries over sweet", ["sweet"]),
        ("very slightly smoky", ["smoky*0.3"]),
        ("slightly sweet and oaky", ["sweet*0.3", "oaky"]),
        # doubt and striking
        ("vanilla?", ["vanilla?"]),
        ("vanilla (?)", ["vanilla?"]),
        ("vanilla, smoke?", ["vanilla", "smoke?"]),
        ("maybe a little rubber", ["rubber?*0.3"]),
        ("sulphur, not sure", ["sulphur?"]),
        ("cherry! plum", ["cherry!", "plum"]),
        ("cherry?!", ["cherry?!"]),
        ("cherry **", ["cherry!"]),
        # number, case, diacritics
        ("Cherries, PEACHES and figs", ["cherry", "peach", "fig"]),
        ("pear drop", ["pear drops"]),
        ("Crème brûlée", ["creme brulee"]),
        ("cre\u0300me bru\u0302le\u0301e", ["creme brulee"]),
        ("mouth drying", ["mouth-drying"]),
        # nothing that is not said
        ("", []),
        ("?? !!", []),
        ("body", []),
        ("good length", ["length"]),
        ("out of the assay, oakum", []),
    ],
)
def test_what_a_note_says(text: str, expected: list[str]) -> None:
    """Whole words, longest first, with what stands around them; nothing else."""
    assert said(text) == expected


def test_span_is_that_of_the_note_as_written() -> None:
    """A hit's span cuts the word out of the original text, whatever folding did to it."""
    text = "Straße, ﬁg mix; CRÈME BRÛLÉE? cre\u0300me bru\u0302le\u0301e."
    found = [text[hit.start : hit.end] for hit in find_terms(text, LEXICON)]
    assert found == ["ﬁg", "CRÈME BRÛLÉE", "cre\u0300me bru\u0302le\u0301e"]


@given(st.text(alphabet="smokepat nlvié?!,.-'û\u0301ﬁßo*()\n", max_size=80))
def test_spans_never_overlap_or_leave_the_note(text: str) -> None:
    """For any text, hits lie inside it, in order, and none overlaps another."""
    at = 0
    for hit in find_terms(text, LEXICON):
        assert at <= hit.start < hit.end <= len(text)
        at = hit.end


@pytest.mark.parametrize(
    ("word", "form"),
    [("cherry", "cherries"), ("peach", "peaches"), ("leaf", "leaves"), ("berries", "berry"), ("toffee", "toffees")],
)
def test_other_number(word: str, form: str) -> None:
    """Singular and plural are found from each other."""
    assert form in other_number(word)


def test_a_form_never_displaces_a_term() -> None:
    """A made plural does not take the place of a term that is written so."""
    lexicon = Lexicon((Term("green", "floral_leafy"), Term("greens", "off_notes")), (Modifier("no", "negation"),))
    assert [hit.term.family for hit in find_terms("greens, green", lexicon)] == ["off_notes", "floral_leafy"]


def random_notes(count: int) -> list[str]:
    """Notes of twelve words, about a third of them terms."""
    rng = random.Random(6)
    terms = [term.term for term in LEXICON.terms]
    other = "a the nice old with and some very hint of not on nose lovely then slowly".split()
    return [" ".join(rng.choice(terms if rng.random() < 0.35 else other) for _ in range(12)) for _ in range(count)]


def test_many_notes_are_read_at_once() -> None:
    """2,000 notes of which a third of the words are terms have more hits than notes."""
    notes = random_notes(2000)
    where, _ = find_all(notes, LEXICON)
    assert len(where) > len(notes)
