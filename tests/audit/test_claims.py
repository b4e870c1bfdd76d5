"""Ages and label claims at, before and after each boundary, through the whole path.

The boundaries are those of the sections named beside the cases, read in tests/published/data's sources and
in the texts that they cite; days are counted on a calendar by hand.
"""

from __future__ import annotations

from typing import Any

import pytest

from tests.audit.room import Room

CASKS = (
    "cask,spirit,grain,distillery,state,country,distilled_on,distilled_proof,filled_on,entry_proof,species,new_oak,"
    "charred,wood_use,capacity,held_before"
)
BOURBON = dict(
    spirit="", grain="corn 70, rye 20, malted barley 10", distillery="D1", state="Ostmark", country="US",
    distilled_on="2019-03-01", distilled_proof="130", filled_on="2019-03-02", entry_proof="120", species="oak",
    new_oak="yes", charred="yes", wood_use="virgin", capacity="200 L", held_before="",
)  # fmt: skip
MALT = {
    **BOURBON,
    **dict(grain="malted barley 100", new_oak="no", charred="no", wood_use="refill", distilled_proof="140"),
}
SCOTCH = {**MALT, "country": "Scotland", "held_before": "bourbon"}
BONDED = {**BOURBON, "distilled_on": "2021-03-01", "filled_on": "2021-03-02"}
LATER = {**BONDED, "distilled_on": "2021-07-01", "filled_on": "2021-07-02"}
US, EU, UK = "US", "EU", "UK"
STRAIGHT, BOND, MALTED, AGE = "straight bourbon", "bottled in bond", "single malt", "age statement"
MET, NOT, UNKNOWN = "met", "not met", "cannot tell"


def filled(day: str, base: dict[str, str] = BOURBON, **more: str) -> dict[str, str]:
    return {**base, "filled_on": day, "distilled_on": day, **more}


