"""European and United Kingdom label rules as worked cases at, before and after each boundary."""

from __future__ import annotations

from typing import Any

import pandas as pd
import pytest

from tests.label_age.bulk import Case, verdicts_of
from tests.label_age.kit import judged_alone

CATEGORY = "Reg. (EU) 2019/787 Annex I cat. 2"
AGE_CATEGORY, STRENGTH_CATEGORY, MALT_CATEGORY = f"{CATEGORY}(a)(iii)", f"{CATEGORY}(b)", f"{CATEGORY}(e)"
ANNEX_XII = "Reg. (EU) 1169/2011 Annex XII"
FILL_EU = "Directive 2007/45/EC Annex"
AGE_EU = "Reg. (EU) 2019/787 Art. 13(6)"
SCOTCH = "SI 2009/2890 reg. 3(1)"
FILL_UK = "SI 1988/2039 art. 3A and Sch. A1"
WHISKY_UK = "Reg. (EC) 110/2008 Annex II cat. 2"

SCOTCH_AGE = "SI 2009/2890 reg. 3(1)(e)"
SCOTCH_STRENGTH = "SI 2009/2890 reg. 3(1)(i)"
SCOTCH_MALT = "SI 2009/2890 reg. 3(2)"
AGE_SCOTCH = "SI 2009/2890 reg. 12(1)"
AGE_UK = "Reg. (EC) 110/2008 Art. 12(3)"

VESSEL = {"lines": [{"component": "T-9", "kind": "vessel"}]}
UNDATED = {"lines": [{"component": "C-1", "drawn_at": None, "line": "2"}]}
CARAMEL = {"lines": [{"component": "plain caramel", "kind": "addition", "ethanol_kg": 0.0}]}
SOME_CARAMEL = {"lines": [{"component": "caramel", "kind": "addition", "ethanol_kg": 0.0}]}
SUGAR = {"lines": [{"component": "sugar syrup", "kind": "addition", "ethanol_kg": 0.0}]}


def beside(changes: dict[str, Any]) -> dict[str, Any]:
    """A second cask that differs from the first."""
    return {"casks": [{}, changes]}


def stated(age: str) -> dict[str, Any]:
    return {"brief": {"age_statement": age}}


def label(abv: float) -> dict[str, Any]:
    return {"bottling": {"label_abv": abv}}


def size(litres: float) -> dict[str, Any]:
    return {"brief": {"bottle_size_L": litres}}


def one(**changes: Any) -> dict[str, Any]:
    return {"casks": [changes]}


