"""The label proof: words held against sheets and rules; what is missing, contradicts, is not allowed, is not judged."""

from __future__ import annotations

import re
from typing import Any
from weakref import WeakKeyDictionary

import pandas as pd
import pytest

from pipeline.testing import split_differs
from plugins.label_age import stages
from plugins.label_age.comparing.result import RESULTS
from plugins.label_age.rules.files import read_rules
from tests.label_age.kit import Room, brief, cask, data_file, line, malt, shipped

GOOD = ("Oskerby\nStraight Bourbon Whiskey\n50% ALC/VOL (100 PROOF)\nAged 5 years\n750 mL",)
PROVED: WeakKeyDictionary[Room, tuple[pd.DataFrame, list[Any]]] = WeakKeyDictionary()
ASKED = {"claims": "straight bourbon", "age_statement": "5 years", "all_listed": True}


def text(*fronts: str, back: tuple[str, ...] = (), market: str = "US", batch: str = "B-1") -> list[dict[str, Any]]:
    """Rows of a sheet of words, numbered by panel."""
    return [
        {"batch": batch, "market": market, "panel": panel, "line": str(number), "words": words}
        for panel, rows in (("front", fronts), ("back", back))
        for number, words in enumerate(rows, start=1)
    ]


def room(rows: list[dict[str, Any]], asked: dict[str, Any] | None = None, **more: Any) -> Room:
    return Room(**{"briefs": [brief(**ASKED | (asked or {}))], "label_text": rows} | more)


def proof(made: Room) -> tuple[pd.DataFrame, list[Any]]:
    """The stage's rows, held against their declaration as the engine would, and its findings; made once a room."""
    if made not in PROVED:
        stage = stages.proof_labels
        given = {need.name: getattr(made, need.name) for need in stage.needs if hasattr(made, need.name)}
        rows, findings = stage(**given)
        PROVED[made] = (stage.frame.check(rows, "label_age.proof_labels", made.facts()), findings)
    return PROVED[made]


def results(made: Room) -> dict[tuple[str, str], str]:
    """(statement, words) → the gravest result; words are empty for what the label lacks."""
    rows, _ = proof(made)
    rows = rows.assign(grave=rows["result"].map(list(RESULTS).index)).sort_values("grave", ascending=False)
    return {(row.statement, row.words if isinstance(row.words, str) else ""): row.result for row in rows.itertuples()}


def result(made: Room, statement: str, words: str = "") -> str:
    return results(made)[statement, words]


def loud(made: Room) -> set[tuple[str, str]]:
    """Code and severity of the findings that a person must look at."""
    return {(finding.code, finding.severity) for finding in proof(made)[1] if finding.severity != "note"}


def reason(made: Room, statement: str, words: str = "") -> str:
    rows, _ = proof(made)
    chosen = rows[(rows["statement"] == statement) & (rows["words"].fillna("") == words)]
    return str(chosen["reason"].iloc[0])


def test_a_label_that_says_what_the_sheets_say() -> None:
    """Each statement agrees, nothing asks for a person, and the brand, which nobody judges, stays not judged."""
    made = room(text(*GOOD))
    found = results(made)
    assert {found[key] for key in found if key[0] in ("strength in % vol", "strength in proof", "net contents", "age",
                                                      "class and type") and key[1]} <= {"agrees", "stated"}  # fmt: skip
    assert found["words", "Oskerby"] == "not judged"
    assert loud(made) == set()
    note = next(finding for finding in proof(made)[1] if finding.code == "label.words-not-judged")
    assert "“Oskerby”" in note.message and note.severity == "note"


def test_no_row_says_that_the_label_is_lawful() -> None:
    """Results are those declared, each row of words has one, and none speaks of the label as a whole."""
    rows, _ = proof(room(text(*GOOD)))
    assert set(rows["result"]) <= set(RESULTS)
    assert not rows["statement"].str.contains("lawful|label as a whole").any()