# id: (market, claim judged, wanted, brief and vat, casks)
Case = tuple[str, str, str, dict[str, Any], list[dict[str, str]]]
STRAIGHTS: dict[str, Case] = {  # 27 CFR 5.143(c)(5), drawn 2026-01-10
    "all shown": (US, STRAIGHT, MET, {}, [BOURBON]),
    "two years to the day": (US, STRAIGHT, MET, {"age": "2 years"}, [filled("2024-01-10")]),
    "a day short of two years": (US, STRAIGHT, NOT, {"age": "1 year"}, [filled("2024-01-11")]),
    "entry at 125": (US, STRAIGHT, MET, {}, [{**BOURBON, "entry_proof": "125"}]),
    "entry above 125": (US, STRAIGHT, NOT, {}, [{**BOURBON, "entry_proof": "125.1"}]),
    "entry not known": (US, STRAIGHT, UNKNOWN, {}, [{**BOURBON, "entry_proof": ""}]),
    "distilled at 160": (US, STRAIGHT, MET, {}, [{**BOURBON, "distilled_proof": "160"}]),
    "distilled above 160": (US, STRAIGHT, NOT, {}, [{**BOURBON, "distilled_proof": "160.1"}]),
    "distillation not known": (US, STRAIGHT, UNKNOWN, {}, [{**BOURBON, "distilled_proof": ""}]),
    "51 % corn": (US, STRAIGHT, MET, {}, [{**BOURBON, "grain": "corn 51, rye 39, malted barley 10"}]),
    "less than 51 % corn": (US, STRAIGHT, NOT, {}, [{**BOURBON, "grain": "corn 50.9, rye 39.1, malted barley 10"}]),
    "grain not known": (US, STRAIGHT, UNKNOWN, {}, [{**BOURBON, "grain": ""}]),
    "used oak": (US, STRAIGHT, NOT, {}, [{**BOURBON, "new_oak": "no"}]),
    "first fill is no new oak": (US, STRAIGHT, NOT, {}, [{**BOURBON, "new_oak": "", "wood_use": "first fill"}]),
    "new oak not known": (US, STRAIGHT, UNKNOWN, {}, [{**BOURBON, "new_oak": "", "wood_use": ""}]),
    "toasted only": (US, STRAIGHT, NOT, {}, [{**BOURBON, "charred": "no"}]),
    "char not known": (US, STRAIGHT, UNKNOWN, {}, [{**BOURBON, "charred": ""}]),
    "another country": (US, STRAIGHT, NOT, {}, [{**BOURBON, "country": "Canada"}]),
    "a country of no list": (US, STRAIGHT, UNKNOWN, {}, [{**BOURBON, "country": "Elsewhere"}]),
    "caramel": (US, STRAIGHT, NOT, {"added": ("caramel", 1, 0)}, [BOURBON]),
    "a heel": (US, STRAIGHT, UNKNOWN, {"added": ("heel", 10, 100)}, [BOURBON]),
    "80 proof": (US, STRAIGHT, MET, {"proof": 80}, [BOURBON]),
    "79.94 proof": (US, STRAIGHT, NOT, {"proof": 79.94}, [BOURBON]),
}
BONDS: dict[str, Case] = {  # 27 CFR 5.88
    "all shown": (US, BOND, MET, {}, [BONDED]),
    "four years to the day": (US, BOND, MET, {}, [filled("2022-01-10")]),
    "a day short of four years": (US, BOND, NOT, {"age": "3 years"}, [filled("2022-01-11")]),
    "one season from January to June": (US, BOND, MET, {}, [BONDED, filled("2021-01-01"), filled("2021-06-30")]),
    "two seasons": (US, BOND, NOT, {}, [BONDED, LATER]),
    "same season of two years": (US, BOND, NOT, {}, [BONDED, filled("2020-03-01")]),
    "season not known": (US, BOND, UNKNOWN, {}, [BONDED, {**BONDED, "distilled_on": ""}]),
    "two distilleries": (US, BOND, NOT, {}, [BONDED, {**BONDED, "distillery": "D2"}]),
    "distillery not known": (US, BOND, UNKNOWN, {}, [BONDED, {**BONDED, "distillery": ""}]),
    "two types": (US, BOND, NOT, {}, [{**BONDED, "spirit": "bourbon"}, {**BONDED, "spirit": "rye"}]),
    "caramel": (US, BOND, NOT, {"added": ("caramel", 1, 0)}, [BONDED]),
    "a heel": (US, BOND, UNKNOWN, {"added": ("heel", 5, 100)}, [BONDED]),
    "98 proof": (US, BOND, NOT, {"proof": 98}, [BONDED]),
}
MALTS: dict[str, Case] = {  # Reg. (EU) 2019/787 Annex I cat. 2; SI 2009/2890 reg. 3; 27 CFR 5.143(c)(15)
    **{
        f"{market} {name}": (market, MALTED, wanted, {"abv": 46.0, "size": "700 mL", **brief}, casks)
        for market, malt in ((EU, MALT), (UK, SCOTCH))
        for name, wanted, brief, casks in (
            ("all shown", MET, {}, [malt]),
            ("1 % corn", NOT, {}, [{**malt, "grain": "malted barley 99, corn 1"}]),
            ("grain not known", UNKNOWN, {}, [{**malt, "grain": ""}]),
            ("two distilleries", NOT, {}, [malt, {**malt, "distillery": "D2"}]),
            ("three years to the day", MET, {}, [filled("2023-01-10", malt)]),
            ("a day short of three years", NOT, {}, [filled("2023-01-11", malt)]),
            ("700 L", MET, {}, [{**malt, "capacity": "700 L"}]),
            ("701 L", NOT, {}, [{**malt, "capacity": "701 L"}]),
            ("size not known", UNKNOWN, {}, [{**malt, "capacity": ""}]),
            ("40.00 %", MET, {"abv": 40.0}, [malt]),
            ("39.99 %", NOT, {"abv": 39.99}, [malt]),
            ("distilled to 94.8 %", NOT, {}, [{**malt, "distilled_proof": "189.6"}]),
        )
    },
    "UK chestnut": (UK, MALTED, NOT, {"abv": 46.0, "size": "700 mL"}, [{**SCOTCH, "species": "chestnut"}]),
    "EU chestnut": (EU, MALTED, MET, {"abv": 46.0, "size": "700 mL"}, [{**MALT, "species": "chestnut"}]),
    "US all shown": (US, MALTED, MET, {}, [MALT]),
    "US 701 L": (US, MALTED, UNKNOWN, {}, [{**MALT, "capacity": "701 L"}]),  # 27 CFR 5.143(d): older labels until 2030
    "US distilled above 160": (US, MALTED, NOT, {}, [{**MALT, "distilled_proof": "160.5"}]),
    "US from elsewhere, by the law of its home": (US, MALTED, UNKNOWN, {}, [SCOTCH]),
}
AGES: dict[str, Case] = {  # 27 CFR 5.74 as its predecessor 5.40 has it; contract.md on 29 February
    "day before": (US, AGE, NOT, {"age": "4 years"}, [filled("2022-01-11")]),
    "on the day": (US, AGE, MET, {"age": "4 years"}, [filled("2022-01-10")]),
    "day after": (US, AGE, MET, {"age": "4 years"}, [filled("2022-01-09")]),
    "months": (US, AGE, MET, {"age": "51 months"}, [filled("2021-10-10")]),
    "months, a day short": (US, AGE, NOT, {"age": "51 months"}, [filled("2021-10-11")]),
    "the youngest decides": (US, AGE, NOT, {"age": "4"}, [filled("2019-01-10"), filled("2022-01-11")]),
    "none stated at four years": (US, AGE, MET, {}, [filled("2022-01-10")]),
    "none stated below four years": (US, AGE, NOT, {}, [filled("2022-01-11")]),
    "leap day, 28 February": (US, AGE, NOT, {"age": "2 years", "drawn": "2022-02-28"}, [filled("2020-02-29")]),
    "leap day, 1 March": (US, AGE, MET, {"age": "2 years", "drawn": "2022-03-01"}, [filled("2020-02-29")]),
    "leap day to leap day": (US, AGE, MET, {"age": "4 years", "drawn": "2024-02-29"}, [filled("2020-02-29")]),
    "EU day before": (EU, AGE, NOT, {"age": "4 years", "size": "700 mL"}, [filled("2022-01-11")]),
    "EU on the day": (EU, AGE, MET, {"age": "4 years", "size": "700 mL"}, [filled("2022-01-10")]),
    "Scotch in months": (UK, AGE, NOT, {"age": "51 months", "size": "700 mL"}, [SCOTCH]),
}
STRENGTHS: dict[str, Case] = {  # 27 CFR 19.356(c), Reg. (EU) 1169/2011 Annex XII: 0.3 % vol both ways
    "US 0.3 above": (US, "bottling strength", MET, {"proof": 100.6, "label": 50}, [BOURBON]),
    "US 0.35 above": (US, "bottling strength", NOT, {"proof": 100.7, "label": 50}, [BOURBON]),
    "US 0.3 below": (US, "bottling strength", MET, {"proof": 99.4, "label": 50}, [BOURBON]),
    "US 0.35 below": (US, "bottling strength", NOT, {"proof": 99.3, "label": 50}, [BOURBON]),
    "EU 0.3 above": (EU, "bottling strength", MET, {"abv": 46.3, "label": 46, "size": "700 mL"}, [MALT]),
    "EU 0.31 above": (EU, "bottling strength", NOT, {"abv": 46.31, "label": 46, "size": "700 mL"}, [MALT]),
    "EU two decimals": (EU, "bottling strength", NOT, {"abv": 46.05, "label": 46.05, "size": "700 mL"}, [MALT]),
    "40 % at 20 °C is not 80 proof": (US, "minimum strength", NOT, {"abv": 40.0}, [BOURBON]),
    "40 % at 20 °C in the EU": (EU, "minimum strength", MET, {"abv": 40.0, "size": "700 mL"}, [MALT]),
    "no leeway on the EU minimum": (EU, "minimum strength", NOT, {"abv": 39.99, "size": "700 mL"}, [MALT]),
    "US 750 mL": (US, "standard of fill", MET, {}, [BOURBON]),
    "US 740 mL": (US, "standard of fill", NOT, {"size": "740 mL"}, [BOURBON]),
    "US 1.75 L": (US, "standard of fill", MET, {"size": "1.75 L"}, [BOURBON]),
    "EU 750 mL": (EU, "standard of fill", NOT, {}, [MALT]),
    "EU 70 cl": (EU, "standard of fill", MET, {"size": "70 cl"}, [MALT]),
    "UK 750 mL": (UK, "standard of fill", NOT, {}, [SCOTCH]),
}
TABLES = {"straight": STRAIGHTS, "bond": BONDS, "malt": MALTS, "age": AGES, "strength": STRENGTHS}
ALL = {f"{table}: {name}": case for table, cases in TABLES.items() for name, case in cases.items()}


