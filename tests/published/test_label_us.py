"""United States label rules as worked cases at, before and after each boundary; the source stands beside each."""

from __future__ import annotations

from typing import Any

import pandas as pd
import pytest

from tests.label_age.bulk import Case, verdicts_of
from tests.label_age.kit import judged_alone

BOURBON = "27 CFR 5.143(c)(2)"
STRAIGHT = "27 CFR 5.143(c)(4)-(6)"
STRAIGHT_TYPE = "27 CFR 5.143(c)(5)"
BOND = "27 CFR 5.88"
SINGLE_MALT = "27 CFR 5.143(c)(15)"
CLASS = "27 CFR 5.143(a)"
LABEL = "27 CFR 19.356(c)"
FILL = "27 CFR 5.203"
AGE = "27 CFR 5.74"
CORN = "27 CFR 5.143(c)(3)"
STRAIGHT_CORN = "27 CFR 5.143(c)(6)"
STRAIGHT_MALT = "27 CFR 5.143(c)(16)"

HEEL = {"lines": [{"component": "heel", "kind": "heel"}]}
WATER = {"lines": [{"component": "water", "kind": "water"}]}
VESSEL = {"lines": [{"component": "T-9", "kind": "vessel"}]}
ASKED_90 = {"brief": {"bottling_proof": 90.0}}
CORN_ALMOST = {"grain": "corn 79.95, rye 20.05", "new_oak": False, "wood_use": "refill"}
CORN_80_USED = {"grain": "corn 80, rye 20", "new_oak": False, "wood_use": "refill"}
CORN_79_USED = {"grain": "corn 79, rye 21", "new_oak": False, "wood_use": "refill"}
PERCENT = {"entry_proof_unit": "%vol"}

YOUNG_2Y = {"filled_on": "2024-02-10"}
YOUNG_4Y = {"filled_on": "2022-02-10", "distilled_on": "2022-02-08"}
AMERICAN_MALT = {
    "country": "US", "distilled_proof": 140.0, "distilled_proof_unit": "proof", "entry_proof": 120.0,
    "entry_proof_unit": "proof", "capacity_L": 200.0,
}  # fmt: skip


def one(**changes: Any) -> dict[str, Any]:
    return {"casks": [changes]}


def beside(changes: dict[str, Any]) -> dict[str, Any]:
    """A second cask that differs from the first."""
    return {"casks": [{}, changes]}


def added(name: str, ethanol_kg: float = 0.0, gallons: float | None = None) -> dict[str, Any]:
    return {"lines": [{"component": name, "kind": "addition", "ethanol_kg": ethanol_kg, "volume_60F_gal": gallons}]}


def stated(age: str) -> dict[str, Any]:
    return {"brief": {"age_statement": age}}


def label(abv: float) -> dict[str, Any]:
    return {"bottling": {"label_abv": abv}}


def size(litres: float | None) -> dict[str, Any]:
    return {"brief": {"bottle_size_L": litres}}


def distilled(first: str, second: str) -> dict[str, Any]:
    return {"casks": [{"distilled_on": first, "filled_on": first}, {"distilled_on": second, "filled_on": second}]}


def malt(**changes: Any) -> dict[str, Any]:
    return {"kind": "malt", "casks": [AMERICAN_MALT | changes]}


