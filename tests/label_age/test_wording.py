"""What the words of a label are read as: numbers with units, ages, years, names; and what is not read.

The forms of strength and net contents are those of 27 CFR 5.65(b) and of Regulation (EU) No 1169/2011 Annex XII as
the notes on these texts have them; the other forms are common practice, no source.
"""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plugins.label_age.facts.ages import read_stated_age
from plugins.label_age.wording.lines import MOST, ODD, SHOWN, lines_of, shown
from plugins.label_age.wording.reading import KINDS
from plugins.label_age.wording.said import Said, read_line

CLAIMS = frozenset(
    ["whisky", "bourbon", "straight", "straight bourbon", "state straight bourbon", "rye", "light", "malt",
     "single malt", "single malt scotch",
     "scotch", "bottled in bond", "pure malt", "bond", "a blend of straight bourbon whisky", "barrel proof"]
)  # fmt: skip
PLACES = frozenset(["northmark"])


def read(words: str) -> list[tuple[str, Any]]:
    """Kind and value of all that is read in a cell."""
    return [(r.kind, r.value) for line in lines_of(words) for r in read_line(line, CLAIMS, PLACES).readings]


def rest(words: str) -> list[str]:
    return [piece for line in lines_of(words) for piece in read_line(line, CLAIMS, PLACES).rest]


STRENGTHS = [
    ("43 % vol", 43.0), ("43% vol.", 43.0), ("43,0 % Vol.", 43.0), ("43.5% vol", 43.5), ("40%VOL", 40.0),
    ("45% ALC/VOL", 45.0), ("45% alc. by vol.", 45.0), ("Alc. 45% by vol.", 45.0), ("ALC. 45 % VOL", 45.0),
    ("alcohol 45% by volume", 45.0), ("45 percent alcohol by volume", 45.0), ("46.3% ABV", 46.3),
    ("alc. 46 % vol.", 46.0), ("Alk. 46 % vol.", 46.0), ("Alkohol: 46,3 % vol", 46.3), ("alcool 43 % vol", 43.0),
    ("46 % alc./vol.", 46.0), ("４６ % vol", 46.0), ("46\u00a0% vol", 46.0), ("46\u202f% vol", 46.0),
    ("ALC–43% VOL", 43.0), ("– 43 % vol", 43.0), ("43 % Vol", 43.0), ("100% VOL", 100.0),
]  # fmt: skip


@pytest.mark.parametrize(("words", "value"), STRENGTHS)
def test_strengths_in_percent(words: str, value: float) -> None:
    """A strength by volume in the forms that labels have, with decimal point or comma."""
    assert read(words) == [("strength", value)]
    assert rest(words) == []


@pytest.mark.parametrize(
    ("words", "value"),
    [("86 proof", 86.0), ("86 PROOF", 86.0), ("100° proof", 100.0), ("115.4 Proof", 115.4), ("90 U.S. proof", 90.0)],
)
def test_strengths_in_proof(words: str, value: float) -> None:
    """Proof is read as that of the United States."""
    assert read(words) == [("proof", value)]


def test_both_strengths_in_one_line() -> None:
    """A label of the United States with both."""
    assert read("45% ALC/VOL (90 PROOF)") == [("strength", 45.0), ("proof", 90.0)]


NO_STRENGTH = [
    "51 % rye", "100% malted barley", "45 % by weight", "Alc. 45% by weight", "36 % mas", "45% alc. w/w", "45%",
    "over 40 % vol", "at least 40 % vol", "ca. 43 % vol", "about 43 % vol", "up to 43 % vol", "40-43 % vol",
    "40 – 43 % vol", "40/43 % vol", "-43 % vol", "=40+3 % vol", "+43 % vol", "@43 % vol",
    "43, 5 % vol", "43·5 % vol", "43.5.1 % vol", "1,043 , 5 % vol", "43² % vol", "4½ % vol", "entry proof 125 proof",
    "Entered the barrel at 125 proof", "distilled to 70 % vol", "70 British proof", "5 over proof",
    "12 proof gallons", "serve with water at 30 % vol", "43 %¹ vol", "٤٣ % vol", "4 3.% vol", "≥ 40 % vol",
]  # fmt: skip


@pytest.mark.parametrize("words", NO_STRENGTH)
def test_what_is_no_strength_of_the_bottle(words: str) -> None:
    """Shares of grain, by mass, bounds, ranges, formulas, and the strengths of still and cask are not read as it."""
    found = [value for kind, value in read(words) if kind in ("strength", "proof")]
    assert found == []
    assert rest(words)