@pytest.fixture(scope="module")
def room(tmp_path_factory: pytest.TempPathFactory) -> Room:
    room = Room(tmp_path_factory.mktemp("claims"))
    casks, briefs, blends, readings, bottlings = [], [], [], [], []
    for number, (market, claim, _, brief, parts) in enumerate(ALL.values()):
        batch, drawn = f"B{number}", brief.get("drawn", "2026-01-10")
        size = brief.get("size", "750 mL")
        claims = claim if claim in (STRAIGHT, BOND, MALTED) else ""
        briefs.append(
            (batch, market, f"V{number}", "yes", brief.get("age", ""), claims, size, "100" if claim == BOND else "")
        )
        stated = (
            (brief["abv"], "%vol", "at 20 °C") if "abv" in brief else (brief.get("proof", 100), "proof", "at 60 °F")
        )
        for place, cask in enumerate(parts):
            name = f"K{number}-{place}"
            casks.append((name, *(cask[column] for column in CASKS.split(",")[1:])))
            readings.append((name, drawn, *stated, "60 °F", "H-1"))
            blends.append((batch, name, "150 kg", "", drawn))
        if added := brief.get("added"):
            blends.append((batch, added[0], f"{added[1]} kg", added[2], drawn))
        readings.append((f"V{number}", drawn + "T20:00", *stated, "60 °F", "H-1"))
        if "label" in brief:
            bottlings.append((batch, "2026-01-12", size, 100, brief["label"]))
    room.table("casks.csv", CASKS, casks)
    room.table("briefs.csv", "batch,market,vessel,vessel_empty,age_statement,claims,bottle_size,bottling_proof", briefs)
    room.table("blends.csv", "batch,component,drawn_weight,drawn_proof,drawn_at", blends)
    room.table("readings.csv", "vessel,taken_at,reading,scale,state,temperature,instrument", readings)
    room.table("bottlings.csv", "batch,bottled_on,bottle_size,bottles,label_abv", bottlings)
    room.run()
    return room