EU = [
    # Reg. (EU) 2019/787 Annex I category 2: at least 3 years, no vessel over 700 L, below 94.8 % vol, at least 40 % vol
    ("minimum age", AGE_CATEGORY, "met", "3 years to the day", one(filled_on="2023-02-10")),
    ("minimum age", AGE_CATEGORY, "not met", "a day short of 3 years", one(filled_on="2023-02-11")),
    ("minimum age", AGE_CATEGORY, "met", "3 years and a day", one(filled_on="2023-02-09")),
    ("minimum age", AGE_CATEGORY, "cannot tell", "a vessel of unknown age", VESSEL),
    ("minimum age", AGE_CATEGORY, "cannot tell", "drawn on no stated day", UNDATED),
    ("minimum strength", STRENGTH_CATEGORY, "met", "40.0 % vol at 20 °C", {"abv": 40.0}),
    ("minimum strength", STRENGTH_CATEGORY, "not met", "39.99: no tolerance lowers it", {"abv": 39.99}),
    ("minimum strength", STRENGTH_CATEGORY, "met", "40.01", {"abv": 40.01}),
    ("minimum strength", STRENGTH_CATEGORY, "met", "80 proof is 40.07 % vol at 20 °C", {"abv": 40.07, "proof": 80.0}),
    ("whisky", CATEGORY, "met", "distilled at 94.7 % vol", one(distilled_proof=94.7)),
    ("whisky", CATEGORY, "not met", "distilled at 94.8 % vol: the text says less than", one(distilled_proof=94.8)),
    ("whisky", CATEGORY, "met", "a cask of 700 L", one(capacity_L=700.0)),
    ("whisky", CATEGORY, "not met", "a cask of 701 L", one(capacity_L=701.0)),
    ("whisky", CATEGORY, "cannot tell", "size of the cask not stated", one(capacity_L=None)),
    ("whisky", CATEGORY, "met", "chestnut is wood", one(species="chestnut")),
    ("whisky", CATEGORY, "met", "plain caramel", CARAMEL),
    ("whisky", CATEGORY, "cannot tell", "caramel of a kind not stated", SOME_CARAMEL),
    ("whisky", CATEGORY, "not met", "sugar", SUGAR),
    ("whisky", CATEGORY, "not met", "under 40 % vol", {"abv": 39.9}),
    ("whisky", CATEGORY, "not met", "a day short of 3 years", one(filled_on="2023-02-11")),
    ("single malt", MALT_CATEGORY, "met", "malted barley only, one distillery", {}),
    ("single malt", MALT_CATEGORY, "not met", "99.4 % malted barley", one(grain="malted barley 99.4, rye 0.6")),
    ("single malt", MALT_CATEGORY, "not met", "99.95 % malted barley", one(grain="malted barley 99.95, rye 0.05")),
    ("single malt", MALT_CATEGORY, "cannot tell", "grain not stated", one(grain=None)),
    ("single malt", MALT_CATEGORY, "cannot tell", "half of the grain not stated", one(grain="malted barley 50")),
    ("single malt", MALT_CATEGORY, "cannot tell", "a grain without its share", one(grain="malted barley")),
    ("single malt", MALT_CATEGORY, "not met", "two distilleries", beside({"distillery": "Stony Ford"})),
    ("single malt", MALT_CATEGORY, "cannot tell", "distillery of one cask not stated", beside({"distillery": None})),
    # Reg. (EU) 1169/2011 Annex XII: 0.3 % vol above or below, at 20 °C, one decimal
    ("bottling strength", ANNEX_XII, "met", "45.7 on 46", {"abv": 45.7, **label(46.0)}),
    ("bottling strength", ANNEX_XII, "not met", "45.69 on 46", {"abv": 45.69, **label(46.0)}),
    ("bottling strength", ANNEX_XII, "met", "46.3 on 46", {"abv": 46.3, **label(46.0)}),
    ("bottling strength", ANNEX_XII, "not met", "46.31 on 46", {"abv": 46.31, **label(46.0)}),
    ("bottling strength", ANNEX_XII, "not met", "two decimals on the label", {"abv": 46.0, **label(46.05)}),
    ("bottling strength", ANNEX_XII, "met", "one decimal on the label", {"abv": 46.0, **label(46.1)}),
    ("bottling strength", ANNEX_XII, "cannot tell", "a label stated in proof only is no label at 20 °C",
     {"brief": {"bottling_abv": None, "bottling_proof": 100.0}}),
    # Directive 2007/45/EC, from memory: 100 to 2000 mL only 100 200 350 500 700 1000 1500 1750 2000
    ("standard of fill", FILL_EU, "met", "700 mL", size(0.7)),
    ("standard of fill", FILL_EU, "not met", "750 mL", size(0.75)),
    ("standard of fill", FILL_EU, "met", "99 mL, below the list", size(0.099)),
    ("standard of fill", FILL_EU, "met", "100 mL", size(0.1)),
    ("standard of fill", FILL_EU, "not met", "101 mL", size(0.101)),
    ("standard of fill", FILL_EU, "not met", "100.5 mL", size(0.1005)),
    ("standard of fill", FILL_EU, "not met", "1999.5 mL", size(1.9995)),
    ("standard of fill", FILL_EU, "met", "2000 mL", size(2.0)),
    ("standard of fill", FILL_EU, "not met", "1999 mL", size(1.999)),
    ("standard of fill", FILL_EU, "met", "2001 mL, above the list", size(2.001)),
    # 2019/787 Art. 13(6), as 110/2008 Art. 12(3): the youngest alcoholic component
    ("age statement", AGE_EU, "met", "12 years to the day",
     one(filled_on="2014-02-10", distilled_on="2014-02-09") | stated("12")),
    ("age statement", AGE_EU, "not met", "a day short of 12",
     one(filled_on="2014-02-11", distilled_on="2014-02-09") | stated("12")),
    ("age statement", AGE_EU, "met", "in months", one(filled_on="2022-02-10") | stated("48 months")),
]  # fmt: skip