@pytest.mark.parametrize(
    ("words", "litres"),
    [
        ("700 ml e", 0.7), ("700ml", 0.7), ("70 cl", 0.7), ("70cl ℮", 0.7), ("0,7 l", 0.7), ("0.70 L", 0.7),
        ("750 mL", 0.75), ("1 L", 1.0), ("1.75 L", 1.75), ("1 litre", 1.0), ("500 millilitres", 0.5), ("5 cl", 0.05),
        ("0,700 l", 0.7), ("0.750 L", 0.75), ("7 dl", 0.7),
    ],
)  # fmt: skip
def test_net_contents(words: str, litres: float) -> None:
    """Volumes in the units of labels."""
    assert read(words) == [("net contents", pytest.approx(litres))]
    assert rest(words) == []


@pytest.mark.parametrize(
    "words",
    ["1.000 ml", "1,750 L", "casks of 200 L", "serve 25 ml", "per 100 ml", "= 700 ml", "25 ml = 1 unit", "500-700 ml",
     "no more than 700 L oak barrels", "700 mlle", "25.4 fl oz", "7²0 ml", "min. 700 ml"],
)  # fmt: skip
def test_what_is_no_net_contents(words: str) -> None:
    """Thousands or decimals, casks, servings, energy and ranges are not read as what the bottle holds."""
    assert [kind for kind, _ in read(words) if kind == "net contents"] == []
    assert rest(words)


AGES = [
    ("Aged 12 years", "12 years"), ("12 years old", "12 years"), ("12 YEAR OLD", "12 years"),
    ("12-year-old", "12 years"),
    ("12yo", "12 years"), ("12 Y.O.", "12 years"), ("AGED TWELVE YEARS", "12 years"), ("Twelve Years Old", "12 years"),
    ("twenty-five years old", "25 years"), ("aged for 4 years in oak", "4 years"), ("Age: 12 years", "12 years"),
    ("12 Jahre", "12 years"), ("12 Jahre alt", "12 years"), ("zwölf Jahre gereift", None),
    ("Alter 12 Jahre", "12 years"),
    ("12 ans", "12 years"), ("12 ans d'âge", "12 years"), ("12 ans d’âge", "12 years"), ("douze ans", "12 years"),
    ("12 años", "12 years"), ("12 anni", "12 years"), ("12 jaar", "12 years"), ("12 år", "12 years"),
    ("Aged 4 years 3 months", "4 years 3 months"), ("aged 4 years and 3 months", "4 years 3 months"),
    ("Aged 51 months", "51 months"), ("18 Monate", "18 months"), ("Aged 4.5 years", "54 months"),
    ("4,5 Jahre alt", "54 months"), ("aged at least 4 years", "4 years"), ("matured 30 days in oak", "30 days"),
    ("5 years 8 days old", "5 years 8 days"), ("aged 4 years, 3 months and 2 days", "4 years 3 months 2 days"),
    ("Aged 5 years 0 days", "5 years 0 days"),
    ("stored 4 years in reused cooperage", "4 years"), ("aged a minimum of 4 years", "4 years"),
]  # fmt: skip


@pytest.mark.parametrize(("words", "age"), AGES)
def test_ages(words: str, age: str | None) -> None:
    """Ages in figures and words, in several languages; a word for ageing behind them leaves them unread."""
    found = [value for kind, value in read(words) if kind == "age"]
    assert found == ([read_stated_age(age)] if age else [])


@pytest.mark.parametrize(
    "words",
    ["200 years of tradition", "for 200 years our family", "since 12 years", "12² years old", "4½ years old",
     "4 1/2 years old", "10-12 years old", "10 – 12 years old", "less than 4 years old", "up to 12 years old",
     "about 12 years old", "over 12 years old", "finished 6 months in port casks", "aged 12 years, finished 6 months",
     "100 years ago", "1\u03362 years old", "=10+2 years old", "12.000 years old", "12 yearsold", "years old",
     "Aged 5 years and a day", "Aged 5 years and 3 weeks", "8 days and 5 years old", "aged 5 years and a half",
     "aged 5 years 5 years", "aged 5 years ½", "1 2.5.3 years old", "0 years old", "a 12 year dream"],
)  # fmt: skip
def test_what_is_no_age(words: str) -> None:
    """Traditions, fractions, ranges, bounds, finishes and formulas are not read as an age, and stay to be read."""
    assert [value for kind, value in read(words) if kind == "age"] == []
    assert rest(words)