CASES = [
    # 27 CFR 5.143(a): not less than 40 percent by volume, 80 proof; a gauge to the nearest tenth (30.23)
    ("minimum strength", CLASS, "met", "at 80.0 proof", {"proof": 80.0}),
    ("minimum strength", CLASS, "met", "at 79.95, a gauge of 80.0", {"proof": 79.95}),
    ("minimum strength", CLASS, "not met", "at 79.94, a gauge of 79.9", {"proof": 79.94}),
    ("minimum strength", CLASS, "not met", "40.00 % vol at 20 °C is 79.86 proof (trade_notes 2.1)",
     {"proof": 79.86, "abv": 40.0}),
    ("minimum strength", CLASS, "met", "well above", {"proof": 120.0}),
    ("minimum strength", CLASS, "cannot tell", "no gauge and nothing expected", {"proof": None}),
    # 27 CFR 19.356(d): a 40 percent label takes 39.7 to 40.3 percent, both included
    ("bottling strength", LABEL, "met", "39.7 on a 40 label", {"proof": 79.4, **label(40.0)}),
    ("bottling strength", LABEL, "not met", "39.65 on a 40 label",
     {"proof": 79.3, **label(40.0)}),
    ("bottling strength", LABEL, "met", "40.3 on a 40 label", {"proof": 80.6, **label(40.0)}),
    ("bottling strength", LABEL, "not met", "40.35 on a 40 label",
     {"proof": 80.7, **label(40.0)}),
    ("bottling strength", LABEL, "met", "45.1 on the brief's 45", {"proof": 90.2, **ASKED_90}),
    ("bottling strength", LABEL, "cannot tell", "no label strength anywhere",
     {"proof": 90.0, "brief": {"bottling_proof": None}}),
    ("bottling strength", LABEL, "cannot tell", "expected above the label, water still to come",
     {"proof": 120.0, "entry": "expected", **ASKED_90}),
    ("bottling strength", LABEL, "not met", "expected above the label, but bottled",
     {"proof": 120.0, "entry": "expected", **label(45.0)}),
    ("bottling strength", LABEL, "not met", "expected below the label: water cannot mend it",
     {"proof": 88.0, "entry": "expected", **ASKED_90}),
    ("bottling strength", LABEL, "met", "expected at the label",
     {"proof": 90.0, "entry": "expected", **ASKED_90}),
    # 27 CFR 5.203, union of the announced sizes: 90 FR 1868 (effective 10 January 2025), 85 FR of 29 December 2020
    ("standard of fill", FILL, "met", "750 mL", size(0.75)),
    ("standard of fill", FILL, "met", "700 mL", size(0.7)),
    ("standard of fill", FILL, "met", "50 mL, the least", size(0.05)),
    ("standard of fill", FILL, "met", "3.75 L, the most", size(3.75)),
    ("standard of fill", FILL, "met", "331 mL, new in 2025", size(0.331)),
    ("standard of fill", FILL, "not met", "749 mL", size(0.749)),
    ("standard of fill", FILL, "not met", "4 L", size(4.0)),
    ("standard of fill", FILL, "cannot tell", "no bottle size", size(None)),
    ("standard of fill", FILL, "not met", "331 mL on 9 January 2025",
     {"bottling": {"bottled_on": "2025-01-09", "bottle_size_L": 0.331}}),
    ("standard of fill", FILL, "met", "331 mL on 10 January 2025",
     {"bottling": {"bottled_on": "2025-01-10", "bottle_size_L": 0.331}}),
    ("standard of fill", FILL, "cannot tell", "355 mL in 2024 was for cans only, and no sheet tells a can",
     {"bottling": {"bottled_on": "2024-06-01", "bottle_size_L": 0.355}}),
    # 27 CFR 5.40(a),(e) before 2022, kept as 5.74: the youngest whisky; understated allowed, overstated never
    ("age statement", AGE, "met", "4 years to the day",
     one(filled_on="2022-02-10") | stated("4 years")),
    ("age statement", AGE, "not met", "one day short of 4 years",
     one(filled_on="2022-02-11") | stated("4 years")),
    ("age statement", AGE, "met", "4 years and a day",
     one(filled_on="2022-02-09") | stated("4 years")),
    ("age statement", AGE, "met", "understated by a year", stated("4")),
    ("age statement", AGE, "met", "51 months to the day",
     one(filled_on="2021-11-10") | stated("51 months")),
    ("age statement", AGE, "not met", "51 months less a day",
     one(filled_on="2021-11-11") | stated("51 months")),
    ("age statement", AGE, "met", "4 years 3 months to the day",
     one(filled_on="2021-11-10") | stated("4 years 3 months")),
    ("age statement", AGE, "not met", "4 years 3 months less a day",
     one(filled_on="2021-11-11") | stated("4 years 3 months")),
    ("age statement", AGE, "met", "600 days", one(filled_on="2024-06-20") | stated("600 days")),
    ("age statement", AGE, "not met", "600 days less one",
     one(filled_on="2024-06-21") | stated("600 days")),
    ("age statement", AGE, "not met", "the youngest of two counts",
     {"casks": [{"filled_on": "2019-01-01"}, {"filled_on": "2023-02-11"}]} | stated("4 years")),
    ("age statement", AGE, "cannot tell", "words that are no age", stated("well aged")),
    ("age statement", AGE, "not met", "aged less than 4 years is not allowed wording",
     stated("aged less than 4 years")),
    ("age statement", AGE, "cannot tell", "a heel of unknown age",
     HEEL | stated("4 years")),
    ("age statement", AGE, "not met", "a cask too young beside a heel of unknown age",
     one(filled_on="2023-01-01") | HEEL | stated("4 years")),
    # 5.40(a): whisky under 4 years old must state its age
    ("age statement", AGE, "met", "none stated, 4 years to the day", one(filled_on="2022-02-10")),
    ("age statement", AGE, "not met", "none stated, a day short of 4 years", one(filled_on="2022-02-11")),
    ("age statement", AGE, "met", "NAS is none stated, 5 years old", stated("NAS")),
    # 27 CFR 5.143(a)
    ("whisky", CLASS, "met", "distilled at 189.9 proof", one(distilled_proof=189.9)),
    ("whisky", CLASS, "not met", "distilled at 190 proof: the text says less than", one(distilled_proof=190.0)),
    ("whiskey", CLASS, "not met", "under 80 proof is no whisky", {"proof": 79.0}),
    ("whisky", CLASS, "not met", "chestnut and no corn whisky", one(species="chestnut", grain="rye 100")),
    ("whisky", CLASS, "not met", "corn whisky need not lie in oak, but must be called that, (c)(3)",
     one(species="chestnut", grain="corn 80, rye 20")),
    ("whisky", CLASS, "not met", "79.95 % corn in chestnut",
     one(species="chestnut", grain="corn 79.95, rye 20.05")),
    ("whisky", CLASS, "not met", "not from grain", one(grain="grape 100")),
    # 27 CFR 5.143(c)(2): not less than 51 percent, not over 160 proof, charred new oak at not over 125 proof
    ("bourbon", BOURBON, "met", "51 % corn", one(grain="corn 51, rye 49")),
    ("bourbon", BOURBON, "not met", "50.9 % corn", one(grain="corn 50.9, rye 49.1")),
    ("bourbon", BOURBON, "met", "distilled at 160", one(distilled_proof=160.0)),
    ("bourbon", BOURBON, "not met", "distilled at 160.1", one(distilled_proof=160.1)),
    ("bourbon", BOURBON, "met", "entered at 125", one(entry_proof=125.0)),
    ("bourbon", BOURBON, "not met", "entered at 125.1", one(entry_proof=125.1)),
    ("bourbon", BOURBON, "met", "no minimum time: a day in wood", one(filled_on="2026-02-09")),
    ("bourbon", BOURBON, "not met", "from elsewhere (5.143(b))", one(country="Canada")),
    ("bourbon", BOURBON, "not met", "caramel added", added("caramel", 0.0)),
    ("bourbon", BOURBON, "not met", "used oak", one(new_oak=False, wood_use="refill")),
    ("bourbon", BOURBON, "not met", "new but only toasted", one(charred=False)),
    ("rye whisky", BOURBON, "met", "51 % rye", one(grain="rye 51, corn 49")),
    ("rye whisky", BOURBON, "not met", "50.95 % rye", one(grain="rye 50.95, corn 49.05")),
    ("wheat whisky", BOURBON, "met", "51 % wheat", one(grain="wheat 51, corn 49")),
    ("wheat whisky", BOURBON, "not met", "50.95 % wheat", one(grain="wheat 50.95, corn 49.05")),
    ("malt whisky", BOURBON, "met", "51 % malted barley", one(grain="malted barley 51, corn 49")),
    ("malt whisky", BOURBON, "not met", "50.95 % malted barley", one(grain="malted barley 50.95, corn 49.05")),
    # 27 CFR 5.143(c)(3): 80 percent corn, used or uncharred new oak
    ("corn whisky", CORN, "met", "80 % corn, used oak", one(**CORN_80_USED)),
    ("corn whisky", CORN, "not met", "79 % corn", one(**CORN_79_USED)),
    ("corn whisky", CORN, "met", "80 % corn, new uncharred oak", one(grain="corn 80, rye 20", charred=False)),
    ("corn whisky", CORN, "not met", "79.95 % corn", one(**CORN_ALMOST)),
    ("corn whisky", CORN, "met", "distilled at 160", one(**CORN_80_USED, distilled_proof=160.0)),
    ("corn whisky", CORN, "not met", "distilled at 160.05", one(**CORN_80_USED, distilled_proof=160.05)),
    ("corn whisky", CORN, "met", "entered at 125", one(**CORN_80_USED, entry_proof=125.0)),
    ("corn whisky", CORN, "not met", "entered at 125.05", one(**CORN_80_USED, entry_proof=125.05)),
    ("corn whisky", CORN, "not met", "charred new oak", one(grain="corn 80, rye 20")),
    # 27 CFR 5.143(c)(4)-(6)
    ("straight", STRAIGHT, "met", "2 years to the day", one(**YOUNG_2Y)),
    ("straight", STRAIGHT, "not met", "a day short of 2 years", one(filled_on="2024-02-11")),
    ("straight", STRAIGHT, "met", "2 years and a day", one(filled_on="2024-02-09")),
    ("straight", STRAIGHT, "met", "entered at 125", one(entry_proof=125.0)),
    ("straight", STRAIGHT, "not met", "entered at 125.1", one(entry_proof=125.1)),
    ("straight", STRAIGHT, "not met", "entered at 63 % vol at 20 °C, over 125 proof", one(entry_proof=63.0, **PERCENT)),
    ("straight", STRAIGHT, "met", "entered at 62.5 % vol at 20 °C, under 125 proof", one(entry_proof=62.5, **PERCENT)),
    ("straight", STRAIGHT, "cannot tell", "entry proof not stated", one(entry_proof=None)),
    ("straight", STRAIGHT, "met", "distilled at 160", one(distilled_proof=160.0)),
    ("straight", STRAIGHT, "not met", "distilled at 160.1", one(distilled_proof=160.1)),
    ("straight", STRAIGHT, "cannot tell", "distilled proof not stated", one(distilled_proof=None)),
    ("straight", STRAIGHT, "cannot tell", "char not stated", one(charred=None)),
    ("straight", STRAIGHT, "met", "char told by its number", one(charred=None, char="No. 3")),
    ("straight", STRAIGHT, "not met", "first fill is never new wood", one(new_oak=None, wood_use="first fill")),
    ("straight", STRAIGHT, "cannot tell", "new oak and first fill contradict each other", one(wood_use="first fill")),
    ("straight", STRAIGHT, "not met", "rejuvenated wood is not new", one(new_oak=None, wood_use="rejuvenated")),
    ("straight", STRAIGHT, "cannot tell", "nothing said of new or used", one(new_oak=None, wood_use=None)),
    ("straight", STRAIGHT, "met", "straight corn whisky in used oak", one(**CORN_80_USED)),
    ("straight", STRAIGHT, "not met", "79.95 % corn in used oak", one(**CORN_ALMOST)),
    ("straight", STRAIGHT, "not met", "sugar added", added("sugar syrup", 0.0)),
    ("straight", STRAIGHT, "met", "water added", WATER),
    ("straight", STRAIGHT, "not met", "other spirit added", added("neutral spirit", 9.0)),
    ("straight", STRAIGHT, "met", "two distilleries of one State", beside({"distillery": "Stony Ford"})),
    ("straight", STRAIGHT, "not met", "two distilleries of two States",
     beside({"distillery": "Stony Ford", "state": "Southmark"})),
    ("straight", STRAIGHT, "cannot tell", "two distilleries, a State not stated", beside({"distillery": "Stony Ford",
     "state": None})),
    ("straight", STRAIGHT, "cannot tell", "spirit of a vessel", VESSEL),
    ("straight", STRAIGHT, "not met", "one of two casks too young", beside({"filled_on": "2024-03-01"})),
    ("straight bourbon", STRAIGHT_TYPE, "met", "bourbon of 2 years", one(**YOUNG_2Y)),
    ("straight bourbon", STRAIGHT_TYPE, "not met", "bourbon a day short of 2 years", one(filled_on="2024-02-11")),
    ("straight bourbon", STRAIGHT_TYPE, "not met", "50 % corn", one(grain="corn 50, rye 50")),
    ("straight rye whiskey", STRAIGHT_TYPE, "met", "51 % rye", one(grain="rye 51, corn 49")),
    ("straight rye whiskey", STRAIGHT_TYPE, "not met", "50 % rye", one(grain="rye 50, corn 50")),
    ("straight wheat whisky", STRAIGHT_TYPE, "not met", "50 % wheat", one(grain="wheat 50, corn 50")),
    ("straight malt whisky", STRAIGHT_TYPE, "met", "51 % malted barley", one(grain="malted barley 51, corn 49")),
    ("straight corn whisky", STRAIGHT_CORN, "met", "used oak", one(**CORN_80_USED)),
    ("straight corn whisky", STRAIGHT_CORN, "not met", "charred new oak", one(grain="corn 80, rye 20")),
    # 27 CFR 5.88(a)(1)-(6)
    ("bottled in bond", BOND, "met", "4 years to the day", one(**YOUNG_4Y)),
    ("bottled in bond", BOND, "not met", "a day short of 4 years", one(filled_on="2022-02-11",
     distilled_on="2022-02-08")),
    ("bottled in bond", BOND, "met", "4 years and a day", one(filled_on="2022-02-09", distilled_on="2022-02-08")),
    ("bottled-in-bond", BOND, "met", "written with hyphens", {}),
    ("bottled in bond", BOND, "met", "1 January and 30 June are one season (27 CFR 5.1)",
     distilled("2021-01-01", "2021-06-30")),
    ("bottled in bond", BOND, "not met", "30 June and 1 July are two seasons",
     distilled("2021-06-30", "2021-07-01")),
    ("bottled in bond", BOND, "met", "1 July and 31 December are one season",
     distilled("2020-07-01", "2020-12-31")),
    ("bottled in bond", BOND, "not met", "31 December and 1 January are two seasons",
     distilled("2020-12-31", "2021-01-01")),
    ("bottled in bond", BOND, "not met", "spring of two years", distilled("2021-03-01", "2020-03-01")),
    ("bottled in bond", BOND, "cannot tell", "distilling day not stated",
     one(distilled_on=None)),
    ("bottled in bond", BOND, "not met", "two distilleries", beside({"distillery": "Stony Ford"})),
    ("bottled in bond", BOND, "met", "one distillery spelled in two cases", beside({"distillery": "ALDER HOLLOW"})),
    ("bottled in bond", BOND, "cannot tell", "distillery not stated", one(distillery=None)),
    ("bottled in bond", BOND, "not met", "bourbon and rye", beside({"spirit": "rye"})),
    ("bottled in bond", BOND, "not met", "caramel added", added("plain caramel", 0.0)),
    ("bottled in bond", BOND, "met", "only water added", WATER),
    ("bottled in bond", BOND, "cannot tell", "a heel", HEEL),
    ("bottled in bond", BOND, "met", "100.04, a gauge of 100.0", {"proof": 100.04}),
    ("bottled in bond", BOND, "cannot tell", "100.1: whether the 0.3 covers it is not verified", {"proof": 100.1}),
    ("bottled in bond", BOND, "cannot tell", "99.4: at the edge of the 0.3", {"proof": 99.4}),
    ("bottled in bond", BOND, "not met", "99.3: beyond the 0.3", {"proof": 99.3}),
    ("bottled in bond", BOND, "not met", "100.7: beyond the 0.3", {"proof": 100.7}),
    ("bottled in bond", BOND, "cannot tell", "expected at 118, still to be reduced",
     {"proof": 118.0, "entry": "expected", "brief": {"bottling_proof": 100.0}}),
    ("bottled in bond", BOND, "not met", "expected at 96: water cannot mend it", {"proof": 96.0, "entry": "expected"}),
    # 27 CFR 5.143(c)(15),(16), from 19 January 2025 (89 FR 102726); (d): older labels until 18 January 2030
    ("american single malt", SINGLE_MALT, "met", "malted barley only", malt()),
    ("american single malt", SINGLE_MALT, "cannot tell", "99 % malted barley, perhaps by an older label",
     malt(grain="malted barley 99, rye 1")),
    ("american single malt", SINGLE_MALT, "met", "a cask of 700 L", malt(capacity_L=700.0)),
    ("american single malt", SINGLE_MALT, "cannot tell", "a cask of 701 L, perhaps by an older label",
     malt(capacity_L=701.0)),
    ("american single malt", SINGLE_MALT, "cannot tell", "size of the cask not stated", malt(capacity_L=None)),
    ("american single malt", SINGLE_MALT, "met", "distilled at 160", malt(distilled_proof=160.0)),
    ("american single malt", SINGLE_MALT, "not met", "99.95 % malted barley, bottled on 19 January 2030",
     {"bottling": {"bottled_on": "2030-01-19"}} | malt(grain="malted barley 99.95, rye 0.05")),
    ("american single malt", SINGLE_MALT, "not met", "distilled at 160.05", malt(distilled_proof=160.05)),
    ("american single malt", SINGLE_MALT, "not met", "distilled at 161", malt(distilled_proof=161.0)),
    ("american single malt", SINGLE_MALT, "not met", "two distilleries, bottled on 19 January 2030",
     {"bottling": {"bottled_on": "2030-01-19"}, "kind": "malt",
      "casks": [AMERICAN_MALT, AMERICAN_MALT | {"distillery": "Stony Ford"}]}),
    ("american single malt", SINGLE_MALT, "met", "caramel is allowed",
     malt() | added("caramel", 0.0, 0.4)),
    ("american single malt", SINGLE_MALT, "cannot tell", "how much caramel is not stated: 2.5 % by volume of 5.155",
     malt() | added("caramel", 0.0)),
    ("american single malt", SINGLE_MALT, "met", "bottled on 19 January 2025",
     malt() | {"bottling": {"bottled_on": "2025-01-19"}}),
    ("american single malt", SINGLE_MALT, "cannot tell", "bottled on 18 January 2025: no version in force",
     malt() | {"bottling": {"bottled_on": "2025-01-18"}}),
    ("single malt", SINGLE_MALT, "cannot tell", "country not stated", malt(country=None)),
    ("single malt", SINGLE_MALT, "cannot tell", "from Scotland: its own country's law", {"kind": "malt"}),
    ("straight american single malt", STRAIGHT_MALT, "met", "2 years to the day", malt(**YOUNG_2Y)),
    ("straight american single malt", STRAIGHT_MALT, "not met", "a day short of 2 years", malt(filled_on="2024-02-11")),
]  # fmt: skip


