"""What a reader who knows no law is told first: short, of the figure that was judged, and of what is missing where."""

from __future__ import annotations

import pandas as pd
import pytest

from pipeline import Finding
from plugins.label_age.facts.logic import FALSE, TRUE, UNKNOWN
from plugins.label_age.telling.plainly import opening
from tests.label_age.bulk import run_stages
from tests.label_age.family import brought
from tests.label_age.kit import Room, brief, cask
from tests.made_once import demo

FAMILIES = brought()
MOST = 25
"""So many words the first sentence has at most."""
BEGINS = {"met": "Met: ", "not met": "Not met: ", "cannot tell": "Cannot tell: "}


def first_sentence(reason: str) -> str:
    """Up to the first full stop before a capital that begins a part of the grounds, or the end."""
    parts = ("It is required", "It is to be shown", "Held:", "Found:", "Assumed:", "Missing:", "Law:", "Unverified:",
             "In full:", "Which rule", "Only ", "Nothing here", "Confirmed", "It lies", "Drawn on")  # fmt: skip
    ends = [reason.find(f". {part}") for part in parts]
    return reason[: min([end for end in ends if end >= 0], default=len(reason) - 1) + 1]


def too_long(labels: pd.DataFrame) -> list[str]:
    said = {reason: verdict for reason, verdict in zip(labels["reason"], labels["verdict"], strict=True)}
    return [
        reason
        for reason, verdict in said.items()
        if len((first := first_sentence(reason)).split()) > MOST or not first.startswith(BEGINS[verdict])
    ]


@pytest.mark.long
@pytest.mark.parametrize("name", sorted(FAMILIES))
def test_of_every_case_the_first_sentence_is_short(name: str) -> None:
    """Every verdict on every case of the family begins with its word and says the first thing in 25 words, uncut."""
    labels = run_stages(FAMILIES[name])["labels"]
    assert len(labels) and too_long(labels) == []
    assert [reason for reason in labels["reason"] if "…" in first_sentence(reason)] == []


def test_of_the_example_inbox_the_first_sentence_is_short() -> None:
    labels = demo()[1].worked.frames["labels"]
    assert len(labels) and too_long(labels) == []


@pytest.mark.parametrize("truth", [FALSE, UNKNOWN, TRUE])
def test_a_sentence_that_is_too_long_gives_way(truth: int) -> None:
    """The first wording that fits is taken; where none does the last is cut, and shows that it is."""
    long, short = " ".join(["word"] * 40), "it is too young"
    assert opening(truth, long, short).endswith(f": {short}.")
    cut = opening(truth, short + " " + long, long)
    assert len(cut.split()) == MOST and cut.endswith(" ….")
    assert len(opening(truth).split()) <= MOST


def test_a_claim_of_many_words_is_told_in_full_after_the_cut() -> None:
    claim = "a claim " + "of so many words that no sentence holds it " * 4
    row = Room(briefs=[brief(claims=claim)]).row(claim.strip())
    assert len(first_sentence(row["reason"]).split()) <= MOST
    assert f"In full: no rule for US is called {claim.strip()!r}" in row["reason"]


def told(room: Room, claim: str, market: str = "US") -> tuple[str, Finding]:
    """The first sentence on a claim, and its finding."""
    found = [finding for finding in room.judged()[1] if finding.subject.endswith(f"· {claim}")]
    return first_sentence(room.row(claim, market)["reason"]), found[0]


def test_days_short_of_the_stated_age() -> None:
    """Filled on 1 March 2021 and drawn on 10 February 2026 it lacks 18 days of February and 1 of March: 19."""
    room = Room([cask(filled_on="2021-03-01")], briefs=[brief(age_statement="5 years")])
    said, finding = told(room, "age statement")
    assert said == "Not met: the label says 5 years; cask C-1 is 19 days short and reaches 5 years on 2026-03-01."
    assert finding.observed == "cask C-1: 4 years, 11 months and 9 days"


def test_one_day_short_and_the_day_itself() -> None:
    short = Room([cask(filled_on="2021-02-11")], briefs=[brief(age_statement="5 years")])
    assert "is 1 day short and reaches 5 years on 2026-02-11." in told(short, "age statement")[0]
    full = Room([cask(filled_on="2021-02-10")], briefs=[brief(age_statement="5 years")]).row("age statement")
    assert first_sentence(full["reason"]) == ("Met: the label says 5 years; the youngest, cask C-1, is 5 years old.")


def test_an_age_stated_in_days_is_no_age_of_none() -> None:
    """A statement in days alone has no years to name: the sentence does not say that the label says 0 days."""
    reason = Room(briefs=[brief(age_statement="1800 days")]).row("age statement")["reason"]
    assert "0 days" not in first_sentence(reason)