YEARS = [
    ("Distilled 2013", "distilled year", 2013), ("DISTILLED IN 2013", "distilled year", 2013),
    ("distilled in May 2013", "distilled year", 2013), ("Distilled 12.05.2013", "distilled year", 2013),
    ("Distilled: 12 May 2013", "distilled year", 2013), ("Vintage 2013", "distilled year", 2013),
    ("Jahrgang 2013", "distilled year", 2013), ("destilliert 2013", "distilled year", 2013),
    ("distillé en 2013", "distilled year", 2013), ("Bottled 2026", "bottled year", 2026),
    ("abgefüllt 2026", "bottled year", 2026), ("mis en bouteille en 2026", "bottled year", 2026),
    ("Batch 27-02", "batch", "27-02"), ("Batch No. B-27-02", "batch", "B-27-02"), ("BATCH: 7", "batch", "7"),
    ("Charge 27-02", "batch", "27-02"), ("Lot L26051", "lot", "L26051"), ("L26051", "lot", "L26051"),
    ("L 26051", "lot", "L26051"), ("Lot no. 26-051", "lot", "26-051"),
]  # fmt: skip


@pytest.mark.parametrize(("words", "kind", "value"), YEARS)
def test_years_batches_and_lots(words: str, kind: str, value: Any) -> None:
    """A year of distillation or bottling, a batch, a lot."""
    assert read(words) == [(kind, value)]


@pytest.mark.parametrize(
    "words",
    ["Distilled since 1898", "Distilled by us, founded 1898", "distilled 2010-2013", "distilled in 2010 and 2013",
     "distilled between 2010 and 2013", "distilled at 5 % vol of nothing", "small batch", "Distilled 20133",
     "distilled in small batches", "est. 1898"],
)  # fmt: skip
def test_what_is_no_year_and_no_batch(words: str) -> None:
    """Years of a house, ranges and a batch without a number are not read."""
    assert [kind for kind, _ in read(words) if kind.endswith("year") or kind in ("batch", "lot")] == []


@pytest.mark.parametrize(
    ("words", "claims"),
    [
        ("Oskerby Straight Bourbon Whiskey", ["straight bourbon"]), 
        ("SINGLE MALT SCOTCH WHISKY", ["single malt scotch"]),
        ("Single-Malt", ["single malt"]), ("Bottled in Bond", ["bottled in bond"]), ("PURE MALT", ["pure malt"]),
        ("Rye", ["rye"]), ("Rye Whisky", ["rye"]), ("Our whisky rests here", ["whisky"]), ("Straight", ["straight"]),
        ("a blend of straight bourbon whiskies", ["a blend of straight bourbon whisky"]), 
        ("a hint of rye", []), ("Light and floral", []),
        ("straight from the cask", []), ("Finished in bourbon casks", []), ("ex-bourbon wood", []),
        ("not a bourbon", []), ("no bourbon", []), ("malty, with light fruit", []), ("Strаight Bourbоn", []),
        ("our bond with the land", []), ("Kentucky Straight Bourbon Whiskey", ["kentucky straight bourbon"]),
        ("New York Straight Bourbon Whiskey", ["new york straight bourbon"]), ("Bourbon-style whiskey", []),
        ("Northmark Straight Bourbon", ["straight bourbon"]), ("Straight Bourbon Whiskey, a blend", []),
        ("Bourbon finished in port casks", ["bourbon"]), ("Flavored Whiskey", []), ("Whisky liqueur", []),
        ("Imitation Bourbon", []), ("Bourbon Whiskey with natural flavors", []),
    ],
)  # fmt: skip
def test_claims(words: str, claims: list[str]) -> None:
    """The longest name counts; prose, casks, denials and letters of another alphabet make no claim."""
    found = [value for kind, value in read(words) if kind == "claim"]
    assert found == claims


@pytest.mark.parametrize(
    ("words", "found"),
    [
        ("Distilled in Scotland", [("place of distillation", "Scotland")]),
        ("DISTILLED AND AGED IN KENTUCKY", [("place of distillation", "KENTUCKY"), ("place of ageing", "KENTUCKY")]),
        ("Distilled in Northmark", [("place of distillation", "Northmark")]),
        ("Bottled in Scotland", [("place of bottling", "Scotland")]),
        ("Product of Ireland", [("country of origin", "Ireland")]),
        ("Aged in American oak", []), ("AGED IN AMERICAN OAK CASKS", []), ("Distilled in Otherland", []),
        ("Distilled in small batches", []),
        ("Coloured with caramel", [("colouring", "colouring")]), ("E150a", [("colouring", "colouring")]),
        ("mit Farbstoff", [("colouring", "colouring")]), ("artificially colored", [("colouring", "colouring")]),
        ("Natural colour", [("no colouring", "no colouring")]), ("ohne Farbstoff", [("no colouring", "no colouring")]),
        ("no added colour", [("no colouring", "no colouring")]), ("notes of caramel", []),
        ("with caramel and vanilla", []), ("Single Cask", [("single cask", 1)]),
        ("Finished in Oloroso sherry casks", [("casks", "sherry")]), ("ex-bourbon barrels", [("casks", "bourbon")]),
        ("port finish", [("casks", "port")]),
        ("Bourbon finished in port casks", [("claim", "bourbon"), ("casks", "port")]),
        ("Bottled by Oskerby Fold", [("name and address", "Bottled by")]),
    ],
)  # fmt: skip
def test_places_wood_and_colour(words: str, found: list[tuple[str, Any]]) -> None:
    """Known places, casks and colour; tasting words and unknown places are none."""
    assert read(words) == found


