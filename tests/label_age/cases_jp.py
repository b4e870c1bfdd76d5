"""Japan: the trade body's standard of 2021 for the words Japanese whisky, and the Liquor Tax Act's whisky.

Read in transcription: arts. 2, 3, 5 and 6 of the standard, art. 3(15) of Act No. 6 of 1953. The article of the Fair
Competition Code on a stated age was not found.
"""

from __future__ import annotations

from typing import Any

from tests.label_age.bulk import Case
from tests.label_age.family import MET, NOT, OPEN, Claim, Row, added, at_limit, each
from tests.label_age.rows_whisky import planned_rows

FIVE = "Standards for Labeling Japanese Whisky art. 5(1)"
WORDS = "Standards for Labeling Japanese Whisky art. 5(2), (3)"
ALIKE = "Standards for Labeling Japanese Whisky art. 6(1)"
CODE, TAX = "Fair Competition Code on the Labeling of Whisky", "Liquor Tax Act art. 3(15)"
MALT = {
    "country": "Japan", "mashed_in": "Japan", "fermented_in": "Japan", "matured_in": "Japan",
}  # fmt: skip
GIVEN: dict[str, Any] = {"kind": "malt", "casks": [MALT], "brief": {"bottled_in": "Japan"}}
JAPANESE = Claim("jp.japanese-whisky", "japanese whisky", FIVE, GIVEN)
NAMED = {**GIVEN, "brief": {"bottled_in": "Japan", "claims": "japanese whisky"}}
ADDITIONS = ("honey", "sugar syrup", "vanilla essence", "spices", "oak chips", "E150d", "glycerine", "beading oil",
             "fruit juice")  # fmt: skip
NEUTRAL = {"grain": "corn 100", "distilled_proof": 96.4}
STRENGTHS = {46.0: MET, 40.1: MET, 40.0: MET, 39.99: NOT, 37.0: NOT}
DAYS = {"2023-02-08": MET, "2023-02-09": MET, "2023-02-10": OPEN, "2023-02-11": NOT, "2024-02-10": NOT}
"""Filled on, drawn on 2026-02-10: three years count from the day after filling; on the very day it cannot be told."""
PLACES = {"Japan": MET, "JP": MET, "US": NOT, "Scotland": NOT, "Canada": NOT}


def strengths(section: str) -> list[Row]:
    rows = [(f"{abv} % vol", section, verdict, {"abv": abv}) for abv, verdict in STRENGTHS.items()]
    return [*at_limit(rows, "40.0 % vol"), *planned_rows(section, 40.0)[:-1]]


def bottled(verdicts: dict[Any, str]) -> list[Row]:
    return [
        (f"bottled in {place}", FIVE, verdict, {"brief": {"bottled_in": place}}) for place, verdict in verdicts.items()
    ]


def composition() -> list[Row]:
    """Each part of art. 5(1)."""
    grains = {
        "malted barley 100": MET, "corn 90, malted barley 10": MET, "rye 99, malted rye 1": MET,
        "rice 80, malted wheat 20": MET,
        "corn 100": NOT, "rice 100": NOT, "barley 100": NOT, "rye 60, wheat 40": NOT,
        "malted barley 50, molasses 50": NOT,
        "malted barley 50, buckwheat 50": OPEN, "malted barley 50, quinoa 50": OPEN, "corn 60": OPEN, "corn": OPEN,
        "malted barley 60": OPEN, None: OPEN,
    }  # fmt: skip
    return [
        *each("grain", FIVE, grains),
        *each("country", FIVE, {**PLACES, None: OPEN}),
        *each("mashed_in", FIVE, {**PLACES, None: MET}),
        *each("fermented_in", FIVE, {**PLACES, None: MET}),
        *each("matured_in", FIVE, {**PLACES, None: MET}),
        *each("distilled_proof", FIVE, {70.0: MET, 94.8: MET, 94.99: MET, 95.0: NOT, 96.4: NOT, None: OPEN}),
        *each("capacity_L", FIVE, {5.0: MET, 699.9: MET, 700.0: MET, 700.1: NOT, 1000.0: NOT, None: OPEN}),
        *at_limit(each("filled_on", FIVE, DAYS), "filled_on 2023-02-09"),
        *each("species", FIVE, {"mizunara": MET, "cherry": MET}),
        ("a steel drum", FIVE, NOT, {"cask": {"species": "steel", "new_oak": None, "charred": None, "wood_use": None}}),
        ("wood not said", FIVE, OPEN, {"cask": {"species": None, "new_oak": None, "charred": None, "wood_use": None}}),
        *bottled({"Japan": MET, "JP": MET, "Scotland": NOT, "US": NOT, None: OPEN}),
        ("a cask of Scotland beside it", FIVE, NOT, {"beside": {"country": "Scotland"}}),
        ("a cask that matured abroad beside it", FIVE, NOT, {"beside": {"matured_in": "Scotland"}}),
        ("a cask of corn alone beside it", FIVE, NOT, {"beside": {"grain": "corn 100"}}),
        ("a cask of grain beside it", FIVE, MET, {"beside": {"grain": "corn 90, malted barley 10"}}),
        ("a younger cask beside it", FIVE, NOT, {"beside": {"filled_on": "2023-02-11"}}),
        added("plain caramel", FIVE, MET, 1.0),
        added("E150a", FIVE, MET, None),
        added("caramel", FIVE, OPEN, 1.0),
        added("quiddity", FIVE, OPEN, 0.1),
        added("sherry", FIVE, NOT, 1.0, strength=10.0),
        added("brandy", FIVE, NOT, 1.0, strength=40.0),
        ("more than is listed", FIVE, OPEN, {"brief": {"all_listed": False}}),
        *(added(name, FIVE, NOT, percent) for name in ADDITIONS for percent in (0.1, None)),
        *strengths(FIVE),
    ]