CONTRADICTIONS = [
    ("46% ALC/VOL", "strength in % vol", {}, "50 % vol"),
    ("92 PROOF", "strength in proof", {}, "50 % vol"),
    ("700 ml", "net contents", {}, "750 mL"),
    ("Aged 4 years", "age", {}, "5 years"),
    ("Batch 26-31", "batch", {"batch": "B-26-13"}, "B-26-13"),
    ("Distilled 2020", "year of distillation", {}, "2021"),
    ("Distilled in Kentucky", "place of distillation", {}, "Northmark"),
    ("Distilled in Scotland", "place of distillation", {}, "US"),
    ("Product of Ireland", "country of origin", {}, "US"),
    ("Coloured with caramel", "colouring", {}, "none"),
]


@pytest.mark.long
@pytest.mark.parametrize(
    ("words", "statement", "asked", "expected"), CONTRADICTIONS, ids=[c[0] for c in CONTRADICTIONS]
)
def test_what_the_sheets_contradict(words: str, statement: str, asked: dict[str, Any], expected: str) -> None:
    """Another figure or name than brief, bottling or inventory: a stop that names the other and points at the cell."""
    batch = asked.get("batch", "B-1")
    made = room(text(words, batch=batch), asked, lines=[line(batch=batch)])
    assert result(made, statement, words) in ("contradicts", "not allowed")
    about = [f for f in proof(made)[1] if f.observed == words]
    finding = next(f for f in about if f.code in ("label.words-contradict", "label.words-not-allowed"))
    assert finding.severity == "stop" and finding.column == "words"
    assert finding.facts[0] in {fact for row in made.label_text["facts"] for fact in row}
    assert expected in finding.expected


def test_the_bottling_counts_before_the_brief() -> None:
    """The run's label strength and bottle are what the words are held against."""
    run = {"batch": "B-1", "bottled_on": "2026-02-20", "bottle_size_L": 0.7, "bottles": 10, "label_abv": 50.1,
           "lot_code": "L26051"}  # fmt: skip
    made = room(text("50.1% ALC/VOL", "700 ml", "Lot 26051", "Bottled 2026"), bottlings=[run])
    found = results(made)
    assert found["strength in % vol", "50.1% ALC/VOL"] == "agrees"
    assert found["lot", "Lot 26051"] == found["year of bottling", "Bottled 2026"] == "agrees"
    assert "bottles of 700 mL" in reason(made, "net contents", "700 ml")
    other = room(text("Lot 26052", "Bottled 2025"), bottlings=[run])
    assert {result(other, "lot", "Lot 26052"), result(other, "year of bottling", "Bottled 2025")} == {"contradicts"}


def test_a_strength_is_rounded_to_the_labels_one_decimal_and_no_further() -> None:
    """46.15 % vol may stand as 46.2 on a label, never as 46."""
    asked = {"bottling_proof": 92.3}
    given = {"proof": 92.3, "abv": 46.15}
    assert result(room(text("46.2% ALC/VOL"), asked, **given), "strength in % vol", "46.2% ALC/VOL") == "agrees"
    assert result(room(text("46% ALC/VOL"), asked, **given), "strength in % vol", "46% ALC/VOL") == "contradicts"


def test_one_age_in_other_words() -> None:
    """60 months are the brief's 5 years; an age of the brief that is not one age leaves it open."""
    assert result(room(text("Aged 60 months")), "age", "Aged 60 months") == "agrees"
    unclear = room(text("Aged 5 years"), {"age_statement": "5 to 6 years"})
    assert result(unclear, "age", "Aged 5 years") == "cannot tell"


def test_a_state_before_the_type_is_judged() -> None:
    """Kentucky straight bourbon of casks from elsewhere may not stand there (27 CFR 5.66(f)(1)(iii))."""
    made = room(text("Kentucky Straight Bourbon Whiskey"), casks=[cask(state="Indiana")])
    assert result(made, "class and type", "Kentucky Straight Bourbon Whiskey") == "not allowed"