@pytest.mark.parametrize(
    "words",
    ["\u202e% 34 vol", "43\u202c % vol", "43\u2066 % vol", "4\u03353 % vol", "Aged 12 years \u0627", "43 % vol \u05d0",
     "43\u20dd % vol", "43 % vol \ud800", "43 % vol \ue000", "43 \x07% vol"],
)  # fmt: skip
def test_signs_that_show_other_words_leave_a_line_unread(words: str) -> None:
    """Directions of writing, struck-out digits and signs without a form: nothing of the line is read."""
    (line,) = lines_of(words)
    assert line.cannot == ODD
    assert read_line(line, CLAIMS) == Said((), (line.text,))


def test_signs_that_no_print_shows_are_passed_over() -> None:
    """Soft hyphens and zero-width spaces do not part a word."""
    assert read("Sin\u00adgle\u200b Malt") == [("claim", "single malt")]


def test_lines_of_a_cell() -> None:
    """Line breaks, bullets and bars part a cell; a middle dot between digits does not."""
    assert [line.text for line in lines_of("One\r\nTwo · Three | Four • 43·5\u2028Five; Six")] == [
        *("One", "Two", "Three", "Four", "43·5", "Five", "Six")
    ]
    assert lines_of(" \n\u200b\n") == []


def test_a_huge_cell_is_not_read() -> None:
    """What no panel holds is kept unread, and quoted short."""
    (line,) = lines_of("43 % vol " * MOST)
    assert "longer" in line.cannot and read_line(line, CLAIMS).readings == ()
    assert len(shown(line.text)) == SHOWN


@pytest.mark.long
@pytest.mark.parametrize("part", ["aged ", "1", "1 ", "% ", "distilled and ", "12 years ", "batch ", "ex ", "a-", "l "])
def test_hostile_repetition_ends(part: str) -> None:
    """The longest cell of one repeated piece is read to its end, and every piece of it is kept."""
    words = (part * MOST)[:MOST]
    assert bool(rest(words) or read(words)) == any(c.isalnum() for c in part)


def test_quoted_words_show_signs_that_cannot_be_seen() -> None:
    """A quotation never carries a sign that turns the page around."""
    assert shown("a\u202eb") == "a⟨U+202E⟩b"


ANY = st.text(st.characters(codec="utf-8"), max_size=120) | st.lists(
    st.sampled_from(["43", "%", "vol", "Aged", "12", "years", "old", "-", "/", "=", "straight", "bourbon", "whisky",
                     "Batch", "27-02", "700", "ml", "e", "distilled", "in", "2013", "Scotland", "no", "\u202e", "²"]),
    max_size=12,
).map(" ".join)  # fmt: skip


@given(ANY)
def test_every_letter_is_read_or_kept(words: str) -> None:
    """Readings lie apart in their line, are of known kinds, and what lies between them is kept as not read."""
    for line in lines_of(words):
        said = read_line(line, CLAIMS, PLACES)
        spans = sorted({(reading.start, reading.end) for reading in said.readings})
        assert all(one[1] <= other[0] for one, other in zip(spans, spans[1:], strict=False))
        assert all(reading.kind in KINDS for reading in said.readings)
        covered = set().union(*(range(*span) for span in spans)) if spans else set()
        left = "".join(c for at, c in enumerate(line.text) if at not in covered and c.isdigit())
        assert left == "".join(c for piece in said.rest for c in piece if c.isdigit())


@given(ANY, st.sampled_from(["\u202e", "\u0336", "\u2067"]))
def test_a_hidden_sign_never_adds_a_reading(words: str, sign: str) -> None:
    """With a hidden sign in a line nothing of that line is read."""
    for line in lines_of(words.replace("\n", " ")):
        hidden = lines_of(line.text[:1] + sign + line.text[1:])
        assert all(read_line(part, CLAIMS).readings == () for part in hidden if part.cannot)
        assert any(part.cannot for part in hidden)