@pytest.fixture(scope="module")
def judged() -> list[pd.Series]:
    return verdicts_of(
        [Case("us.any", "", verdict, says, claim.lower(), given) for claim, _, verdict, says, given in CASES]
    )


@pytest.mark.parametrize("number", range(len(CASES)), ids=[f"{c[0]}: {c[3]}" for c in CASES])
def test_united_states(number: int, judged: list[pd.Series]) -> None:
    """Each case of the section ends in the verdict that its text gives, under that section."""
    _, section, verdict, _, _ = CASES[number]
    assert judged[number]["verdict"] == verdict, judged[number]["reason"]
    assert judged[number]["rule"] == section


def test_stated_time_counts_only_in_charred_new_oak() -> None:
    """27 CFR 5.1: of a bourbon only time in charred new oak is age, so a used cask's years may not be stated."""
    given = {"brief": {"claims": "bourbon", "age_statement": "4 years"}}
    assert judged_alone("US", "age statement", **given)["verdict"] == "met"
    used = one(new_oak=False, wood_use="refill") | given
    assert judged_alone("US", "age statement", **used)["verdict"] == "not met"
    assert judged_alone("US", "age statement", **one(new_oak=None, wood_use=None), **given)["verdict"] == "cannot tell"


def test_minimum_strength_and_label_are_two_tests() -> None:
    """79.6 proof on a 40 % label is within its tolerance (19.356(d)) and yet under 80 proof (5.143(a))."""
    given: dict[str, Any] = {"proof": 79.6, **label(40.0)}
    assert judged_alone("US", "bottling strength", **given)["verdict"] == "met"
    assert judged_alone("US", "minimum strength", **given)["verdict"] == "not met"


def test_corn_whisky_may_state_its_years_in_used_oak() -> None:
    """27 CFR 5.1: straight corn whisky (80 percent corn) is excepted from charred new oak; at 79 percent it is not."""
    given: dict[str, Any] = {"brief": {"claims": "straight", "age_statement": "4 years"}}
    assert judged_alone("US", "age statement", **one(**CORN_80_USED), **given)["verdict"] == "met"
    assert judged_alone("US", "age statement", **one(**CORN_ALMOST), **given)["verdict"] == "not met"