@pytest.mark.long
@pytest.mark.parametrize(
    ("front", "back", "statement"),
    [
        ("Aged 5 years", "Aged 4 years", "age"), ("50% ALC/VOL", "45% ALC/VOL", "strength in % vol"),
        ("50% ALC/VOL", "90 proof", "strength in % vol"), ("750 ml", "700 ml", "net contents"),
        ("Batch 1", "Batch 2", "batch"),
    ],
)  # fmt: skip
def test_front_and_back_that_differ(front: str, back: str, statement: str) -> None:
    """Two ages, strengths, sizes or batches on one label contradict each other, whatever the sheets say."""
    made = room(text(front, back=(back,)))
    assert result(made, statement, front) in ("contradicts", "not allowed")
    assert back in reason(made, statement, front)
    assert ("label.words-contradict", "stop") in loud(made)


def test_an_age_above_the_youngest_is_not_allowed() -> None:
    """A year more than the youngest cask, by the rule; where no rule judges, the sheets alone contradict it."""
    asked = {"age_statement": None}
    made = room(text("Straight Bourbon Whiskey", "Aged 6 years"), asked)
    assert result(made, "age", "Aged 6 years") == "not allowed"
    assert "5 years and 7 days" in reason(made, "age", "Aged 6 years")
    elsewhere = room(text("Aged 6 years", market="Zedland"), asked)
    assert result(elsewhere, "age", "Aged 6 years") == "contradicts"
    assert result(room(text("Aged 5 years"), asked), "age", "Aged 5 years") == "agrees"


@pytest.mark.long
@pytest.mark.parametrize(
    ("words", "market", "kind", "expected"),
    [
        ("Straight Rye Whiskey", "US", cask, "not allowed"),
        ("Single Malt Scotch Whisky", "UK", lambda: malt(filled_on="2023-06-01"), "not allowed"),
        ("Single Malt Scotch Whisky", "UK", cask, "cannot tell"),
        ("Bottled in Bond", "EU", cask, "cannot tell"),
        ("Pure Malt", "UK", malt, "not allowed"),
        ("Bottled in Bond", "US", cask, "agrees"),
    ],
)
def test_claims_that_the_rules_judge(words: str, market: str, kind: Any, expected: str) -> None:
    """A claim is judged by the market's rules as if the brief made it; one that no rule holds cannot be told."""
    asked = {"market": market, "claims": None, "age_statement": None, "bottling_abv": 50.0}
    made = room(text(words, market=market), asked, casks=[kind()])
    rows, findings = proof(made)
    row = rows[rows["words"] == words].iloc[0]
    assert row["result"] == expected
    codes = {"not allowed": "label.words-not-allowed", "cannot tell": "label.words-cannot-tell"}
    if expected in codes:
        assert codes[expected] in {finding.code for finding in findings if finding.observed == words}


def test_a_claim_that_is_not_known_of_a_cask_cannot_be_told() -> None:
    """Bottled in bond of a cask whose distillery is blank is not fine and not forbidden."""
    made = room(text("Bottled in Bond"), casks=[cask(distillery=None)])
    assert result(made, "claim", "Bottled in Bond") == "cannot tell"
    assert ("label.words-cannot-tell", "review") in loud(made)


MISSING = [
    (("Straight Bourbon Whiskey\nAged 5 years\n750 mL",), "27 CFR 5.63(a)", "missing"),
    (("50% ALC/VOL\nAged 5 years\n750 mL",), "27 CFR 5.63(a)", "missing"),
    (("Straight Bourbon Whiskey\n100 PROOF",), "27 CFR 5.63(a)", "missing"),
    (("Straight Bourbon Whiskey\n50 percentage of spirit, alc",), "27 CFR 5.63(a)", "cannot tell"),
    (("Straight Bourbon Whiskey\n43\u202e% vol",), "27 CFR 5.63(a)", "cannot tell"),
    (GOOD, "27 CFR 5.63(a)", "stated"),
    (("Straight Bourbon Whiskey",), "27 CFR 5.63(b)(2)", "cannot tell"),
    (GOOD, "27 CFR 5.63(b)(2)", "stated"),
    (GOOD, "27 CFR 5.63(b)(1)", "not judged"),
]