UK = [
    # SI 2009/2890 reg. 3(1) as in HMRC SPIR3260
    ("minimum age", SCOTCH_AGE, "met", "3 years to the day", one(filled_on="2023-02-10")),
    ("minimum age", SCOTCH_AGE, "not met", "a day short of 3 years", one(filled_on="2023-02-11")),
    ("minimum age", WHISKY_UK, "met", "from England, 3 years to the day", one(filled_on="2023-02-10",
     country="England")),
    ("minimum age", WHISKY_UK, "not met", "from England, a day short", one(filled_on="2023-02-11", country="England")),
    ("minimum strength", SCOTCH_STRENGTH, "met", "40.0 % vol", {"abv": 40.0}),
    ("minimum strength", SCOTCH_STRENGTH, "not met", "39.9 % vol", {"abv": 39.9}),
    ("minimum strength", WHISKY_UK, "not met", "from Wales, 39.9 % vol", one(country="Wales") | {"abv": 39.9}),
    ("minimum strength", WHISKY_UK, "met", "from Wales, 40.0 % vol", one(country="Wales") | {"abv": 40.0}),
    ("bottling strength", ANNEX_XII, "met", "39.7 on 40", {"abv": 39.7, **label(40.0)}),
    ("bottling strength", ANNEX_XII, "not met", "39.69 on 40", {"abv": 39.69, **label(40.0)}),
    ("bottling strength", ANNEX_XII, "met", "40.3 on 40", {"abv": 40.3, **label(40.0)}),
    # Specified quantities as in the government's guidance
    ("standard of fill", FILL_UK, "met", "700 mL", size(0.7)),
    ("standard of fill", FILL_UK, "not met", "750 mL", size(0.75)),
    ("standard of fill", FILL_UK, "met", "50 mL, below the list", size(0.05)),
    ("standard of fill", FILL_UK, "met", "99.5 mL, below the list", size(0.0995)),
    ("standard of fill", FILL_UK, "met", "100 mL", size(0.1)),
    ("standard of fill", FILL_UK, "not met", "100.5 mL", size(0.1005)),
    ("standard of fill", FILL_UK, "not met", "1999.5 mL", size(1.9995)),
    ("standard of fill", FILL_UK, "met", "2000 mL", size(2.0)),
    ("standard of fill", FILL_UK, "met", "2000.5 mL, above the list", size(2.0005)),
    ("standard of fill", FILL_UK, "met", "1750 mL", size(1.75)),
    ("scotch whisky", SCOTCH, "met", "refill oak of 250 L", {}),
    ("scotch whisky", SCOTCH, "met", "oak of 700 L", one(capacity_L=700.0)),
    ("scotch whisky", SCOTCH, "not met", "oak of 700.1 L", one(capacity_L=700.1)),
    ("scotch whisky", SCOTCH, "not met", "chestnut is no oak", one(species="chestnut")),
    ("scotch whisky", SCOTCH, "cannot tell", "species not stated", one(species=None)),
    ("scotch whisky", SCOTCH, "met", "distilled at 94.7 % vol", one(distilled_proof=94.7)),
    ("scotch whisky", SCOTCH, "not met", "distilled at 94.8 % vol", one(distilled_proof=94.8)),
    ("scotch whisky", SCOTCH, "not met", "from England", one(country="England")),
    ("scotch whisky", SCOTCH, "met", "the United Kingdom, with Scotland as its part", one(country="UK",
     state="Scotland")),
    ("scotch whisky", SCOTCH, "cannot tell", "the United Kingdom without its part", one(country="UK")),
    ("scotch whisky", SCOTCH, "met", "plain caramel", CARAMEL),
    ("scotch whisky", SCOTCH, "not met", "sugar", SUGAR),
    ("whisky", "SI 2009/2890 reg. 5(2)", "met", "whisky from Scotland is Scotch whisky", {}),
    ("scotch whisky", SCOTCH, "met", "3 years to the day", one(filled_on="2023-02-10")),
    ("scotch whisky", SCOTCH, "not met", "a day short of 3 years", one(filled_on="2023-02-11")),
    ("scotch whisky", SCOTCH, "met", "40.0 % vol", {"abv": 40.0}),
    ("scotch whisky", SCOTCH, "not met", "39.95 % vol", {"abv": 39.95}),
    ("whisky", WHISKY_UK, "met", "whisky from England", one(country="England")),
    ("whisky", WHISKY_UK, "met", "from England, distilled at 94.75 % vol",
     one(country="England", distilled_proof=94.75)),
    ("whisky", WHISKY_UK, "not met", "from England, distilled at 94.8 % vol",
     one(country="England", distilled_proof=94.8)),
    ("whisky", WHISKY_UK, "met", "from England, a cask of 700 L", one(country="England", capacity_L=700.0)),
    ("whisky", WHISKY_UK, "not met", "from England, a cask of 700.5 L", one(country="England", capacity_L=700.5)),
    ("whisky", WHISKY_UK, "not met", "from England, with sugar", one(country="England") | SUGAR),
    ("single malt", SCOTCH_MALT, "met", "malted barley only, one distillery", {}),
    ("single malt scotch whisky", SCOTCH_MALT, "met", "in full", {}),
    ("single malt", SCOTCH_MALT, "not met", "99.95 % malted barley", one(grain="malted barley 99.95, rye 0.05")),
    ("single malt", SCOTCH_MALT, "not met", "with wheat", one(grain="malted barley 90, wheat 10")),
    ("single malt", SCOTCH_MALT, "not met", "two distilleries", beside({"distillery": "Stony Ford"})),
    ("single malt", SCOTCH_MALT, "not met", "a day short of 3 years", one(filled_on="2023-02-11")),
    ("single malt", SCOTCH_MALT, "cannot tell", "country not stated", one(country=None)),
    ("single malt", SCOTCH_MALT, "cannot tell", "from Wales: no rule is held here", one(country="Wales")),
    # SI 2009/2890 reg. 12: years only, the youngest
    ("age statement", AGE_SCOTCH, "met", "12 years to the day",
     one(filled_on="2014-02-10", distilled_on="2014-02-09") | stated("12 years")),
    ("age statement", AGE_SCOTCH, "not met", "a day short of 12",
     one(filled_on="2014-02-11", distilled_on="2014-02-09") | stated("12 years")),
    ("age statement", AGE_SCOTCH, "not met", "in months", stated("48 months")),
    ("age statement", AGE_SCOTCH, "not met", "years and months", stated("4 years 3 months")),
    ("age statement", AGE_UK, "met", "in months, from England",
     one(country="England") | stated("48 months")),
    ("age statement", AGE_UK, "not met", "overstated, from England",
     one(country="England") | stated("6 years")),
]  # fmt: skip