@pytest.mark.parametrize("name", ALL)
def test_verdict_at_the_boundary(room: Room, name: str) -> None:
    """The verdict is the law's at, before and after the boundary, and cannot tell where a fact is missing."""
    market, claim, wanted, _, _ = ALL[name]
    record = room.record(f"B{list(ALL).index(name)}")
    found = [label for label in record["label"] if label["claim"] == claim]
    assert [(label["market"], label["verdict"]) for label in found] == [(market, wanted)], found
    assert found[0]["rule"] and found[0]["reason"].startswith({MET: "Met", NOT: "Not met", UNKNOWN: "Cannot"}[wanted])
    if wanted == NOT:
        assert record["status"] == "held"


CALENDAR = {  # name in AGES: years, months, days of the batch, counted by hand
    "day before": (3, 11, 30),
    "on the day": (4, 0, 0),
    "day after": (4, 0, 1),
    "months, a day short": (4, 2, 30),
    "leap day, 28 February": (1, 11, 30),
    "leap day, 1 March": (2, 0, 0),
    "leap day to leap day": (4, 0, 0),
}


@pytest.mark.parametrize("name", CALENDAR)
def test_age_counts_whole_years_months_and_days(room: Room, name: str) -> None:
    """Never rounded up: the day before an anniversary is eleven months and some days."""
    age = room.record(f"B{list(ALL).index(f'age: {name}')}")["age"]
    assert (age["years"], age["months"], age["days"]) == CALENDAR[name]


def test_facts_taken_as_given_are_marked_assumed(room: Room) -> None:
    """Bonded storage (bottled in bond) and revenue supervision (EU age) stand in facts as assumed and in the reason."""
    given = (("bond: all shown", BOND, "bonded_storage"), ("age: EU on the day", AGE, "under_supervision"))
    for name, claim, fact in given:
        labels = room.record(f"B{list(ALL).index(name)}")["label"]
        label = next(label for label in labels if label["claim"] == claim)
        assert label["facts"][fact] == "assumed"
        assert "Assumed: " in label["reason"]


@pytest.mark.parametrize("fact", ["distillery", "substance"])
def test_one_distiller_and_nothing_added_are_marked_assumed(room: Room, fact: str) -> None:
    """One distiller where `distillery` is the same, and nothing added but listed water, are assumptions and say so."""
    labels = room.record(f"B{list(ALL).index('bond: all shown')}")["label"]
    label = next(label for label in labels if label["claim"] == BOND)
    assert "assumed" in str(label["facts"][fact])


@pytest.mark.long
def test_unknown_market_and_unknown_claim_are_told_and_never_met(tmp_path: Any) -> None:
    """A market without rules and a claim without a rule give cannot tell, in words."""
    room = Room(tmp_path)
    room.table("casks.csv", CASKS, [("K1", *(BOURBON[column] for column in CASKS.split(",")[1:]))])
    rows = [("B1", "Mars", "V1", "yes", ""), ("B2", "US", "V2", "yes", "Organic; Bourbon")]
    room.table("briefs.csv", "batch,market,vessel,vessel_empty,claims", rows)
    lines = [(batch, "K1", "50 kg", 100, "2026-01-10") for batch in ("B1", "B2")]
    room.table("blends.csv", "batch,component,drawn_weight,drawn_proof,drawn_at", lines)
    room.run()
    assert {label["verdict"] for label in room.record("B1")["label"]} == {UNKNOWN}
    verdicts = {label["claim"]: label["verdict"] for label in room.record("B2")["label"]}
    assert verdicts["organic"] == UNKNOWN and verdicts["bourbon"] == MET