@pytest.mark.long
@pytest.mark.parametrize(("fronts", "section", "expected"), MISSING)
def test_what_every_label_of_the_united_states_states(fronts: tuple[str, ...], section: str, expected: str) -> None:
    """27 CFR 5.63: class and strength in one field of vision; net contents, which may stand in the glass instead."""
    rows, _ = proof(room(text(*fronts)))
    assert list(rows.loc[rows["rule"] == section, "result"]) == [expected]


def test_class_and_strength_on_two_panels() -> None:
    """Both stand there, but apart: whether one look holds them only the bottle shows."""
    made = room(text("Straight Bourbon Whiskey", back=("50% ALC/VOL", "750 ml", "Aged 5 years")))
    rows, findings = proof(made)
    assert list(rows.loc[rows["rule"] == "27 CFR 5.63(a)", "result"]) == ["cannot tell"]
    assert any("on several panels" in finding.message and finding.severity == "review" for finding in findings)


@pytest.mark.long
@pytest.mark.parametrize(
    ("front", "expected"),
    [("Single Malt Whisky\n50 % vol\n70 cl", "stated"), ("Single Malt Whisky\n50 % vol", "missing"),
     ("Oskerby\n50 % vol\n70 cl", "missing"), ("Single Malt Whisky\n70 cl", "missing"),
     ("Oskerby Whi5ky Spirit\n50 % vol\n70 cl", "cannot tell")],
)  # fmt: skip
@pytest.mark.parametrize("market", ["EU", "UK"])
def test_what_every_label_of_the_european_union_states(market: str, front: str, expected: str) -> None:
    """Regulation (EU) No 1169/2011 Art. 9(1)(a), (e), (k) and 13(5): name, net quantity, strength in one view."""
    asked = {"market": market, "bottling_abv": 50.0, "bottle_size_L": 0.7, "claims": None, "age_statement": None}
    rows, _ = proof(room(text(front, market=market), asked, casks=[malt(country="US")]))
    assert list(rows.loc[rows["rule"].str.contains("13\\(5\\)", na=False), "result"]) == [expected]


def test_an_age_that_must_stand_on_the_label() -> None:
    """Whisky under four years states its age in the United States (27 CFR 5.74(b)); words not read leave it open."""
    young = [cask(filled_on="2023-02-03", distilled_on="2023-02-01")]
    asked = {"age_statement": None}
    assert result(room(text("Straight Bourbon Whiskey"), asked, casks=young), "age") == "missing"
    assert result(room(text("Straight Bourbon Whiskey\n3½ years old"), asked, casks=young), "age") == "cannot tell"
    assert ("age", "") not in results(room(text("Straight Bourbon Whiskey"), asked))


def test_what_the_brief_asks_for_and_the_label_does_not_say() -> None:
    """A claim and an age of the brief that no words make: a person looks, nothing is held."""
    made = room(text("Bourbon Whiskey\n50% ALC/VOL"), {"claims": "straight bourbon; small batch"})
    rows, findings = proof(made)
    assert set(rows.loc[rows["words"].isna() & (rows["result"] == "missing"), "statement"]) == {"claim", "age"}
    asked = {finding.expected: finding.severity for finding in findings if finding.code == "label.words-missing"}
    assert asked == {"straight bourbon": "review", "small batch": "review", "5 years": "review"}
    assert len({finding.subject for finding in findings}) == len(findings)


def test_a_longer_claim_holds_a_shorter_one_and_prose_holds_none() -> None:
    """``straight bourbon`` says bourbon; ``straight from the cask`` does not say straight."""
    said = results(room(text("Straight Bourbon Whiskey"), {"claims": "bourbon", "age_statement": None}))
    assert ("claim", "") not in said
    prose = room(text("straight from the cask"), {"claims": "straight", "age_statement": None})
    assert result(prose, "claim") == "cannot tell"
    assert result(room(text("Oskerby"), {"claims": "straight", "age_statement": None}), "claim") == "missing"