def _named(case: tuple[Any, ...]) -> str:
    return f"{case[0]}: {case[3]}"


ALL = [("eu", case) for case in EU] + [("uk", case) for case in UK]


@pytest.fixture(scope="module")
def judged() -> list[pd.Series]:
    return verdicts_of(
        [Case(f"{market}.any", "", c[2], c[3], c[0].lower(), {"kind": "malt"} | c[4]) for market, c in ALL]
    )


@pytest.mark.parametrize("number", range(len(ALL)), ids=[f"{market} {_named(case)}" for market, case in ALL])
def test_europe_and_the_united_kingdom(number: int, judged: list[pd.Series]) -> None:
    """Each case of the section ends in the verdict that its text gives, under that section."""
    _, section, verdict, _, _ = ALL[number][1]
    assert judged[number]["verdict"] == verdict, judged[number]["reason"]
    assert judged[number]["rule"] == section


@pytest.mark.long
def test_one_strength_two_references() -> None:
    """The same spirit can pass at 20 °C and fail at 60 °F: 40.00 % vol at 20 °C is 79.86 proof (trade_notes 2.1)."""
    assert judged_alone("EU", "minimum strength", proof=79.86, abv=40.0)["verdict"] == "met"
    assert judged_alone("US", "minimum strength", proof=79.86, abv=40.0)["verdict"] == "not met"


@pytest.mark.long
def test_open_country_is_no_matter_where_both_laws_agree() -> None:
    """With the country unknown, three years are asked in Scotland and elsewhere alike, and both sections are named."""
    row = judged_alone("UK", "minimum age", kind="malt", casks=[{"country": None}])
    assert row["verdict"] == "met"
    assert row["rule"] == f"SI 2009/2890 reg. 3(1)(e) or {WHISKY_UK}"
    assert row["unverified"]