def stated(age: str, verdict: str, **cask: Any) -> Row:
    said = f", {cask}" if cask else ""
    return (f"{age} stated{said}", CODE, verdict, {"cask": cask, "brief": {"age_statement": age}})


def words(rule: str, claims: tuple[str, ...], section: str, verdict: str) -> list[Case]:
    """A claim of a whisky that meets art. 5(1), and of some that do not."""
    rows: list[Row] = [
        ("of Scotland", section, NOT, {"cask": {"country": "Scotland"}}),
        ("bottled abroad", section, NOT, {"brief": {"bottled_in": "US"}}),
        ("without malt", section, NOT, {"cask": {"grain": "corn 100"}}),
        added("honey", section, NOT, 1.0),
    ]
    return [case for claim in claims for case in Claim(rule, claim, section, GIVEN, verdict).cases(rows)]


CASES: list[Case] = [
    *JAPANESE.cases(composition()),
    *Claim("jp.japanese-whisky", "japanese", FIVE, GIVEN).cases(added("honey", FIVE, NOT, 1.0)),
    *Claim("jp.minimum-age", "minimum age", FIVE, NAMED).cases(
        at_limit(each("filled_on", FIVE, DAYS), "filled_on 2023-02-09"),
        each("capacity_L", FIVE, {700.0: MET, 700.1: NOT, None: OPEN})
    ),
    *Claim("jp.minimum-strength", "minimum strength", FIVE, NAMED).cases(strengths(FIVE)),
    *Claim("jp.age-statement", "age statement", CODE,
           {**GIVEN, "casks": [{**MALT, "filled_on": "2021-02-10"}],
            "brief": {"bottled_in": "Japan", "age_statement": "5 years"}}, OPEN).cases(
        stated("4 years", OPEN), stated("3 years", OPEN), stated("2 years", NOT), stated("35 months", NOT),
        stated("36 months", OPEN), stated("61 months", NOT), stated("6 years", NOT), stated("1826 days", OPEN),
        stated("1827 days", NOT), stated("1094 days", NOT), stated("1095 days", OPEN), stated("600 days", NOT),
        stated("2 years", OPEN, country="Scotland"), stated("6 years", NOT, country="Scotland"),
        stated("2 years", OPEN, country=None), stated("5 years", OPEN, filled_on=None),
        stated("5 years", NOT, filled_on="2021-02-11"),
    ),
    *words("jp.type-beside", ("japanese single malt whisky", "japanese blended whisky", "japanese malt whisky",
                              "japanese grain whisky", "japanese pure malt whisky"), WORDS, NOT),
    *words("jp.type-beside", ("single malt japanese whisky", "blended japanese whisky"), WORDS, OPEN),
    *words("jp.words-alike", ("japan whisky", "nihon whisky", "japanese style whisky", "japanese type whisky"),
           ALIKE, OPEN),
    *Claim("jp.whisky", "whisky", TAX, GIVEN).cases(
        each("filled_on", TAX, {"2026-02-01": MET, "2023-02-11": MET}),
        each("country", TAX, {"Scotland": MET, None: MET}),
        each("capacity_L", TAX, {1000.0: MET, None: MET}),
        each("distilled_proof", TAX, {94.9: MET, 95.0: NOT, None: OPEN}),
        each("grain", TAX, {"corn 90, malted barley 10": MET, "corn 100": NOT, "molasses 100": NOT, None: OPEN}),
        ("at 37 % vol", TAX, MET, {"abv": 37.0}), ("at 36 % vol", TAX, MET, {"abv": 36.0}),
        ("at the limit: a tenth is whisky", TAX, MET, {"casks": [MALT, *[{**MALT, **NEUTRAL}] * 9]}),
        ("less than a tenth is whisky", TAX, NOT, {"casks": [MALT, *[{**MALT, **NEUTRAL}] * 10]}),
        *(added(name, TAX, MET, 1.0) for name in ("plain caramel", "caramel", "E150d", "vanilla essence", "spices")),
        *(added(name, TAX, OPEN, 1.0) for name in ("honey", "sugar syrup", "oak chips", "glycerine", "quiddity")),
    ),
]  # fmt: skip