@pytest.mark.long
def test_casks_and_colour() -> None:
    """Casks that held something else contradict the words; with them whether the words may stand stays open."""
    stock = [malt("C-1", held_before="bourbon"), malt("C-2", held_before="oloroso sherry")]
    asked = {"market": "UK", "bottling_abv": 50.0, "claims": None, "age_statement": None}

    def of(words: str, stock: list[dict[str, Any]] = stock, **more: Any) -> str:
        made = room(text(words, market="UK"), asked | more, casks=stock)
        rows, _ = proof(made)
        return str(rows.loc[rows["words"] == words, "result"].iloc[0])

    assert of("sherry casks") == "cannot tell"
    assert of("port casks") == "contradicts"
    assert of("port casks", [malt("C-1", held_before=None)]) == "cannot tell"
    assert of("Single Cask") == "contradicts"
    assert of("Single Cask", stock[:1]) == "agrees"
    assert of("Natural colour") == "agrees"
    assert of("Natural colour", all_listed=None) == "cannot tell"
    assert of("Coloured with caramel", all_listed=None) == "cannot tell"


def test_colour_that_was_added() -> None:
    """Caramel on the blend sheet: the statement agrees, its denial contradicts."""
    lines = [line("C-1"), line("caramel", kind="addition", drawn_volume_L=1.0)]
    made = room(text("Coloured with caramel", "no added colour"), lines=lines)
    assert result(made, "colouring", "Coloured with caramel") in ("agrees", "stated")
    assert "The blend sheet has caramel" in reason(made, "colouring", "Coloured with caramel")
    assert result(made, "no colouring", "no added colour") == "contradicts"


def test_a_label_without_a_brief_and_for_another_market() -> None:
    """Words for a batch that no brief names are not compared; a market that the brief lacks is said."""
    made = room(text("46% ALC/VOL", batch="B-9"))
    assert loud(made) == {("label.words-no-brief", "review")}
    other = room(text("50 % vol", market="EU"))
    assert result(other, "market", "EU") == "contradicts"


def test_words_for_a_brief_with_nothing_drawn() -> None:
    """Before anything is drawn the brief is compared, and claims cannot be told."""
    made = room(text("46% ALC/VOL", "Straight Bourbon Whiskey"), lines=[])
    assert result(made, "strength in % vol", "46% ALC/VOL") == "contradicts"
    assert result(made, "class and type", "Straight Bourbon Whiskey") == "cannot tell"


def test_one_row_for_two_markets() -> None:
    """Words for two markets are judged by the rules of each, and a market goes by the names of its rules."""
    rows, _ = proof(room(text(*GOOD, market="USA; European Union"), {"market": "US, EU", "bottling_abv": 50.0}))
    assert set(rows["market"]) == {"US", "EU"}
    assert set(rows.loc[rows["words"] == "750 mL", "result"]) >= {"agrees", "not allowed"}  # 750 mL in the EU: no size


HOSTILE = [
    '=HYPERLINK("x")', "@SUM(1)", "+43 % vol", "\u202e43 % vol", "<script>alert(1)</script>", "43 % vol " * 900,
    "{{ 7 * 7 }}", "\ud800", "-1", "0 % vol", "9999 years old", "Aged 0 years", "Batch =1", "12\x0012 years",
]  # fmt: skip


@pytest.mark.long
@pytest.mark.parametrize("words", HOSTILE, ids=range(len(HOSTILE)))
def test_hostile_words_end_as_not_judged_or_loud(words: str) -> None:
    """Formulas, turned writing, tags, huge cells and impossible figures: quoted, and never in agreement."""
    rows, findings = proof(room(text(words)))
    mine = rows[rows["words"].notna()]
    assert len(mine) and set(mine["result"]) <= {"not judged", "contradicts", "not allowed", "cannot tell"}
    assert mine["words"].str.len().max() <= 200
    assert findings


