"""Australia: Excise Act 1901 s 77FI, Customs Act 1901 s 105A as restated, Food Standards Code 2.7.5.

Read: s 77FI as stored from the revenue's page; Standard 2.7.5 of 2011 and its compilation of 5 December 2019 up to
2.7.5—3(2). Not found: s 105A itself, the figure of 2.7.5—3, any text on a stated age.
"""

from __future__ import annotations

from typing import Any

from tests.label_age.bulk import Case
from tests.label_age.family import MET, NOT, OPEN, Claim, Row, added, at_limit, each
from tests.label_age.rows_whisky import planned_rows

EXCISE, CUSTOMS, WHISKY = "Excise Act 1901 s 77FI(1)", "Customs Act 1901 s 105A", "Excise Act 1901 s 77FI(2)"
OLD_CODE, CODE = "Food Standards Code, Standard 2.7.5 clause 1", "Food Standards Code 2.7.5—3"
ADDED, CONSUMER = "Food Standards Code 2.7.5—2", "consumer law: no misleading statement"
ORIGIN = "Food Standards Code 2.7.5, geographical indications"
MALT = {"country": "Australia", "state": None}
GIVEN: dict[str, Any] = {"kind": "malt", "casks": [MALT]}
NO_WOOD = {"new_oak": None, "charred": None, "wood_use": None}
STRENGTHS = {40.0: MET, 37.1: MET, 37.0: MET, 36.99: NOT, 36.0: NOT}
GRAINS = {
    "malted barley 100": MET, "corn 100": MET, "rye 60, wheat 40": MET, "sorghum 100": MET, "molasses 100": NOT,
    "corn 60, molasses 40": NOT, "buckwheat 100": OPEN, "corn 60, amaranth 40": OPEN, "corn 60": OPEN, None: OPEN,
}  # fmt: skip


def days(met: str, section: str) -> list[Row]:
    """Two years in wood up to the draw on 2026-02-10."""
    rows = each("filled_on", section, {"2024-02-09": met, "2024-02-10": met, "2024-02-11": NOT, "2025-02-10": NOT})
    return at_limit(rows, "filled_on 2024-02-10")


def wood(met: str, section: str) -> list[Row]:
    return [
        *each("species", section, {"American oak": met, "cherry": met, "jarrah": met, "eucalyptus": met}),
        *each("capacity_L", section, {200.0: met, 701.0: met, 5000.0: met, None: met}),
        ("a steel drum", section, NOT, {"cask": {"species": "steel", **NO_WOOD}}),
        ("wood not said", section, OPEN, {"cask": {"species": None, **NO_WOOD}}),
    ]


def strengths(section: str) -> list[Row]:
    rows = [(f"{abv} % vol", section, verdict, {"abv": abv}) for abv, verdict in STRENGTHS.items()]
    return [*at_limit(rows, "37.0 % vol"), *planned_rows(section, 37.0)[:-1]]


def opened(rows: list[Row]) -> list[Row]:
    """The same rows of a rule that is never met."""
    return [(says, section, OPEN if verdict == MET else verdict, changes) for says, section, verdict, changes in rows]


def additions() -> list[Row]:
    """Water, sugars, honey and spices by name; what else is permitted was not read."""
    allowed = [
        added(name, ADDED, MET, percent)
        for name in ("honey", "sugar", "cane sugar", "spices")
        for percent in (0.1, None)
    ]
    others = (
        "plain caramel",
        "caramel",
        "vanilla essence",
        "oak chips",
        "glycerine",
        "sweetener",
        "glucose syrup",
        "quiddity",
    )
    water = {"component": "water", "kind": "water", "ethanol_kg": 0.0}
    return [
        *allowed,
        *(added(name, ADDED, OPEN, 1.0) for name in others),
        added("sherry", ADDED, OPEN, 1.0, strength=10.0),
        added("brandy", ADDED, OPEN, 1.0, strength=40.0),
        ("water added", ADDED, MET, {"lines": [water]}),
        ("more than is listed", ADDED, OPEN, {"brief": {"all_listed": False}}),
    ]


def stated(age: str, verdict: str, **cask: Any) -> Row:
    return (f"{age} stated, {cask}", CONSUMER, verdict, {"cask": cask, "brief": {"age_statement": age}})


IMPORTED = {"kind": "malt", "casks": [{}]}
CASES: list[Case] = [
    *Claim("au.minimum-age", "minimum age", EXCISE, GIVEN).cases(
        days(MET, EXCISE), wood(MET, EXCISE), each("distilled_proof", EXCISE, {96.4: MET, None: MET}),
        ("a younger cask beside it", EXCISE, NOT, {"beside": {"filled_on": "2024-02-11"}}),
    ),
    *Claim("au.minimum-age-imported", "minimum age", CUSTOMS, IMPORTED, OPEN).cases(
        days(OPEN, CUSTOMS), wood(OPEN, CUSTOMS),
        ("of Australia beside it", CUSTOMS, OPEN, {"beside": MALT}),
        ("young, of Australia beside it", CUSTOMS, NOT, {"beside": {**MALT, "filled_on": "2024-02-11"}}),
    ),
    *Claim("au.minimum-age", "minimum age", EXCISE, {"kind": "malt", "casks": [{**MALT, "country": None}]}, OPEN).cases(
        ("too young", EXCISE, NOT, {"cask": {"filled_on": "2024-02-11"}}),
    ),
    *Claim("au.minimum-strength", "minimum strength", CODE, GIVEN).cases(strengths(CODE)),
    *Claim("au.minimum-strength", "minimum strength", OLD_CODE, {**GIVEN, "brief": {"due": "2016-02-29"}}).cases(
        strengths(OLD_CODE)
    ),
    *Claim("au.age-statement", "age statement", CONSUMER,
           {"kind": "malt", "casks": [{**MALT, "filled_on": "2021-02-10"}], "brief": {"age_statement": "5 years"}},
           OPEN).cases(
        stated("4 years", OPEN), stated("60 months", OPEN), stated("61 months", NOT), stated("6 years", NOT),
        stated("1826 days", OPEN), stated("1827 days", NOT), stated("5 years", NOT, filled_on="2021-02-11"),
        stated("5 years", OPEN, filled_on=None), stated("under 5 years", OPEN),
    ),
    *Claim("au.whisky", "whisky", WHISKY, GIVEN).cases(
        each("grain", WHISKY, GRAINS), days(MET, EXCISE), wood(MET, EXCISE), strengths(CODE), additions(),
        each("country", CUSTOMS, {"Scotland": OPEN, "US": OPEN, None: OPEN, "AU": MET}),
        each("distilled_proof", WHISKY, {94.8: MET, 96.4: MET, None: MET}),
    ),
    *Claim("au.australian-whisky", "australian whisky", ORIGIN, GIVEN, OPEN).cases(
        each("country", ORIGIN, {"Scotland": NOT, "US": NOT, None: OPEN}), opened(days(MET, EXCISE)),
        opened(strengths(CODE)), opened(each("grain", WHISKY, GRAINS)),
        ("a cask of Scotland beside it", ORIGIN, NOT, {"beside": {"country": "Scotland"}}),
        added("honey", ADDED, OPEN, 1.0),
    ),
]  # fmt: skip