def test_each_missing_fact_says_how_many_casks_it_costs() -> None:
    """Of 80 casks 62 lack the still strength and 9 the entry strength: both counted, the costlier first."""
    stock = [
        cask(f"C-{n}", distilled_proof=None if n < 62 else 140.0, entry_proof=None if n % 9 == 0 else 120.0)
        for n in range(80)
    ]
    room = Room(stock, briefs=[brief(claims="bourbon")])
    said, finding = told(room, "bourbon")
    of_still = "proof of distillation of 62 casks: column distilled_proof of the inventory"
    of_entry = "proof at entry into the wood of 9 casks: column entry_proof of the inventory"
    assert said == (
        "Cannot tell: the proof of distillation of 62 casks is not known (column distilled_proof of the inventory); "
        "1 more fact is missing too."
    )
    assert f"Missing: {of_still}; {of_entry}." in room.row("bourbon")["reason"]
    assert finding.remedy == f"Bring what is missing: {of_still}; {of_entry}."
    assert (finding.observed, finding.expected) == ("62 casks: not known", "less than 190 proof")
    assert (finding.column, finding.facts[0]) == ("distilled_proof", 1000)
    assert finding.message == f"Label claim 'bourbon' (US) of batch B-1. {said} The rule is unverified."


def test_a_fact_that_a_cask_has_is_not_counted_as_missing() -> None:
    """Only the cask that lacks the fact is named, though another cask fails by a known one elsewhere."""
    room = Room([cask("C-1"), cask("C-2", entry_proof=None)], briefs=[brief(claims="bourbon")])
    assert told(room, "bourbon")[1].remedy.endswith("of cask C-2: column entry_proof of the inventory.")


@pytest.mark.parametrize(
    ("given", "claim", "observed"),
    [
        ({"proof": 79.0, "abv": 39.5}, "minimum strength", "the vat as gauged: 79.0 proof at 60 °F"),
        ({"proof": 79.0, "abv": 39.5, "entry": "expected"}, "minimum strength",
         "the blend as expected, not gauged: 79.0 proof at 60 °F"),
    ],
)  # fmt: skip
def test_observed_names_the_strength_that_was_judged(given: dict[str, object], claim: str, observed: str) -> None:
    """Gauge or expectation, proof to the tenth (27 CFR 30.23)."""
    assert told(Room(**given), claim)[1].observed == observed  # type: ignore[arg-type]


def test_observed_names_the_plan_and_the_label() -> None:
    """A label strength below the least is that of the brief before bottling, and of the run after it."""
    plan = Room(briefs=[brief(bottling_proof=79.0)], proof=121.0, abv=60.5)
    assert told(plan, "minimum strength")[1].observed == "the label as planned in the brief: 39.5 % vol"
    run = {"batch": "B-1", "bottled_on": "2026-02-20", "bottle_size_L": 0.75, "bottles": 10, "label_abv": 39.5}
    bottled = Room(bottlings=[run], proof=121.0, abv=60.5)
    assert told(bottled, "minimum strength")[1].observed == "the label of the bottling of 2026-02-20: 39.5 % vol"


def test_water_to_come_is_what_is_to_be_done() -> None:
    """A vat above the label says what is to come, and is held against the label, not against what lies around it."""
    room = Room(briefs=[brief()], proof=121.0, abv=60.5, volume_60F_gal=100.0)
    finding = told(room, "bottling strength")[1]
    assert finding.remedy.startswith("To come: ") and "above within" not in room.row("bottling strength")["reason"]


def test_rounding_never_hides_what_was_judged() -> None:
    """A strength that two decimals would show at the limit shows as many as it fails by."""
    room = Room(briefs=[brief(market="EU", claims="whisky")], proof=79.99, abv=39.997)
    found = [finding.observed for finding in room.judged()[1]]
    assert "the vat as gauged: 39.997 % vol at 20 °C" in found and not any("40.00" in said for said in found)


def test_observed_names_the_label_where_it_is_what_is_missing() -> None:
    """A strength in proof plans no strength at 20 °C: the label is named as not known, not the gauge."""
    said, finding = told(Room(briefs=[brief(market="EU")]), "bottling strength", "EU")
    assert finding.observed == "the label as planned in the brief: not known"
    assert said == "Cannot tell: the label is not known (column bottling_abv of the sheet briefs)."


def test_the_grounds_cite_section_edition_and_day() -> None:
    """After the first sentence stand the demand, the section, which edition was read, and when."""
    reason = Room([cask(filled_on="2021-03-01")], briefs=[brief(age_statement="5 years")]).row("age statement")[
        "reason"
    ]
    assert reason.index("It is required that ") < reason.index(" Law: 27 CFR 5.74: ")
    assert "read on 2026-11-30" in reason