@pytest.mark.long
def test_taking_words_away_never_makes_others_agree() -> None:
    """What does not agree on a label does not come to agree when other lines are left out."""
    lines = ["Straight Rye Whiskey", "46% ALC/VOL", "Aged 6 years", "700 ml", "Pure Malt", "Distilled 2020"]
    whole = results(room(text(*lines)))
    for left_out in lines:
        part = results(room(text(*[words for words in lines if words != left_out])))
        for key, word in part.items():
            assert not (word == "agrees" and whole.get(key, word) != "agrees"), key


@pytest.mark.long
def test_first_sentences_are_short_and_say_what_to_do() -> None:
    """The first sentence of each finding has at most 25 words; the remedy says what to do."""
    rows = text(
        "Straight Rye Whiskey", "46% ALC/VOL", "Aged 6 years", "Pure Malt", back=("90 proof", "Batch 7", "3¼ y")
    )
    more = text("Oskerby", market="EU") + text("words", batch="B-9")
    findings = [*proof(room(rows + more, {"market": "US"}))[1], *proof(room(text("Oskerby")))[1]]
    words = ("contradict", "not-allowed", "missing", "cannot-tell", "not-judged", "no-brief")
    assert {finding.code for finding in findings} >= {f"label.words-{word}" for word in words}
    for finding in findings:
        first = re.split(r"(?<=[.:])\s(?=[A-Z])", finding.message)[0]
        assert len(first.split()) <= 25, first
        assert finding.remedy


@pytest.mark.long
def test_batches_come_apart() -> None:
    """Each batch is proved by itself: in parts the stage gives the same bits."""
    briefs = [brief(batch=f"B-{n}", **ASKED) for n in range(4)]
    rows = [row for n in range(4) for row in text("46% ALC/VOL", "Aged 6 years", "Oskerby", batch=f"B-{n}")]
    stock = [cask(f"C-{n}") for n in range(4)]
    made = Room(stock, [line(f"C-{n}", batch=f"B-{n}") for n in range(4)], briefs, label_text=rows)
    names = [need.name for need in stages.proof_labels.needs if need.name != "site"]
    frames = {name: getattr(made, name) for name in names}
    assert split_differs(stages.proof_labels, frames, made.site) == []


RULE = """
market = "US"

[[rule]]
id = "us.trial-statement"
claim = "a trial statement"
judged = "for the label sheet"
READ
section = "Trial 1"
in_force_from = 2020-01-01
source = "seen"
text = "Trial 1 of 2020"
read = 2026-12-01
plain = "A trial statement stands on the label."
says = "Trial."

[rule.demands]
label = { given = "it has a label" }
"""


@pytest.mark.long
@pytest.mark.parametrize(
    ("key", "words", "expected"),
    [
        ('read_words = ["neutral spirits"]', "20% NEUTRAL-SPIRITS distilled from corn", "stated"),
        ('read_words = ["neutral spirits"]', "20% spirits", "missing"),
        ('read_as = "colouring"', "artificially colored", "stated"),
        ('read_as = ["age", "net contents"]', "Aged 5 years", "missing"),
        ("", "anything", "not judged"),
    ],
)
def test_a_rule_says_what_shows_its_statement(key: str, words: str, expected: str) -> None:
    """``read_as`` and ``read_words`` of a rule for the label sheet; without either a person looks."""
    rules = (*shipped(), data_file("trial.toml", RULE.replace("READ", key), "house"))
    rows, _ = proof(room(text(words), rules=rules))
    assert list(rows.loc[rows["rule"] == "Trial 1", "result"]) == [expected]


@pytest.mark.parametrize(
    ("key", "says"),
    [
        ('read_as = "colour"', "found 'colour'"),
        ("read_words = [1]", "read_words wants a list of words"),
        ('read_words = ["…"]', "read_words wants a list of words"),
        ("read_as = 1", "read_as wants kinds of statement"),
    ],
)
def test_broken_keys_are_named(key: str, says: str) -> None:
    """A kind of statement that nothing reads, or words that are none, take the file out with its line."""
    _, broken = read_rules((*shipped(), data_file("trial.toml", RULE.replace("READ", key), "house")))
    assert [fault.line for fault in broken] == [4]
    assert says in broken[0].message
